"""
Groups of different sizes laid end to end.
"""

from __future__ import annotations

import numpy as np


def spread(start: np.ndarray, count: np.ndarray) -> np.ndarray:
    """
    Indices of ragged runs laid end to end: ``start[i], start[i] + 1, ...`` count[i] times.

    Examples
    --------
    >>> spread(np.array([5, 0]), np.array([2, 3])).tolist()
    [5, 6, 0, 1, 2]
    """
    count = np.asarray(count, dtype=np.int64)
    end = np.cumsum(count)
    index = np.repeat(np.asarray(start, dtype=np.int64) - end + count, count)
    index += np.arange(len(index))
    return index


def ragged(count: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Owner and place of every member of groups of given sizes.

    Parameters
    ----------
    count : ndarray of int, shape (n,)
        Size of each group.

    Returns
    -------
    owner, place : ndarray of int, shape (total,)
        Group of each member, and its number within the group.

    Examples
    --------
    >>> owner, place = ragged(np.array([2, 0, 3]))
    >>> owner.tolist(), place.tolist()
    ([0, 0, 2, 2, 2], [0, 1, 0, 1, 2])
    """
    count = np.asarray(count, dtype=np.int64)
    owner = np.repeat(np.arange(len(count)), count)
    start = np.cumsum(count) - count
    return owner, np.arange(len(owner)) - start[owner]


def running_max(group: np.ndarray, value: np.ndarray) -> np.ndarray:
    """
    Greatest value so far within each run of one group, to the last bit.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        Not below zero, not descending.
    value : ndarray, shape (n,)
        Any numbers.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> running_max(np.array([0, 0, 0, 1, 1]), np.array([3.0, 1.0, 5.0, 2.0, 2.5])).tolist()
    [3.0, 3.0, 5.0, 2.0, 2.5]
    """
    if not len(value):
        return value
    order = np.argsort(value)
    rank = np.empty(len(value), dtype=np.int64)
    rank[order] = np.arange(len(value))
    best = np.maximum.accumulate(group * len(value) + rank) - group * len(value)
    return np.asarray(value[order[best]])
