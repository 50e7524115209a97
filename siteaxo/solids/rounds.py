"""
Flights all round: a footprint with a hole, such as the steps of a plinth or of a well.

Corner is joined to corner between the outer and the inner outline, and the ring is parted
into two flights that wrap half of it each.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..source.features import Features
from .ends import CLEARLY
from .laying import from_rails
from .surfaces import Surfaces, misfit, sounded
from .tracks import Tracks, joined

STRAIGHT: Final = 1e-6  # corners so near to a straight side are none [m]
LEAST: Final = 3  # corners of a ring


@dataclass(frozen=True, kw_only=True)
class Rounds:
    """
    Flights all round.

    Parameters
    ----------
    tracks : Tracks
        Two for each footprint.
    feature : ndarray of int, shape (k,)
        The row each belongs to.
    unsure : ndarray of int
        Rows where the levels around do not tell which outline is the lower one; they climb
        inward.
    unread : ndarray of int
        Rows whose outlines do not have corner to corner.
    """

    tracks: Tracks
    feature: np.ndarray
    unsure: np.ndarray
    unread: np.ndarray


def is_ring(features: Features, drawn: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Which rows are rings: polygons with one hole, or closed centre lines, shape (r,)."""
    line = shapely.get_dimensions(drawn[rows]) == 1
    holed = shapely.get_num_interior_rings(features.geometry[rows]) == 1
    return holed & (~line | shapely.is_closed(drawn[rows]))


def read_rounds(features: Features, rows: np.ndarray, surfaces: Surfaces) -> Rounds:
    """
    Read rings as flights.

    Parameters
    ----------
    features : Features
        With all levels settled.
    rows : ndarray of int, shape (r,)
        Rings among them.
    surfaces : Surfaces
        What lies around them.

    Returns
    -------
    Rounds
    """
    none = np.zeros(0, dtype=np.int64)
    if not len(rows):
        return Rounds(tracks=joined([]), feature=none, unsure=none, unread=none)
    rings = shapely.simplify(shapely.orient_polygons(features.geometry[rows]), STRAIGHT)
    inward = _climbs_inward(features, rows, rings, surfaces)
    rails: list[np.ndarray] = []
    owner, unread = [], []
    for row, ring, up in zip(rows, rings, inward >= 0, strict=True):  # a handful of rings
        spokes = _spokes(ring)
        if spokes is None:
            unread.append(int(row))
            continue
        for half in _halves(spokes if up else spokes[::-1, ::-1]):
            rails.append(shapely.linestrings(half))
            owner.append(int(row))
    start = np.cumsum([0] + [len(half) for half in rails])
    depth = shapely.distance(shapely.get_exterior_ring(rings), shapely.get_interior_ring(rings, 0))
    tracks = from_rails(np.concatenate(rails), start) if rails else joined([])
    return Rounds(
        tracks=_as_deep_as(tracks, depth[np.searchsorted(rows, owner)]),
        feature=np.array(owner, dtype=np.int64),
        unsure=rows[(np.abs(inward) < CLEARLY) & ~np.isin(rows, unread)],
        unread=np.array(unread, dtype=np.int64),
    )


def _as_deep_as(tracks: Tracks, depth: np.ndarray) -> Tracks:
    """Tracks measured square to their treads, not along their mitres."""
    share = depth / tracks.length
    return replace(tracks, distance=tracks.distance * share[tracks.track])


def _spokes(ring: shapely.Polygon) -> np.ndarray | None:
    """Lines from each outer corner to its inner one, clockwise, shape (n, 2, 2)."""
    outer = shapely.get_coordinates(ring.exterior)[:-1][::-1]
    inner = shapely.get_coordinates(ring.interiors[0])[:-1]  # holes are clockwise already
    if len(outer) != len(inner) or len(outer) < LEAST:
        return None
    turns = (np.arange(len(outer))[:, None] + np.arange(len(outer))) % len(outer)
    away = np.hypot(*(inner[turns] - outer).transpose(2, 0, 1)).sum(axis=1)
    return np.stack([outer, inner[turns[away.argmin()]]], axis=1)


def _halves(spokes: np.ndarray) -> Iterator[np.ndarray]:
    """The two halves of a ring of spokes, with a spoke in common at either end."""
    middle = len(spokes) // 2
    yield spokes[: middle + 1]
    yield np.concatenate([spokes[middle:], spokes[:1]])


def _climbs_inward(features: Features, rows: np.ndarray, rings: np.ndarray, surfaces: Surfaces) -> np.ndarray:
    """How much better the levels around fit a climb inward than one outward, shape (r,) [-]."""
    base, top = features.base[rows], features.top[rows]
    better = np.zeros(len(rows))
    every, ring = shapely.get_rings(rings, return_index=True)
    xy, line = shapely.get_coordinates(every, return_index=True)
    here = np.flatnonzero(line[1:] == line[:-1])
    owner = ring[line[here]]
    level = sounded(surfaces, xy[here], xy[here + 1], top[owner])
    outer = np.append(True, ring[1:] != ring[:-1])[line[here]]
    rise = (top - base)[owner]
    low, high = misfit(level, base[owner], rise), misfit(level, top[owner], rise)
    for side, sign in ((outer, 1.0), (~outer, -1.0)):
        number = np.maximum(np.bincount(owner[side], minlength=len(rows)), 1)
        better += sign * np.bincount(owner[side], (high - low)[side], len(rows)) / number
    return better
