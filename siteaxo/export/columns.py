"""
Columns of a table as a file has them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from ..mixing import words_of

_NUMBERS: Final = frozenset(
    {"level_min", "level_max", "visible_share", "line_mm", "base", "top", "turn", "height_factor"}
    | {"origin_x", "origin_y", "drawn_in_place", "height_mm", "opacity", "lift_m"}
)
_WHOLE_NUMBERS: Final = frozenset({"draw_order", "drawn"})


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

    def take(self, rows: np.ndarray) -> Column:
        """The same of some rows."""
        if self.place is None:
            return replace(self, values=self.values[rows], missing=self.missing[rows])
        used, place = np.unique(self.place[rows], return_inverse=True)
        return replace(self, values=self.values[used], place=place, missing=self.missing[rows])

    def words(self) -> np.ndarray:
        """Hash what each row holds; shape (2, n)."""
        words = words_of(self.values)
        words = words.copy() if self.place is None else words.take(self.place, axis=1)
        words[:, self.missing] = 0
        return words


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
