"""
Polygons of very many corners cut into small ones, so that what meets them looks at a few sides.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

MOST: Final = 256  # corners of a polygon that stays whole
DEEPEST: Final = 40  # halvings after which a polygon is left as it is


def chips(polygons: np.ndarray, *, most: int = MOST) -> tuple[np.ndarray, np.ndarray]:
    """
    Halve polygons until none has very many corners, or there are as many parts as there were corners.

    Parameters
    ----------
    polygons : ndarray of Polygon or MultiPolygon, shape (n,)
        Valid areas [m].
    most : int
        Corners of a polygon that stays whole.

    Returns
    -------
    parts : ndarray of Polygon or MultiPolygon, shape (k,)
        Areas that do not overlap and together cover the same; first those that stay whole.
    owner : ndarray of int, shape (k,)
        The polygon that each is a part of.

    Examples
    --------
    >>> wheel = shapely.Point(0, 0).buffer(1.0, quad_segs=500)
    >>> parts, owner = chips(np.array([wheel, shapely.box(0, 0, 1, 1)]), most=300)
    >>> int(shapely.get_num_coordinates(parts).max()) <= 300, np.unique(owner).tolist()
    (True, [0, 1])
    """
    parts, owner = np.asarray(polygons, dtype=object), np.arange(len(polygons))
    done: list[tuple[np.ndarray, np.ndarray]] = []
    corners = int(shapely.get_num_coordinates(parts).sum())
    for _ in range(DEEPEST):
        if len(parts) > corners:
            done.append((parts, owner))
            break
        large = shapely.get_num_coordinates(parts) > most
        done.append((parts[~large], owner[~large]))
        parts, owner = _halves(parts[large], owner[large])
        if not len(parts):
            break
    else:
        done.append((parts, owner))
    return np.concatenate([some for some, _ in done]), np.concatenate([whose for _, whose in done])


def _halves(polygons: np.ndarray, owner: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Polygons cut at the middle one of their corners, across their longer extent."""
    if not len(polygons):
        return polygons, owner
    xy, row = shapely.get_coordinates(polygons, return_index=True)
    box = shapely.bounds(polygons)
    axis = (box[:, 3] - box[:, 1] > box[:, 2] - box[:, 0]).astype(np.int64)
    value = xy[np.arange(len(xy)), axis[row]]
    value = value[np.lexsort((value, row))]
    start = np.searchsorted(row, np.arange(len(polygons) + 1))
    place = value[(start[:-1] + start[1:]) // 2]
    here, low, high = np.arange(len(polygons)), box.copy(), box.copy()
    first, last = box[here, axis], box[here, axis + 2]
    edge = np.minimum(place - first, last - place) < 0.05 * (last - first)  # corners heaped up on an old cut
    place = np.where(edge, (first + last) / 2, place)
    low[here, axis + 2], high[here, axis] = place, place
    halves = shapely.intersection(np.tile(polygons, 2), shapely.box(*np.concatenate([low, high]).T))
    flat, whose = shapely.get_parts(halves, return_index=True)
    area = np.flatnonzero(shapely.get_dimensions(flat) == 2)
    return flat[area], np.tile(owner, 2)[whose[area]]
