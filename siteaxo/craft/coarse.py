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
    box, asked = _boxes(ends), _boxes(others)
    low = np.array([box[0].min(), box[1].min()])
    cell = np.maximum((np.array([box[2].max(), box[3].max()]) - low) / count, 1e-9)
    taken = np.zeros((count + 2, count + 2), dtype=np.int32)
    left, bottom, right, top = _cells(asked, low, cell, reach, count)
    for x, y, sign in ((left, bottom, 1), (right, top, 1), (left, top, -1), (right, bottom, -1)):
        np.add.at(taken, (x, y), sign)
    below = np.zeros((count + 2, count + 2), dtype=np.int32)  # cells taken to the left of and below each
    below[1:, 1:] = (taken.cumsum(axis=0).cumsum(axis=1) > 0).cumsum(axis=0).cumsum(axis=1)[:-1, :-1]
    left, bottom, right, top = _cells(box, low, cell, 0.0, count)
    many = below.ravel()
    left, right = left * (count + 2), right * (count + 2)
    found = many[right + top] - many[left + top] - many[right + bottom] + many[left + bottom]
    return np.asarray(found > 0)


def _boxes(ends: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Left, bottom, right and top of each line."""
    x0, y0, x1, y1 = ends.reshape(-1, 4).T
    return np.minimum(x0, x1), np.minimum(y0, y1), np.maximum(x0, x1), np.maximum(y0, y1)


def _cells(
    box: tuple[np.ndarray, ...], low: np.ndarray, cell: np.ndarray, grow: float, count: int
) -> list[np.ndarray]:
    """First column and row of cells that each box touches, and the ones after its last."""
    cells = []
    for side, column in enumerate(box):
        axis, last = side % 2, side // 2
        place = column + ((grow if last else -grow) - low[axis])
        place /= cell[axis]
        np.clip(place, 0, count, out=place)
        cells.append(place.astype(np.int32) + np.int32(last))
    return cells
