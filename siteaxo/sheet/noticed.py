"""
Marks where something was noticed in the data, and the list of them beside the drawing.

The shape of a mark tells how much it matters: a circle informs, a triangle warns, a square is
an error. Its number is the finding's row in the table of findings.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.text import Text

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..units import points_from_mm
from .groups import Group
from .lettering import font, length_mm
from .page import Placement, Sheet
from .paths import TABLE_NAMES, Ink
from .words import plain_text

TABLE: Final = "finding_marks"
LINE_MM: Final = 0.25
PITCH_MM: Final = 6.0
"""From one line of the list to the next [mm]."""
GAP_MM: Final = 8.0
"""From the drawing to the list [mm]."""
TEXT_MM: Final = 6.5
"""From the left side of the list to its words [mm]."""
MOST_MM: Final = 92.0
"""Greatest width of the list [mm]."""
APART_MM: Final = 5.8
"""Marks nearer to one another than this are moved apart [mm]."""
_HEADING: Final = "Findings"
_WORDS: Final = {"error": "error", "warning": "warning", "info": "for information"}
_CORNERS: Final = {
    "info": np.array([[2.1 * np.cos(a), 2.1 * np.sin(a)] for a in np.linspace(0, 2 * np.pi, 33)[:-1]]),
    "warning": np.array([[-3.1, -1.7], [3.1, -1.7], [0.0, 3.5]]),
    "error": np.array([[-1.9, -1.9], [1.9, -1.9], [1.9, 1.9], [-1.9, 1.9]]),
}


def noticed_mm(diagram: DiagramLayers, sheet: str) -> float:
    """Width that the list takes up, 0 where no findings are marked [mm]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    widest = max(length_mm(words, small) for words in [*_lines(marks), *_shapes_in_words()])
    return GAP_MM + TEXT_MM + min(widest, MOST_MM - TEXT_MM)


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
    at = shapely.get_coordinates(np.asarray(marks.geometry.array, dtype=object))
    severity = [str(one) for one in marks["severity"]]
    number = [str(one) for one in marks["number"]]
    for place, one, text in zip(set_apart(at, APART_MM * mm), severity, number, strict=True):
        draw_mark(group, place, one, text, mm, style)
    _list(
        group,
        placement,
        style,
        _lines(marks),
        severity,
        number,
        width=noticed_mm(diagram, placement.sheet.name),
    )


def _list(
    group: Group,
    placement: Placement,
    style: Style,
    lines: list[str],
    severity: list[str],
    number: list[str],
    *,
    width: float,
) -> None:
    """The heading, a line for each mark as far as there is room, and what the shapes mean."""
    mm, small = placement.scale / 1000, placement.sheet.lettering_mm
    _, bottom, right, top = placement.window
    left = right - (width - GAP_MM + 4.0) * mm
    used = [one for one in _WORDS if one in severity]
    room = int((top - bottom) / (PITCH_MM * mm)) - len(used) - 4
    shown = lines if len(lines) <= room else lines[: max(room - 1, 0)]
    height = top - 2 * PITCH_MM * mm
    _write(group, np.array([left - 2.1 * mm, height]), _HEADING, small, style)
    for words, one, text in zip(shown, severity, number, strict=False):
        height -= PITCH_MM * mm
        draw_mark(group, np.array([left, height]), one, text, mm, style)
        _write(group, np.array([left + (TEXT_MM - 2.1) * mm, height - small / 2 * mm]), words, small, style)
    if len(shown) < len(lines):
        height -= PITCH_MM * mm
        more = f"and {len(lines) - len(shown)} more, in the table of findings"
        _write(group, np.array([left + (TEXT_MM - 2.1) * mm, height - small / 2 * mm]), more, small, style)
    height -= 0.6 * PITCH_MM * mm
    for one in used:
        height -= PITCH_MM * mm
        draw_mark(group, np.array([left, height]), one, "", mm, style)
        place = np.array([left + (TEXT_MM - 2.1) * mm, height - small / 2 * mm])
        _write(group, place, _WORDS[one], small, style)


def _lines(marks: Any) -> list[str]:
    """What the list says of each mark."""
    rows = marks[["code", "layer", "source_id", "value"]].astype(str).itertuples(index=False)
    return [_cut(_line(*row)) for row in rows]


def _line(code: str, layer: str, source_id: str, value: str) -> str:
    what = code.replace("-", " ")
    where = " ".join(word for word in (layer, source_id) if word)
    return plain_text(f"{what[:1].upper()}{what[1:]}: {where}{', ' if value else ''}{value}")


def _cut(words: str) -> str:
    """Leave out the end of a line that is too long for the list."""
    most = 58
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _shapes_in_words() -> list[str]:
    return [*_WORDS.values(), _HEADING]


def draw_mark(group: Group, place: np.ndarray, severity: str, text: str, mm: float, style: Style) -> None:
    group.add(
        Polygon(
            place + _CORNERS[severity] * mm,
            closed=True,
            facecolor=style.paper,
            edgecolor=style.ink,
            linewidth=points_from_mm(LINE_MM),
            joinstyle="round",
            clip_on=False,
            snap=False,
        )
    )
    if text:
        high = 1.8 if len(text) < 3 else 1.4
        start = place - np.array([length_mm(text, high) / 2, high / 2]) * mm
        _write(group, start, text, high, style)


def _write(group: Group, place: np.ndarray, words: str, height_mm: float, style: Style) -> None:
    group.add(
        Text(
            place[0],
            place[1],
            words,
            fontproperties=font(height_mm),
            color=style.ink,
            ha="left",
            va="baseline",
            parse_math=False,
            clip_on=False,
        )
    )


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
