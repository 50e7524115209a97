"""
Things on the page in blocks that stay what they are when one thing changes.

The page is quartered at round coordinates until no square holds too much. A square knows nothing
of the others, so that what is added or moved changes its own block, and at the most quarters it.
What follows for the things of a block from all that lies near it can be found block by block.
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


def boxes_of(ends: np.ndarray, reach: np.ndarray | float = 0.0) -> np.ndarray:
    """Left, bottom, right and top of what is within reach of lines of shape (n, 2, 2); shape (n, 4) [m]."""
    wide = np.broadcast_to(reach, len(ends))[:, None]
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    return np.hstack([low - wide, high + wide])


def near_blocks(blocks: list[np.ndarray], box: np.ndarray, others: np.ndarray) -> list[np.ndarray]:
    """
    Find what lies near each block.

    Parameters
    ----------
    blocks : list of ndarray of int
        Rows of each block.
    box : ndarray, shape (n, 4)
        Left, bottom, right and top of the things that are in blocks [m].
    others : ndarray, shape (m, 4)
        The same of the things that may lie near them; not numbers for those that lie nowhere.

    Returns
    -------
    list of ndarray of int
        For each block the rows of others, ascending, whose box meets the box around the block.

    Examples
    --------
    >>> box = np.array([[0.0, 0, 2, 1], [5, 0, 6, 1], [1.5, 0, 3, 1]])
    >>> [near.tolist() for near in near_blocks([np.array([0]), np.array([1])], box, box)]
    [[0, 2], [1]]
    """
    left, bottom, right, top = np.ascontiguousarray(others.T)
    found = []
    for rows in blocks:
        low, high = box[rows, :2].min(axis=0), box[rows, 2:].max(axis=0)
        meets = (left <= high[0]) & (right >= low[0]) & (bottom <= high[1]) & (top >= low[1])
        found.append(np.flatnonzero(meets))
    return found


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
