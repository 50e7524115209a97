"""
What lies on either side of lines, and lines that lie amid crowns.

Where one crown stands before another, or they grow into one another, the line between them is as
fine as one within a crown: the outline of the whole clump is what shapes the space. So the weight
of an outline does not come and go along it with what happens to lie behind.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

ASIDE: Final = 3e-3
"""How far beside a line its two sides are looked for [m]."""


def beside(ends: np.ndarray, areas: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """
    Find which areas lie just left and just right of the middle of straight lines.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points [m].
    areas : ndarray of Polygon or MultiPolygon, shape (f,)
        Areas.

    Returns
    -------
    list of two pairs of ndarray of int
        Lines, and an area that lies on that side of each.

    Examples
    --------
    >>> [(line.tolist(), area.tolist()) for line, area in
    ...  beside(np.array([[[0.0, 0.0], [0.0, 2.0]]]), np.array([shapely.box(0, 0, 1, 2)]))]
    [([], []), ([0], [0])]
    """
    step = ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    aside = ASIDE * np.column_stack([-step[:, 1], step[:, 0]]) / np.where(length > 0, length, 1.0)[:, None]
    tree, middle = shapely.STRtree(areas), ends.mean(axis=1)
    pairs = [tree.query(shapely.points(middle + side), predicate="intersects") for side in (aside, -aside)]
    return [(line, area) for line, area in pairs]


def amid_crowns(lines: Any, faces: Any) -> np.ndarray:
    """
    Which lines of trees have crowns on either side.

    Parameters
    ----------
    lines : GeoDataFrame, n rows
        With ``role``; only straight ones are looked at.
    faces : GeoDataFrame
        What is seen of faces, with ``role`` and ``part``.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    found = np.zeros(len(lines), dtype=bool)
    crown = (faces["role"] == "tree") & (faces["part"] == "crown")
    if not crown.any():
        return found
    shapes = np.asarray(lines.geometry.array, dtype=object)
    rows = np.flatnonzero(lines["role"] == "tree")
    rows = rows[shapely.get_num_coordinates(shapes[rows]) == 2]
    if len(rows):
        ends = shapely.get_coordinates(shapes[rows]).reshape(-1, 2, 2)
        left, right = beside(ends, np.asarray(faces.geometry.array, dtype=object)[crown.to_numpy()])
        found[rows[np.intersect1d(left[0], right[0])]] = True
    return found
