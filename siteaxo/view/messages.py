"""
Arrays sent through a pipe from one process to another.

A message is a line of JSON with the name, type and shape of each array, and then their bytes.
What comes is only ever read as numbers: nothing in a message is run.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Final

import numpy as np

from ..keeping import Arrays

_KINDS: Final = "biuf"
_LONGEST: Final = 1 << 16  # bytes of a head


def send(stream: IO[bytes], arrays: Mapping[str, np.ndarray]) -> None:
    """
    Write a message.

    Parameters
    ----------
    stream : binary file
        Where to.
    arrays : mapping of str to ndarray
        Arrays of numbers.

    Raises
    ------
    OSError
        If nobody reads it any more.
    """
    head = [[name, array.dtype.str, array.shape] for name, array in arrays.items()]
    stream.write(json.dumps(head).encode() + b"\n")
    for array in arrays.values():
        if array.size:
            stream.write(np.ascontiguousarray(array).reshape(-1).view(np.uint8).data)
    stream.flush()


def receive(stream: IO[bytes]) -> Arrays | None:
    """
    Read a message.

    Parameters
    ----------
    stream : binary file
        Where from; it must wait for whole arrays, as buffered ones do.

    Returns
    -------
    dict of str to ndarray, or None
        None where the stream has ended.

    Raises
    ------
    ValueError
        If it is no message, or ends within one.

    Examples
    --------
    >>> import io
    >>> stream = io.BytesIO()
    >>> send(stream, {"top": np.array([[1.5], [2.0]]), "many": np.array(3)})
    >>> _ = stream.seek(0)
    >>> {name: array.tolist() for name, array in receive(stream).items()}, receive(stream)
    ({'top': [[1.5], [2.0]], 'many': 3}, None)
    """
    head = stream.readline(_LONGEST)
    if not head:
        return None
    arrays = {name: np.empty(shape, dtype=_type(kind)) for name, kind, shape in json.loads(head)}
    for name, array in arrays.items():
        if array.size and stream.readinto(array.reshape(-1).view(np.uint8).data) != array.nbytes:  # type: ignore[attr-defined]
            raise ValueError(f"The message ends within {name!r}.")
    return arrays


def _type(name: str) -> np.dtype:
    kind = np.dtype(name)
    if kind.kind not in _KINDS:
        raise ValueError(f"Messages hold numbers only, not {name!r}.")
    return kind
