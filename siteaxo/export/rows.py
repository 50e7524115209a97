"""
Rows of a table with their numbers, and what tells one row from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..mixing import folded
from .blobs import Blobs
from .columns import Column


@dataclass(frozen=True, kw_only=True)
class Rows:
    """
    Rows of one table.

    Parameters
    ----------
    name : str
        Of the table.
    number : ndarray of int, shape (n,)
        Of each row, ascending from 1 or more.
    columns : dict of str to Column
        Beside the geometry.
    shapes : Blobs or None
        The geometries.
    """

    name: str
    number: np.ndarray
    columns: Mapping[str, Column]
    shapes: Blobs | None

    def __len__(self) -> int:
        return len(self.number)

    def take(self, rows: np.ndarray) -> Rows:
        """Some of the rows."""
        columns = {name: column.take(rows) for name, column in self.columns.items()}
        shapes = None if self.shapes is None else self.shapes.take(rows)
        return replace(self, number=self.number[rows], columns=columns, shapes=shapes)

    def tuples(self, begin: int, end: int, *, srs: int) -> Iterator[tuple[object, ...]]:
        """Some rows as a file takes them: number, geometry, columns."""
        shapes = () if self.shapes is None else (self.shapes.rows(begin, end, srs=srs),)
        columns = (column.rows(begin, end) for column in self.columns.values())
        return zip(self.number[begin:end].tolist(), *shapes, *columns, strict=True)

    def hashes(self) -> np.ndarray:
        """
        Hash all that each row holds, but for its number; shape (n, 2).

        A row is compared only with the one that had its number before, so that two with one hash would leave
        one row as it was.
        """
        parts = [column.words() for column in self.columns.values()]
        parts += [] if self.shapes is None else [self.shapes.words()]
        return np.ascontiguousarray(folded(parts, len(self)).T)
