"""
Putting a file in place whole, or not at all.

What is written goes to a temporary file in the same folder first, is synced to disk, and
takes the target's name in one step. Whoever reads the target meanwhile sees the old file or
the new one, never a part; after a failure the old file is as it was.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from ..errors import OutputError, SiteaxoError

_MARK: Final = ".part-"
_STALE_AFTER_S: Final = 24 * 3600.0
_COMPANIONS: Final = ("", "-journal", "-wal", "-shm")


@contextlib.contextmanager
def replacing(path: str | os.PathLike[str]) -> Iterator[Path]:
    """
    Hand out a temporary path, and move what was written there onto *path*.

    Parameters
    ----------
    path : path-like
        File to make or to replace. A symbolic link is followed: the file it points to
        is replaced and the link stays.

    Yields
    ------
    Path
        Path in the same folder with the same suffix, at which nothing exists yet.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written to, if *path* is anything but a
        regular file, or if the writing or moving fails; *path* is then untouched.
    """
    target = _checked(path)
    temporary = target.with_name(f".{target.stem}{_MARK}{secrets.token_hex(8)}{target.suffix}")
    try:
        _sweep_stale(target)
        _try_out(temporary)
        yield temporary
        _settle(temporary, target)
    except SiteaxoError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"Cannot write {str(target)!r}: {reason}. What stood there before is untouched; "
            "check the disk and the folder's permissions, or write somewhere else."
        ) from error
    finally:
        _remove(temporary)


def write_bytes(path: str | os.PathLike[str], content: bytes) -> None:
    """
    Write *content* to *path* in one step.

    Raises
    ------
    OutputError
        As in :func:`replacing`.
    """
    with replacing(path) as temporary, temporary.open("xb") as stream:
        stream.write(content)


def _checked(path: str | os.PathLike[str]) -> Path:
    """Resolve *path*, and refuse what is not a regular file in a folder that exists."""
    try:
        target = Path(path).resolve()
        if not target.parent.is_dir():
            raise OutputError(
                f"Cannot write {str(target)!r}: the folder {str(target.parent)!r} does not exist. "
                "Make it first."
            )
        mode = target.stat().st_mode if target.exists() else stat.S_IFREG
    except (OSError, RuntimeError, ValueError) as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"Cannot write {str(path)!r}: {error}. Give a path to a file on disk.") from error
    if not stat.S_ISREG(mode):
        kind = "a folder" if stat.S_ISDIR(mode) else "not a regular file"
        raise OutputError(f"Cannot write {str(target)!r}: it is {kind}. Give a path to a file.")
    return target


def _try_out(temporary: Path) -> None:
    """Find out, before any work is done, whether the folder takes a new file."""
    temporary.open("xb").close()
    temporary.unlink()


def _settle(temporary: Path, target: Path) -> None:
    """Sync the temporary file, give it the old file's permissions, and move it into place."""
    if target.exists():
        temporary.chmod(stat.S_IMODE(target.stat().st_mode))
    with temporary.open("rb+") as stream:
        os.fsync(stream.fileno())
    os.replace(temporary, target)
    if os.name == "posix":
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _remove(temporary: Path) -> None:
    """Remove a temporary file and the journals a database may have left beside it."""
    for companion in _COMPANIONS:
        with contextlib.suppress(OSError):
            temporary.with_name(temporary.name + companion).unlink(missing_ok=True)


def _sweep_stale(target: Path) -> None:
    """Remove what a killed run left beside *target* more than a day ago."""
    oldest = time.time() - _STALE_AFTER_S
    for left in target.parent.iterdir():
        if left.name.startswith(f".{target.stem}{_MARK}"):
            with contextlib.suppress(OSError):
                if left.stat().st_mtime < oldest:
                    left.unlink()
