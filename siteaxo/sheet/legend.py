"""
The legend: what is drawn, with its tones and patterns as drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Final

from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from ..craft.changed import REMOVED_MM, WASH, WASH_OPACITY
from ..craft.style import Style
from ..source.roles import spoken
from ..units import points_from_mm
from .entries import SWATCH_MM, Entry, swatch_pattern
from .lettering import SMALL_MM, WIDE, length_mm, letter, rule, rule_box
from .page import Box
from .paths import id_from

PITCH_MM: Final = 3.58
_GAP_MM: Final = 2.4
_TIGHT: Final = (1.0, 0.75, 0.6)
"""Shares of the usual rows, swatches and gaps to which a legend is tightened that has no room else."""
_MOST_NAME_MM: Final = (60.0, 30.0)
"""Length at which a name is cut, where there is room for long names and where there is not [mm]."""


def draw_legend(
    axes: Axes,
    box: Box,
    entries: Sequence[Entry],
    style: Style,
    scale: float,
    *,
    letters_mm: float = SMALL_MM,
) -> None:
    """
    Draw a swatch and a name for every entry, column by column.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    box : Box
        Room for it. Rows are set tighter, and then long names cut, before anything is left out;
        what finds no room at all is counted in the last line.
    entries : sequence of Entry
        What to show; a swatch is divided among its tones.
    style : Style
        Ink.
    scale : float
        The x of 1:x, for patterns.
    letters_mm : float
        Height of its letters, which swatches go with [mm].
    """
    size = letters_mm / SMALL_MM
    whole = [True, False] if any(entry.sign == "number" for entry in entries) else [False]
    for said, most, wide, tight in product(whole, _MOST_NAME_MM, (WIDE, 1.0), _TIGHT):
        pitch = max(PITCH_MM * tight, SWATCH_MM[1] + 0.3) * size
        per = max(int((box.height - 1.6) // pitch), 1)
        named = [_longest(entry, box.width / size if said else most, most) for entry in entries]
        shown, widths = _fitted(list(entries), per, box.width, named, size, tight, wide)
        if len(shown) == len(entries) and all(entry.sign != "more" for entry in shown):
            break
    top = box.top - (box.height - per * pitch + pitch - SWATCH_MM[1] * size) / 2
    x = box.left
    for column, width in enumerate(widths):
        for row, entry in enumerate(shown[column * per : (column + 1) * per]):
            beside = width / size - (SWATCH_MM[0] + 2.0 + _GAP_MM) * tight
            room = _longest(entry, beside, most)
            _entry(axes, x, top - row * pitch - SWATCH_MM[1] * size, entry, style, scale, room, size, tight)
        x += width


def _fitted(
    entries: list[Entry],
    per: int,
    room: float,
    most: list[float],
    size: float = 1.0,
    tight: float = 1.0,
    wide: float = 1.0,
) -> tuple[list[Entry], list[float]]:
    """Entries that find room, and the widths of their columns."""
    lengths = [min(length_mm(_title(one), SMALL_MM), mm) for one, mm in zip(entries, most, strict=True)]
    for count in range(len(entries), 0, -1):
        left = len(entries) - count
        more = [Entry(name=f"and {left} more", sign="more")] if left else []
        shown = entries[:count] + more
        long = lengths[:count] + [length_mm(_title(one), SMALL_MM) for one in more]
        columns = [max(long[start : start + per]) for start in range(0, len(shown), per)]
        columns[:-1] = [wide * one for one in columns[:-1]]  # so that none runs into the next swatch
        widths = [size * ((SWATCH_MM[0] + 2.0 + _GAP_MM) * tight + one) for one in columns]
        if sum(widths) - size * tight * _GAP_MM <= room:
            return shown, widths
    return [], []


def _longest(entry: Entry, number: float, most: float) -> float:
    """Length at which a name is cut; what stands for a call-out is whole where there is room [mm]."""
    return number if entry.sign == "number" else most


def _title(entry: Entry) -> str:
    """What is written beside an entry; of a plug-in's role, the word after the office's."""
    if entry.sign == "number":
        return entry.name.partition(" ")[2]
    role, comma, material = entry.name.partition(",")
    word = spoken(role)
    return word[:1].upper() + word[1:] + comma + material


def _entry(
    axes: Axes,
    x: float,
    y: float,
    entry: Entry,
    style: Style,
    scale: float,
    most: float,
    size: float = 1.0,
    tight: float = 1.0,
) -> None:
    """Draw one line of the legend, *size* times as large as usual, its swatch a share of its width."""
    width, height = SWATCH_MM[0] * size * tight, SWATCH_MM[1] * size
    middle, centre = y + height / 2, x + width / 2
    if entry.fills:
        box = Box(left=x, bottom=y, width=width, height=height)
        _swatch(axes, box, entry, style, scale)
    elif entry.sign == "contour":
        contour_mm = float(style.weights.widths(["contour"], roles=["ground"], scale=scale)[0])
        rule(axes, [x, x + width], [middle, middle], contour_mm, style.contour_ink)
    elif entry.sign == "hidden":
        hidden_mm = style.weights.of("hidden", scale)
        rule(axes, [x, x + width], [middle, middle], hidden_mm, style.hidden_ink, dashed=True)
    elif entry.sign == "former":
        rule(axes, [x, x + width], [middle, middle], REMOVED_MM, style.ink, dashed=True)
    elif entry.sign == "removed":
        box = Box(left=x, bottom=y, width=width, height=height)
        rule_box(axes, box, 0.0, style.ink, "legend_removed", fill=WASH, opacity=WASH_OPACITY)
        around = [x, box.right, box.right, x, x], [y, y, box.top, box.top, y]
        rule(axes, *around, REMOVED_MM, style.ink, dashed=True)
    elif entry.sign == "number":
        number, base = entry.name.partition(" ")[0], y + (height - SMALL_MM * size) / 2
        letters = round(SMALL_MM * size, 6)
        letter(axes, centre, base, number, letters, colour=style.ink, room_mm=width, align="center")
    elif entry.sign == "level":
        rule(axes, [centre - 0.9, centre + 0.9], [middle, middle], 0.13, style.ink)
        rule(axes, [centre, centre], [middle - 0.9, middle + 0.9], 0.13, style.ink)
    elif entry.sign == "water level":
        corners = (
            [centre - 0.9, centre + 0.9, centre, centre - 0.9],
            [middle + 0.8, middle + 0.8, middle - 0.6, middle + 0.8],
        )
        rule(axes, *corners, 0.13, style.ink)
    elif entry.sign == "slope":
        tip = x + width - 0.5
        rule(axes, [x + 0.5, tip], [middle, middle], 0.13, style.ink)
        rule(axes, [tip - 1.8, tip, tip - 1.8], [middle + 0.45, middle, middle - 0.45], 0.13, style.ink)
    letter(
        axes,
        x + width + 2.0 * size * tight,
        y + (height - SMALL_MM * size) / 2,
        _title(entry),
        round(SMALL_MM * size, 6),
        colour=style.ink,
        room_mm=(most + 0.5) * size,
    )


def _swatch(axes: Axes, box: Box, entry: Entry, style: Style, scale: float) -> None:
    """Draw a rectangle divided evenly among some tones, with the pattern of the first."""
    gid = f"legend_{id_from(entry.name)}"
    width = box.width / len(entry.fills)
    for place, fill in enumerate(entry.fills):
        part = Box(left=box.left + place * width, bottom=box.bottom, width=width, height=box.height)
        rule_box(axes, part, 0.0, style.ink, f"{gid}_{place}", fill=fill)
    lines = swatch_pattern(entry.laying, box, scale)
    if lines is not None:
        patch = PathPatch(
            lines,
            fill=False,
            edgecolor=style.pattern_ink(entry.fills[0]),
            linewidth=points_from_mm(style.weights.of("pattern", scale)),
            capstyle="round",
            clip_on=False,
            snap=False,
            gid=f"{gid}_pattern",
        )
        axes.add_artist(patch)
    rule_box(axes, box, 0.13, style.ink, gid)
