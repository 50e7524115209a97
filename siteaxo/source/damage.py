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

import re
import sqlite3
import struct
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from .files import TableFile

_NULL_SHAPE: Final = 0
_NUMBER_TYPES: Final = b"NF"
_DELETED: Final = 0x2A
_IS_PLAIN: Final = np.isin(np.arange(256), np.frombuffer(b"0123456789+-.eE \0", dtype=np.uint8))
_PLAIN: Final = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


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
    """

    broken: dict[int, str] = field(default_factory=dict)
    texts: dict[str, dict[int, str]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


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
    broken = {**unread, **reasons}
    if dbf is None or len(dbf) < 33:
        return Damage(broken)
    shapes, rows = (len(shx) - 100) // 8, struct.unpack_from("<I", dbf, 4)[0]
    notes = () if shapes == rows else (f"it has {shapes} shapes but {rows} rows of attributes",)
    return Damage(broken, number_texts(dbf, fields), notes)


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
    broken |= {int(i): "its record is cut short" for i in np.flatnonzero(inside & (end > len(shp)))}
    broken |= {int(i): "its record lies outside the file" for i in np.flatnonzero(~inside)}
    return broken, {int(i) for i in np.flatnonzero(kinds == _NULL_SHAPE)}


def _int32_at(data: np.ndarray, offsets: np.ndarray) -> np.ndarray:
    return data[offsets[:, None] + np.arange(4)].copy().view("<i4").ravel()


def number_texts(dbf: bytes, fields: Iterable[str]) -> dict[str, dict[int, str]]:
    """
    Find what is no number in the number fields of an attribute file.

    Parameters
    ----------
    dbf : bytes
        The attribute file.
    fields : iterable of str
        Fields to look at; others and text fields are passed over.

    Returns
    -------
    dict of str to dict of int to str
        Per field the text of each such record, counted from zero; blanks and rows of
        asterisks are empty values, not texts.
    """
    rows, header, width = struct.unpack_from("<IHH", dbf, 4)
    whole = min(rows, max(0, (len(dbf) - header) // width)) if width else 0
    table = np.frombuffer(dbf, dtype=np.uint8, count=whole * width, offset=header).reshape(whole, width)
    wanted, found, column = set(fields), {}, 1
    for at in range(32, header - 32, 32):
        name = dbf[at : at + 11].split(b"\0")[0].decode("latin-1")
        length = dbf[at + 16]
        if name in wanted and dbf[at + 11] in _NUMBER_TYPES:
            texts = _not_numbers(table[:, column : column + length], table[:, 0] == _DELETED)
            found.update({name: texts} if texts else {})
        column += length
    return found


def _not_numbers(cells: np.ndarray, deleted: np.ndarray) -> dict[int, str]:
    starred = (cells == _DELETED).any(axis=1)
    plain = _IS_PLAIN[cells].all(axis=1)
    doubtful = np.flatnonzero(~plain & ~starred & ~deleted)
    raw = np.ascontiguousarray(cells).view(f"S{max(cells.shape[1], 1)}").ravel()
    sure = np.char.strip(raw[plain & ~deleted])
    try:
        sure[sure != b""].astype(np.float64)
    except ValueError:
        doubtful = np.flatnonzero(~starred & ~deleted)
    words = {int(i): raw[i].decode("latin-1").strip(" \0") for i in doubtful}
    return {i: word for i, word in words.items() if word and _PLAIN.fullmatch(word) is None}


def _geopackage(file: TableFile, fields: list[str], nulls: list[int]) -> Damage:
    try:
        with closing(sqlite3.connect(f"{file.path.resolve().as_uri()}?mode=ro", uri=True)) as base:
            return _ask(base, str(file.table), fields, nulls)
    except sqlite3.Error:
        return Damage()  # the reader got through where this does not: nothing to add


def _ask(base: sqlite3.Connection, table: str, fields: list[str], nulls: list[int]) -> Damage:
    columns = base.execute(f"PRAGMA table_info({_quoted(table)})").fetchall()
    keys = [name for _, name, _, _, _, key in columns if key]
    if len(keys) != 1:
        return Damage()
    key = _quoted(keys[0])
    texts = {}
    for _, name, kind, *_ in columns:
        if name in fields and not kind.upper().startswith(("TEXT", "DATE", "BLOB")):
            query = (
                f"SELECT {key}, {_quoted(name)} FROM {_quoted(table)} WHERE typeof({_quoted(name)}) = 'text'"
            )
            rows = dict(base.execute(query).fetchall())
            texts.update({name: rows} if rows else {})
    return Damage(_unread(base, table, key, nulls), texts)


def _unread(base: sqlite3.Connection, table: str, key: str, nulls: list[int]) -> dict[int, str]:
    if not nulls:
        return {}
    (geometry,) = base.execute(
        "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?", (table,)
    ).fetchone()
    query = f"SELECT {key} FROM {_quoted(table)} WHERE {_quoted(geometry)} IS NOT NULL"
    with_geometry = {row for (row,) in base.execute(query)}
    return {i: "its geometry cannot be decoded" for i in nulls if i in with_geometry}


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
