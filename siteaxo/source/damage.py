"""
What a file holds that its reader passes over in silence.

A shapefile record that cannot be decoded is read as a feature without a geometry, and
a text in a number field as zero, without an error. Both are found here from the bytes
themselves (for a GeoPackage: from the types SQLite keeps), so that they can be named.

References
----------
Shapefile technical description (1998), layout of .shp, .shx and .dbf headers and
records; OGC 12-128r19 GeoPackage 1.4.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from .geopackage import opened, quoted
from .rows import DELETED, number_texts, rows_of
from .tablefile import TableFile

_NULL_SHAPE: Final = 0
_POINT_WORDS: Final = {1: (10,), 11: (14, 18), 21: (14,)}  # lengths of a point, with Z and M, and with M
_MANY_WORDS: Final = {8: ((20, 8),), 18: ((28, 12), (36, 16)), 28: ((20, 8), (28, 12))}
"""Lengths of several points: a first part, and for each point."""
_UNDEFINED: Final = (0, -1)  # reference systems of a GeoPackage
_OTHER_SYSTEM: Final = """
    SELECT count(*) FROM {table}
    WHERE typeof({column}) = 'blob' AND length({column}) > 8 AND substr({column}, 1, 2) = x'4750'
    AND CASE instr('13579BDF', substr(hex(substr({column}, 4, 1)), 2))
        WHEN 0 THEN substr({column}, 5, 4) NOT IN (?, ?, ?)
        ELSE substr({column}, 5, 4) NOT IN (?, ?, ?)
    END
