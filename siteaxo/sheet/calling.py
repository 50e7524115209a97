"""
Where call-outs stand: each in its turn, and earlier ones make way for one that would cross them.

The rule
    A call-out stands on what it is about, or at the end of a leader that crosses no other. Where
    there is no such place, one whose leader is in the way is moved, if it finds another; else a number
    stands for the words. Leaders cross only where none of this helps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from .callouts import Target
from .label_rows import LEVEL_WAY, LabelRows
from .leaders import Led, leader_to, write_at
from .lettering import length_mm
from .numbered import number_for
from .placing import Room
from .reaching import dots
from .words import plain_text

INSIDE_MM: Final = 1.0  # room about a text that stands on what it is about [mm]
MOVED: Final = 6
"""So many call-outs in the way are tried to be moved."""


@dataclass(kw_only=True)
class Standing:
    """A call-out and where it stands: its box, and its leader unless it is on what it is about."""

    target: Target
    text: str
    words: str
    box: np.ndarray
    leader: np.ndarray | None


@dataclass(frozen=True, kw_only=True)
class Calls:
    """What call-outs of one drawing have in common."""

    rows: LabelRows
    room: Room
    reaches_mm: Sequence[float]
    stand: list[Standing]

    @property
    def mm(self) -> float:
        """A millimetre of paper [m]."""
        return self.rows.scale / 1000

    def led(self, target: Target, text: str, *, crossing: bool = False) -> Led | None:
        """Room for a text at the end of a leader."""
        places = dots(self.room, target, self.mm, len(self.rows.fills))
        high = self.rows.usual_mm
        return leader_to(self.room, places, text, high, self.reaches_mm, self.mm, crossing=crossing)


def place_callouts(
    rows: LabelRows,
    room: Room,
    targets: Sequence[Target],
    numbers: dict[str, int],
    reaches_mm: Sequence[float],
) -> list[Target]:
    """
    Write call-outs where there is room for them.

    Parameters
    ----------
    rows : LabelRows
        Where they are written.
    room : Room
        What is there already.
    targets : sequence of Target
        What they say and are about, in their turn.
    numbers : dict of str to int
        Numbers that stand for words already; new ones are added.
    reaches_mm : sequence of float
        Lengths of leaders that are tried, shortest first [mm].

    Returns
    -------
    list of Target
        Those for which there is no room.
    """
    calls = Calls(rows=rows, room=room, reaches_mm=reaches_mm, stand=[])
    lost = [target for target in targets if not _stands(calls, target, numbers)]
    for one in calls.stand:
        _write(calls, one)
    return lost


def _stands(calls: Calls, target: Target, numbers: dict[str, int]) -> bool:
    """Find a place for a call-out, or where there is none for a number; over other leaders at last."""
    text = plain_text(target.text)
    said = ((text, ""), (number_for(text, numbers), text))
    ways = ((_aside, _in_exchange), (_across,))
    for way, (shown, words) in ((way, one) for some in ways for one in said for way in some):
        if way(calls, target, shown, words):
            if words:
                numbers.setdefault(words, len(numbers) + 1)
            return True
    return False


def _aside(calls: Calls, target: Target, text: str, words: str) -> bool:
    """On what it is about, or beside it with a leader that crosses no other."""
    place = _on_its_own(calls, target, text)
    if place is not None:
        return _keep(calls, target, text, words, (place, None))
    return _keep(calls, target, text, words, calls.led(target, text))


def _across(calls: Calls, target: Target, text: str, words: str) -> bool:
    """With a leader over others."""
    return _keep(calls, target, text, words, calls.led(target, text, crossing=True))


def _in_exchange(calls: Calls, target: Target, text: str, words: str) -> bool:
    """Where one that is in the way has been moved to another place, from which it crosses nothing."""
    wanted = calls.led(target, text, crossing=True)
    if wanted is None:
        return False
    line = shapely.LineString(wanted[1])
    led = [(one, one.leader) for one in calls.stand if one.leader is not None]
    in_way = [(one, leader) for one, leader in led if line.intersects(shapely.LineString(leader))]
    for other, leader in in_way[:MOVED]:
        calls.room.drop(other.box, leader)
        here = calls.led(target, text)
        if here is not None:
            calls.room.take(*here)
            there = calls.led(other.target, other.text)
            calls.room.drop(*here)
            if there is not None:
                calls.room.take(*there)
                other.box, other.leader = there
                return _keep(calls, target, text, words, here)
        calls.room.take(other.box, leader)
    return False


def _keep(
    calls: Calls,
    target: Target,
    text: str,
    words: str,
    found: tuple[np.ndarray, np.ndarray | None] | None,
) -> bool:
    """Take the room that was found, if any was."""
    if found is None:
        return False
    calls.room.take(*found)
    calls.stand.append(Standing(target=target, text=text, words=words, box=found[0], leader=found[1]))
    return True


def _on_its_own(calls: Calls, target: Target, text: str) -> np.ndarray | None:
    """Box of a text on what it is about, if that has room, shape (4,) [m]."""
    if target.region is None:
        return None
    high, mm = calls.rows.usual_mm, calls.mm
    half = np.array([length_mm(text, high) / 2 + INSIDE_MM, high / 2 + INSIDE_MM])
    extent = np.concatenate([-half, half]) * mm
    place = calls.room.inside(target.region, extent, 1.5 * mm)
    return None if place is None else np.concatenate([place, place]) + extent


def _write(calls: Calls, one: Standing) -> None:
    """Write a call-out where it stands."""
    rows, room, target = calls.rows, calls.room, one.target
    named = {"layer": target.layer, "source_id": target.source_id, "role": target.role}
    what: dict[str, Any] = {**named, "kind": "label", "words": one.words}
    if one.leader is not None:
        write_at(rows, room, (one.box, one.leader), one.text, rows.usual_mm, what)
        return
    look = rows.look_on(room, one.box)
    start = one.box[:2] + INSIDE_MM * calls.mm
    rows.words(one.text, start, LEVEL_WAY, rows.usual_mm, {**what, **look})
