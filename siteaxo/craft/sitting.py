"""
Places to sit: along the front edges of seats that have ground to put one's feet on.

Figures are flat and face the viewer, so that a sitter seen from the side sits as far behind the edge
along the page as thighs are long, and one seen from the front so far before it that both legs are: shins hang
in front of the seat whichever way its edge runs. Where the seat's own edge comes round in front of the
shins nobody sits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..solids.stack import Stack
from .walkable import Ground

APART: Final = 0.75  # from one sitter to the next [m]
SHOULDERS: Final = 0.25  # a sitter needs this much seat to either side [m]
KNEES: Final = 0.45  # in front of a seat there is ground at this distance [m]
BACK: Final = 0.28  # hips of a sitter seen from the side are this far behind the edge, along the page [m]
LEGS: Final = 0.19  # legs of a sitter seen from the front reach so far to either side [m]
AWAY: Final = (
    0.15  # sine up to which a sitter seen from the side may be turned away: else the seat hides shins
)
SEAT_HEIGHTS: Final = (0.3, 0.6)  # what is lower or higher is no seat for an adult [m]


@dataclass(frozen=True, kw_only=True)
class Places:
    """
    Places to sit from which a sitter is seen from the side or from the front.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Stand points of seated figures, relative to the ground's origin [m].
    seat_level, floor : ndarray, shape (n,)
        Levels of the top of the seat and of what it stands on [m].
    front : ndarray of bool, shape (n,)
        Whether the sitter looks towards the viewer.
    leftward : ndarray of bool, shape (n,)
        Whether the sitter looks to the left of the page.
    feature : ndarray of int, shape (n,)
        The seat, as a row of the features.
    name : ndarray of object, shape (n,)
        Layer and id of the seat, and the number of the place.
    """

    xy: np.ndarray
    seat_level: np.ndarray
    floor: np.ndarray
    front: np.ndarray
    leftward: np.ndarray
    feature: np.ndarray
    name: np.ndarray


def seat_places(stack: Stack, ground: Ground, right: np.ndarray) -> Places:
    """
    Find places on the seats of a site.

    Parameters
    ----------
    stack : Stack
        The solids.
    ground : Ground
        Where people can stand.
    right : ndarray, shape (2,)
        Direction in plan that is seen level on the page, to the right.

    Returns
    -------
    Places
    """
    features = stack.features
    roles = np.array([key.role.name for key in features.layers], dtype=object)[features.layer]
    area = shapely.get_dimensions(features.geometry) == 2
    low, high = SEAT_HEIGHTS
    row = np.flatnonzero((roles == "seat") & area & (features.height >= low) & (features.height <= high))
    seat = shapely.transform(features.geometry[row], lambda xy: xy - ground.origin)
    owner, edge, outward, number = _along_edges(seat)
    towards = outward @ right
    viewer = outward @ np.array([right[1], -right[0]])  # towards the foot of the page
    side = (np.abs(towards) >= 0.75) & (viewer >= -AWAY)
    front = (viewer >= 0.6) & ~side
    fits = (side | front) & _on_seat(seat[owner], edge, outward)
    fits &= _footroom(ground, edge + KNEES * outward, features.base[row[owner]])
    before = (0.02 + LEGS * np.abs(towards))[:, None] * outward
    ahead = np.where(front[:, None], before, -BACK * np.sign(towards)[:, None] * right)
    some = np.flatnonzero(fits)
    layers = np.array([key.name for key in features.layers], dtype=object)[features.layer[row]]
    name = [
        f"{layers[o]}\x1e{features.source_id[row[o]]}\x1e{k}"
        for o, k in zip(owner[some], number[some], strict=True)
    ]
    return Places(
        xy=(edge + ahead)[some],
        seat_level=features.top[row[owner[some]]],
        floor=features.base[row[owner[some]]],
        front=front[some],
        leftward=towards[some] < 0,
        feature=row[owner[some]],
        name=np.array(name, dtype=object),
    )


def _along_edges(seat: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Points along the outer edges of seats with outward directions, and their numbers."""
    edge = shapely.get_exterior_ring(shapely.orient_polygons(seat, exterior_cw=False))
    count = np.floor(shapely.length(edge) / APART).astype(np.int64)
    owner = np.repeat(np.arange(len(seat)), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    along = (number + 0.5) * APART
    here = shapely.get_coordinates(shapely.line_interpolate_point(edge[owner], along))
    ends = [
        shapely.get_coordinates(shapely.line_interpolate_point(edge[owner], along + step))
        for step in (-0.05, 0.05)
    ]
    step = ends[1] - ends[0]
    step /= np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)[:, None]
    return owner, here, np.column_stack([step[:, 1], -step[:, 0]]), number


def _on_seat(seat: np.ndarray, edge: np.ndarray, outward: np.ndarray) -> np.ndarray:
    """Whether there is seat behind the edge, wide enough for shoulders and deep enough for hips."""
    aside = SHOULDERS * np.column_stack([-outward[:, 1], outward[:, 0]])
    spots = [edge - 0.12 * outward + aside, edge - 0.12 * outward - aside, edge - 0.3 * outward]
    return np.logical_and.reduce([shapely.intersects(seat, shapely.points(spot)) for spot in spots])


def _footroom(ground: Ground, feet: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Whether people can stand where the feet are, at the level the seat stands on."""
    piece = ground.at(feet)
    return (piece >= 0) & (np.abs(ground.level(np.maximum(piece, 0), feet) - level) < 0.1)
