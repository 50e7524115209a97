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
BESIDE_MM: Final = 1.0  # room before and after a text [mm]
Led = tuple[np.ndarray, np.ndarray]
"""Box of a text, shape (4,), and its leader, shape (2, 2)."""


def with_leader(
    rows: LabelRows,
    room: Room,
    targets: np.ndarray,
    text: str,
    height: float,
    what: dict[str, Any],
    reaches_mm: Sequence[float],
    mark: np.ndarray,
) -> bool:
    """Write a level at the end of a leader from a mark, if there is room; see :func:`leader_to`."""
    found = leader_to(room, targets, text, height, reaches_mm, rows.scale / 1000, marked=True)
    if found is None:
        return False
    room.take(*found)
    write_at(rows, room, found, text, height, what, mark)
    return True


def leader_to(
    room: Room,
    targets: np.ndarray,
    text: str,
    height: float,
    reaches_mm: Sequence[float],
    mm: float,
    *,
    marked: bool = False,
    crossing: bool = False,
) -> Led | None:
    """
    Find room for a text and a leader from one of some places, shape (k, 2), that it may point to.

    On a calm spot or on bare paper, whichever costs less (see :mod:`.reaching`). A leader crosses
    a building that it does not point to only where there is no other place, and that to a level,
    which has a mark, never does; it crosses other leaders only if told.

    Returns
    -------
    box, leader : ndarray, shapes (4,) and (2, 2), or None
        [m].
    """
    pad = _pad_mm(height, marked=marked)
    size = np.array([length_mm(text, height) + 2 * BESIDE_MM, height + 2 * pad]) * mm
    reach = np.array(reaches_mm) * mm
    found = reached(room, targets, size, reach, mm, crossing=crossing, around=True)
    if found is None and not marked:
        found = reached(room, targets, size, reach, mm, crossing=crossing)
    return found


def write_at(
    rows: LabelRows,
    room: Room,
    led: Led,
    text: str,
    height: float,
    what: dict[str, Any],
    mark: np.ndarray | None = None,
) -> None:
    """Write a text in its box, with its leader from a mark, or else from a dot."""
    mm, (box, leader) = rows.scale / 1000, led
    strokes = [leader] if mark is None else [leader, *mark]
    rows.line(strokes, {**what, "kind": "leader"})
    if mark is None:  # a dot inside what is meant (ISO 128-22, from memory), stroked with a round end
        dot = np.array([[leader[0], leader[0] + np.array([0.01 * mm, 0.0])]])
        rows.line(dot, {**what, "kind": "leader end", "line_mm": DOT_MM})
    start = box[:2] + np.array([BESIDE_MM, _pad_mm(height, marked=mark is not None)]) * mm
    rows.words(text, start, LEVEL_WAY, height, {**what, **rows.look_on(room, box)})


def _pad_mm(height: float, *, marked: bool) -> float:
    """Room above and below a text."""
    return PAD_MM if marked else max(PAD_MM, CLEAR * height)
