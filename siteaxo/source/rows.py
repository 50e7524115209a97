"""
Rows of a shapefile's attributes, and what stands in them in the place of numbers.

References
----------
Shapefile technical description (1998), dBASE file format; layout of the .dbf header.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

DELETED: Final = 0x2A
_NUMBER_TYPES: Final = b"NF"
_IS_PLAIN: Final = np.isin(np.arange(256), np.frombuffer(b"0123456789+-.eE \0", dtype=np.uint8))
_PLAIN: Final = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


@dataclass(frozen=True)
class Rows:
    """The rows of an attribute file, shape (n, width) of bytes; how many it announces; what is odd."""

    table: np.ndarray
    announced: int
    notes: tuple[str, ...] = ()


def rows_of(dbf: bytes) -> Rows | None:
    """
    The rows of an attribute file.

    Parameters
    ----------
    dbf : bytes
        The file.

    Returns
    -------
    Rows or None
        None where its header makes no sense.
    """
    if len(dbf) < 33:
        return None
    announced, header, width = struct.unpack_from("<IHH", dbf, 4)
    if width < 1 or not 33 <= header <= len(dbf):
        return None
    there = (len(dbf) - header) // width
    table = np.frombuffer(dbf, dtype=np.uint8, count=min(announced, there) * width, offset=header)
    notes = () if announced <= there else (f"it announces {announced} rows of attributes and has {there}",)
    if there > announced:
        notes = (f"it announces {announced} rows of attributes and has {there}",)
    return Rows(table.reshape(-1, width), announced, notes)


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
    rows = rows_of(dbf)
    if rows is None:
        return {}
    table, header = rows.table, struct.unpack_from("<H", dbf, 8)[0]
    wanted, found, column = set(fields), {}, 1
    for at in range(32, header - 32, 32):
        name = dbf[at : at + 11].split(b"\0")[0].decode("latin-1")
        length = dbf[at + 16]
        if name in wanted and dbf[at + 11] in _NUMBER_TYPES:
            texts = _not_numbers(table[:, column : column + length], table[:, 0] == DELETED)
            found.update({name: texts} if texts else {})
        column += length
    return found


def _not_numbers(cells: np.ndarray, deleted: np.ndarray) -> dict[int, str]:
    starred = (cells == DELETED).any(axis=1)
    plain = _IS_PLAIN[cells].all(axis=1)
    doubtful = np.flatnonzero(~plain & ~starred & ~deleted)
    if not cells.size:
        return {}
    raw = np.ascontiguousarray(cells).view(f"S{cells.shape[1]}").ravel()
    sure = np.char.strip(raw[plain & ~deleted])
    try:
        sure[sure != b""].astype(np.float64)
    except ValueError:
        doubtful = np.flatnonzero(~starred & ~deleted)
    words = {int(i): raw[i].decode("latin-1").strip(" \0") for i in doubtful}
    return {i: word for i, word in words.items() if word and _PLAIN.fullmatch(word) is None}
