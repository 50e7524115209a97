"""
Numbers of rows that stay where other solids change.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..view.order import starts

ROOM: Final = 4  # rows to a face or an edge, for which there is room at least


def row_numbers(group: np.ndarray, own: np.ndarray) -> np.ndarray:
    """
    Number rows so that those of a solid keep their numbers where others are seen otherwise.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        The solid of each row.
    own : ndarray of int, shape (s,)
        How many faces or edges each solid has.

    Returns
    -------
    ndarray of int, shape (n,)
        Ascending from 1; one after another where the rows do not stand by solid.

    Examples
    --------
    >>> row_numbers(np.array([0, 0, 2]), np.array([3, 1, 3])).tolist()
    [1, 2, 21]
    """
    if (np.diff(group) < 0).any():
        return np.arange(1, len(group) + 1)
    start = starts(group, len(own))
    return (first_numbers(np.diff(start), own) - start[:-1])[group] + np.arange(len(group))


def first_numbers(rows: np.ndarray, own: np.ndarray) -> np.ndarray:
    """
    Number of the first row of each solid.

    Each has room for as many rows as follow from the scene, whatever hides them, and more only where
    it has more rows.

    Parameters
    ----------
    rows : ndarray of int, shape (s,)
        How many rows each solid has.
    own : ndarray of int, shape (s,)
        How many faces or edges.

    Returns
    -------
    ndarray of int, shape (s,)

    Examples
    --------
    >>> first_numbers(np.array([2, 0, 1]), np.array([3, 1, 3])).tolist()
    [1, 17, 21]
    """
    room = np.maximum(ROOM * own, rows)
    room = 1 << np.maximum(np.frexp(room - 0.5)[1], 0).astype(np.int64)  # the next power of two
    return np.asarray(1 + np.cumsum(room) - room)
