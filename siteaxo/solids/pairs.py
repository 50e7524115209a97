"""
Work on pairs of footprints, where many of them may be one and the same shape.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely


def on_pairs(
    work: Callable[[np.ndarray, np.ndarray], np.ndarray],
    shapes: np.ndarray,
    one: np.ndarray,
    other: np.ndarray,
) -> np.ndarray:
    """
    Work on pairs of shapes, on each two that are alike to the last bit only once.

    Of *n* features with the same footprint there are *n²* pairs, and one pair of shapes.

    Parameters
    ----------
    work : callable
        Takes two arrays of geometries, and returns an array of the same length.
    shapes : ndarray of geometry, shape (n,)
        The shapes.
    one, other : ndarray of int, shape (m,)
        Rows of the shapes of each pair.

    Returns
    -------
    ndarray, shape (m,)

    Examples
    --------
    >>> square = np.array([shapely.box(0, 0, 2, 2), shapely.box(1, 0, 3, 2), shapely.box(0, 0, 2, 2)])
    >>> common = on_pairs(shapely.intersection, square, np.array([0, 2, 0]), np.array([1, 1, 2]))
    >>> shapely.area(common).tolist()
    [2.0, 2.0, 4.0]
    """
    rows, place = np.unique(np.stack([one, other]), return_inverse=True)
    alike = np.unique(shapely.to_wkb(shapes[rows]), return_inverse=True)[1]
    left, right = alike[place].reshape(2, -1)
    pair = left * (len(rows) + 1) + right
    first, which = np.unique(pair, return_index=True, return_inverse=True)[1:]
    result: np.ndarray = work(shapes[one[first]], shapes[other[first]])[which]
    return result
