"""
Parts of results kept for the next time, under a hash of all they follow from.

What is kept is arrays of numbers, and geometries as WKB; nothing in a kept part is ever run.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Final, Protocol, TypeVar

import numpy as np
import shapely

Arrays = dict[str, np.ndarray]
_PIECE: Final = 1 << 22  # bytes
_SIDE_BY_SIDE: Final = 4  # pieces, each of them in memory
T = TypeVar("T")


class Store(Protocol):
    """Where parts are kept."""

    def get(self, key: str) -> Arrays | None:
        """Return the part of a key, or None if it is not there or damaged."""

    def put(self, key: str, arrays: Mapping[str, np.ndarray]) -> None:
        """Keep a part."""


def digest(*values: Any) -> str:
    """
    Hash numbers, texts, arrays, geometries, mappings and frozen dataclasses.

    Parameters
    ----------
    *values
        What the result follows from. Arrays count with their type and shape.

    Returns
    -------
    str
        Hexadecimal digits.

    Raises
    ------
    TypeError
        If a value cannot be told from others for sure.

    Examples
    --------
    >>> digest(1, "a") == digest(1, "a"), digest(1.0) == digest(1), digest("ab", "c") == digest("a", "bc")
    (True, False, False)
    """
    state = hashlib.blake2b(digest_size=20)
    for value in values:
        _add(state, value)
    return state.hexdigest()


def _add(state: Any, value: Any) -> None:
    if isinstance(value, np.ndarray):
        _add_array(state, value)
    elif value is None or isinstance(value, bool | int | float | str | bytes | np.generic):
        plain = value.item() if isinstance(value, np.generic) else value
        text = plain.hex() if isinstance(plain, float | bytes) else str(plain)
        data = text.encode("utf-8", "surrogatepass")
        state.update(f"{type(plain).__name__}:{len(data)}:".encode() + data)
    elif isinstance(value, Mapping):
        state.update(f"mapping:{len(value)}:".encode())
        for key in value:
            _add(state, key)
            _add(state, value[key])
    elif isinstance(value, list | tuple):
        state.update(f"list:{len(value)}:".encode())
        for one in value:
            _add(state, one)
    elif is_dataclass(value) and not isinstance(value, type):
        state.update(f"{type(value).__module__}.{type(value).__qualname__}:".encode())
        for field in fields(value):
            _add(state, field.name)
            _add(state, getattr(value, field.name))
    else:
        raise TypeError(f"{type(value).__name__} has no content that can be hashed")


def _add_array(state: Any, array: np.ndarray) -> None:
    state.update(f"array:{array.dtype.str}:{array.shape}:".encode())
    if array.dtype.kind in "biufc":
        state.update(np.ascontiguousarray(array).data.cast("B") if array.size else b"")
    elif array.dtype == object and all(
        item is None or isinstance(item, shapely.Geometry) for item in array.flat
    ):
        for name, part in pack(array.ravel(), "shape").items():
            state.update(name.encode())
            _add_array(state, part)
    elif array.dtype == object or array.dtype.kind in "US":
        for item in array.flat:
            _add(state, item)
    else:
        raise TypeError(f"an array of {array.dtype} has no content that can be hashed")


def hashed(path: Path) -> bytes:
    """
    Hash the content of a file, pieces of large ones side by side.

    Parameters
    ----------
    path : path
        The file.

    Returns
    -------
    bytes
        SHA-256 of the pieces' own, 32 bytes.

    Raises
    ------
    OSError
        If it cannot be read.
    """

    def piece(begin: int) -> bytes:
        with path.open("rb") as stream:
            stream.seek(begin)
            return hashlib.sha256(stream.read(_PIECE)).digest()

    begins = range(0, max(path.stat().st_size, 1), _PIECE)
    if len(begins) == 1:
        return hashlib.sha256(piece(0)).digest()
    with ThreadPoolExecutor(max_workers=_SIDE_BY_SIDE) as pool:
        return hashlib.sha256(b"".join(pool.map(piece, begins))).digest()


def pack(geometries: np.ndarray, name: str) -> Arrays:
    """
    Write geometries as two arrays of numbers: their WKB one after another, and where each ends.

    Parameters
    ----------
    geometries : ndarray of object, shape (n,)
        Geometries, or None.
    name : str
        What the arrays are called.

    Returns
    -------
    dict of str to ndarray
        ``<name>_wkb`` and ``<name>_ends``.
    """
    wkb = [one or b"" for one in shapely.to_wkb(geometries)]
    return {
        f"{name}_wkb": np.frombuffer(b"".join(wkb), dtype=np.uint8),
        f"{name}_ends": np.cumsum([len(one) for one in wkb], dtype=np.int64),
    }


def unpack(arrays: Mapping[str, np.ndarray], name: str, rows: np.ndarray | None = None) -> np.ndarray:
    """
    Read what :func:`pack` wrote, or some rows of it.

    Examples
    --------
    >>> there = np.array([shapely.Point(1, 2), None, shapely.LineString([(0, 0), (3, 4)])], dtype=object)
    >>> [str(one) for one in unpack(pack(there, "road"), "road")]
    ['POINT (1 2)', 'None', 'LINESTRING (0 0, 3 4)']
    """
    whole, ends = arrays[f"{name}_wkb"].tobytes(), arrays[f"{name}_ends"]
    begins = np.concatenate([[0], ends[:-1]]) if len(ends) else ends
    begins, ends = (begins, ends) if rows is None else (begins[rows], ends[rows])
    cut = [whole[begin:end] or None for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)]
    result = np.empty(len(cut), dtype=object)
    result[:] = cut
    return np.asarray(shapely.from_wkb(result), dtype=object)


def kept(
    store: Store, key: str, make: Callable[[], T], flat: Callable[[T], Arrays], raised: Callable[[Arrays], T]
) -> T:
    """
    Take a part from a store, or make and keep it.

    Parameters
    ----------
    store : Store
        Where parts are kept.
    key : str
        A hash of all that the part follows from.
    make : callable
        Makes the part.
    flat, raised : callable
        Write a part as arrays, and read these again.

    Examples
    --------
    >>> kept(Forgetful(), digest("levels", 2), lambda: [1.5, 2.0], lambda part: {"a": np.array(part)}, list)
    [1.5, 2.0]
    """
    found = store.get(key)
    if found is not None:
        return raised(found)
    made = make()
    store.put(key, flat(made))
    return made


class Forgetful:
    """A store that keeps nothing: work is cut into the same parts, and all of it is done."""

    def get(self, key: str) -> Arrays | None:
        """Return None."""
        return None

    def put(self, key: str, arrays: Mapping[str, np.ndarray]) -> None:
        """Do nothing."""
