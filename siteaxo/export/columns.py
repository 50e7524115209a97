"""
Columns of a table as a file has them, and blocks of rows that can be told apart by their content.
"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import pandas as pd

from .blobs import Blobs

_NUMBERS: Final = frozenset(
    {"level_min", "level_max", "visible_share", "line_mm", "base", "top", "turn", "height_factor"}
    | {"origin_x", "origin_y", "drawn_in_place", "height_mm", "opacity", "lift_m"}
)
_WHOLE_NUMBERS: Final = frozenset({"draw_order", "drawn"})
_WORD, _KEY = 16, 32  # bytes of hashes
_BLOCK: Final = 512
_MIX: Final = np.array(
    [0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB, 0xD6E8FEB86659FD93], dtype=np.uint64
)


@dataclass(frozen=True, kw_only=True)
class Column:
    """
    One column of a table.

    Parameters
    ----------
    values : ndarray
        Numbers; or texts, each of them once.
    place : ndarray of int or None
        Which of the texts each row has.
    missing : ndarray of bool, shape (n,)
        Where there is no value.
    """

    values: np.ndarray
    place: np.ndarray | None
    missing: np.ndarray

    @property
    def empty(self) -> np.ndarray:
        """An array of the column's type without rows, as a file needs it to make the column."""
        return self.values[:0]

    def rows(self, begin: int, end: int) -> list[Any]:
        """Values of some rows, None where there is none."""
        some = self.values[begin:end] if self.place is None else self.values[self.place[begin:end]]
        missing = self.missing[begin:end]
        if not missing.any():
            return list(some.tolist())
        told = some.astype(object)
        told[missing] = None
        return list(told.tolist())

    def content(self, words: dict[str, bytes]) -> np.ndarray:
        """What each row holds, shape (n,): a number, or a hash of a text, kept in *words*."""
        if self.place is None:
            return np.ascontiguousarray(self.values)
        texts = self.values.tolist()
        for one in set(texts) - words.keys():
            words[one] = hashlib.blake2b(one.encode(), digest_size=_WORD).digest()
        return np.frombuffer(b"".join([words[one] for one in texts]), dtype=f"V{_WORD}").take(self.place)


def column_of(column: Any, name: str) -> Column:
    """
    Take a column of a frame in the type that the file has for it.

    Parameters
    ----------
    column : pandas.Series
        The column.
    name : str
        Its name; some are numbers whatever they hold.

    Returns
    -------
    Column

    Examples
    --------
    >>> roles = column_of(pd.Series(["wall", None, "wall"], dtype=object), "role")
    >>> roles.rows(0, 3), roles.values.tolist()
    (['wall', None, 'wall'], ['wall', ''])
    """
    kind = getattr(column.dtype, "kind", "O")
    if name in _WHOLE_NUMBERS or kind in "iub":
        missing = np.asarray(column.isna(), dtype=bool)
        numbers = np.where(missing, 0, np.asarray(column, dtype=object)) if missing.any() else column
        whole = np.asarray(numbers).astype(np.int32)
        return Column(values=whole, place=None, missing=missing)
    if name in _NUMBERS or kind == "f":
        numbers = np.asarray(column, dtype=object if kind == "O" else np.float64)
        missing = np.asarray(column.isna(), dtype=bool)
        numbers = np.where(missing, np.nan, numbers).astype(np.float64)
        return Column(values=numbers, place=None, missing=missing)
    return _texts(np.asarray(column, dtype=object))


def _texts(values: np.ndarray) -> Column:
    """Texts, each of them once: most columns say few things, each of them many times."""
    place, distinct = pd.factorize(values)
    if pd.api.types.infer_dtype(distinct, skipna=False) not in ("string", "empty"):
        missing = pd.isna(values)
        place, distinct = pd.factorize(np.array([str(one) for one in values], dtype=object))
        place = np.where(missing, -1, place)
    texts = np.empty(len(distinct) + 1, dtype=object)
    texts[:-1], texts[-1] = distinct, ""  # the last is that of rows without a text
    if not "".join(texts).isascii():
        texts[:] = [one.encode("utf-8", "replace").decode("utf-8") for one in texts]
    return Column(values=texts, place=place, missing=place < 0)


@dataclass(frozen=True, kw_only=True)
class Blocks:
    """
    A table in blocks of rows.

    Parameters
    ----------
    start : ndarray of int, shape (b + 1,)
        Where each begins, and the end.
    key : ndarray of uint8, shape (b, 32)
        A hash of all that the rows of each hold.
    """

    start: np.ndarray
    key: np.ndarray


def blocks_of(columns: list[Column], shapes: Blobs, words: dict[str, bytes]) -> Blocks:
    """
    Part a table into blocks of rows and hash each.

    A block begins where the box of a geometry says so, not at every so manyth row: where rows are put
    in or taken out, the blocks before and behind are those that they were.

    Parameters
    ----------
    columns : list of Column
        The columns.
    shapes : Blobs
        The geometries.
    words : dict of str to bytes
        Hashes of texts that are known; others are put to them.

    Returns
    -------
    Blocks
    """
    count = len(shapes)
    if not count:
        return Blocks(start=np.zeros(1, dtype=np.int64), key=np.zeros((0, _KEY), dtype=np.uint8))
    start = np.unique(np.concatenate([[0], _cuts(shapes.box), [count]]))
    told = [part.data for column in columns for part in (column.content(words), column.missing)]
    head, keys = struct.pack("<q?", shapes.srs, shapes.multi), []
    for begin, end in pairwise(start.tolist()):
        state = hashlib.sha256(head)
        for part in (*(part[begin:end] for part in told), *shapes.content(begin, end)):
            state.update(part)
        keys.append(state.digest())
    return Blocks(start=start, key=np.frombuffer(b"".join(keys), dtype=np.uint8).reshape(-1, _KEY))


def _cuts(box: np.ndarray) -> np.ndarray:
    """Rows at which blocks begin: about one in so many, by nothing but the bits of their boxes."""
    bits = np.ascontiguousarray(box).view(np.uint64)
    mixed = (bits * _MIX).sum(axis=1, dtype=np.uint64)
    mixed ^= mixed >> np.uint64(31)
    mixed *= _MIX[1]
    return np.flatnonzero((mixed >> np.uint64(33)) % np.uint64(_BLOCK) == 0)
