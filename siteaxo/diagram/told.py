"""
Rows told by numbers: what each row of a table holds, and what all rows of a solid hold, as hashes.

A hash has 128 bits, so that of a billion rows no two different ones share one by chance.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..mixing import mixed
from ..ragged import ragged

_KEYS: Final = ("rows that differ", "differ in both..")  # of 16 letters
LANES: Final = 2
"""Numbers of 64 bits to a hash."""


def codes_of(frame: Any, columns: Iterable[str]) -> np.ndarray:
    """
    Hash what rows hold in some columns, and their geometries.

    Parameters
    ----------
    frame : GeoDataFrame, n rows
        The table.
    columns : iterable of str
        Which columns.

    Returns
    -------
    ndarray of uint64, shape (2, n)

    Examples
    --------
    >>> import geopandas
    >>> rows = geopandas.GeoDataFrame({"role": ["wall", "wall", "lawn"]}, geometry=[shapely.Point(0, 1)] * 3)
    >>> codes = codes_of(rows, ["role"])
    >>> bool((codes[:, 0] == codes[:, 1]).all()), bool((codes[:, 0] == codes[:, 2]).any())
    (True, False)
    """
    codes = np.zeros((LANES, len(frame)), dtype=np.uint64)
    for name in columns:
        codes = mixed(codes ^ words_of(frame[name].to_numpy()))
    return mixed(codes ^ shapes_of(np.asarray(frame.geometry.array, dtype=object)))


def words_of(values: np.ndarray) -> np.ndarray:
    """Hash values, numbers to the last bit, or texts; shape (2, n)."""
    if values.dtype.kind != "O":
        kind = np.float64 if values.dtype.kind == "f" else np.int64
        bits = np.ascontiguousarray(values.astype(kind)).view(np.uint64)
        return _laned(bits)
    place, distinct = pd.factorize(values)
    texts = np.array([*(str(one).encode("utf-8", "surrogatepass") for one in distinct), None], dtype=object)
    known = np.stack([pd.util.hash_array(texts, hash_key=key, categorize=False) for key in _KEYS])
    return known.take(place, axis=1)  # the last stands for no value


def shapes_of(shapes: np.ndarray) -> np.ndarray:
    """Hash geometries by the bits of their coordinates in order, and how they are made up; shape (2, n)."""
    xy, own = shapely.get_coordinates(shapes, return_index=True)
    many = np.bincount(own, minlength=len(shapes))
    at = ragged(many)[1].astype(np.uint64)
    bits = np.ascontiguousarray(xy).view(np.uint64)
    corners = mixed(mixed(_laned(bits[:, 0]) ^ at) ^ bits[:, 1])
    made_up = shapely.get_type_id(shapes).astype(np.int64) << 32 | shapely.get_num_geometries(shapes)
    return mixed(summed(corners, many) ^ _laned(made_up.astype(np.uint64)))


def summed(codes: np.ndarray, many: np.ndarray) -> np.ndarray:
    """
    Sums of runs of numbers, of so many each, beyond 64 bits from zero again.

    Parameters
    ----------
    codes : ndarray of uint64, shape (2, n)
        The numbers.
    many : ndarray of int, shape (m,)
        How many are in each run.

    Returns
    -------
    ndarray of uint64, shape (2, m)
    """
    total = np.zeros((LANES, codes.shape[1] + 1), dtype=np.uint64)
    np.cumsum(codes, axis=1, out=total[:, 1:])
    end = np.cumsum(many)
    return total[:, end] - total[:, end - many]


def of_solids(codes: np.ndarray, solid: np.ndarray, count: int) -> np.ndarray:
    """
    Hash what all rows of each solid hold, in their order.

    Parameters
    ----------
    codes : ndarray of uint64, shape (2, n)
        Hashes of rows.
    solid : ndarray of int, shape (n,)
        The solid of each row, in any order.
    count : int
        How many solids there are.

    Returns
    -------
    ndarray of uint64, shape (2, count)
    """
    order, many = np.argsort(solid, kind="stable"), np.bincount(solid, minlength=count)
    at = ragged(many)[1].astype(np.uint64)
    return mixed(summed(mixed(codes[:, order] ^ mixed(at)), many) ^ _laned(many.astype(np.uint64)))


def _laned(bits: np.ndarray) -> np.ndarray:
    """Numbers made two that have nothing in common; shape (2, n)."""
    return np.stack([mixed(bits), mixed(bits ^ np.uint64(0xA5A5A5A5A5A5A5A5))])
