"""
A folder in which parts of results are kept.

Each part is a file of plain arrays that is written whole or not at all; a damaged one counts as
missing. A line of JSON tells name, type and shape of each array and a checksum; the numbers follow,
so that a part is read at one go. Parts are found again only by the software that has kept them: another
version of siteaxo, of a library or of a plug-in finds none. The folder has a bound: what was used
longest ago is swept out.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import re
import secrets
import time
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from ..errors import OutputError
from ..keeping import Arrays, digest
from .fingerprint import software

MOST_MB: Final = 1000.0
_KEY: Final = re.compile(r"[0-9a-f]{16,128}")
_MARK: Final = ".part-"
_STALE_S: Final = 24 * 3600.0
_PLAIN: Final = "biufc"
"""Kinds of numbers; other arrays may hold things that a file must not bring to life."""
_ALIGNED: Final = 16


class FolderStore:
    """
    Parts kept in a folder.

    Parameters
    ----------
    folder : path
        Made when something is kept.
    most_mb : float
        Bound of its size [MB].

    Examples
    --------
    >>> import tempfile
    >>> store = FolderStore(tempfile.mkdtemp(), most_mb=50)
    >>> store.put("0" * 40, {"levels": np.array([1.5, 2.0])})
    >>> store.get("0" * 40)["levels"].tolist()
    [1.5, 2.0]
    >>> store.sweep()
    0
    """

    def __init__(self, folder: str | os.PathLike[str], *, most_mb: float = MOST_MB) -> None:
        self.folder = Path(folder)
        self.most_mb = float(most_mb)
        self.found = 0
        self.missed = 0

    def __repr__(self) -> str:
        files = self._files()
        size = sum(file.stat().st_size for file in files) / 1e6
        return f"<FolderStore {self.folder}: {len(files)} parts, {size:.1f} of {self.most_mb:g} MB>"

    def get(self, key: str) -> Arrays | None:
        """Return the part of a key, or None if it is not there or damaged."""
        file = self._file(key)
        try:
            arrays = _arrays(file.read_bytes())
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            self.missed += 1
            return None
        with contextlib.suppress(OSError):
            os.utime(file)
        self.found += 1
        return arrays

    def put(self, key: str, arrays: Mapping[str, np.ndarray]) -> None:
        """
        Keep a part.

        Raises
        ------
        OutputError
            If the folder cannot be written to.
        ValueError
            If an array holds something else than numbers.
        """
        file = self._file(key)
        content = _bytes(arrays)
        temporary = file.with_name(f"{file.stem}{_MARK}{secrets.token_hex(8)}")
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            with temporary.open("xb") as stream:
                stream.write(content)
            os.replace(temporary, file)
        except OSError as problem:
            raise OutputError(
                f"Parts of results cannot be kept in {self.folder} ({problem.strerror}). Make room, or run "
                "without reuse.",
                value=self.folder,
            ) from problem
        finally:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)

    def sweep(self) -> int:
        """Remove what was used longest ago until the folder keeps its bound; return how many parts."""
        for left in self.folder.glob(f"*/*{_MARK}*"):
            with contextlib.suppress(OSError):
                if left.stat().st_mtime < time.time() - _STALE_S:
                    left.unlink()
        aged = sorted(((file.stat().st_mtime, file.stat().st_size, file) for file in self._files()), key=_age)
        total, gone = sum(size for _, size, _ in aged), 0
        for _, size, file in aged:
            if total <= self.most_mb * 1e6:
                break
            with contextlib.suppress(OSError):
                file.unlink()
                total, gone = total - size, gone + 1
        return gone

    def _files(self) -> list[Path]:
        return list(self.folder.glob("*/*.arrays"))

    def _file(self, key: str) -> Path:
        if not _KEY.fullmatch(key):
            raise ValueError(f"{key!r} is no key: a hash in hexadecimal digits")
        name = digest(software(), key)
        return self.folder / name[:2] / f"{name}.arrays"


def _age(row: tuple[float, int, Path]) -> tuple[float, str]:
    return row[0], row[2].name


def _bytes(arrays: Mapping[str, np.ndarray]) -> bytes:
    """Write arrays as a line that tells what they are, and their numbers one after another."""
    for name, array in arrays.items():
        if array.dtype.kind not in _PLAIN:
            raise ValueError(f"the array {name!r} of {array.dtype} cannot be kept: only numbers can")
    body = b"".join(_filled_up(array.tobytes()) for array in arrays.values())
    told = [[name, array.dtype.str, array.shape] for name, array in arrays.items()]
    line = json.dumps({"arrays": told, "checksum": _checksum(told, body)}).encode("ascii")
    return line + b"\n" + body


def _checksum(told: list[Any], body: bytes) -> int:
    return zlib.crc32(body, zlib.crc32(json.dumps(told).encode("ascii")))


def _filled_up(data: bytes) -> bytes:
    return data + bytes(-len(data) % _ALIGNED)


def _arrays(content: bytes) -> Arrays:
    """Read what :func:`_bytes` wrote; ValueError, TypeError or KeyError where it is damaged."""
    line, _, body = content.partition(b"\n")
    told, begin, arrays = json.loads(line), 0, {}
    whole = np.frombuffer(bytearray(body), dtype=np.uint8)
    if _checksum(told["arrays"], body) != told["checksum"]:
        raise ValueError("this is not what was written")
    for name, kind, shape in told["arrays"]:
        dtype = np.dtype(kind)
        size = math.prod(shape) * dtype.itemsize
        if dtype.kind not in _PLAIN or min(shape, default=0) < 0 or begin + size > len(whole):
            raise ValueError(f"the array {name!r} is not one of numbers that are there")
        arrays[name] = whole[begin : begin + size].view(dtype).reshape(shape)
        begin += size + -size % _ALIGNED
    if begin != len(whole):
        raise ValueError("there are more numbers than are told")
    return arrays
