"""
Marks where something was noticed in the data, and the list of them beside the drawing.

The shape of a mark tells how much it matters: a circle informs, a diamond warns, a square is
an error; triangles are cautions. Its number is the finding's row in the table of findings.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from .groups import Group
from .lettering import length_mm
from .mark_list import HALF_MM, PITCH_MM, TEXT_MM, Entry, draw_entries, draw_mark, lines_of, write
from .page import Placement, Sheet
from .paths import TABLE_NAMES, Ink
from .words import plain_text

TABLE: Final = "finding_marks"
GAP_MM: Final = 8.0
"""From the drawing to the list [mm]."""
MOST_MM: Final = 92.0
"""Greatest width of the list [mm]."""
APART_MM: Final = 5.8
"""Marks nearer to one another than this are moved apart [mm]."""
_TABLE_IN_WORDS: Final = "table of findings"
_SHAPES: Final = {"error": "squares", "warning": "diamonds", "info": "circles"}
_WORDS: Final = {"error": "error", "warning": "warning", "info": "for information"}


def noticed_mm(diagram: DiagramLayers, sheet: str) -> float:
    """Width that the list takes up, 0 where no findings are marked [mm]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    lines = [line for entry in _entries(marks, small) for line in entry.lines]
    widest = max(length_mm(words, small) for words in [*lines, _heading(marks), *_WORDS.values()])
    return GAP_MM + TEXT_MM + min(widest, MOST_MM - TEXT_MM)


def noticed_at(diagram: DiagramLayers, mm: float) -> np.ndarray:
    """Places of the marks where a millimetre of paper is *mm*, shape (n, 2) [m on the page]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return np.empty((0, 2))
    at = shapely.get_coordinates(np.asarray(marks.geometry.array, dtype=object))
    return set_apart(at, APART_MM * mm)


def draw_noticed(axes: Axes, diagram: DiagramLayers, placement: Placement, style: Style, ink: Ink) -> None:
    """
    Draw marks over everything else, and the list at the right of the drawing.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in page metres.
    diagram : DiagramLayers
        The drawing; without the table of finding marks nothing is drawn.
    placement : Placement
        Its sheet and scale.
    style : Style
        Ink and paper.
    ink : Ink
        What has been drawn.
    """
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return
    group = Group(axes, ink.name(TABLE, TABLE_NAMES[TABLE], ""), 4.0)
    mm = placement.scale / 1000
    severity = [str(one) for one in marks["severity"]]
    number = [str(one) for one in marks["number"]]
    for place, one, text in zip(noticed_at(diagram, mm), severity, number, strict=True):
        draw_mark(group, place, one, text, mm, style)
    entries = _entries(marks, placement.sheet.lettering_mm)
    _list(group, placement, style, entries, _heading(marks), width=noticed_mm(diagram, placement.sheet.name))


def _list(
    group: Group, placement: Placement, style: Style, entries: list[Entry], heading: str, *, width: float
) -> None:
    """The heading, an entry for each mark as far as there is room, and what the shapes mean."""
    mm, small = placement.scale / 1000, placement.sheet.lettering_mm
    _, bottom, right, top = placement.window
    left = right - (width - GAP_MM + 4.0) * mm
    used = [one for one in _WORDS if any(entry.shape == one for entry in entries)]
    height = top - 2 * PITCH_MM * mm
    write(group, np.array([left - HALF_MM * mm, height]), heading, small, style.ink)
    first = np.array([left, height - PITCH_MM * mm])
    room = (first[1] - bottom) / mm - (len(used) + 1) * PITCH_MM
    height = draw_entries(
        group, first, entries, room_mm=room, mm=mm, small=small, style=style, table=_TABLE_IN_WORDS
    )
    height -= 0.6 * PITCH_MM * mm
    for one in used:
        draw_mark(group, np.array([left, height]), one, "", mm, style)
        place = np.array([left + (TEXT_MM - HALF_MM) * mm, height - small / 2 * mm])
        write(group, place, _WORDS[one], small, style.ink)
        height -= PITCH_MM * mm


def _entries(marks: Any, small: float) -> list[Entry]:
    """What the list says of each mark."""
    rows = marks[["severity", "number", "code", "layer", "source_id", "value"]].astype(str)
    return [
        Entry(
            shape=severity,
            number=number,
            lines=lines_of(_line(*said), small, MOST_MM - TEXT_MM, _TABLE_IN_WORDS),
        )
        for severity, number, *said in rows.itertuples(index=False)
    ]


def _line(code: str, layer: str, source_id: str, value: str) -> str:
    what = code.replace("-", " ")
    where = " ".join(word for word in (layer, source_id) if word)
    return plain_text(f"{what[:1].upper()}{what[1:]}: {where}{', ' if value else ''}{value}")


def _heading(marks: Any) -> str:
    """What the list is, and the shapes of its marks."""
    shown = set(marks["severity"])
    return f"Findings: {', '.join(word for one, word in _SHAPES.items() if one in shown)}"


def set_apart(wanted: np.ndarray, least: float) -> np.ndarray:
    """Places as wanted, moved to the right where one would lie on an earlier one."""
    placed = wanted.copy()
    for k in range(1, len(placed)):  # a few dozen marks, each after those before it
        while True:
            near = np.hypot(*(placed[:k] - placed[k]).T) < least * (1 - 1e-9)
            if not near.any():
                break
            first = placed[:k][near][0]
            away = placed[k, 1] - first[1]
            placed[k, 0] = first[0] + np.sqrt(max(least**2 - away**2, 0.0))
    return placed
