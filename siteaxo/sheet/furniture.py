"""
What stands around drawings: the frame, the title block, the key and captions.

References
----------
ISO 5457 (frame), ISO 7200 (title block in the lower right corner, at most 180 mm wide); from
memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final

import numpy as np
from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..units import length_words
from .canvas import SheetFigure
from .captions import draw_captions
from .entries import entries_of_all
from .legend import draw_legend
from .lettering import (
    LARGE_MM,
    RULE_MM,
    SMALL_MM,
    TITLE_MM,
    USUAL_MM,
    length_mm,
    letter,
    rule,
    rule_box,
    stepped,
)
from .page import Box, Placement
from .paths import TABLE_NAMES
from .plain import SNUG
from .symbols import axis_key, north_arrow, scale_bar, truth_in_words
from .words import CAUTION, view_in_words
from .wrapping import wrapped

FRAME_MM: Final = 0.5
"""ISO 5457 has 0.7; narrower here, so that the frame stays behind the drawing."""
_PAD_MM: Final = 5.0
_SIDE_MM: Final = (48.0, 50.0)
"""Width of the cell at the right of the title block, on usual and on large sheets [mm]."""
_FOOT_MM: Final = (8.0, 10.0)
"""Height of the cell with the caution line, on usual and on large sheets [mm]."""
_LEADING_MM: Final = 3.3
"""From the base line of one row to the top of the next [mm]."""
_TIGHT, _WITHIN = 0.78, 0.75
"""Shares of it where a title stands on two lines, and of that between these two [-]."""
_NORTH_MM: Final = 13.0
_AXES_MM: Final = 43.0
_BAR_MM: Final = 60.0
"""From the right side of the key to the north arrow, the axis key, and the scale bar's left end [mm]."""


def furnish(
    figure: SheetFigure,
    drawings: Sequence[DiagramLayers],
    placements: Sequence[Placement],
    style: Style,
    *,
    title: str | None,
    hidden: bool,
    captions: Sequence[str] = (),
) -> None:
    """
    Draw all furniture of a sheet, in millimetres.

    Parameters
    ----------
    figure : SheetFigure
        The sheet.
    drawings : sequence of DiagramLayers
        What it shows.
    placements : sequence of Placement
        Where each lies.
    style : Style
        Ink and paper.
    title : str or None
        Title of the sheet; the site's name when left out.
    hidden : bool
        Whether hidden lines are drawn.
    captions : sequence of str
        What is written under each of several drawings.
    """
    sheet = placements[0].sheet
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), gid="furniture")
    figure.layers["furniture"] = ("", TABLE_NAMES["furniture"])
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width_mm)
    axes.set_ylim(0.0, sheet.height_mm)
    frame(axes, placements[0], style)
    title_block(axes, drawings[0], placements[0], style, title, several=bool(captions))
    _key(axes, drawings, placements[0], style, hidden=hidden, single=not captions)
    if captions:
        draw_captions(axes, drawings, placements, captions, style)


def _key(
    axes: Axes,
    drawings: Sequence[DiagramLayers],
    placement: Placement,
    style: Style,
    *,
    hidden: bool,
    single: bool,
) -> None:
    """Draw legend and scale bar, and for a single drawing its axis key and north arrow."""
    key, view, small = placement.sheet.key, drawings[0].view, placement.sheet.lettering_mm
    middle, size = key.bottom + key.height / 2, small / SMALL_MM
    bar_left, bar = key.right - _BAR_MM * size, middle - (11.5 if single else 1.5) * size
    if single:
        arrow, axis = (key.right - aside * size for aside in (_NORTH_MM, _AXES_MM))
        north_arrow(axes, arrow, middle + 5.0 * size, view.north_angle, style, letters_mm=small)
        axis_key(axes, axis, middle + 7.2 * size, view, style, letters_mm=small)
        words = truth_in_words(view).split("; ", 1)
        for number, line in enumerate(reversed(words)):
            letter(
                axes,
                axis,
                middle - 5.2 * size + number * 1.6 * small,
                line,
                small,
                colour=style.ink,
                room_mm=30.0 * size,
                align="center",
            )
    note = "" if view.keeps_plan else "in the plane of the picture"
    scale_bar(axes, bar_left, bar, placement, style, note, letters_mm=small)
    room = Box(left=key.left + 5.0, bottom=key.bottom, width=bar_left - key.left - 8.5, height=key.height)
    entries = entries_of_all(drawings, style, hidden=hidden)
    draw_legend(axes, room, entries, style, placement.scale, letters_mm=small)


