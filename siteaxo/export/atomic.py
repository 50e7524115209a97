"""
Putting a file in place whole, or not at all.

What is written goes to a temporary file in the same folder first, is synced to disk, and
takes the target's name in one step. Whoever reads the target meanwhile sees the old file or
the new one, never a part; after a failure the old file is as it was.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import sqlite3
import stat
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from ..errors import OutputError, SiteaxoError

_MARK: Final = ".part-"
_STALE_AFTER_S: Final = 24 * 3600.0
_DRAFT: Final = "-draft"
_COMPANIONS: Final = ("", "-journal", "-wal", "-shm", _DRAFT)
_LONGEST_STEM: Final = 80  # of the target's name in the temporary one [characters]
_HOT: Final = bytes.fromhex("d9d505f920a163d7")  # how the journal of an unfinished transaction begins
_NO_SYNC: Final = (errno.EINVAL, errno.ENOTSUP, errno.EBADF, errno.EACCES, errno.EROFS)
_SHAPEFILE: Final = (".shp", ".shx", ".dbf", ".prj", ".cpg")


@contextlib.contextmanager
def replacing(
    path: str | os.PathLike[str], *, inputs: Iterable[str | os.PathLike[str]] = ()
) -> Iterator[Path]:
    """
    Hand out a temporary path, and move what was written there onto *path*.

    Parameters
    ----------
    path : path-like
        File to make or to replace. A symbolic link is followed: the file it points to
        is replaced and the link stays.
    inputs : iterable of path-like
        Files that what is written was made from: none of them is written onto.

    Yields
    ------
    Path
        Path in the same folder with the same suffix, at which nothing exists yet.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written to, if *path* is an input or anything
        but a regular file, if another program is writing to it, or if the writing or moving
        fails; *path* is then untouched.
    """
    target = _checked(path)
    _refuse_inputs(target, inputs)
    mark = f"{os.getpid() & 0xFFFFFFFF:08x}{secrets.token_hex(4)}"
    temporary = target.with_name(f".{target.stem[:_LONGEST_STEM]}{_MARK}{mark}{target.suffix}")
    try:
        _sweep_stale(target)
        _finish_transactions(target)
        _try_out(temporary)
        yield temporary
        _finish_transactions(target)
        _settle(temporary, target)
    except SiteaxoError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"Cannot write {str(target)!r}: {reason}. What stood there before is untouched; "
            "check the disk and the folder's permissions, or write somewhere else.",
            code="output-failed",
            value=target,
        ) from error
    finally:
        _remove(temporary)


def draft_of(temporary: Path) -> Path:
    """Path beside a temporary one for what is written first; it is removed together with that one."""
    return temporary.with_name(temporary.name + _DRAFT)


def write_bytes(
    path: str | os.PathLike[str], content: bytes, *, inputs: Iterable[str | os.PathLike[str]] = ()
) -> None:
    """
    Write *content* to *path* in one step.

    Raises
    ------
    OutputError
        As in :func:`replacing`.
    """
    with replacing(path, inputs=inputs) as temporary, temporary.open("xb") as stream:
        stream.write(content)


def remove_own(folder: str | os.PathLike[str]) -> None:
    """Remove the temporary files that this process has in a folder, before it ends at once."""
    own = re.compile(rf"\..*{re.escape(_MARK)}{os.getpid() & 0xFFFFFFFF:08x}[0-9a-f]{{8}}(\..*)?")
    with contextlib.suppress(OSError):
        for left in Path(folder).iterdir():
            if own.fullmatch(left.name):
                with contextlib.suppress(OSError):
                    left.unlink()


def _refuse_inputs(target: Path, inputs: Iterable[str | os.PathLike[str]]) -> None:
    """Refuse a target that is an input, or a part of one that is a shapefile, under whatever name."""
    for given in inputs:
        source = Path(given)
        shapefile = source.suffix.lower() == ".shp"
        parts = [source, *(source.with_suffix(part) for part in _SHAPEFILE if shapefile)]
        for part in parts:
            try:
                same = part.resolve() == target or (
                    part.exists() and target.exists() and part.samefile(target)
                )
            except (OSError, RuntimeError, ValueError):
                same = False
            if same:
                raise OutputError(
                    f"Cannot write {str(target)!r}: it is an input ({str(given)!r}).",
                    code="output-is-input",
                    value=target,
                    remedy="Write somewhere else.",
                )


def _finish_transactions(target: Path) -> None:
    """
    Let a database finish or undo what another program left half-done, so that it is over with.

    A journal or write-ahead log that stayed beside the target would be played into the file
    that takes its name.
    """
    journal, log = (target.with_name(target.name + end) for end in ("-journal", "-wal"))
    if target.suffix.lower() != ".gpkg" or not (_is_hot(journal) or _is_hot(log)):
        return
    with (
        contextlib.suppress(sqlite3.Error),
        contextlib.closing(sqlite3.connect(target, timeout=1.0, isolation_level=None)) as base,
    ):
        base.execute("PRAGMA trusted_schema = OFF")
        base.execute("BEGIN IMMEDIATE")
        base.execute("ROLLBACK")
        base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    left = next((one for one in (journal, log) if _is_hot(one)), None)
    if left is not None:
        raise OutputError(
            f"Cannot write {str(target)!r}: another program is writing to it, or left {left.name!r} behind. "
            "What stands there is untouched.",
            code="output-busy",
            value=target,
            remedy="Close it there, or move both files away.",
        )


def _is_hot(companion: Path) -> bool:
    """Whether a journal or write-ahead log holds anything that would be played into a database."""
    try:
        with companion.open("rb") as stream:
            start = stream.read(len(_HOT))
    except OSError:
        return False
    return start == _HOT if companion.name.endswith("-journal") else bool(start)


def _checked(path: str | os.PathLike[str]) -> Path:
    """Resolve *path*, and refuse what is not a regular file in a folder that exists."""
    try:
        target = Path(path).resolve()
        if not target.parent.is_dir():
            raise OutputError(
                f"Cannot write {str(target)!r}: the folder {str(target.parent)!r} does not exist. "
                "Make it first.",
                value=target,
            )
        mode = target.stat().st_mode if target.exists() else stat.S_IFREG
    except (OSError, RuntimeError, ValueError) as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(
            f"Cannot write {str(path)!r}: {error}. Give a path to a file on disk.", value=path
        ) from error
    if not stat.S_ISREG(mode):
        kind = "a folder" if stat.S_ISDIR(mode) else "not a regular file"
        raise OutputError(f"Cannot write {str(target)!r}: it is {kind}. Give a path to a file.", value=target)
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
        _sync_folder(target.parent)


def _sync_folder(path: Path) -> None:
    """Sync a folder; the file is in place already, so a file system that cannot is passed over."""
    try:
        folder = os.open(path, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise OutputError(
                f"Files in {str(path)!r} are in place, but it is not certain that the disk has them "
                f"({error.strerror}).",
                code="output-unsynced",
                value=path,
                remedy="Check the disk.",
            ) from error


def _remove(temporary: Path) -> None:
    """Remove a temporary file and the journals a database may have left beside it."""
    for companion in _COMPANIONS:
        with contextlib.suppress(OSError):
            temporary.with_name(temporary.name + companion).unlink(missing_ok=True)


def _sweep_stale(target: Path) -> None:
    """Remove what killed runs of ours left beside *target* more than a day ago."""
    oldest, ends = time.time() - _STALE_AFTER_S, "|".join(_COMPANIONS)
    stem, suffix = re.escape(f".{target.stem[:_LONGEST_STEM]}{_MARK}"), re.escape(target.suffix)
    name = re.compile(rf"{stem}[0-9a-f]{{16}}{suffix}({ends})")
    with contextlib.suppress(OSError):
        for left in [one for one in target.parent.iterdir() if name.fullmatch(one.name)]:
            with contextlib.suppress(OSError):
                status = left.lstat()
                ours = not hasattr(os, "geteuid") or status.st_uid == os.geteuid()
                if stat.S_ISREG(status.st_mode) and ours and status.st_mtime < oldest:
                    left.unlink()
