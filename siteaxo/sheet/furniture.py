"""
The frame and the title block.

References
----------
ISO 5457 (frame), ISO 7200 (title block in the lower right corner, at most 180 mm wide); from
memory.
"""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from .lettering import LARGE_MM, RULE_MM, SMALL_MM, TITLE_MM, USUAL_MM, letter, rule, rule_box
from .page import Placement
from .words import CAUTION, view_in_words

_FRAME_MM: Final = 0.5
"""ISO 5457 has 0.7; narrower here, so that the frame stays behind the drawing."""
_PAD_MM: Final = 5.0
_SIDE_MM: Final = 48.0
"""Width of the cell at the right of the title block [mm]."""
_FOOT_MM: Final = 8.0
"""Height of the cell with the caution line [mm]."""
_LEADING_MM: Final = 3.3
"""From the base line of one row to the top of the next [mm]."""


def frame(axes: Axes, placement: Placement, style: Style) -> None:
    """Draw the frame and the lines of the strip at its foot."""
    sheet = placement.sheet
    rule_box(axes, sheet.frame, _FRAME_MM, style.ink, "frame")
    rule_box(axes, sheet.key, RULE_MM, style.ink, "key_box")
    rule_box(axes, sheet.title_block, RULE_MM, style.ink, "title_box")


def title_block(
    axes: Axes, diagram: DiagramLayers, placement: Placement, style: Style, title: str | None
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
    """
    box = placement.sheet.title_block
    side = box.right - _SIDE_MM
    foot = box.bottom + _FOOT_MM
    rule(axes, [box.left, box.right], [foot, foot], RULE_MM, style.ink)
    rule(axes, [side, side], [foot, box.top], RULE_MM, style.ink)
    room = side - box.left - 2 * _PAD_MM
    left = box.left + _PAD_MM
    rows = [
        (title or diagram.name, TITLE_MM, USUAL_MM),
        (diagram.name if title else "", USUAL_MM, SMALL_MM),
        (view_in_words(diagram.view), SMALL_MM, SMALL_MM),
    ]
    y = box.top - _PAD_MM
    for text, height, least in rows:
        if text:
            y -= height
            letter(axes, left, y, text, height, colour=style.ink, room_mm=room, least_mm=least)
            y -= _LEADING_MM
    label = "Scale, largest that fits" if placement.fitted else "Scale"
    x = side + _PAD_MM
    _pair(axes, x, box.top - _PAD_MM - SMALL_MM, label, placement.words, LARGE_MM, style)
    level = f"{diagram.view.drawn_in_place:.2f} m".replace("-", "−")
    _pair(axes, x, foot + 8.2, "Level drawn in place", level, USUAL_MM, style)
    base = box.bottom + (_FOOT_MM - SMALL_MM) / 2
    letter(axes, left, base, CAUTION, SMALL_MM, colour=style.ink, room_mm=box.width - 2 * _PAD_MM)


def _pair(axes: Axes, x: float, y: float, label: str, value: str, height_mm: float, style: Style) -> None:
    """Write a small label and its value beneath it."""
    room = _SIDE_MM - _PAD_MM - 2.0
    letter(axes, x, y, label, SMALL_MM, colour=style.hidden_ink, room_mm=room)
    letter(axes, x, y - height_mm - 1.6, value, height_mm, colour=style.ink, room_mm=room)