"""  # the last bit of the fourth byte says in which order the next four are


@dataclass(frozen=True)
class Damage:
    """
    What is wrong with single records.

    Parameters
    ----------
    broken : dict of int to str
        Reason per FID whose record cannot be read whole.
    texts : dict of str to dict of int to str
        Per number field: what stands there instead of a number, by FID.
    notes : tuple of str
        What is wrong with the file as a whole.
    count : int or None
        Records that the reader has to bring, where the file says so.
    deleted : int
        Records that are marked as deleted, and rightly left out.
    """

    broken: dict[int, str] = field(default_factory=dict)
    texts: dict[str, dict[int, str]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    count: int | None = None
    deleted: int = 0


def look_for_damage(file: TableFile, fields: Iterable[str], nulls: Iterable[int]) -> Damage:
    """
    Look at the bytes of a shapefile, or the types in a GeoPackage.

    Parameters
    ----------
    file : TableFile
        The table that was read.
    fields : iterable of str
        Fields in which numbers are wanted.
    nulls : iterable of int
        FIDs that were read without a geometry.

    Returns
    -------
    Damage
        Empty for kinds of file whose reader tells.
    """
    if file.kind == "shapefile":
        return _shapefile(file, list(fields), list(nulls))
    if file.kind == "GeoPackage" and file.table is not None:
        return _geopackage(file, list(fields), list(nulls))
    return Damage()


def _shapefile(file: TableFile, fields: list[str], nulls: list[int]) -> Damage:
    shp, shx, dbf = file.part(".shp"), file.part(".shx"), file.part(".dbf")
    if shp is None or shx is None or len(shp) < 100 or len(shx) < 100:
        return Damage()
    reasons, empty = broken_shapes(shp, shx)
    unread = {i: "its geometry cannot be decoded" for i in nulls if i not in empty}
    hidden = dict.fromkeys(unindexed(shp, shx), "its shape is not in the index (.shx)")
    shapes = (len(shx) - 100) // 8
    broken = {**unread, **reasons, **hidden}
    rows = None if dbf is None else rows_of(dbf)
    if dbf is None or rows is None:
        said = "it has no attributes (.dbf)" if dbf is None else "its attributes (.dbf) are damaged"
        return Damage(broken, notes=(said,), count=shapes)
    alone = dict.fromkeys(range(shapes, len(rows.table)), "it has a row of attributes but no shape")
    bare = dict.fromkeys(range(rows.announced, shapes), "it has a shape but no row of attributes")
    cut = dict.fromkeys(
        range(len(rows.table), min(rows.announced, shapes)), "its row of attributes is cut short"
    )
    gone = set(np.flatnonzero(rows.table[:shapes, 0] == DELETED).tolist())
    kept = {i: why for i, why in {**alone, **bare, **cut, **broken}.items() if i not in gone}
    return Damage(kept, number_texts(dbf, fields), rows.notes, shapes - len(gone), len(gone))


def broken_shapes(shp: bytes, shx: bytes) -> tuple[dict[int, str], set[int]]:
    """
    Find the shape records that cannot be whole, and those that are empty on purpose.

    Parameters
    ----------
    shp, shx : bytes
        The main file and its index.

    Returns
    -------
    broken : dict of int to str
        Reason per record, counted from zero: it lies outside the file, is cut short, or
        its type is neither the file's own nor "null shape".
    empty : set of int
        Records of type "null shape".
    """
    index = np.frombuffer(shx[100 : len(shx) - (len(shx) - 100) % 8], dtype=">i4").reshape(-1, 2)
    start = index[:, 0].astype(np.int64) * 2
    end = start + 8 + index[:, 1].astype(np.int64) * 2
    inside = (start >= 100) & (start + 12 <= len(shp))
    kinds = np.full(len(index), _NULL_SHAPE - 1, dtype=np.int64)
    kinds[inside] = _int32_at(np.frombuffer(shp, dtype=np.uint8), start[inside] + 8)
    (own,) = struct.unpack_from("<i", shp, 32)
    odd = inside & (kinds != own) & (kinds != _NULL_SHAPE)
    broken = {int(i): f"its shape type is {kinds[i]}, the file's is {own}" for i in np.flatnonzero(odd)}
    odd = np.flatnonzero(inside & ~_of_its_size(shp, kinds, start, index[:, 1]))
    broken |= {int(i): "its record is longer or shorter than points need" for i in odd}
    broken |= {int(i): "its record is cut short" for i in np.flatnonzero(inside & (end > len(shp)))}
    broken |= {int(i): "its record lies outside the file" for i in np.flatnonzero(~inside)}
    return broken, {int(i) for i in np.flatnonzero(kinds == _NULL_SHAPE)}


def _of_its_size(shp: bytes, kinds: np.ndarray, start: np.ndarray, words: np.ndarray) -> np.ndarray:
    """Whether records of points are as long as such records are; others pass."""
    good = np.ones(len(kinds), dtype=bool)
    for kind, lengths in _POINT_WORDS.items():
        good &= (kinds != kind) | np.isin(words, lengths)
    many = np.flatnonzero(np.isin(kinds, list(_MANY_WORDS)) & (start + 48 <= len(shp)))
    number = _int32_at(np.frombuffer(shp, dtype=np.uint8), start[many] + 44).astype(np.int64)
    for kind, sizes in _MANY_WORDS.items():
        fits = np.any([first + each * number == words[many] for first, each in sizes], axis=0)
        good[many] &= (kinds[many] != kind) | fits
    return good


def _int32_at(data: np.ndarray, offsets: np.ndarray) -> np.ndarray:
    return data[offsets[:, None] + np.arange(4)].copy().view("<i4").ravel()


def unindexed(shp: bytes, shx: bytes) -> list[int]:
    """
    Numbers, from zero, of shape records that the index leaves out.

    A gap in the main file may be the old copy of a record that was written anew elsewhere;
    such copies have the number of one that is in the index.
    """
    index = np.frombuffer(shx[100 : len(shx) - (len(shx) - 100) % 8], dtype=">i4").reshape(-1, 2)
    start = np.unique(index[:, 0].astype(np.int64) * 2)
    size = np.zeros(len(start), dtype=np.int64)
    inside = (start >= 100) & (start + 8 <= len(shp))
    data = np.frombuffer(shp, dtype=np.uint8)
    size[inside] = data[start[inside][:, None] + np.arange(4, 8)].copy().view(">i4").ravel()
    end = np.concatenate([[100], start[inside] + 8 + 2 * size[inside].clip(0)])
    begin = np.concatenate([start[inside], [len(shp)]])
    found = []
    for at, stop in zip(end[end + 12 <= begin], begin[end + 12 <= begin], strict=True):
        found += _numbers_between(shp, int(at), int(stop))
    return sorted({number - 1 for number in found if number > len(index)})


def _numbers_between(shp: bytes, at: int, stop: int) -> list[int]:
    """Numbers of the records that follow one another from one place to another."""
    numbers = []
    while at + 12 <= stop:
        number, words = struct.unpack_from(">ii", shp, at)
        if number < 1 or words < 2 or at + 8 + 2 * words > stop:
            break
        numbers.append(number)
        at += 8 + 2 * words
    return numbers


def _geopackage(file: TableFile, fields: list[str], nulls: list[int]) -> Damage:
    try:
        with opened(file.path) as base:
            base.set_progress_handler(None, 0)
            return _ask(base, str(file.table), fields, nulls)
    except (sqlite3.Error, UnicodeError):
        return Damage()  # the reader got through where this does not: nothing to add


def _ask(base: sqlite3.Connection, table: str, fields: list[str], nulls: list[int]) -> Damage:
    columns = base.execute(f"PRAGMA table_info({quoted(table)})").fetchall()
    keys = [name for _, name, _, _, _, key in columns if key]
    if len(keys) != 1:
        return Damage()
    key = quoted(keys[0])
    texts = {}
    for _, name, kind, *_ in columns:
        if name in fields and not kind.upper().startswith(("TEXT", "DATE", "BLOB")):
            texts.update(_odd_cells(base, table, key, name, "typeof({}) IN ('text', 'blob')"))
        elif name in fields:
            texts.update(_odd_cells(base, table, key, name, "instr({}, char(0))"))
    return Damage(_unread(base, table, key, nulls), texts, tuple(_other_systems(base, table)))


def _other_systems(base: sqlite3.Connection, table: str) -> Iterator[str]:
    """Places that name another reference system than the table's, which is taken for all."""
    row = base.execute(
        "SELECT g.column_name, g.srs_id, c.srs_id FROM gpkg_geometry_columns AS g JOIN gpkg_contents AS c "
        "ON lower(g.table_name) = lower(c.table_name) WHERE lower(g.table_name) = lower(?)",
        (table,),
    ).fetchone()
    if row is None or not all(isinstance(number, int) and abs(number) < 2**31 for number in row[1:]):
        return
    column, own, other = quoted(row[0]), row[1], row[2]
    if other not in (own, *_UNDEFINED):
        yield f"its contents name the reference system {other}, its geometry column {own}, which is taken"
    little, big = ([struct.pack(f"{order}i", number) for number in (own, *_UNDEFINED)] for order in "<>")
    query = _OTHER_SYSTEM.format(table=quoted(table), column=column)
    (count,) = base.execute(query, (*big, *little)).fetchone()
    if count:
        yield f"{count} of its geometries name another reference system than the table, {own}, which is taken"


def _odd_cells(
    base: sqlite3.Connection, table: str, key: str, name: str, which: str
) -> dict[str, dict[int, str]]:
    """Cells of a column that the reader takes for something else, as texts."""
    column = quoted(name)
    query = f"SELECT {key}, {column} FROM {quoted(table)} WHERE {which.format(column)}"
    rows = base.execute(query).fetchall()
    found = {row: f"x'{cell.hex()}'" if isinstance(cell, bytes) else str(cell) for row, cell in rows}
    return {name: found} if found else {}


def _unread(base: sqlite3.Connection, table: str, key: str, nulls: list[int]) -> dict[int, str]:
    if not nulls:
        return {}
    row = base.execute(
        "SELECT column_name FROM gpkg_geometry_columns WHERE lower(table_name) = lower(?)", (table,)
    ).fetchone()
    if row is None:
        return {}
    query = f"SELECT {key} FROM {quoted(table)} WHERE {quoted(row[0])} IS NOT NULL"
    with_geometry = {row for (row,) in base.execute(query)}
    return {i: "its geometry cannot be decoded" for i in nulls if i in with_geometry}
