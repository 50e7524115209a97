"""
Marks where something was noticed in the data, and the list of them beside the drawing.

The shape of a mark tells how much it matters: a circle informs, a diamond warns, a square is
an error; triangles are cautions. What was noticed of several features of one layer has one
number and one entry: its number is the row of the first of them in the table of findings.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..units import said_again
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
_KIND: Final = ["severity", "code", "layer"]
_SHAPES: Final = {"error": "squares", "warning": "diamonds", "info": "circles"}
_WORDS: Final = {"error": "error", "warning": "warning", "info": "for information"}


def noticed_mm(diagram: DiagramLayers, sheet: str) -> float:
    """Width that the list takes up, 0 where no findings are marked [mm]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    lines = [line for entry in _entries(marks, small, diagram.unit) for line in entry.lines]
    widest = max(length_mm(words, small) for words in [*lines, _heading(marks), *_WORDS.values()])
    return GAP_MM + TEXT_MM + min(widest, MOST_MM - TEXT_MM)


def noticed_at(diagram: DiagramLayers, mm: float) -> np.ndarray:
    """Places of the marks drawn, where a millimetre of paper is *mm*, shape (n, 2) [m on the page]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return np.empty((0, 2))
    return _drawn(marks, mm)[0]


def _drawn(marks: Any, mm: float) -> tuple[np.ndarray, pd.DataFrame]:
    """Places of the marks that are drawn, apart from one another [m on the page], and their rows."""
    at = shapely.get_coordinates(np.asarray(marks.geometry.array, dtype=object))
    rows = pd.DataFrame({"severity": marks["severity"].astype(str), "number": _numbers(marks)})
    kept = not_crowded(at, rows["number"].to_numpy(), APART_MM * mm)
    return set_apart(at[kept], APART_MM * mm), rows.iloc[kept]


def _numbers(marks: Any) -> Any:
    """The number of each mark: that of the first of its kind in its layer."""
    return marks.groupby(_KIND, sort=False)["number"].transform("min")


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
    at, rows = _drawn(marks, mm)
    for place, one, number in zip(at, rows["severity"], rows["number"], strict=True):
        draw_mark(group, place, one, str(number), mm, style)
    entries = _entries(marks, placement.sheet.lettering_mm, diagram.unit)
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


def _entries(marks: Any, small: float, unit: str) -> list[Entry]:
    """What the list says of each number."""
    return [
        Entry(
            shape=str(rows["severity"].iloc[0]),
            number=str(number),
            lines=lines_of(_line(rows, unit), small, MOST_MM - TEXT_MM, _TABLE_IN_WORDS),
        )
        for number, rows in marks.groupby(_numbers(marks), sort=True)
    ]


def _line(rows: Any, unit: str) -> str:
    """What was noticed, where, and the value if it is one."""
    code, layer, first = (str(rows[name].iloc[0]) for name in ("code", "layer", "source_id"))
    values = set(rows["value"].astype(str))
    value = values.pop() if len(values) == 1 else ""
    what = code.replace("-", " ")
    where = " ".join(word for word in (layer, first) if word)
    if len(rows) > 1:
        where = f"{layer}, {len(rows)} places, first at {first}"
    return plain_text(
        f"{what[:1].upper()}{what[1:]}: {where}{', ' if value else ''}{said_again(value, unit)}"
    )


def _heading(marks: Any) -> str:
    """What the list is, and the shapes of its marks."""
    shown = set(marks["severity"])
    return f"Findings: {', '.join(word for one, word in _SHAPES.items() if one in shown)}"


def not_crowded(at: np.ndarray, number: np.ndarray, least: float) -> np.ndarray:
    """Rows without those that lie close to an earlier one of the same number."""
    kept: list[int] = []
    for one in np.unique(number):
        rows = np.flatnonzero(number == one)
        while len(rows):  # as many times as there are marks of one number on a sheet
            kept.append(int(rows[0]))
            rows = rows[np.hypot(*(at[rows] - at[rows[0]]).T) >= least]
    return np.array(sorted(kept), dtype=np.int64)


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
