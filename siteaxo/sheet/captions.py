"""
What is written under each of several drawings on a sheet: broken into as many lines as it takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers, ViewRecord
from .corners import draw_signs
from .lettering import SMALL_MM, USUAL_MM, letter, stepped
from .page import Placement
from .placement import CAPTION_MM
from .plain import SNUG
from .symbols import truth_in_words
from .words import plain_text, view_in_words
from .wrapping import wrapped

PAD_MM: Final = 5.0
LEAST_MM: Final = 15.0
"""Captions are not broken into lines shorter than this [mm]."""
TOP_MM, WITHIN_MM, BELOW_MM, FOOT_MM = 3.0, 1.3, 1.6, 2.5
"""Above a title, between its lines, from there to the view in words, and under all of it [mm]."""
LEADING: Final = 1.75
"""From one line of the view in words to the next, by the height of its capitals."""
TITLE_LINES: Final = 2
"""Titles that would take more at the usual height of letters are written smaller."""


def view_and_truth(view: ViewRecord) -> str:
    """How a drawing is seen, and which of its directions are true to scale."""
    return f"{view_in_words(view)}; {truth_in_words(view)}"


def captions_mm(titles: Sequence[str], views: Sequence[ViewRecord], width_mm: float, small: float) -> float:
    """
    Height of the strip that holds the captions of drawings side by side.

    Parameters
    ----------
    titles : sequence of str
        What each drawing is; its number goes before it.
    views : sequence of ViewRecord
        How each is seen.
    width_mm : float
        Room of each drawing [mm].
    small : float
        Height of the smallest letters on the sheet [mm].

    Returns
    -------
    float
        Not less than ``CAPTION_MM`` on usual sheets [mm].
    """
    size, height, room = small / SMALL_MM, _title_mm(titles, width_mm, small), _room(width_mm)
    most = CAPTION_MM * size
    for number, (title, view) in enumerate(zip(titles, views, strict=True), start=1):
        lines = len(_title(number, title, height, room))
        words = len(wrapped(view_and_truth(view), small, room, whole=False))
        deep = TOP_MM + (lines - 1) * WITHIN_MM + BELOW_MM + FOOT_MM
        most = max(most, deep * size + lines * height + small + (words - 1) * LEADING * small)
    return most


def _room(width_mm: float) -> float:
    return max(SNUG * (width_mm - 2 * PAD_MM), LEAST_MM)


def _title(number: int, title: str, height: float, room: float) -> list[str]:
    return wrapped(f"{number} {plain_text(title)}", height, room, whole=False)


def _title_mm(titles: Sequence[str], width_mm: float, small: float) -> float:
    """Height of the letters of all titles: the usual one if none takes too many lines [mm]."""
    usual, room = stepped(USUAL_MM, small), _room(width_mm)
    lines = [len(_title(number, title, usual, room)) for number, title in enumerate(titles, start=1)]
    return usual if max(lines, default=0) <= TITLE_LINES else small


def draw_captions(
    axes: Axes,
    drawings: Sequence[DiagramLayers],
    placements: Sequence[Placement],
    titles: Sequence[str],
    style: Style,
) -> None:
    """
    Write under each of several drawings what it is, and give it a north arrow and an axis key.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    drawings : sequence of DiagramLayers
        The drawings.
    placements : sequence of Placement
        Where each lies.
    titles : sequence of str
        What each is.
    style : Style
        Ink.
    """
    small, width = placements[0].sheet.lettering_mm, placements[0].space.width
    height = _title_mm(titles, width, small)
    for number, (drawing, placement, title) in enumerate(
        zip(drawings, placements, titles, strict=True), start=1
    ):
        _caption(axes, drawing, placement, number, title, height, style)
        draw_signs(axes, drawing, placement, style, f"_{number}", keyed=True)


def _caption(
    axes: Axes,
    drawing: DiagramLayers,
    placement: Placement,
    number: int,
    title: str,
    height: float,
    style: Style,
) -> None:
    space, small = placement.space, placement.sheet.lettering_mm
    size, room, left = small / SMALL_MM, _room(space.width), space.left + PAD_MM
    full = max(space.width - 2 * PAD_MM, LEAST_MM)
    base = space.bottom - TOP_MM * size - height
    lines = _title(number, title, height, room)
    for line in lines:
        letter(axes, left, base, line, height, colour=style.ink, room_mm=full)
        base -= height + WITHIN_MM * size
    base -= small - height + (BELOW_MM - WITHIN_MM) * size
    for line in wrapped(view_and_truth(drawing.view), small, room, whole=False):
        letter(axes, left, base, line, small, colour=style.hidden_ink, room_mm=full)
        base -= LEADING * small
