"""
What the rows of a table hold, and what all rows of a solid hold, as hashes.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from ..mixing import folded, mixed, shapes_of, summed, words_of
from ..ragged import ragged


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
    >>> import geopandas, shapely
    >>> rows = geopandas.GeoDataFrame({"role": ["wall", "wall", "lawn"]}, geometry=[shapely.Point(0, 1)] * 3)
    >>> codes = codes_of(rows, ["role"])
    >>> bool((codes[:, 0] == codes[:, 1]).all()), bool((codes[:, 0] == codes[:, 2]).any())
    (True, False)
    """
    words = (words_of(frame[name].to_numpy()) for name in columns)
    return folded([*words, shapes_of(np.asarray(frame.geometry.array, dtype=object))], len(frame))


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
    return folded([summed(mixed(codes[:, order] ^ mixed(at)), many), words_of(many)], count)
