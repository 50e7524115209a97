"""
A GeoPackage written again where only some rows have changed.

The file written last is copied, if it still is what was written, and the rows that differ are changed in
the copy. What is kept of a file are the numbers of its rows and a hash of each.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

import numpy as np

from ..keeping import Arrays, Store, digest
from .atomic import draft_of
from .filling import Change, change, opened, settle, untriggered
from .rows import Rows

MOST: Final = 0.25  # of all rows; where more have changed, a file is written as a whole


class Earlier:
    """
    The file that was written last time, and what its rows hold.

    Parameters
    ----------
    store : Store
        Where that is kept.
    path : path
        The file.
    """

    def __init__(self, store: Store, path: Path) -> None:
        self.store, self.path = store, path
        self.key = digest("rows", str(path))
        self.before: Arrays = store.get(self.key) or {}
        self.now: Arrays = {}

    def keep(self) -> None:
        """Keep what the file holds that has been written."""
        self.before = self.now | {"file": _hashed(self.path)}
        self.store.put(self.key, self.before)


def told(form: str, tables: list[Rows]) -> Arrays:
    """
    What is kept of a file: the form of its tables, the numbers of their rows, and what these hold.

    Parameters
    ----------
    form : str
        A hash of what the tables are, whatever rows they hold.
    tables : list of Rows
        All their rows.
    """
    words: dict[str, bytes] = {}
    arrays = {"form": np.frombuffer(form.encode(), dtype=np.uint8)}
    for table in tables:
        arrays |= {f"number {table.name}": table.number, f"hash {table.name}": table.hashes(words)}
    return arrays


def differences(before: Arrays, now: Arrays, tables: list[Rows]) -> dict[str, Change] | None:
    """
    Find the rows that differ from those of the file written last.

    Parameters
    ----------
    before, now : dict of str to ndarray
        What is told of both.
    tables : list of Rows
        All rows of what is to be written.

    Returns
    -------
    dict of str to Change, or None
        What changes, by table; None if there was no file, or one with other tables.
    """
    if "form" not in before or not np.array_equal(before["form"], now["form"]):
        return None
    changes = {}
    for table in tables:
        old, new = before[f"number {table.name}"], table.number
        place = np.searchsorted(old, new)
        there = np.append(old, 0)[place] == new
        same = there.copy()
        was, holds = before[f"hash {table.name}"][place[there]], now[f"hash {table.name}"][there]
        same[there] = (was == holds).all(axis=1)
        stays = np.zeros(len(old), dtype=bool)
        stays[place[same]] = True
        if not (same.all() and stays.all()):
            changes[table.name] = Change(gone=old[~stays], come=table.take(np.flatnonzero(~same)))
    return changes


def patched(
    earlier: Earlier,
    path: Path,
    changes: Mapping[str, Change],
    *,
    metadata: Mapping[str, str],
    say: Callable[[float], None] = lambda share: None,
) -> bool:
    """
    Write a file that is the one written last but for some rows, and take note of what it holds.

    It has the same tables, with the same columns, types of geometry and reference system.

    Parameters
    ----------
    earlier : Earlier
        The file written last, of which something is kept.
    path : path
        The file to write, which is not there yet.
    changes : dict of str to Change
        What changes, by table.
    metadata : dict of str to str
        Items of its metadata.
    say : callable
        Called with the share of the rows that are in; it may raise to stop.

    Returns
    -------
    bool
        Whether it is written, with the bytes of one written as a whole. It is not where the file
        written last is not what was written, or where so much has changed that all has to be written.
    """
    known = earlier.before
    names = [key.removeprefix("number ") for key in known if key.startswith("number ")]
    total = sum(len(known[f"number {name}"]) for name in names)
    if sum(max(len(one.gone), len(one.come)) for one in changes.values()) > MOST * total:
        return False
    draft = draft_of(path)
    if not _copied(earlier, draft):
        return False
    with opened(draft) as file:
        with untriggered(file):
            done = change(file, changes, say)
        if done:
            settle(file, names, metadata, path)
    draft.unlink()
    if done:
        earlier.now = _with_changes(known, changes)
    return done


def _copied(earlier: Earlier, draft: Path) -> bool:
    """Copy the file written last, if it is what was written."""
    try:
        shutil.copyfile(earlier.path, draft)
    except OSError:
        return False
    return np.array_equal(_hashed(draft), earlier.before["file"])


def _hashed(path: Path) -> np.ndarray:
    """A hash of a file, as bytes."""
    with path.open("rb") as stream:
        return np.frombuffer(hashlib.file_digest(stream, "sha256").digest(), dtype=np.uint8)


def _with_changes(known: Arrays, changes: Mapping[str, Change]) -> Arrays:
    """What is told of a file some rows of which have changed."""
    arrays, words = dict(known), dict[str, bytes]()
    for name, one in changes.items():
        number, hashes = known[f"number {name}"], known[f"hash {name}"]
        gone = np.searchsorted(number, one.gone)
        number, hashes = np.delete(number, gone), np.delete(hashes, gone, axis=0)
        place = np.searchsorted(number, one.come.number)
        arrays[f"number {name}"] = np.insert(number, place, one.come.number)
        arrays[f"hash {name}"] = np.insert(hashes, place, one.come.hashes(words), axis=0)
    return arrays
