"""
The grid by which boxes are put into the nodes of a spatial index.

A box belongs to the cell in which its middle lies, and the nodes of a cell hold nothing but what belongs to
it. Their numbers follow from the cell. So what a node holds follows from the boxes of its own cell alone,
and where some boxes change, all other nodes are what they were.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

WIDER: Final = 2  # a cell of one level is as wide as so many of the level below, as a power of two
_LEVELS: Final = 4  # bits for the level in the number of a node
_BITS: Final = 63
_SHARE: Final = 0.7  # of a node that the boxes of a cell fill, within a factor of two either way


@dataclass(frozen=True, kw_only=True)
class Grid:
    """
    A grid anchored at the origin.

    Parameters
    ----------
    size : float
        Width of a cell, a power of two [m].
    place : int
        Bits for each coordinate of a cell in the number of a node.
    part : int
        Bits for the number of a node within its cell.
    """

    size: float
    place: int
    part: int

    def cells(self, box: np.ndarray) -> np.ndarray:
        """Column and row of the cell of each box, shape (n, 2), of boxes of shape (n, 4) [m]."""
        middle = box[:, :2] / 2 + box[:, 2:] / 2
        return np.floor(middle / self.size).astype(np.int64)

    def first(self, level: int, cell: np.ndarray) -> np.ndarray:
        """Number of the first node of each cell of a level, shape (n,)."""
        column, row = (cell + (1 << (self.place - 1))).T
        return ((level << self.place | column) << self.place | row) << self.part

    def of(self, node: np.ndarray) -> np.ndarray:
        """Column and row of the cell that each node belongs to, shape (n, 2)."""
        cell = node >> self.part
        every = (1 << self.place) - 1
        return np.column_stack([cell >> self.place & every, cell & every]) - (1 << (self.place - 1))

    def level(self, number: int) -> tuple[int, int]:
        """From which number on the nodes of a level are numbered, and up to which."""
        wide = 2 * self.place + self.part
        return number << wide, (number + 1) << wide


def grid_of(extent: np.ndarray, count: int, *, most: int) -> Grid:
    """
    Settle the grid for the boxes of a table.

    Parameters
    ----------
    extent : ndarray, shape (4,)
        Left, bottom, right and top of all of them [m].
    count : int
        How many there are.
    most : int
        How many a node holds.

    Returns
    -------
    Grid
        One whose cells hold about two thirds of a node of boxes if these lie evenly.

    Examples
    --------
    >>> grid_of(np.array([0, 0, 100, 100]), 40_000, most=50).size
    4.0
    """
    part = (count // most + 1).bit_length()
    place = (_BITS - _LEVELS - part) // 2
    wide, high = (extent[2:] - extent[:2]).tolist()
    cells = max(count / (_SHARE * most), 1.0)
    size = max(math.sqrt(wide / cells) * math.sqrt(high), max(wide, high) / cells)
    size = max(size, float(np.abs(extent).max()) / (1 << (place - 2)))
    return Grid(size=_power(size), place=place, part=part)


def _power(size: float) -> float:
    """The power of two that is nearest to a size, by ratio; 1 for nothing."""
    share, power = math.frexp(size)
    return math.ldexp(1.0, power - (share < math.sqrt(0.5))) if size > 0 else 1.0
