"""
The front faces of a solid merged to its silhouette, in numpy only.

Sides that two front faces share cancel out; what remains are closed outlines that go
round everything once for each face that lies there. An outline that nowhere crosses
itself is the silhouette. Where it does cross itself, faces overlap: it is parted there,
and the parts with nothing to their right are linked to the silhouette's outline.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from ..ragged import spread
from .page import PageFaces
from .rings import Rings, linked, measured
from .shapes import Shapes
from .untangling import untangled

MIX = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


def merged(page: PageFaces, rows: np.ndarray, owner: np.ndarray, count: int) -> tuple[Shapes, np.ndarray]:
    """
    Merge faces to silhouettes.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    rows : ndarray of int, shape (k,)
        Faces to be merged, sorted by owner.
    owner : ndarray of int, shape (k,)
        The silhouette that each goes into.
    count : int
        Number of silhouettes.

    Returns
    -------
    shapes : Shapes
        Union of the faces of each owner.
    sure : ndarray of bool, shape (count,)
        Where they mean something.
    """
    outline, sound = _outlines(page, rows, owner, count)
    area, sure = measured(outline, count)
    shapes, sure = Shapes.made_of(outline, area), sure & sound
    doubtful = np.flatnonzero(sure & ~_convex(outline, count))
    sure[doubtful] = shapely.is_valid(shapes.polygons(doubtful))
    crossed = np.flatnonzero(sound & ~sure)
    if len(crossed):
        place = np.searchsorted(crossed, outline.row)
        mine = crossed[np.minimum(place, len(crossed) - 1)] == outline.row
        loops = replace(outline.take(np.flatnonzero(mine)), row=place[mine])
        shape, sure[crossed] = untangled(loops, len(crossed))
        shapes = shapes.put(crossed, Shapes.of(shape))
    return shapes, sure & (shapes.corners > 0)


def _convex(rings: Rings, count: int) -> np.ndarray:
    """Whether a silhouette is one convex outline, which cannot cross itself."""
    return (np.bincount(rings.row, minlength=count) == 1) & (
        np.bincount(rings.row[rings.convex], minlength=count) == 1
    )


def _outlines(page: PageFaces, rows: np.ndarray, owner: np.ndarray, count: int) -> tuple[Rings, np.ndarray]:
    """Sides of faces that no other face of the same owner shares, linked to rings."""
    begin, end, row = _sides(page, rows, owner)
    low, high = (_named(page.xy.take(corner, axis=0), row) for corner in (begin, end))
    single = _unpaired(low, high)
    begin, end, row, low, high = begin[single], end[single], row[single], low[single], high[single]
    order = np.argsort(low)
    following = order[np.minimum(np.searchsorted(low[order], high), max(len(order) - 1, 0))]
    sure = np.ones(count, dtype=bool)
    sure[row[order[1:][low[order[1:]] == low[order[:-1]]]]] = False  # two outlines meet in a corner
    sure[row[_apart(page.xy, begin[following], end)]] = False
    keep = np.flatnonzero(sure[row])
    renumbered = np.full(len(row), -1)
    renumbered[keep] = np.arange(len(keep))
    loops = linked(page.xy.take(begin[keep], axis=0), row[keep], renumbered[following[keep]])
    return loops, sure


def _sides(page: PageFaces, rows: np.ndarray, owner: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where each side of some faces begins and ends, the face to its left, and its owner."""
    start = page.faces.vertex_start
    many = start[rows + 1] - start[rows]
    here = spread(start[rows], many)
    there = page.faces.next_vertex[here]
    behind = np.repeat(page.flipped[rows], many)
    begin, end = np.where(behind, there, here), np.where(behind, here, there)
    real = np.flatnonzero(_apart(page.xy, begin, end))
    return begin[real], end[real], np.repeat(owner, many)[real]


def _apart(xy: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Whether corners lie at different places."""
    differs = xy.take(one, axis=0) != xy.take(other, axis=0)
    return differs[:, 0] | differs[:, 1]


def _named(xy: np.ndarray, row: np.ndarray) -> np.ndarray:
    """One 64-bit name for each corner of each owner."""
    name = row.astype(np.uint64) * MIX[0]
    for column in (0, 1):
        bits = np.ascontiguousarray(xy[:, column] + 0.0).view(np.uint64)  # of two zeros, one
        name = (name ^ bits) * MIX[0]
        name = (name ^ (name >> np.uint64(29))) * MIX[1]
        name ^= name >> np.uint64(32)
    return name


def _unpaired(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Sides that no other runs along the other way."""
    if not len(low):
        return np.zeros(0, dtype=np.int64)
    key = low + high
    order = np.argsort(key)
    same = np.concatenate([[False], key[order[1:]] == key[order[:-1]], [False]])
    pair = np.flatnonzero(same[1:-1] & ~same[:-2] & ~same[2:])
    one, other = order[pair], order[pair + 1]
    back = (low[one] == high[other]) & (high[one] == low[other])
    single = np.ones(len(low), dtype=bool)
    single[one[back]] = single[other[back]] = False
    return np.flatnonzero(single)
