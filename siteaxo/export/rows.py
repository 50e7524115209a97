"""
Rows of a table with their numbers, and what tells one row from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from .blobs import Blobs
from .columns import Column

_LANES: Final = (  # seeds, digits of pi; and steps, each a shift and a factor that is odd
    (0x243F6A8885A308D3, (30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB), (31, 1)),
    (0x13198A2E03707344, (33, 0xFF51AFD7ED558CCD), (33, 0xC4CEB9FE1A85EC53), (33, 1)),
)
_AT_ONCE: Final = 1 << 13
_FLAGS: Final = 63  # of missing values in one word


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

    def hashes(self, known: dict[str, bytes]) -> np.ndarray:
        """
        Hash all that each row holds, but for its number; shape (n, 2).

        Parameters
        ----------
        known : dict of str to bytes
            Hashes of texts that are known; others are put to them.
        """
        words = [column.words(known) for column in self.columns.values()]
        words += [] if self.shapes is None else [self.shapes.words()]
        words.append(_flags([column.missing for column in self.columns.values()]))
        return mixed([word for several in words for word in several.T])


def _flags(missing: list[np.ndarray]) -> np.ndarray:
    """Which values are missing in each row, as bits of whole numbers."""
    result = np.zeros((len(missing[0]), 1 + len(missing) // _FLAGS), dtype=np.uint64)
    for k, one in enumerate(missing):
        if one.any():
            result[:, k // _FLAGS] |= one.astype(np.uint64) << np.uint64(k % _FLAGS)
    return result


def mixed(words: list[np.ndarray]) -> np.ndarray:
    """
    Mix the words of each row into a hash of 128 bits.

    A row is compared only with the one that had its number before, so that a collision would leave one
    row as it was. Each of two lanes takes the words one by one, and each step is one to one in the word as
    well as in what the lane held: rows that differ in one word never collide. Those that differ in
    several do where both lanes, whose steps are others, come together: about once in 2¹²⁸ changed rows.

    Parameters
    ----------
    words : list of ndarray of uint64, shape (n,)
        What the rows hold.

    Returns
    -------
    ndarray of uint64, shape (n, 2)

    References
    ----------
    Steele, G. L., Lea, D., Flood, C. H. (2014): Fast splittable pseudorandom number generators, OOPSLA
    (the steps, from memory); Appleby, A.: MurmurHash3, its last step (from memory).

    Examples
    --------
    >>> one, other = mixed([np.array([1, 2], dtype=np.uint64), np.array([2, 1], dtype=np.uint64)]).tolist()
    >>> one[0] == other[0], one[1] == other[1]
    (False, False)
    """
    result = np.empty((len(words[0]), len(_LANES)), dtype=np.uint64)
    for begin in range(0, len(result), _AT_ONCE):  # few enough to stay near the processor
        some = slice(begin, begin + _AT_ONCE)
        for k, steps in enumerate(_LANES):
            result[some, k] = _lane([word[some] for word in words], *steps)
    return result


def _lane(words: list[np.ndarray], seed: int, *steps: tuple[int, int]) -> np.ndarray:
    state = np.full(len(words[0]), seed, dtype=np.uint64)
    room = np.empty_like(state)
    for word in words:
        state ^= word
        for shift, factor in steps:
            np.right_shift(state, np.uint64(shift), out=room)
            state ^= room
            state *= np.uint64(factor)
    return state
