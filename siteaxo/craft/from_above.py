"""
People as they are seen from straight above, for plans: shoulders and head, and what they ride or lead.

Each is drawn at a height of one, looking up the page before it is turned its own way.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE, Faces, join
from .cutouts import FigureFaces
from .figures import NAMES
from .people import People
from .poses import Pieces
from .repeatable import numbers_each
from .shapes import disc, layered, limb, moved, ring, rod, scaled

SHOULDERS: Final = 0.82
"""Height at which a figure lies flat, as a share of its own [-]."""


@cache
def plans() -> Mapping[str, Pieces]:
    """
    Pieces of every figure from above, by name, none over another.

    Examples
    --------
    >>> sorted(plans()) == sorted(NAMES)
    True
    """
    adult, small = _body(), _body(size=0.85)
    walker = (("shoes", limb((-0.035, 0.115, 0.020), (-0.035, 0.05, 0.022))), *adult)
    sitter = (("lower", limb((-0.05, 0.02, 0.042), (-0.05, 0.21, 0.034))),
              ("lower", limb((0.05, 0.02, 0.042), (0.05, 0.21, 0.034))), *adult)  # fmt: skip
    dog = (("thing", limb((0.30, -0.02, 0.035), (0.30, 0.19, 0.040))), ("thing", disc(0.30, 0.26, 0.032)))
    bicycle = (("thing", rod((0.0, -0.48), (0.0, 0.50), thick=0.035)),
               ("thing", rod((-0.15, 0.24), (0.15, 0.24), thick=0.030)))  # fmt: skip
    wheels = tuple(("thing", rod((x, -0.17), (x, 0.17), thick=0.030)) for x in (-0.175, 0.175))
    seat = (("thing", ring(0.0, 0.0, 0.17, 0.02)),)
    drawn: dict[str, Pieces] = {
        **dict.fromkeys(("walking", "strolling"), walker),
        **dict.fromkeys(("standing", "waiting", "child"), adult),
        **dict.fromkeys(("seated", "seated front"), sitter),
        "pair": (*_placed(adult, -0.16), *_placed(adult, 0.16)),
        "hand in hand": (*_placed(walker, -0.15), *_placed(small, 0.16)),
        "with dog": (*walker, *dog),
        "cyclist": (*bicycle, *adult),
        "wheelchair": (*wheels, *seat, *sitter),
    }
    return MappingProxyType({name: layered(*drawn[name]) for name in NAMES})


def _body(size: float = 1.0) -> Pieces:
    """Shoulders, arms and head."""
    pieces = (
        ("upper", limb((-0.115, -0.005, 0.050), (0.0, 0.0, 0.068), (0.115, -0.005, 0.050))),
        ("hair", disc(0.0, 0.012, 0.054, 0.062)),
    )
    return tuple((word, scaled(piece, size)) for word, piece in pieces)


def _placed(pieces: Pieces, across: float) -> Pieces:
    return tuple((word, moved(piece, across)) for word, piece in pieces)


def plan_faces(people: People, *, seed: int = 0) -> FigureFaces:
    """
    Lay figures flat, as they are seen from straight above, each turned its own way.

    Parameters
    ----------
    people : People
        The figures.
    seed : int
        Another seed turns them otherwise.

    Returns
    -------
    FigureFaces
        At the level of their shoulders, so that what hangs higher hides them.
    """
    turn = 2 * np.pi * numbers_each(1, people.name, "plan", seed)[:, 0]
    axis = np.column_stack([np.cos(turn), np.sin(turn)])
    tables, pieces = [], []
    for kind in np.unique(people.figure):
        rows = np.flatnonzero(people.figure == kind)
        for word, polygon in plans()[NAMES[kind]]:
            tables.append(_laid(polygon, people, rows, axis[rows]))
            pieces.append(np.full(len(rows), word, dtype=object))
    none = np.zeros(0, dtype=object)
    return FigureFaces(faces=join(tables), piece=np.concatenate(pieces) if pieces else none)


def _laid(polygon: shapely.Polygon, people: People, rows: np.ndarray, axis: np.ndarray) -> Faces:
    """One flat piece of several figures of one kind."""
    whole = shapely.orient_polygons(polygon)
    rings = [np.asarray(one.coords)[:-1] for one in (whole.exterior, *whole.interiors)]
    flat = np.concatenate(rings)
    size = people.height[rows]
    aside = np.column_stack([axis[:, 1], -axis[:, 0]])
    xyz = np.empty((len(rows), len(flat), 3))
    step = flat[:, :1] * aside[:, None] + flat[:, 1:] * axis[:, None]
    xyz[..., :2] = people.xyz[rows, None, :2] + size[:, None, None] * step
    xyz[..., 2] = (people.xyz[rows, 2] + SHOULDERS * size)[:, None]
    start = np.concatenate([[0], np.cumsum([len(one) for one in rings])])
    ring_start = (np.arange(len(rows))[:, None] * len(flat) + start[:-1]).ravel()
    return Faces(
        xyz=xyz.reshape(-1, 3),
        ring_start=np.append(ring_start, len(rows) * len(flat)),
        face_start=np.arange(len(rows) + 1) * len(rings),
        solid=rows.astype(np.int64),
        part=np.full(len(rows), PART_CODE["top"], dtype=np.int8),
        two_sided=np.ones(len(rows), dtype=bool),
    )
