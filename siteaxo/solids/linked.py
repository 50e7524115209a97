"""
What hangs together: things that are linked, directly or through others.
"""

from __future__ import annotations

import numpy as np


def linked(count: int, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """
    Find for each thing the first of all that it hangs together with.

    Parameters
    ----------
    count : int
        How many things there are.
    one, other : ndarray of int, shape (p,)
        Pairs that are linked.

    Returns
    -------
    ndarray of int, shape (count,)

    Examples
    --------
    >>> linked(5, np.array([4, 2]), np.array([2, 1])).tolist()
    [0, 1, 1, 3, 1]
    """
    first = np.arange(count)
    while (first[one] != first[other]).any():
        np.minimum.at(first, np.maximum(first[one], first[other]), np.minimum(first[one], first[other]))
        while (first[first] != first).any():
            first = first[first]
    return first
