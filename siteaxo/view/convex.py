"""
How much of a polygon lies within a convex one, in numpy only.

The outline is cut at one side of the convex polygon after another. What is left may run
along a side to and fro where there should be several outlines; that has no area.

References
----------
Sutherland & Hodgman, Reentrant polygon clipping, Communications of the ACM 17 (1974) (from
memory).
"""

from __future__ import annotations

import numpy as np

from .rings import Rings
from .shapes import Shapes

SIDES = 4


def area_within(shapes: Shapes, frames: Shapes) -> np.ndarray:
    """
    Area of what shapes have in common with convex ones, pair by pair.

    Parameters
    ----------
    shapes : Shapes, n of them
        Any, with holes or without.
    frames : Shapes, n of them
        Triangles or convex quadrilaterals, where an answer is wanted.

    Returns
    -------
    ndarray, shape (n,)
        Not below zero; not a number where the frame is none of these [m²].

    Examples
    --------
    >>> import shapely
    >>> frame = shapely.box(0, 0, 4, 4) - shapely.box(1, 1, 3, 3)
    >>> area_within(Shapes.of(np.array([frame])), Shapes.of(np.array([shapely.box(2, 2, 6, 6)]))).tolist()
    [3.0]
    """
    few = np.flatnonzero((frames.count == 1) & (frames.corners <= SIDES))
    rows = few[frames.take(few).rings.convex]
    within = clipped(shapes.take(rows).rings, frames.take(rows).rings)
    area = np.full(len(shapes), np.nan)
    area[rows] = np.maximum(np.bincount(within.row, within.areas, minlength=len(rows)), 0.0)
    return area


def clipped(rings: Rings, frame: Rings) -> Rings:
    """
    What of polygons lies within convex ones, row by row.

    Parameters
    ----------
    rings : Rings
        Rings of any polygons, by row.
    frame : Rings
        One ring for each row: triangles or convex quadrilaterals.

    Returns
    -------
    Rings
        Outlines that may run along sides of the frame, and to its corners, where there is
        nothing between; rows with nothing left have none.
    """
    step = frame.xy.take(frame.following, axis=0) - frame.xy
    for k in range(SIDES):
        side = frame.start[:-1] + np.minimum(k, frame.count - 1)
        rings = _cut(rings, frame.xy.take(side, axis=0), step.take(side, axis=0))
    return rings


def _cut(rings: Rings, corner: np.ndarray, along: np.ndarray) -> Rings:
    """What of rings lies to the left of a line for each row."""
    ring = np.repeat(np.arange(len(rings)), rings.count)
    row = rings.row[ring]
    x, y = (rings.xy - corner.take(row, axis=0)).T
    right, up = along.take(row, axis=0).T
    left = right * y - up * x
    inside, after = left >= 0, rings.following
    crosses = inside != inside[after]
    size = inside.astype(np.int64) + crosses
    place = np.cumsum(size) - size
    xy = np.empty((int(size.sum()), 2))
    kept, cut = np.flatnonzero(inside), np.flatnonzero(crosses)
    xy[place[kept]] = rings.xy.take(kept, axis=0)
    start, end = rings.xy.take(cut, axis=0), rings.xy.take(after[cut], axis=0)
    share = left[cut] / (left[cut] - left[after[cut]])
    xy[place[cut] + inside[cut]] = start + share[:, None] * (end - start)
    count = np.bincount(ring, size, minlength=len(rings)).astype(np.int64)
    there = np.flatnonzero(count)
    return Rings(xy=xy, start=np.append(0, np.cumsum(count[there])), row=rings.row[there])
