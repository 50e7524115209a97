"""
Words on a board: title, legend, paragraphs, and a caption under each drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..units import length_words
from .corners import draw_signs
from .entries import entries_of_all
from .legend import draw_legend
from .lettering import LETTERING_MM, RULE_MM, letter, rule
from .page import Box, Placement, Sheet
from .scales import bar_length
from .symbols import scale_bar, truth_in_words
from .words import plain_text, view_in_words
from .wrapping import wrapped

CAPTION_MM: Final = 12.0
"""Height of the caption under each drawing [mm]."""
_ARROW_ROOM_MM: Final = 60.0
"""Drawings in boxes narrower than this have no north arrow [mm]."""


def _sizes(sheet: Sheet) -> tuple[float, float]:
    """Heights of small and of usual letters on a sheet [mm]."""
    small = sheet.lettering_mm
    return small, next(height for height in LETTERING_MM if height > small)


def _heading(axes: Axes, box: Box, words: str, sheet: Sheet, style: Style) -> float:
    """Rule and heading of a box of words; return how far down they reach [mm]."""
    usual = _sizes(sheet)[1]
    rule(axes, [box.left, box.right], [box.top, box.top], RULE_MM, style.ink)
    base = box.top - 2.5 - usual
    letter(axes, box.left, base, words, usual, colour=style.ink, room_mm=box.width)
    return base - 3.0


def text_on(
    axes: Axes, box: Box, heading: str, paragraphs: Sequence[str], sheet: Sheet, style: Style
) -> None:
    """Write paragraphs under a heading; what finds no room is counted in the last line."""
    small = _sizes(sheet)[0]
    y = _heading(axes, box, heading, sheet, style)
    pitch = 2.1 * small
    texts = [wrapped(plain_text(one), small, box.width, whole=False) for one in paragraphs]
    lines = [line for text in texts for line in (*text, "")]
    while lines and not lines[-1]:
        lines.pop()
    room = max(int((y - box.bottom) // pitch), 0)
    if len(lines) > room:
        kept = max(room - 1, 0)
        lost = sum(bool(line) for line in lines[kept:])
        lines = [*lines[:kept], f"(lines without room: {lost})"][:room]
    for line in lines:
        y -= pitch
        letter(axes, box.left, y + 0.3 * small, line, small, colour=style.ink, room_mm=box.width + 1.0)


def title_on(
    axes: Axes, box: Box, title: str, subtitle: str, main: DiagramLayers, sheet: Sheet, style: Style
) -> None:
    """Write the title of the board large, and what is said of all of it."""
    small, usual = _sizes(sheet)
    rule(axes, [box.left, box.right], [box.top, box.top], 2 * RULE_MM, style.ink)
    tall = max(height for height in LETTERING_MM if height <= max(box.height / 2.6, small))
    room = box.width * 0.68
    base = box.top - 4.0 - tall
    letter(axes, box.left, base, title, tall, colour=style.ink, room_mm=room, least_mm=usual)
    below = [subtitle, main.name if main.name != title else "", view_in_words(main.view)]
    y = base - 2.2 * usual
    for words, height in zip((one for one in below if one), (usual, small, small), strict=False):
        letter(axes, box.left, y, words, height, colour=style.ink, room_mm=room)
        y -= 2.4 * small
    level = f"Level drawn in place {length_words(main.view.drawn_in_place, main.unit)}"
    y = base
    for words in (sheet.words, level, truth_in_words(main.view)):
        letter(axes, box.right, y, words, small, colour=style.ink, room_mm=box.width * 0.3, align="right")
        y -= 2.4 * small


def legend_on(
    axes: Axes,
    box: Box,
    drawings: Mapping[str, DiagramLayers],
    placed: Mapping[str, Placement],
    sheet: Sheet,
    style: Style,
    *,
    hidden: bool,
) -> None:
    """List what any of the drawings shows."""
    top = _heading(axes, box, "Legend", sheet, style)
    order = sorted(drawings, key=lambda name: name != "main")
    entries = entries_of_all([drawings[name] for name in order], style, hidden=hidden)
    room = Box(left=box.left, bottom=box.bottom, width=box.width, height=max(top - box.bottom, 1.0))
    scale, small = placed[order[0]].scale, _sizes(sheet)[0]
    draw_legend(axes, room, entries, style, scale, letters_mm=small)


def caption_on(
    axes: Axes,
    drawing: DiagramLayers,
    placement: Placement,
    words: str,
    style: Style,
    name: str,
    *,
    full: bool,
) -> None:
    """Write under a drawing what it is and its scale, with a scale bar; give it a north arrow."""
    space, small, usual = placement.space, *_sizes(placement.sheet)
    rule(axes, [space.left, space.right], [space.bottom, space.bottom], RULE_MM, style.ink)
    left, base = space.left, space.bottom - 2.0 - usual
    bar = bar_length(placement.scale, placement.unit)[0] * 1000 / placement.scale + 8.0
    with_bar = space.width > bar + 50.0
    room = space.width - (bar + 4.0 if with_bar else 0.0)
    letter(axes, left, base, words, usual, colour=style.ink, room_mm=room)
    said = placement.scale_words
    letter(axes, left, base - 2.2 * small, said, small, colour=style.ink, room_mm=room)
    if with_bar:
        scale_bar(axes, space.right - bar, base - 2.0, placement, style)
    if space.width < _ARROW_ROOM_MM or drawing.beside:
        return
    draw_signs(axes, drawing, placement, style, f"_{name}", keyed=full)