def frame(axes: Axes, placement: Placement, style: Style) -> None:
    """Draw the frame and the lines of the strip at its foot."""
    sheet = placement.sheet
    rule_box(axes, sheet.frame, FRAME_MM, style.ink, "frame")
    rule_box(axes, sheet.key, RULE_MM, style.ink, "key_box")
    rule_box(axes, sheet.title_block, RULE_MM, style.ink, "title_box")


def title_block(
    axes: Axes,
    diagram: DiagramLayers,
    placement: Placement,
    style: Style,
    title: str | None,
    *,
    several: bool = False,
) -> None:
    """
    Write title, site, view, scale, the level drawn in place, and the caution line.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    diagram : DiagramLayers
        The drawing.
    placement : Placement
        Its sheet and scale.
    style : Style
        Ink.
    title : str or None
        Title of the sheet; the site's name when left out.
    several : bool
        Whether other drawings stand beside it, so that each says its view by itself.
    """
    box = placement.sheet.title_block
    letters = placement.sheet.lettering_mm
    size = letters / SMALL_MM
    small, usual, large, tall = (stepped(one, letters) for one in (SMALL_MM, USUAL_MM, LARGE_MM, TITLE_MM))
    side_mm, foot_mm = (of[placement.sheet.is_large] for of in (_SIDE_MM, _FOOT_MM))
    side, foot = box.right - side_mm, box.bottom + foot_mm
    rule(axes, [box.left, box.right], [foot, foot], RULE_MM, style.ink)
    rule(axes, [side, side], [foot, box.top], RULE_MM, style.ink)
    room = side - box.left - 2 * _PAD_MM
    left = box.left + _PAD_MM
    rows = [
        *_title_lines(title or diagram.name, (tall, large, usual), room),
        (diagram.name if title else "", usual, small),
        ("" if several else view_in_words(diagram.view), small, SMALL_MM),
    ]
    y, leading = box.top - _PAD_MM, _LEADING_MM * size * (_TIGHT if len(rows) > 3 else 1.0)
    for text, height, least in rows:
        if text:
            y -= height
            letter(axes, left, y, text, height, colour=style.ink, room_mm=room, least_mm=least)
            y -= leading * (_WITHIN if text is rows[0][0] and len(rows) > 3 else 1.0)
    label = "Scale, largest that fits" if placement.fitted else "Scale"
    beside = box.right - side - _PAD_MM - 2.0
    pair = partial(_pair, axes, side + _PAD_MM, small=small, room=beside, style=style)
    scale_at = box.top - _PAD_MM - small
    level_at = foot + 8.2 * size
    if placement.unit == "m":
        pair(scale_at, label, placement.words, large)
    else:  # longer words: the size of the sheet on a line of its own
        level_at -= size
        below = pair(scale_at, label, placement.scale_words, usual) - 1.4 * size - small
        said = f"at {placement.sheet.name}"
        letter(axes, side + _PAD_MM, below, said, small, colour=style.ink, room_mm=beside)
    level = length_words(diagram.view.drawn_in_place, diagram.unit)
    pair(level_at, "Level drawn in place", level, usual)
    wide = box.width - 2 * _PAD_MM
    lines = wrapped(CAUTION, small, SNUG * wide)
    pitch = 1.6 * small
    base = box.bottom + (foot_mm - small - (len(lines) - 1) * pitch) / 2
    for number, line in enumerate(reversed(lines)):
        letter(
            axes, left, base + number * pitch, line, small, colour=style.ink, room_mm=box.width - 2 * _PAD_MM
        )


def _title_lines(
    title: str, heights: tuple[float, float, float], room: float
) -> list[tuple[str, float, float]]:
    """A title in one line, or in two even ones of the next lower letters; longer ones become smaller."""
    tall, large, usual = heights
    shares = np.append(np.arange(0.4, SNUG, 0.05), SNUG)
    ways = (wrapped(title, large, share * room) for share in shares)
    lines = next((way for way in ways if len(way) == 2), [])
    long = max((length_mm(line, large) for line in lines), default=np.inf) > room
    if length_mm(title, tall) <= room or long:
        return [(title, tall, usual)]
    return [(line, large, usual) for line in lines]


def _pair(
    axes: Axes,
    x: float,
    y: float,
    label: str,
    value: str,
    height_mm: float,
    *,
    small: float,
    room: float,
    style: Style,
) -> float:
    """Write a small label and its value beneath it; return where that stands [mm]."""
    letter(axes, x, y, label, small, colour=style.hidden_ink, room_mm=room)
    below = y - height_mm - 1.6 * small / SMALL_MM
    letter(axes, x, below, value, height_mm, colour=style.ink, room_mm=room)
    return below
