"""
Hashes of many rows at once, by which what they hold is told apart.

A hash is two numbers of 64 bits. Each takes what a row holds one after another, and each step is one to
one in that as well as in what went before: rows that differ in one number never share a hash, and others
do about once in 2¹²⁸ pairs.

References
----------
Steele, G. L., Lea, D., Flood, C. H. (2014): Fast splittable pseudorandom number generators, OOPSLA; the
finalizer, with constants of Stafford's variant 13 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import pandas as pd
import shapely

from .ragged import ragged

LANES: Final = 2
"""Numbers to a hash."""
_GOLDEN: Final = np.uint64(0x9E3779B97F4A7C15)
_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_SHIFTS: Final = np.uint64(30), np.uint64(27), np.uint64(31)
_APART: Final = np.uint64(0x243F6A8885A308D3)  # digits of pi
_KEYS: Final = ("rows that differ", "differ in both..")  # of 16 letters


def mixed(numbers: np.ndarray) -> np.ndarray:
    """
    Scatter whole numbers over all 64 bits; different ones stay different.

    Parameters
    ----------
    numbers : ndarray of uint64
        Any.

    Returns
    -------
    ndarray of uint64
        Of the same shape.

    Examples
    --------
    >>> mixed(np.array([0], dtype=np.uint64)).tolist()
    [16294208416658607535]
    """
    result = numbers + _GOLDEN
    result ^= result >> _SHIFTS[0]
    result *= _FIRST
    result ^= result >> _SHIFTS[1]
    result *= _SECOND
    result ^= result >> _SHIFTS[2]
    return result


def folded(parts: Iterable[np.ndarray], count: int) -> np.ndarray:
    """
    Hashes of rows from those of their parts, in order.

    Parameters
    ----------
    parts : iterable of ndarray of uint64, shape (2, n)
        Hashes of what rows hold, one part after another.
    count : int
        How many rows there are, n.

    Returns
    -------
    ndarray of uint64, shape (2, n)

    Examples
    --------
    >>> one, other = words_of(np.array([1, 2])), words_of(np.array([2, 1]))
    >>> there, back = folded([one, other], 2), folded([other, one], 2)
    >>> bool((there == back).any()), bool((there[:, 0] == back[:, 1]).all())
    (False, True)
    """
    codes = np.zeros((LANES, count), dtype=np.uint64)
    for part in parts:
        codes = mixed(codes ^ part)
    return codes


def words_of(values: np.ndarray) -> np.ndarray:
    """
    Hash values, numbers to the last bit, or texts.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Numbers, or texts and None.

    Returns
    -------
    ndarray of uint64, shape (2, n)

    Examples
    --------
    >>> codes = words_of(np.array(["wall", None, "lawn", "wall"], dtype=object))
    >>> [bool((codes[:, 0] == codes[:, k]).all()) for k in (1, 2, 3)]
    [False, False, True]
    """
    if values.dtype.kind != "O":
        kind = np.float64 if values.dtype.kind == "f" else np.int64
        return laned(np.ascontiguousarray(values.astype(kind)).view(np.uint64))
    place, distinct = pd.factorize(values)
    texts = np.array([*map(str, distinct), None], dtype=object)
    try:
        known = _texts(texts)
    except UnicodeEncodeError:  # half a pair of surrogates
        texts[:-1] = [one.encode("utf-8", "surrogatepass") for one in texts[:-1]]
        known = _texts(texts)
    return known.take(place, axis=1)  # the last stands for no value


def _texts(texts: np.ndarray) -> np.ndarray:
    return np.stack([pd.util.hash_array(texts, hash_key=key, categorize=False) for key in _KEYS])


def shapes_of(shapes: np.ndarray) -> np.ndarray:
    """
    Hash geometries in the plane by the bits of their corners in order, and by what they are made up of.

    Parameters
    ----------
    shapes : ndarray of object, shape (n,)
        Geometries, or None.

    Returns
    -------
    ndarray of uint64, shape (2, n)

    Examples
    --------
    >>> there, back = (shapely.LineString([(0, 0), (k, 0)]) for k in (1, -1))
    >>> codes = shapes_of(np.array([there, back, there.reverse(), there]))
    >>> [bool((codes[:, 0] == codes[:, k]).all()) for k in (1, 2, 3)]
    [False, False, True]
    """
    xy, own = shapely.get_coordinates(shapes, return_index=True)
    many = np.bincount(own, minlength=len(shapes))
    at = ragged(many)[1].astype(np.uint64)
    bits = np.ascontiguousarray(xy).view(np.uint64)
    corners = mixed(mixed(laned(bits[:, 0]) ^ at) ^ bits[:, 1])
    kinds = (
        shapely.get_type_id(shapes),
        shapely.get_num_geometries(shapes),
        shapely.get_num_interior_rings(shapes),
    )
    return folded([summed(corners, many), *(words_of(kind) for kind in kinds)], len(shapes))


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

    Examples
    --------
    >>> summed(np.array([[1, 2, 4], [5, 6, 7]], dtype=np.uint64), np.array([2, 0, 1])).tolist()
    [[3, 0, 4], [11, 0, 7]]
    """
    total = np.zeros((LANES, codes.shape[1] + 1), dtype=np.uint64)
    np.cumsum(codes, axis=1, out=total[:, 1:])
    end = np.cumsum(many)
    return total[:, end] - total[:, end - many]


def laned(bits: np.ndarray) -> np.ndarray:
    """Hashes of whole numbers, shape (2, n)."""
    return np.stack([mixed(bits), mixed(bits ^ _APART)])
