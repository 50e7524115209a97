"""
Which points lie near which, by a grid of cells as wide as the distance asked about.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from ..ragged import spread

CHUNK: Final = 1 << 20
"""Pairs of points looked at at once, about."""


def near_points(xy: np.ndarray, others: np.ndarray, reach: float) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """
    Find the points within reach of other points, some pairs at a time.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Points [m].
    others : ndarray, shape (m, 2)
        Those that they may lie near [m].
    reach : float
        Greatest distance, above 0 [m].

    Yields
    ------
    row, other : ndarray of int
        Rows of points and of others; every pair comes once.

    Examples
    --------
    >>> there = np.array([[0.0, 0.0], [5.0, 5.0]])
    >>> [(row.tolist(), other.tolist()) for row, other in near_points(there, there + 0.5, 1.0)]
    [([0, 1], [0, 1])]
    """
    if not len(xy) or not len(others):
        return
    low = np.minimum(xy.min(axis=0), others.min(axis=0))
    mine, theirs = (np.floor((at - low) / reach).astype(np.int64) + 1 for at in (xy, others))
    width = int(max(mine[:, 0].max(), theirs[:, 0].max())) + 2
    own, key = mine @ [1, width], theirs @ [1, width]
    line, order = np.argsort(own, kind="stable"), np.argsort(key, kind="stable")
    own, key = own[line], key[order]
    step = max(int(CHUNK / max(9 * len(others) / len(np.unique(key)), 1)), 1)
    for begin in range(0, len(xy), step):
        some = line[begin : begin + step]
        middle = own[begin : begin + step, None] + width * np.array([-1, 0, 1])
        first, last = np.searchsorted(key, middle - 1), np.searchsorted(key, middle + 1, side="right")
        many = (last - first).ravel()
        row, other = np.repeat(some, (last - first).sum(axis=1)), order[spread(first.ravel(), many)]
        near = ((xy[row] - others[other]) ** 2).sum(axis=1) <= reach**2
        yield row[near], other[near]
