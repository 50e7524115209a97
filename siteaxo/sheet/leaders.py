"""
Words at the end of a leader.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from .label_rows import LEVEL_WAY, PAD_MM, LabelRows
from .lettering import length_mm
from .placing import Room

LEVEL_LEADERS_MM: Final = tuple(float(one) for one in range(5, 25, 3))
LEADER_MM2: Final = 80.0  # areas smaller than this on paper get no leader to a level [mm²]
NEAR_MM: Final = 14.0
CLEAR: Final = 0.5
"""Room above and below call-outs with a leader, as a share of the height of their letters [-]."""
DOT_MM: Final = 0.7


def with_leader(
    rows: LabelRows,
    room: Room,
    target: np.ndarray,
    text: str,
    height: float,
    what: dict[str, Any],
    reaches_mm: Sequence[float],
    mark: np.ndarray | None = None,
) -> bool:
    """
    Write a text at the end of a leader.

    On a calm spot close by if there is one; else on bare paper; else on a calm spot farther off;
    at last on bare paper with a leader that crosses others. A leader crosses a building that it
    does not point to only where there is no other place, and that to a level, which has a mark,
    never does.
    """
    mm = rows.scale / 1000
    gap, pad = 1.0, PAD_MM if mark is not None else max(PAD_MM, CLEAR * height)
    size = np.array([length_mm(text, height) + 2 * gap, height + 2 * pad]) * mm
    reach = np.array(reaches_mm) * mm
    near = reach[reach <= NEAR_MM * mm]
    strict = mark is not None
    found = _place(room, target, size, [(near, False), (reach, True), (reach, False)], strict=strict)
    found = found or _place(room, target, size, [(reach, True)], crossing=True, strict=strict)
    if found is None:
        return False
    box, leader = found
    fill = rows.fill_under(room, box)
    room.take(box, leader)
    strokes = [leader] if mark is None else [leader, *mark]
    rows.line(strokes, {**what, "kind": "leader"})
    if mark is None:  # a dot inside what is meant (ISO 128-22, from memory), stroked with a round end
        dot = np.array([[target, target + np.array([0.01 * mm, 0.0])]])
        rows.line(dot, {**what, "kind": "leader end", "line_mm": DOT_MM})
    start = np.array([box[0] + gap * mm, box[1] + pad * mm])
    rows.words(text, start, LEVEL_WAY, height, {**what, "fill": fill})
    return True


def _place(
    room: Room,
    target: np.ndarray,
    size: np.ndarray,
    ways: Sequence[tuple[np.ndarray, bool]],
    *,
    crossing: bool = False,
    strict: bool = False,
) -> tuple[np.ndarray, np.ndarray] | None:
    """The first way (lengths, and whether on bare paper) with a place whose leader crosses no building."""
    across = None
    for lengths, bare in ways:
        found = room.beside(target, size, lengths, bare=bare, crossing=crossing)
        if found is not None and not room.goes_round(target, found[1][None])[0]:
            across = across or found
            found = room.beside(target, size, lengths, bare=bare, crossing=crossing, around=True)
        if found is not None:
            return found
    return None if strict else across
