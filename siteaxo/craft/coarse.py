"""
A coarse look at what may lie near what, before anything is measured.

Most lines of a large drawing lie far from the few that are asked about; a grid of cells tells
which, at a cost that grows with their number only.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

MOST: Final = 1024
"""Most cells along each side of the grid, which has about as many cells as there are lines."""


def may_lie_near(ends: np.ndarray, others: np.ndarray, reach: float) -> np.ndarray:
    """
    Tell which lines may lie within reach of any of some others.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points of straight lines [m].
    others : ndarray, shape (m, 2, 2)
        End points of those asked about [m].
    reach : float
        Distance [m].

    Returns
    -------
    ndarray of bool, shape (n,)
        True for all that do, and for some that do not: what counts is whether boxes around them
        share a cell of the grid.

    Examples
    --------
    >>> lines = np.array([[[0, 0], [1, 0]], [[90, 90], [99, 99]]])
    >>> may_lie_near(lines, np.array([[[0, 2], [0, 3]]]), 2.0).tolist()
    [True, False]
    """
    if not len(ends) or not len(others):
        return np.zeros(len(ends), dtype=bool)
    count = min(math.isqrt(len(ends)) + 1, MOST)
    low, high = (np.array([how(ends[..., k]) for k in (0, 1)]) for how in (np.min, np.max))
    cell = np.maximum((high - low) / count, 1e-9)

    def cells(points: np.ndarray, grow: float) -> tuple[np.ndarray, np.ndarray]:
        """First cell of each line's box, and the one after its last, shape (2, lines)."""
        first = (np.minimum(points[:, 0], points[:, 1]) - grow - low) / cell
        last = (np.maximum(points[:, 0], points[:, 1]) + grow - low) / cell
        inside = [np.clip(np.floor(at), 0, count).astype(np.int64).T for at in (first, last)]
        return inside[0], inside[1] + 1

    taken = np.zeros((count + 2, count + 2), dtype=np.int64)
    (left, bottom), (right, top) = cells(others, reach)
    for x, y, sign in ((left, bottom, 1), (right, top, 1), (left, top, -1), (right, bottom, -1)):
        np.add.at(taken, (x, y), sign)
    below = np.zeros((count + 2, count + 2), dtype=np.int64)  # cells taken to the left of and below each
    below[1:, 1:] = (taken.cumsum(axis=0).cumsum(axis=1) > 0).cumsum(axis=0).cumsum(axis=1)[:-1, :-1]
    (left, bottom), (right, top) = cells(ends, 0.0)
    return np.asarray(below[right, top] - below[left, top] - below[right, bottom] + below[left, bottom] > 0)
