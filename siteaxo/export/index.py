"""
The spatial index of a table, made at once or changed where rows have changed.

What is written are the tables that SQLite keeps an R*-tree in: nodes, the node that each row is in, and the
node that each node is in. They follow from the boxes and their numbers alone, whether the index was made at
once or change by change.

References
----------
SQLite, The SQLite R*Tree Module, "Shadow tables".
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from typing import Final

import numpy as np

from .grid import WIDER, Grid
from .nodes import ROOT, Level, entries_of, holds, parted, read_nodes, root_of

_AT_ONCE: Final = 400


@dataclass(frozen=True, kw_only=True)
class Index:
    """
    The spatial index of a table in a file.

    Parameters
    ----------
    file : sqlite3.Connection
        The file.
    table : str
        Name of the table.
    """

    file: sqlite3.Connection
    table: str

    @property
    def size(self) -> int:
        """Bytes to a node."""
        query = f"SELECT length(data) FROM {self._name('node')} WHERE nodeno = {ROOT}"
        return int(self.file.execute(query).fetchone()[0])

    def fill(self, grid: Grid, box: np.ndarray, number: np.ndarray) -> None:
        """Put boxes, shape (n, 4), with their numbers into the index, which is empty."""
        size, level = self.size, 0
        cell, entries = grid.cells(box), entries_of(number, box)
        while len(entries) > holds(size):
            made = parted(grid, level, cell, entries, most=holds(size))
            self._put(made, level, size)
            cell, entries, level = grid.of(made.number) >> WIDER, made.around(), level + 1
        self._put(root_of(entries), level, size, depth=level)

    def change(self, grid: Grid, gone: np.ndarray, box: np.ndarray, number: np.ndarray) -> bool:
        """
        Take rows out of the index and put others into it.

        Parameters
        ----------
        grid : Grid
            The grid, which stays.
        gone : ndarray of int
            Numbers of the rows that go.
        box, number : ndarray
            Boxes that come, and their numbers.

        Returns
        -------
        bool
            Whether the index is what it would be if made at once. If not, since it would be deeper or
            less deep, it is of no use.
        """
        size, depth = self.size, self._root()[1]
        where, come = grid.cells(box), entries_of(number, box)
        touched = np.concatenate([grid.of(self._homes(gone)), where])
        for level in range(depth):
            before = self._of_cells(grid, level, touched)
            stays = ~np.isin(before.ids, gone)
            cells = np.concatenate([grid.of(before.home[stays]), where])
            entries = np.concatenate([before.entries[stays], come])
            made = parted(grid, level, cells, entries, most=holds(size))
            self._remove(np.setdiff1d(gone, come["id"].astype(np.int64)), level)
            self._put(made, level, size)
            gone, come, where = before.number, made.around(), grid.of(made.number) >> WIDER
            touched = np.concatenate([grid.of(gone) >> WIDER, where])
        return self._change_root(grid, gone, come)

    def _change_root(self, grid: Grid, gone: np.ndarray, come: np.ndarray) -> bool:
        """Change what the root holds, if that leaves the tree as deep as it should be."""
        root, depth = self._root()
        size = self.size
        entries = np.concatenate([root.entries[~np.isin(root.ids, gone)], come])
        if len(entries) > holds(size):
            return False
        self._remove(np.setdiff1d(gone, come["id"].astype(np.int64)), depth)
        self._put(root_of(entries), depth, size, depth=depth)
        return depth == 0 or self._count(grid, depth - 1) > holds(size)

    def _count(self, grid: Grid, level: int) -> int:
        """How many entries the nodes of a level hold."""
        if level == 0:
            return int(self.file.execute(f"SELECT count(*) FROM {self._name('rowid')}").fetchone()[0])
        query = f"SELECT count(*) FROM {self._name('parent')} WHERE nodeno >= ? AND nodeno < ?"
        return int(self.file.execute(query, grid.level(level - 1)).fetchone()[0])

    def _root(self) -> tuple[Level, int]:
        """The root, and how deep the tree is."""
        query = f"SELECT nodeno, data FROM {self._name('node')} WHERE nodeno = {ROOT}"
        (row,) = self.file.execute(query).fetchall()
        return read_nodes([row]), int.from_bytes(row[1][:2], "big")

    def _homes(self, rows: np.ndarray) -> np.ndarray:
        """The nodes that rows are in, once each."""
        query = f"SELECT DISTINCT nodeno FROM {self._name('rowid')} WHERE rowid IN "
        query += "(SELECT value FROM json_each(?))"
        found = self.file.execute(query, (json.dumps(rows.tolist()),))
        return np.array([node for (node,) in found], dtype=np.int64)

    def _of_cells(self, grid: Grid, level: int, cells: np.ndarray) -> Level:
        """The nodes of some cells of a level."""
        query = f"SELECT nodeno, data FROM {self._name('node')} WHERE nodeno >= ? AND nodeno < ?"
        rows: list[tuple[int, bytes]] = []
        for first in np.unique(grid.first(level, cells)).tolist():
            rows += self.file.execute(query, (first, first + (1 << grid.part))).fetchall()
        return read_nodes(rows)

    def _put(self, made: Level, level: int, size: int, *, depth: int = 0) -> None:
        """Put nodes into the index, and say which node their entries are in."""
        statement = f"INSERT OR REPLACE INTO {self._name('node')} VALUES (?, ?)"
        self.file.executemany(statement, made.rows(size, depth=depth))
        order = np.argsort(made.ids)
        inside = np.column_stack([made.ids, made.home])[order].ravel().tolist()
        statement = f"INSERT OR REPLACE INTO {self._name('parent' if level else 'rowid')} VALUES "
        for begin in range(0, len(inside), 2 * _AT_ONCE):  # many rows to a statement take half the time
            some = inside[begin : begin + 2 * _AT_ONCE]
            self.file.execute(statement + ", ".join(["(?, ?)"] * (len(some) // 2)), some)

    def _remove(self, ids: np.ndarray, level: int) -> None:
        """Remove what the nodes of a level do not hold any more: rows, or nodes."""
        one_by_one = [(one,) for one in ids.tolist()]
        if level == 0:
            self.file.executemany(f"DELETE FROM {self._name('rowid')} WHERE rowid = ?", one_by_one)
            return
        for part in ("node", "parent"):
            self.file.executemany(f"DELETE FROM {self._name(part)} WHERE nodeno = ?", one_by_one)

    def _name(self, part: str) -> str:
        return f'"rtree_{self.table}_geom_{part}"'
