"""
The highest of many segments over each of many columns of the page.

Columns are the leaves of a binary tree. A segment is entered where it spans whole subtrees, a
few of them. Over each subtree the segment that is highest at the middle column stays; one of
the others can be higher over one half only, and goes on to that half. So each goes down one
branch, and work grows little faster than their number, however many columns they span.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..ragged import spread


@dataclass(frozen=True, kw_only=True)
class _Lines:
    """Lines as a point and a slope, each shape (s,); of an upright one, its upper end."""

    x: np.ndarray
    y: np.ndarray
    slope: np.ndarray

    @classmethod
    def through(cls, ends: np.ndarray) -> _Lines:
        (x0, y0), (x1, y1) = ends[:, 0].T, ends[:, 1].T
        leans = x1 != x0
        slope = np.where(leans, (y1 - y0) / np.where(leans, x1 - x0, 1.0), 0.0)
        return cls(x=x0, y=np.where(leans, y0, np.maximum(y0, y1)), slope=slope)

    def over(self, line: np.ndarray, x: np.ndarray) -> np.ndarray:
        """Height of some of them at a place each, shape (n,)."""
        return self.y[line] + self.slope[line] * (x - self.x[line])


def highest_over(ends: np.ndarray, x: np.ndarray) -> np.ndarray:
    """
    Find the highest point of segments over each column.

    Parameters
    ----------
    ends : ndarray, shape (s, 2, 2)
        End points of segments [m].
    x : ndarray, shape (n,)
        Columns, each once, ascending; at least one [m].

    Returns
    -------
    ndarray, shape (n,)
        Height over each column [m]; minus infinity where there is no segment.

    References
    ----------
    A tree that keeps one line for each range of columns is known as a Li Chao tree (common
    practice); here all segments go down it together, level by level.

    Examples
    --------
    >>> gable = np.array([[[0.0, 0.0], [2.0, 2.0]], [[2.0, 2.0], [4.0, 0.0]], [[0.0, 1.0], [4.0, 1.0]]])
    >>> highest_over(gable, np.array([0.0, 2.0, 4.0])).tolist()
    [1.0, 2.0, 1.0]
    """
    lines, depth = _Lines.through(ends), int(len(x) - 1).bit_length()
    column = np.append(x, np.full((1 << depth) - len(x), x[-1]))  # one for every leaf
    best = np.full(len(column), -np.inf)
    node = line = np.zeros(0, dtype=np.int64)
    for level, (more_nodes, more_lines) in enumerate(_entered(ends, x, depth)):
        node, line = np.concatenate([node, more_nodes]), np.concatenate([line, more_lines])
        size = len(column) >> level
        order = np.lexsort((lines.over(line, column[node * size + size // 2]), node))
        node, line = node[order], line[order]
        wins = np.append(node[1:] != node[:-1], True)[: len(node)]
        winner = line[wins][np.cumsum(wins) - wins]  # of the node of each
        leaf = spread(node[wins] * size, np.full(wins.sum(), size))
        best[leaf] = np.maximum(best[leaf], lines.over(np.repeat(line[wins], size), column[leaf]))
        node, line = _passed_on(lines, node[~wins], line[~wins], winner[~wins], column, size)
    return best[: len(x)]


def _entered(ends: np.ndarray, x: np.ndarray, depth: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """Nodes and segments that are entered there, for every level of the tree from its root."""
    low, high = ends[:, :, 0].min(axis=1), ends[:, :, 0].max(axis=1)
    first, after = np.searchsorted(x, low), np.searchsorted(x, high, side="right")
    found = []
    for _ in range(depth + 1):
        left = np.flatnonzero((first < after) & (first % 2 == 1))
        right = np.flatnonzero((first < after) & (after % 2 == 1))
        found.append((np.concatenate([first[left], after[right] - 1]), np.concatenate([left, right])))
        first, after = (first + 1) // 2, after // 2
    return found[::-1]


def _passed_on(
    lines: _Lines, node: np.ndarray, line: np.ndarray, winner: np.ndarray, column: np.ndarray, size: int
) -> tuple[np.ndarray, np.ndarray]:
    """Halves of nodes, and lines that are higher somewhere over them than what has won there."""
    found = []
    for half, end in ((0, 0), (1, size - 1)):
        at = column[node * size + end]
        higher = lines.over(line, at) > lines.over(winner, at)
        found.append((2 * node[higher] + half, line[higher]))
    nodes, rows = (np.concatenate(some) for some in zip(*found, strict=True))
    return nodes, rows
