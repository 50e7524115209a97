"""
Lists beside a drawing: each mark, and what it stands for in as many lines as that takes.

An entry for which no room is left is never lost in silence: the last line counts those left out
and says which table has them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.patches import Polygon
from matplotlib.text import Text

from ..craft.style import Style
from ..units import points_from_mm
from .groups import Group
from .lettering import font, length_mm
from .words import plain_text
from .wrapping import wrapped

LINE_MM: Final = 0.25
TEXT_MM: Final = 6.5
"""From the left side of a list to its words [mm]."""
HALF_MM: Final = 2.1
"""Half of the width of a mark, about [mm]."""
LEADING_MM: Final = 1.4
"""Between the lines of an entry [mm]."""
PITCH_MM: Final = 6.0
"""From an entry of one line to the next [mm]."""
MOST_LINES: Final = 8
"""An entry that would take more is cut short, and says so."""
CORNERS: Final = {
    "info": np.array([[2.1 * np.cos(a), 2.1 * np.sin(a)] for a in np.linspace(0, 2 * np.pi, 33)[:-1]]),
    "warning": np.array([[-2.8, 0.0], [0.0, -2.8], [2.8, 0.0], [0.0, 2.8]]),
    "error": np.array([[-1.9, -1.9], [1.9, -1.9], [1.9, 1.9], [-1.9, 1.9]]),
    "caution": np.array([[-3.1, -1.7], [3.1, -1.7], [0.0, 3.5]]),
}
"""Outlines of marks about their places: of findings by severity, and of cautions [mm]."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """
    One entry of a list.

    Parameters
    ----------
    shape, number : str
        Its mark.
    lines : tuple of str
        What it says.
    quiet : tuple of str
        What it says below that, in the ink of hidden lines.
    """

    shape: str
    number: str
    lines: tuple[str, ...]
    quiet: tuple[str, ...] = ()

    def pitch_mm(self, small: float) -> float:
        """From this entry to the next [mm]."""
        further = len(self.lines) + len(self.quiet) - 1
        return PITCH_MM + max(further * (small + LEADING_MM) - 0.8, 0.0)


def lines_of(words: str, small: float, room_mm: float, table: str) -> tuple[str, ...]:
    """
    Break what an entry says into lines.

    Parameters
    ----------
    words : str
        The text.
    small : float
        Height of capitals [mm].
    room_mm : float
        Greatest length of a line [mm].
    table : str
        Where all of it is to be read if it is too long for a sheet.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> lines_of("Riser: steps 0, 0.500 m", 1.8, 25.0, "table of findings")
    ('Riser: steps 0,', '0.500 m')
    """
    lines = wrapped(plain_text(words), small, room_mm, whole=False)
    if len(lines) > MOST_LINES:
        lines = [*lines[: MOST_LINES - 1], f"(the rest is in the {table})"]
    return tuple(lines)


def draw_entries(
    group: Group,
    place: np.ndarray,
    entries: Sequence[Entry],
    *,
    room_mm: float,
    mm: float,
    small: float,
    style: Style,
    table: str,
) -> float:
    """
    Draw the entries of a list as far as there is room for them.

    Parameters
    ----------
    group : Group
        What they are added to.
    place : ndarray, shape (2,)
        Of the first mark [m on the page].
    entries : sequence of Entry
        All of them.
    room_mm : float
        Height down to which they may reach, from that mark [mm].
    mm : float
        Page metres per millimetre of paper [m].
    small : float
        Height of capitals [mm].
    style : Style
        Ink and paper.
    table : str
        Where those are to be found for which there is no room.

    Returns
    -------
    float
        Where the next mark would be [m on the page].
    """
    down = np.cumsum([0.0, *(one.pitch_mm(small) for one in entries)])
    most = len(entries)
    if down[-1] > room_mm:
        most = int(np.searchsorted(down, room_mm - PITCH_MM, side="right")) - 1
    most = max(most, 0)
    text = place[0] + (TEXT_MM - HALF_MM) * mm
    for one, below in zip(entries[:most], down, strict=False):
        y = place[1] - below * mm
        draw_mark(group, np.array([place[0], y]), one.shape, one.number, mm, style)
        said = [*((line, style.ink) for line in one.lines), *((line, style.hidden_ink) for line in one.quiet)]
        base = y + (0.5 if len(said) > 1 else -small / 2) * mm
        for line, colour in said:
            write(group, np.array([text, base]), line, small, colour)
            base -= (small + LEADING_MM) * mm
    y = place[1] - float(down[most]) * mm
    if most < len(entries):
        more = f"and {len(entries) - most} more, in the {table}"
        write(group, np.array([text, y - small / 2 * mm]), more, small, style.ink)
        y -= PITCH_MM * mm
    return y


def draw_mark(group: Group, place: np.ndarray, shape: str, text: str, mm: float, style: Style) -> None:
    """Draw one mark with its number, or with nothing in it."""
    look: dict[str, Any] = {"joinstyle": "round", "clip_on": False, "snap": False}
    outline = place + CORNERS[shape] * mm
    width = points_from_mm(LINE_MM)
    group.add(
        Polygon(outline, closed=True, facecolor=style.paper, edgecolor=style.ink, linewidth=width, **look)
    )
    if text:
        high = 1.8 if len(text) < 3 else 1.4
        start = place - np.array([length_mm(text, high) / 2, high / 2]) * mm
        write(group, start, text, high, style.ink)


def write(group: Group, place: np.ndarray, words: str, height_mm: float, colour: str) -> None:
    """Write one line of a list, or the number in a mark."""
    look: dict[str, Any] = {"ha": "left", "va": "baseline", "parse_math": False, "clip_on": False}
    group.add(Text(place[0], place[1], words, fontproperties=font(height_mm), color=colour, **look))
