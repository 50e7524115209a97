"""
Numbers that look like chance and are the same on every machine, for ever.

They are digests of a key: a seed and what the numbers are for, such as a layer and a
feature's id. A feature keeps its numbers whatever else changes on the site.

References
----------
FIPS 202 (2015), SHAKE256.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import ArrayLike


def numbers(count: int, *key: object) -> np.ndarray:
    """
    Draw evenly spread numbers from a key.

    Parameters
    ----------
    count : int
        How many; the first ones do not depend on it.
    *key
        What they are for; told apart by their texts.

    Returns
    -------
    ndarray of float, shape (count,)
        At least 0 and less than 1.

    Examples
    --------
    >>> numbers(2, "birch", 7).tolist() == numbers(5, "birch", 7)[:2].tolist()
    True
    """
    text = "\x1f".join(str(part) for part in key)
    digest = hashlib.shake_256(text.encode("utf-8", "surrogatepass")).digest(8 * count)
    return (np.frombuffer(digest, dtype="<u8") >> np.uint64(11)) * 2.0**-53


def numbers_each(count: int, names: ArrayLike, *key: object) -> np.ndarray:
    """
    Draw numbers for each of many names.

    Parameters
    ----------
    count : int
        How many for each.
    names : array_like of str, shape (n,)
        Such as feature ids; equal names are given equal numbers.
    *key
        What all of them are for.

    Returns
    -------
    ndarray of float, shape (n, count)
        At least 0 and less than 1.
    """
    known, which = np.unique(np.asarray(names, dtype=str), return_inverse=True)
    rows = [numbers(count, *key, name) for name in known]
    return np.array(rows, dtype=float).reshape(len(known), count)[which]


def numbers_for(counts: ArrayLike, names: ArrayLike, *key: object) -> np.ndarray:
    """
    Draw so many numbers for each of many names, one name after another.

    Parameters
    ----------
    counts : array_like of int, shape (n,)
        How many for each.
    names : array_like of str, shape (n,)
        Such as feature ids.
    *key
        What all of them are for.

    Returns
    -------
    ndarray of float, shape (sum of counts,)
        At least 0 and less than 1.
    """
    pairs = zip(np.asarray(counts).tolist(), np.asarray(names, dtype=object), strict=True)
    return np.concatenate([np.zeros(0), *(numbers(count, *key, name) for count, name in pairs if count)])


def bell(numbers: ArrayLike) -> np.ndarray:
    """
    Turn rows of four even numbers into one that is spread like a bell.

    Parameters
    ----------
    numbers : array_like, shape (n, 4)
        Evenly spread, 0 to 1.

    Returns
    -------
    ndarray, shape (n,)
        Mean 0, standard deviation 1, never beyond ±3.47 (the sum of four even numbers).

    Examples
    --------
    >>> bell([[0.5, 0.5, 0.5, 0.5]]).tolist()
    [0.0]
    """
    return (np.asarray(numbers, dtype=float).sum(axis=1) - 2.0) * np.sqrt(3.0)
