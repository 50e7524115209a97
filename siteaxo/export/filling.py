"""
Rows put into the empty tables of a GeoPackage.

Rows go in with their numbers, their geometries and their spatial index all at once. Blocks of rows that
stand in the file written last time are copied from it within SQLite, which is much faster than to
hand them over once more and gives the same bytes.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard, clauses 1.1.3 and 2.1, annex F.3 (R-tree spatial indexes).
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from ..errors import OutputError
from ..keeping import Arrays, Store, digest
from .blobs import Blobs
from .columns import Blocks, Column, blocks_of
from .packed import ROOT, packed

_ROOM_KB: Final = 65536
_AT_ONCE: Final = 1 << 15
_FAR: Final = -(1 << 62)  # no row moves by as much


@dataclass(frozen=True, kw_only=True)
class Rows:
    """
    The rows of one table.

    Parameters
    ----------
    name : str
        Of the table.
    columns : dict of str to Column
        Beside the geometry.
    shapes : Blobs or None
        The geometries.
    count : int
        How many there are.
    """

    name: str
    columns: Mapping[str, Column]
    shapes: Blobs | None
    count: int

    def tuples(self, begin: int, end: int) -> Iterator[tuple[object, ...]]:
        """Some rows as the file takes them: number, geometry, columns."""
        shapes = () if self.shapes is None else (self.shapes.rows(begin, end),)
        columns = (column.rows(begin, end) for column in self.columns.values())
        return zip(range(begin + 1, end + 1), *shapes, *columns, strict=True)


class Earlier:
    """
    The file that was written last time, and what its blocks of rows hold.

    Parameters
    ----------
    store : Store
        Where that is kept.
    path : path
        The file.
    """

    def __init__(self, store: Store, path: Path) -> None:
        self.store, self.path = store, path
        self.key = digest("blocks of rows", str(path))
        self.blocks: dict[str, Blocks] = {}
        self.seen: tuple[int, ...] = ()

    def attach(self, file: sqlite3.Connection) -> Arrays:
        """Open the file as "earlier" if it is still what was written, and return its blocks."""
        known, self.seen = self.store.get(self.key), self._stamp()
        same = known is not None and "file" in known and known["file"].tobytes() == _hash(self.path)
        place = f"{self.path.absolute().as_uri()}?mode=ro&immutable=1" if same else ":memory:"
        file.execute("ATTACH ? AS earlier", (place,))
        return known if known is not None and same else {}

    def check(self) -> None:
        """Refuse a file that has been written to while rows were copied from it."""
        if self._stamp() != self.seen:
            raise OutputError(
                f"{str(self.path)!r} was written to while it was read. Run once more.", value=self.path
            )

    def _stamp(self) -> tuple[int, ...]:
        try:
            told = self.path.stat()
        except OSError:
            return ()
        return told.st_ino, told.st_size, told.st_mtime_ns

    def keep(self) -> None:
        """Keep what the file holds now."""
        arrays = {"file": np.frombuffer(_hash(self.path), dtype=np.uint8)}
        for name, blocks in self.blocks.items():
            arrays |= {f"start {name}": blocks.start, f"key {name}": blocks.key}
        self.store.put(self.key, arrays)


def _hash(path: Path) -> bytes:
    """Hash a file; nothing where there is none."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").digest()
    except OSError:
        return b""


