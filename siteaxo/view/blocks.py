"""
Things on the page in blocks that stay what they are when one thing changes.

The page is quartered at round coordinates until no square holds too much. A square knows nothing
of the others, so that what is added or moved changes its own block, and at the most quarters it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

DEEPEST: Final = 16


def blocks_of(middle: np.ndarray, size: int) -> list[np.ndarray]:
    """
    Part points into blocks.

    Parameters
    ----------
    middle : ndarray, shape (n, 2)
        Points on the page [m].
    size : int
        Most points to a block.

    Returns
    -------
    list of ndarray of int
        Rows of each block, ascending.

    Examples
    --------
    >>> [block.tolist() for block in blocks_of(np.array([[1.0, 1], [9, 9], [1, 2], [9, 8]]), 2)]
    [[0, 2], [1, 3]]
    """
    if not len(middle):
        return []
    extent = max(float(np.ptp(middle, axis=0).max()), 1.0)
    side = 2.0 ** np.ceil(np.log2(extent))
    cell = np.floor(middle / side).astype(np.int64)
    order = np.lexsort((cell[:, 0], cell[:, 1]))
    change = np.flatnonzero(np.diff(cell[order], axis=0).any(axis=1)) + 1
    parts = []
    for rows in np.split(order, change):
        low = cell[rows[0]] * side
        parts += _quartered(np.sort(rows), middle, low, side, size, 0)
    return parts


def _quartered(
    rows: np.ndarray, middle: np.ndarray, low: np.ndarray, side: float, size: int, depth: int
) -> list[np.ndarray]:
    """Quarter a square until no part of it holds too much."""
    if len(rows) <= size or depth >= DEEPEST:
        return [rows] if len(rows) else []
    half = side / 2
    place = (middle[rows] >= low + half).astype(np.int64)
    quarter = place[:, 0] + 2 * place[:, 1]
    parts = []
    for number in range(4):
        corner = low + half * np.array([number % 2, number // 2])
        parts += _quartered(rows[quarter == number], middle, corner, half, size, depth + 1)
    return parts
