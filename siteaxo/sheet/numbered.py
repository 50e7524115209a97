"""
Call-outs that find no room near what they are about: a number there, and the words in the legend.

The rule
    A leader of a call-out is at most 60 mm long, and at most two fifths of the shorter side of the
    room that the drawing has on its sheet. A call-out for which there is no place within that reach
    becomes a number in brackets, and the legend says what it stands for. Leaders cross only where
    not even the number has room else, nor if others make way (see :mod:`.calling`); where it has none
    at all, the call-out is left out, and a finding says so.
"""

from __future__ import annotations

from typing import Any, Final

from ..diagram.layers import DiagramLayers
from ..errors import Finding
from ..saying import counted
from .page import Box

LOST: Final = "label-left-out"
"""Code of the finding about a call-out without room."""
LONGEST_MM: Final = 60.0
"""Longest leader of a call-out on any sheet [mm]."""
SHARE: Final = 0.4
"""Longest leader as a share of the shorter side of the room for the drawing [-]."""
SHORTEST_MM: Final = 5.0
STEP_MM: Final = 3.0


def reaches_in(space: Box) -> tuple[float, ...]:
    """
    Lengths of leaders that are tried in the room that a drawing has [mm].

    Examples
    --------
    >>> reaches_in(Box(left=0.0, bottom=0.0, width=100.0, height=40.0))
    (5.0, 8.0, 11.0, 14.0)
    """
    most = max(min(LONGEST_MM, SHARE * min(space.width, space.height)), SHORTEST_MM)
    return tuple(SHORTEST_MM + STEP_MM * step for step in range(int((most - SHORTEST_MM) // STEP_MM) + 1))


def number_for(words: str, numbers: dict[str, int]) -> str:
    """
    Return the number that stands for some words, the next free one for new words.

    Examples
    --------
    >>> number_for("Spring", {"Lookout": 1})
    '(2)'
    """
    return f"({numbers.get(words, len(numbers) + 1)})"


def keys_of(labels: Any) -> list[str]:
    """
    Return what numbers on a drawing stand for, such as ``"(1) Lookout"``, in their order.

    Parameters
    ----------
    labels : GeoDataFrame
        The table of labels.
    """
    if "words" not in labels:
        return []
    rows = labels[(labels["text"] != "") & (labels["words"].fillna("") != "")]
    found = {f"{text} {words}" for text, words in zip(rows["text"], rows["words"], strict=True)}
    return sorted(found, key=lambda one: int(one[1 : one.index(")")]))


def left_out(words: str, layer: str, source_id: str, most_mm: float) -> Finding:
    """
    Say that a call-out is not on the sheet.

    Examples
    --------
    >>> left_out("Spring", "notes", "7", 60.0).code
    'label-left-out'
    """
    return Finding(
        severity="warning",
        code="label-left-out",
        layer=layer,
        source_id=source_id,
        value=words,
        message=f"Call-out {words!r} is not on the sheet: within {most_mm:.0f} mm of what it is about "
        "there is no room for it, nor for a number. Take a larger sheet or leave out other labels.",
    )


def lost_in_words(*drawings: DiagramLayers) -> str:
    """How many call-outs have no room on a sheet, in few words for legends; nothing where all have."""
    count = sum(int((drawing.findings["code"] == LOST).sum()) for drawing in drawings)
    return f"{counted(count, 'call-out', gap='')} left out" if count else ""
