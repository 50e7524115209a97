"""
Geometries from the bytes a reader hands over, with a reason for each that cannot be.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

NOT_FINITE: Final = "a coordinate is not a finite number"
NOT_WHOLE: Final = "its geometry cannot be built"

_DIMENSIONS: Final = {0: 2, 1: 3, 2: 3, 3: 4}


def decode(wkb: np.ndarray) -> tuple[np.ndarray, dict[int, str]]:
    """
    Build geometries from well-known binary.

    Parameters
    ----------
    wkb : ndarray of bytes or None, shape (n,)
        ISO well-known binary; None where a record has no geometry.

    Returns
    -------
    geometry : ndarray of object, shape (n,)
        None where there is none or it cannot be built.
    reasons : dict of int to str
        Why, per position that had bytes and got no geometry.
    """
    with np.errstate(invalid="ignore"):
        geometry = np.atleast_1d(shapely.from_wkb(wkb, on_invalid="fix"))
    absent = np.flatnonzero(shapely.is_missing(geometry))
    return geometry, {int(i): _reason(wkb[i]) for i in absent if wkb[i] is not None}


def _reason(wkb: bytes) -> str:
    try:
        finite = all(math.isfinite(number) for number in _numbers(wkb))
    except (struct.error, KeyError):
        finite = True
    return NOT_WHOLE if finite else NOT_FINITE


def _numbers(wkb: bytes) -> Iterator[float]:
    """All coordinates of points, lines, polygons and collections of them."""
    at = 0

    def take(layout: str) -> tuple[float, ...]:
        nonlocal at
        values = struct.unpack_from(layout, wkb, at)
        at += struct.calcsize(layout)
        return values

    def walk() -> Iterator[float]:
        order = "<" if take("B")[0] else ">"
        kind = int(take(f"{order}I")[0])
        size = _DIMENSIONS[kind // 1000]
        if kind % 1000 == 1:
            yield from take(f"{order}{size}d")
        elif kind % 1000 == 2:
            yield from take(f"{order}{size * int(take(f'{order}I')[0])}d")
        elif kind % 1000 == 3:
            for _ in range(int(take(f"{order}I")[0])):
                yield from take(f"{order}{size * int(take(f'{order}I')[0])}d")
        else:
            for _ in range(int(take(f"{order}I")[0])):
                yield from walk()

    yield from walk()
