"""
A GeoPackage written again where only some rows have changed.

The file written last is copied, if it still is what was written, and the rows that differ are changed in
the copy. What is kept of a file are the numbers of its rows and a hash of each.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from ..diagram.layers import DiagramLayers
from ..keeping import Arrays, Store, digest, hashed
from .atomic import draft_of
from .empty import Full, form_of
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
    state : str
        What tells the drawing that is to be written from others; "" where that is not known.
    """

    def __init__(self, store: Store, path: Path, state: str = "") -> None:
        self.store, self.path, self.state = store, path, state
        self.key = digest("rows", str(path))
        self.before: Arrays = store.get(self.key) or {}
        self.now: Arrays = {}

    def keep(self) -> None:
        """Keep what the file holds that has been written."""
        self.before = self.now | {
            "file": np.frombuffer(hashed(self.path), dtype=np.uint8),
            "state": _bytes(self.state),
        }
        self.store.put(self.key, self.before)


@dataclass(frozen=True, kw_only=True)
class Amendment:
    """
    What of a drawing is other than in the file written last.

    Parameters
    ----------
    before : str
        What tells the drawing in that file.
    layers : DiagramLayers
        Rows that come, with their numbers, of tables some rows of which go; all rows of others.
    gone : mapping of str to ndarray of int
        Numbers of the rows that go, by table.
    """

    before: str
    layers: DiagramLayers
    gone: Mapping[str, np.ndarray]

    def changes(self, known: Arrays, metadata: bool, tables: list[Full]) -> dict[str, Change] | None:
        """
        What changes in a file.

        Parameters
        ----------
        known : dict of str to ndarray
            What is told of the file.
        metadata : bool
            Whether a file has items of metadata.
        tables : list of Full
            Those of the layers that have rows.

        Returns
        -------
        dict of str to Change, or None
            None if the file is not of that drawing, or would have other tables.
        """
        if "state" not in known or known["state"].tobytes().decode() != self.before:
            return None
        now, changes = told(tables, metadata, hashed=False), dict[str, Change]()
        here = {one.rows.name: one.rows for one in tables}
        forms = [name for name in now if name.startswith("form ")]
        if not all(name in known and np.array_equal(known[name], now[name]) for name in forms):
            return None
        for name in _names(known):
            if name not in self.gone:
                changes[name] = _difference(known, now, here[name])
                continue
            number = known[f"number {name}"]
            gone = number[np.isin(number, self.gone[name])]
            if name not in here and len(gone):
                return None  # an empty table needs a form too
            if name in here:
                changes[name] = Change(gone=gone, come=here[name])
        return {name: one for name, one in changes.items() if one}


def _names(known: Arrays) -> list[str]:
    """Tables of a file of which something is kept."""
    return [key.removeprefix("number ") for key in known if key.startswith("number ")]


def told(tables: list[Full], metadata: bool, *, hashed: bool = True) -> Arrays:
    """
    What is kept of a file: what its tables are, the numbers of their rows, and hashes of what these hold.

    Parameters
    ----------
    tables : list of Full
        All of them, or some.
    metadata : bool
        Whether it has items of metadata.
    hashed : bool
        Hash the rows of all tables; only of those without geometries where it is known otherwise what
        has changed in others.
    """
    arrays: Arrays = {}
    for one in tables:
        name = one.rows.name
        arrays |= {f"form {name}": _bytes(digest(metadata, form_of(one))), f"number {name}": one.rows.number}
        if hashed or one.rows.shapes is None:
            arrays[f"hash {name}"] = one.rows.hashes()
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
        What changes, by table; None if there was no file, or one with other tables, or rows have no hashes.
    """
    if not all(f"hash {table.name}" in of for table in tables for of in (before, now)):
        return None
    forms = [{name: one.tobytes() for name, one in of.items() if name[:5] == "form "} for of in (before, now)]
    if list(forms[0].items()) != list(forms[1].items()):
        return None
    changes = {table.name: _difference(before, now, table) for table in tables}
    return {name: one for name, one in changes.items() if one}


def _difference(before: Arrays, now: Arrays, table: Rows) -> Change:
    """The rows of one table that differ."""
    old, new = before[f"number {table.name}"], table.number
    place = np.searchsorted(old, new)
    there = np.append(old, 0)[place] == new
    same = there.copy()
    was, holds = before[f"hash {table.name}"][place[there]], now[f"hash {table.name}"][there]
    same[there] = (was == holds).all(axis=1)
    stays = np.zeros(len(old), dtype=bool)
    stays[place[same]] = True
    return Change(gone=old[~stays], come=table.take(np.flatnonzero(~same)))


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
    names = _names(known)
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


def _bytes(text: str) -> np.ndarray:
    return np.frombuffer(text.encode(), dtype=np.uint8)


def _copied(earlier: Earlier, draft: Path) -> bool:
    """Copy the file written last, if it is what was written."""
    try:
        shutil.copyfile(earlier.path, draft)
    except OSError:
        return False
    return hashed(draft) == earlier.before["file"].tobytes()


def _with_changes(known: Arrays, changes: Mapping[str, Change]) -> Arrays:
    """What is told of a file some rows of which have changed."""
    arrays = dict(known)
    for name, one in changes.items():
        number = known[f"number {name}"]
        gone = np.searchsorted(number, one.gone)
        number = np.delete(number, gone)
        place = np.searchsorted(number, one.come.number)
        arrays[f"number {name}"] = np.insert(number, place, one.come.number)
        if f"hash {name}" in known:
            hashes = np.delete(known[f"hash {name}"], gone, axis=0)
            arrays[f"hash {name}"] = np.insert(hashes, place, one.come.hashes(), axis=0)
    return arrays
