"""
Numbers mixed into others that tell contents apart: hashes of many rows at once.

References
----------
Steele, G. L., Lea, D., Flood, C. H. (2014): Fast splittable pseudorandom number generators, OOPSLA; the
finalizer, with constants of Stafford's variant 13 (from memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np

_GOLDEN: Final = np.uint64(0x9E3779B97F4A7C15)
_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_SHIFTS: Final = np.uint64(30), np.uint64(27), np.uint64(31)


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