def fill(
    file: sqlite3.Connection,
    tables: list[Rows],
    earlier: Earlier | None,
    say: Callable[[float], None] = lambda share: None,
) -> None:
    """
    Put rows into the tables of a GeoPackage, which are empty.

    Parameters
    ----------
    file : sqlite3.Connection
        The GeoPackage, in a mode without transactions of its own.
    tables : list of Rows
        What they are to hold.
    earlier : Earlier, optional
        The file written last time.
    say : callable
        Called with the share of the rows that are in; it may raise to stop.
    """
    tell = _counted(say, sum(table.count for table in tables))
    known = earlier.attach(file) if earlier is not None else {}
    for setting in ("journal_mode = OFF", "synchronous = OFF", f"cache_size = -{_ROOM_KB}"):
        file.execute(f"PRAGMA main.{setting}")
    file.execute("BEGIN")
    triggers = file.execute("SELECT name, sql FROM main.sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        file.execute(f'DROP TRIGGER main."{name}"')
    words: dict[str, bytes] = {}
    for table in tables:
        if earlier is None or table.shapes is None:
            _insert(file, table, 0, table.count, tell)
        else:
            blocks = blocks_of(list(table.columns.values()), table.shapes, words)
            _put(file, table, blocks, _there(file, table, known), tell)
            earlier.blocks[table.name] = blocks
        _index(file, table)
    for _, statement in triggers:
        file.execute(statement)
    file.execute("COMMIT")
    if earlier is not None:
        earlier.check()


def _counted(say: Callable[[float], None], total: int) -> Callable[[int], None]:
    """What is called with every number of rows that have gone in, and tells their share."""
    counts = [0]

    def tell(rows: int) -> None:
        counts.append(counts.pop() + rows)
        say(counts[0] / max(total, 1))

    return tell


def _insert(file: sqlite3.Connection, table: Rows, begin: int, end: int, tell: Callable[[int], None]) -> None:
    """Insert rows, some at a time, since nothing can stop SQLite while it takes them."""
    wide = 1 + (table.shapes is not None) + len(table.columns)
    statement = f'INSERT INTO main."{table.name}" VALUES ({", ".join("?" * wide)})'
    for first in range(begin, end, _AT_ONCE):
        last = min(first + _AT_ONCE, end)
        file.executemany(statement, table.tuples(first, last))
        tell(last - first)


def _put(
    file: sqlite3.Connection,
    table: Rows,
    blocks: Blocks,
    there: Mapping[bytes, int],
    tell: Callable[[int], None],
) -> None:
    """Copy the blocks that stand in the earlier file, and insert the rest."""
    stands = np.array([there.get(key.tobytes(), -1) for key in blocks.key], dtype=np.int64)
    shift = np.where(stands < 0, _FAR, stands - blocks.start[:-1])
    begins = np.flatnonzero(np.diff(shift, prepend=_FAR - 1) != 0).tolist()
    for first, after in pairwise([*begins, len(shift)]):
        begin, end, by = int(blocks.start[first]), int(blocks.start[after]), int(shift[first])
        if by == _FAR:
            _insert(file, table, begin, end, tell)
        else:
            _copy(file, table, begin, end, by)
            tell(end - begin)


def _there(file: sqlite3.Connection, table: Rows, known: Arrays) -> dict[bytes, int]:
    """The first row of each block in the earlier file, where its table is made in the same way."""
    query = "SELECT sql FROM {}.sqlite_master WHERE type = 'table' AND name = ?"
    now, before = (file.execute(query.format(name), (table.name,)).fetchone() for name in ("main", "earlier"))
    if before != now or f"key {table.name}" not in known:
        return {}
    keys, start = known[f"key {table.name}"], known[f"start {table.name}"].tolist()
    return {key.tobytes(): first for key, first in zip(keys, start[:-1], strict=True)}


def _copy(file: sqlite3.Connection, table: Rows, begin: int, end: int, by: int) -> None:
    names = ", ".join(f'"{name}"' for name in ("geom", *table.columns))
    file.execute(
        f'INSERT INTO main."{table.name}" SELECT fid - ?, {names} FROM earlier."{table.name}" '
        "WHERE fid > ? AND fid <= ? ORDER BY fid",
        (by, begin + by, end + by),
    )


def _index(file: sqlite3.Connection, table: Rows) -> None:
    """Say how many rows there are and how far they reach, and make their spatial index."""
    file.execute(
        "UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?", (table.count, table.name)
    )
    if table.shapes is None:
        return
    there = np.flatnonzero(np.isfinite(table.shapes.box).all(axis=1))
    box = table.shapes.box[there]
    if len(there):
        reach = [*box[:, :2].min(axis=0).tolist(), *box[:, 2:].max(axis=0).tolist(), table.name]
        file.execute(
            "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?", reach
        )
    index = f'main."rtree_{table.name}_geom_'
    (size,) = file.execute(f'SELECT length(data) FROM {index}node" WHERE nodeno = {ROOT}').fetchone()
    tree = packed(box, there + 1, size=size)
    nodes = enumerate(tree.data, start=ROOT)
    file.executemany(f'INSERT OR REPLACE INTO {index}node" VALUES (?, ?)', nodes)
    parents = enumerate(tree.parent.tolist(), start=ROOT + 1)
    file.executemany(f'INSERT INTO {index}parent" VALUES (?, ?)', parents)
    homes = np.zeros(table.count, dtype=np.int64)  # 0 for what lies nowhere
    homes[there] = tree.home
    file.execute(
        f'INSERT INTO {index}rowid" SELECT key + 1, value FROM json_each(?) WHERE value > 0',
        (json.dumps(homes.tolist()),),
    )
