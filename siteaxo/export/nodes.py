"""
Nodes of a spatial index.

The boxes of each cell of a grid, by their numbers, are cut into nodes; these are boxes of a level whose
cells are four times as wide, and so on until one node, the root, holds what is left.

References
----------
SQLite, The SQLite R*Tree Module, "Shadow tables"; the layout of a node as its source tells it (both from
memory): the depth of the tree in the root, the number of entries, entries of an id and four coordinates in
single precision, all with the high byte first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from .grid import Grid

ROOT: Final = 1
"""Number of the root."""
_HEAD: Final = 4
_ENTRY: Final = np.dtype([("id", ">i8"), ("box", ">f4", (4,))])


@dataclass(frozen=True, kw_only=True)
class Level:
    """
    Nodes of one level.

    Parameters
    ----------
    number : ndarray of int, shape (k,)
        Of the nodes, ascending.
    start : ndarray of int, shape (k + 1,)
        Where the entries of each begin.
    entries : ndarray, shape (n,)
        What they hold.
    """

    number: np.ndarray
    start: np.ndarray
    entries: np.ndarray

    @property
    def ids(self) -> np.ndarray:
        """What the entries stand for, shape (n,)."""
        return self.entries["id"].astype(np.int64)

    @property
    def home(self) -> np.ndarray:
        """The node that each entry is in, shape (n,)."""
        return np.repeat(self.number, np.diff(self.start))

    def around(self) -> np.ndarray:
        """One entry for each node, around all that it holds."""
        result = np.zeros(len(self.number), dtype=_ENTRY)
        result["id"] = self.number
        box = self.entries["box"].astype(np.float32)
        if len(result):
            low, high = (ufunc.reduceat(box, self.start[:-1], axis=0) for ufunc in (np.minimum, np.maximum))
            result["box"] = np.column_stack([low[:, 0], high[:, 1], low[:, 2], high[:, 3]])
        return result

    def rows(self, size: int, *, depth: int = 0) -> Iterator[tuple[int, bytes]]:
        """Each node as it is kept, with its number."""
        count = np.diff(self.start)
        layout = [("depth", ">u2"), ("count", ">u2"), ("entries", _ENTRY, (holds(size),))]
        table = np.zeros(len(count), dtype=layout)
        table["depth"], table["count"] = depth, count
        row = np.repeat(np.arange(len(count)), count)
        table["entries"][row, np.arange(len(self.entries)) - self.start[row]] = self.entries
        rest = bytes(size - table.dtype.itemsize)
        whole = (bytes(one) + rest for one in table.view(f"V{table.dtype.itemsize}").tolist())
        return zip(self.number.tolist(), whole, strict=True)


def holds(size: int) -> int:
    """How many entries a node of some bytes holds."""
    return (size - _HEAD) // _ENTRY.itemsize


def entries_of(number: np.ndarray, box: np.ndarray) -> np.ndarray:
    """
    Entries of boxes, which are rounded outward to single precision.

    Parameters
    ----------
    number : ndarray of int, shape (n,)
        What each box stands for.
    box : ndarray, shape (n, 4)
        Left, bottom, right, top.

    Examples
    --------
    >>> entries_of(np.array([7]), np.array([[0, 0, 2, 1]])).tobytes().hex()[:32]
    '00000000000000070000000040000000'
    """
    result = np.zeros(len(number), dtype=_ENTRY)
    result["id"] = number
    low, high = box[:, :2].astype(np.float32), box[:, 2:].astype(np.float32)
    low = np.where(low > box[:, :2], np.nextafter(low, np.float32(-np.inf)), low)
    high = np.where(high < box[:, 2:], np.nextafter(high, np.float32(np.inf)), high)
    result["box"] = np.column_stack([low[:, 0], high[:, 0], low[:, 1], high[:, 1]])
    return result


def parted(grid: Grid, level: int, cell: np.ndarray, entries: np.ndarray, *, most: int) -> Level:
    """
    Put entries into the nodes of their cells.

    Parameters
    ----------
    grid : Grid
        The grid.
    level : int
        0 for rows, 1 for the nodes that hold these, and so on.
    cell : ndarray of int, shape (n, 2)
        The cell of each entry on that level.
    entries : ndarray, shape (n,)
        The entries.
    most : int
        How many a node holds.

    Returns
    -------
    Level
    """
    first = grid.first(level, cell)
    order = np.lexsort((entries["id"].astype(np.int64), first))
    first, entries = first[order], entries[order]
    begin = np.flatnonzero(np.diff(first, prepend=-1))
    count = np.diff(begin, append=len(first))
    nodes = -(-count // most)
    rank = np.arange(len(first)) - np.repeat(begin, count)
    node = first + rank * np.repeat(nodes, count) // np.repeat(count, count)
    start = np.flatnonzero(np.diff(node, prepend=-1))
    return Level(number=node[start], start=np.append(start, len(node)), entries=entries)


def root_of(entries: np.ndarray) -> Level:
    """The root that holds some entries."""
    ordered = entries[np.argsort(entries["id"].astype(np.int64))]
    return Level(number=np.array([ROOT]), start=np.array([0, len(ordered)]), entries=ordered)


def read_nodes(rows: list[tuple[int, bytes]]) -> Level:
    """
    Nodes as they were kept, with their numbers.

    Examples
    --------
    >>> root = root_of(entries_of(np.array([7, 9]), np.array([[0, 0, 2, 1], [4, 0, 5, 1]])))
    >>> read_nodes([*root.rows(1228)]).ids.tolist()
    [7, 9]
    """
    count = [int.from_bytes(node[2:_HEAD], "big") for _, node in rows]
    ends = [_HEAD + one * _ENTRY.itemsize for one in count]
    told = b"".join([node[_HEAD:end] for (_, node), end in zip(rows, ends, strict=True)])
    return Level(
        number=np.array([number for number, _ in rows], dtype=np.int64),
        start=np.cumsum([0, *count]),
        entries=np.frombuffer(told, dtype=_ENTRY),
    )
