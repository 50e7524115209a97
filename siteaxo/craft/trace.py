"""
What lines go through while it is decided which of them stay.

Whether a line stays follows, step by step, from what it and its neighbours are and have been through.
So where all that lies around a line has gone through the same as before, the line has too, and nothing
needs to be decided anew. What each has gone through is told as one number.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..mixing import mixed

Note = Callable[..., None]
"""Told the state of lines after a step, and which rows they are where it is not all."""


class Trace:
    """
    What each of some lines has gone through.

    Parameters
    ----------
    count : int
        How many lines there are.

    Examples
    --------
    >>> one, other = Trace(2), Trace(2)
    >>> one.note(np.array([True, False]))
    >>> other.note(np.array([True, True]))
    >>> (one.code == other.code).tolist()
    [True, False]
    """

    def __init__(self, count: int) -> None:
        self.code = np.zeros(count, dtype=np.uint64)
        self.steps = 0

    def note(self, state: np.ndarray, rows: np.ndarray | None = None) -> None:
        """Note the state of all lines after a step, or of some: whole numbers, shape (n,)."""
        self.steps += 1
        told = np.asarray(state).astype(np.uint64) + np.uint64(self.steps << 32)
        if rows is None:
            self.code = mixed(self.code ^ told)
        else:
            self.code[rows] = mixed(self.code[rows] ^ told)


def unnoted(state: np.ndarray, rows: np.ndarray | None = None) -> None:
    """Take no note."""
