"""
What stretches of lines cover of them.
"""

from __future__ import annotations

import numpy as np

from ..ragged import running_max


def bare(length: np.ndarray, line: np.ndarray, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """
    Tell how much of each line no stretch covers.

    Parameters
    ----------
    length : ndarray, shape (n,)
        Length of each line [m].
    line, begin, end : ndarray, shape (m,)
        Which line each stretch lies on, and where; one that ends before it begins is none [m].

    Returns
    -------
    ndarray, shape (n,)
        [m]

    Examples
    --------
    >>> bare(np.array([10.0, 4.0]), np.zeros(3, int), np.array([1, 2, 7]), np.array([5, 3, 9])).tolist()
    [4.0, 4.0]
    """
    real = np.flatnonzero(begin < end)
    order = real[np.lexsort((begin[real], line[real]))]
    line, begin, end = line[order], begin[order], end[order]
    missed = np.maximum(begin - np.maximum(furthest_before(line, end), 0.0), 0.0)
    last = np.zeros(len(length))
    np.maximum.at(last, line, end)
    return np.asarray(np.bincount(line, missed, len(length)) + length - last)


def furthest_before(line: np.ndarray, end: np.ndarray) -> np.ndarray:
    """
    How far the stretches before each reach on the same line, minus infinity for the first of a line.

    Parameters
    ----------
    line : ndarray of int, shape (m,)
        The line of each stretch, not descending.
    end : ndarray, shape (m,)
        Where each ends.

    Returns
    -------
    ndarray, shape (m,)

    Examples
    --------
    >>> furthest_before(np.array([0, 0, 0, 1]), np.array([4.0, 2.0, 9.0, 3.0])).tolist()
    [-inf, 4.0, 4.0, -inf]
    """
    before = np.full(len(line), -np.inf)
    before[1:] = np.where(line[1:] == line[:-1], running_max(line, end)[:-1], -np.inf)
    return before
