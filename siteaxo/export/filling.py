"""
Rows put into the tables of a GeoPackage, and rows that are there changed.

Rows go in with their numbers, their geometries and their spatial index all at once. In the end a file is
brought into one form, which follows from what it holds alone: a file that was changed here and there
has the same bytes as one that was written as a whole.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard, clauses 1.1.3 and 2.1, annex F.3 (R-tree spatial indexes).
SQLite, VACUUM: what "VACUUM INTO" writes.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import shapely

from .blobs import wkb_of
from .grid import Grid, grid_of
from .index import Index
from .nodes import holds
from .provenance import NO_TIME, put_metadata
from .rows import Rows

_ROOM_KB: Final = 65536
_AT_ONCE: Final = 1 << 15
_EMPTY: Final = np.array([np.inf, np.inf, -np.inf, -np.inf])
_FORM: Final = 1  # number that SQLite counts changes of tables with


@dataclass(frozen=True, kw_only=True)
class Change:
    """
    What changes in a table.

    Parameters
    ----------
    gone : ndarray of int
        Numbers of the rows that go.
    come : Rows
        Rows that come; they may have the numbers of those that go.
    """

    gone: np.ndarray
    come: Rows

    def __bool__(self) -> bool:
        return bool(len(self.gone) or len(self.come))


@contextlib.contextmanager
def opened(draft: Path) -> Iterator[sqlite3.Connection]:
    """Open a draft, which is of no use after a failure."""
    with contextlib.closing(sqlite3.connect(draft.as_uri(), uri=True, isolation_level=None)) as file:
        for setting in ("journal_mode = OFF", "synchronous = OFF", f"cache_size = -{_ROOM_KB}"):
            file.execute(f"PRAGMA {setting}")
        yield file


@contextlib.contextmanager
def untriggered(file: sqlite3.Connection) -> Iterator[None]:
    """Let counts and spatial indexes of a draft not follow its rows by themselves."""
    file.execute("BEGIN")
    triggers = file.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        file.execute(f'DROP TRIGGER "{name}"')
    yield
    for _, statement in triggers:
        file.execute(statement)
    file.execute("COMMIT")


def fill(file: sqlite3.Connection, tables: list[Rows], say: Callable[[float], None]) -> None:
    """
    Put rows into the tables of a draft, which are empty.

    Parameters
    ----------
    file : sqlite3.Connection
        The draft.
    tables : list of Rows
        What they are to hold.
    say : callable
        Called with the share of the rows that are in; it may raise to stop.
    """
    tell = _counted(say, sum(len(table) for table in tables))
    for table in tables:
        _insert(file, table, tell)
        if table.shapes is None:
            _tell(file, table.name, len(table))
            continue
        there = np.flatnonzero(_is_there(table.shapes.box))
        box = table.shapes.box[there]
        extent = _around(box)
        _tell(file, table.name, len(table), extent)
        index = Index(file=file, table=table.name)
        index.fill(_grid(index, extent, len(table)), box, table.number[there])


def change(file: sqlite3.Connection, changes: Mapping[str, Change], say: Callable[[float], None]) -> bool:
    """
    Change rows of a draft, which is a copy of a file that :func:`fill` has filled.

    Parameters
    ----------
    file : sqlite3.Connection
        The draft.
    changes : dict of str to Change
        What changes, by table.
    say : callable
        Called with the share of the rows that are in; it may raise to stop.

    Returns
    -------
    bool
        Whether all is as if it had been written as a whole. If not, the draft is of no use.
    """
    tell = _counted(say, sum(len(one.come) for one in changes.values()))
    return all(_change_one(file, name, one, tell) for name, one in changes.items())


def _change_one(file: sqlite3.Connection, name: str, one: Change, tell: Callable[[int], None]) -> bool:
    before, count = _told(file, name)
    after = count + len(one.come) - len(one.gone)
    if one.come.shapes is None:
        _replace(file, one, tell)
        _tell(file, name, after)
        return True
    there = np.flatnonzero(_is_there(one.come.shapes.box))
    box = one.come.shapes.box[there]
    lost = _boxes(file, name, one.gone)
    _replace(file, one, tell)
    inner = (lost[:, :2] > before[:2]).all() and (lost[:, 2:] < before[2:]).all()
    extent = _around(np.vstack([before, box]) if inner else _boxes(file, name))
    _tell(file, name, after, extent)
    index = Index(file=file, table=name)
    grid = _grid(index, before, count)
    alike = grid == _grid(index, extent, after)
    return alike and index.change(grid, one.gone, box, one.come.number[there])


def _replace(file: sqlite3.Connection, one: Change, tell: Callable[[int], None]) -> None:
    """Take the rows out that go, and put those in that come."""
    statement = f'DELETE FROM "{one.come.name}" WHERE fid = ?'
    file.executemany(statement, [(number,) for number in one.gone.tolist()])
    _insert(file, one.come, tell)


def settle(file: sqlite3.Connection, names: list[str], metadata: Mapping[str, str], path: Path) -> None:
    """
    Write what a draft holds to a file, in the one form that follows from that.

    Parameters
    ----------
    file : sqlite3.Connection
        The draft.
    names : list of str
        Of its tables.
    metadata : dict of str to str
        Items of its metadata.
    path : path
        The file, which is not there yet.
    """
    file.execute("BEGIN")
    file.execute("DELETE FROM sqlite_sequence")
    for name in names:
        file.execute(f'INSERT INTO sqlite_sequence SELECT ?, ifnull(max(fid), 0) FROM "{name}"', (name,))
    if metadata:
        put_metadata(file, metadata)
    file.execute("UPDATE gpkg_contents SET last_change = ?", (NO_TIME,))
    file.execute("COMMIT")
    file.execute(f"PRAGMA schema_version = {_FORM}")
    file.execute("VACUUM INTO ?", (str(path),))


def _counted(say: Callable[[float], None], total: int) -> Callable[[int], None]:
    """What is called with every number of rows that have gone in, and tells their share."""
    counts = [0]

    def tell(rows: int) -> None:
        counts.append(counts.pop() + rows)
        say(counts[0] / max(total, 1))

    return tell


def _insert(file: sqlite3.Connection, table: Rows, tell: Callable[[int], None]) -> None:
    """Insert rows, some at a time, since nothing can stop SQLite while it takes them."""
    srs = file.execute("SELECT srs_id FROM gpkg_contents WHERE table_name = ?", (table.name,)).fetchone()[0]
    wide = 1 + (table.shapes is not None) + len(table.columns)
    statement = f'INSERT INTO "{table.name}" VALUES ({", ".join("?" * wide)})'
    for first in range(0, len(table), _AT_ONCE):
        last = min(first + _AT_ONCE, len(table))
        file.executemany(statement, table.tuples(first, last, srs=srs))
        tell(last - first)


def _grid(index: Index, extent: np.ndarray, count: int) -> Grid:
    there = np.where(np.isfinite(extent), extent, 0.0)
    return grid_of(there, count, most=holds(index.size))


def _is_there(box: np.ndarray) -> np.ndarray:
    return np.asarray(np.isfinite(box).all(axis=1))


def _around(box: np.ndarray) -> np.ndarray:
    """One box around all."""
    low, high = np.vstack([box, _EMPTY])[:, :2], np.vstack([box, _EMPTY])[:, 2:]
    return np.concatenate([low.min(axis=0), high.max(axis=0)])


def _tell(file: sqlite3.Connection, name: str, count: int, extent: np.ndarray = _EMPTY) -> None:
    """Say how many rows there are and how far they reach."""
    file.execute("UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?", (count, name))
    reach = extent.tolist() if np.isfinite(extent).all() else [None] * 4
    file.execute(
        "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
        [*reach, name],
    )


def _told(file: sqlite3.Connection, name: str) -> tuple[np.ndarray, int]:
    """How far the rows of a table reach, and how many there are."""
    query = "SELECT min_x, min_y, max_x, max_y, feature_count FROM gpkg_contents "
    query += "JOIN gpkg_ogr_contents USING (table_name) WHERE table_name = ?"
    *reach, count = file.execute(query, (name,)).fetchone()
    return _EMPTY if None in reach else np.array(reach), int(count)


def _boxes(file: sqlite3.Connection, name: str, rows: np.ndarray | None = None) -> np.ndarray:
    """Boxes of all or some rows of a table that have one, shape (n, 4)."""
    query = f'SELECT geom FROM "{name}"'
    query += "" if rows is None else " WHERE fid IN (SELECT value FROM json_each(?))"
    found = file.execute(query, () if rows is None else (json.dumps(rows.tolist()),))
    box = shapely.bounds(shapely.from_wkb([wkb_of(blob) for (blob,) in found if blob is not None]))
    box = np.asarray(box, dtype=float).reshape(-1, 4)
    return box[_is_there(box)]
