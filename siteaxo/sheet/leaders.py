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
from .reaching import reached

LEVEL_LEADERS_MM: Final = tuple(float(one) for one in range(5, 25, 3))
LEADER_MM2: Final = 80.0  # areas smaller than this on paper get no leader to a level [mm²]
CLEAR: Final = 0.5
"""Room above and below call-outs with a leader, as a share of the height of their letters [-]."""
DOT_MM: Final = 0.7


def with_leader(
    rows: LabelRows,
    room: Room,
    targets: np.ndarray,
    text: str,
    height: float,
    what: dict[str, Any],
    reaches_mm: Sequence[float],
    mark: np.ndarray | None = None,
    *,
    crossing: bool = False,
) -> bool:
    """
    Write a text at the end of a leader from one of some places, shape (k, 2), that it may point to.

    On a calm spot or on bare paper, whichever costs less (see :mod:`.reaching`). A leader crosses
    a building that it does not point to only where there is no other place, and that to a level,
    which has a mark, never does; it crosses other leaders only if told.
    """
    mm = rows.scale / 1000
    gap, pad = 1.0, PAD_MM if mark is not None else max(PAD_MM, CLEAR * height)
    size = np.array([length_mm(text, height) + 2 * gap, height + 2 * pad]) * mm
    reach = np.array(reaches_mm) * mm
    found = reached(room, targets, size, reach, mm, crossing=crossing, around=True)
    if found is None and mark is None:
        found = reached(room, targets, size, reach, mm, crossing=crossing)
    if found is None:
        return False
    box, leader = found
    look = rows.look_on(room, box)
    room.take(box, leader)
    strokes = [leader] if mark is None else [leader, *mark]
    rows.line(strokes, {**what, "kind": "leader"})
    if mark is None:  # a dot inside what is meant (ISO 128-22, from memory), stroked with a round end
        dot = np.array([[leader[0], leader[0] + np.array([0.01 * mm, 0.0])]])
        rows.line(dot, {**what, "kind": "leader end", "line_mm": DOT_MM})
    start = np.array([box[0] + gap * mm, box[1] + pad * mm])
    rows.words(text, start, LEVEL_WAY, height, {**what, **look})
    return True
