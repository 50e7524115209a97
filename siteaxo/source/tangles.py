"""
Outlines that cross themselves so often that mending them would take for ever.

Mending costs as much as there are crossings, which may be as many as half the square of
the vertices. They are estimated before, from a sample of the sides.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

SIMPLE: Final = 64  # with so few vertices mending takes no time, however they cross [-]
_WORK: Final = 4_000_000  # pairs of sides that are looked at for one outline [-]
_SAMPLE: Final = (32, 1024)  # sides of an outline that are looked at, at least and at most [-]


def crossings(polygons: np.ndarray) -> np.ndarray:
    """
    Estimate how often the outlines of polygons cross themselves.

    Parameters
    ----------
    polygons : ndarray of object, shape (n,)
        Polygons, finite.

    Returns
    -------
    ndarray of float, shape (n,)
        0 for those with few vertices; exact for those with up to about a thousand.

    Examples
    --------
    >>> ring = shapely.segmentize(shapely.LinearRing([(0, 0), (4, 4), (4, 0), (0, 4)]), 0.3)
    >>> bow_tie = shapely.Polygon(ring)
    >>> crossings(np.array([bow_tie, shapely.box(0, 0, 1, 1)])).tolist()
    [1.0, 0.0]
    """
    found = np.zeros(len(polygons))
    for row in np.flatnonzero(shapely.get_num_coordinates(polygons) > SIMPLE):
        found[row] = _estimate(polygons[row])
    return found


def _estimate(polygon: shapely.Polygon) -> float:
    rings = shapely.get_rings(polygon)
    ends = [shapely.get_coordinates(ring) for ring in rings]
    begin, end = np.concatenate([xy[:-1] for xy in ends]), np.concatenate([xy[1:] for xy in ends])
    count = len(begin)
    sample = int(np.clip(_WORK // count, *_SAMPLE))
    picked = np.unique(np.linspace(0, count - 1, min(sample, count)).astype(int))
    met = sum(_met(begin[row], end[row], begin, end) for row in picked)
    return met / 2 * count / len(picked)


def _met(p: np.ndarray, q: np.ndarray, begin: np.ndarray, end: np.ndarray) -> int:
    """How many sides a line from *p* to *q* properly crosses."""
    left = _side(p, q, begin) * _side(p, q, end)
    right = _side(begin, end, p) * _side(begin, end, q)
    return int(np.count_nonzero((left < 0) & (right < 0)))


def _side(p: np.ndarray, q: np.ndarray, at: np.ndarray) -> np.ndarray:
    (dx, dy), (ex, ey) = np.moveaxis(q - p, -1, 0), np.moveaxis(at - p, -1, 0)
    return np.sign(dx * ey - dy * ex)
