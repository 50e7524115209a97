"""
Quick orders: rows by a group and a value at once.
"""

from __future__ import annotations

import numpy as np


def by_group(group: np.ndarray, value: np.ndarray) -> np.ndarray:
    """
    Order of rows by group, then by value.

    Both are packed into one whole number, which sorts several times as fast as two
    columns; values too near for that are put right afterwards.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        Not below zero.
    value : ndarray, shape (n,)
        Between 0 and 1, or a little outside.

    Returns
    -------
    ndarray of int, shape (n,)

    Examples
    --------
    >>> by_group(np.array([1, 0, 1, 0]), np.array([0.5, 1.0, 0.25, 0.0])).tolist()
    [3, 1, 2, 0]
    """
    if not len(group):
        return np.zeros(0, dtype=np.int64)
    bits = 61 - int(group.max()).bit_length()
    if bits < 30 or not (np.abs(value) <= 2).all():
        return np.lexsort((value, group))
    order = np.argsort((group << (bits + 1)) + np.rint((value + 2) * 2.0 ** (bits - 2)).astype(np.int64))
    while True:
        late, early = order[1:], order[:-1]
        wrong = np.flatnonzero((group[late] == group[early]) & (value[late] < value[early]))
        wrong = wrong[np.diff(wrong, prepend=-2) > 1]
        if not len(wrong):
            return order
        order[wrong], order[wrong + 1] = order[wrong + 1], order[wrong]


def in_order(group: np.ndarray) -> np.ndarray:
    """
    Order of rows by group, those of one group as they stand; shape (n,).

    Group and row are packed into one whole number, which sorts several times as fast as a stable order.

    Examples
    --------
    >>> in_order(np.array([3, 0, 3, 1, 0])).tolist()
    [1, 4, 3, 0, 2]
    """
    if (group[1:] >= group[:-1]).all():
        return np.arange(len(group))
    bits = len(group).bit_length()
    if not len(group) or group.min() < 0 or int(group.max()).bit_length() + bits > 63:
        return np.argsort(group, kind="stable")
    packed = (group.astype(np.int64) << bits) + np.arange(len(group))
    packed.sort()
    return packed & ((1 << bits) - 1)


def starts(group: np.ndarray, count: int) -> np.ndarray:
    """
    Where the rows of each group start, rows being sorted by group; shape (count + 1,).

    Examples
    --------
    >>> starts(np.array([0, 0, 2]), 3).tolist()
    [0, 2, 2, 3]
    """
    start = np.zeros(count + 1, dtype=np.int64)
    np.cumsum(np.bincount(group, minlength=count), out=start[1:])
    return start


def heads(group: np.ndarray) -> np.ndarray:
    """
    Whether each row begins a run of equal groups, shape (n,).

    Examples
    --------
    >>> heads(np.array([3, 3, 5])).tolist()
    [True, False, True]
    """
    new = np.ones(len(group), dtype=bool)
    np.not_equal(group[1:], group[:-1], out=new[1:])
    return new
