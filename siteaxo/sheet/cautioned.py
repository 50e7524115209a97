"""
Marks of cautions on a drawing, and the list of them beside it with the rules they come from.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.text import Text

from ..craft.style import Style
from ..diagram.layers import DiagramLayers, ViewRecord
from ..diagram.tables import extra_table
from .callouts import page_of
from .groups import Group
from .lettering import font, length_mm
from .noticed import APART_MM, GAP_MM, TEXT_MM, draw_mark, noticed_mm, set_apart
from .page import Placement, Sheet
from .paths import TABLE_NAMES, Ink
from .words import plain_text

TABLE: Final = "caution_marks"
EDGE_MM: Final = 0.7
"""Width of the line along an edge that a caution is about [mm]."""
PITCH_MM: Final = 8.4
"""From one entry of the list to the next [mm]."""
MOST_MM: Final = 90.0
"""Greatest length of its lines [mm]."""
WIDE: Final = 1.06
"""Letters on a screen run so much wider than measured, at most [-]."""
HEADING: Final = "Cautions"
CLOSING: Final = (
    "Check local codes. A place without",
    "a mark is not thereby in order. Edges of",
    "the site itself are not looked at.",
)


def caution_marks(cautions: Any, diagram: DiagramLayers, style: Style) -> Any:
    """
    Put cautions onto the page.

    Parameters
    ----------
    cautions : GeoDataFrame
        As :func:`siteaxo.measure.cautions.cautions` lists them.
    diagram : DiagramLayers
        The drawing.
    style : Style
        Its ink.

    Returns
    -------
    GeoDataFrame
        A point for each, and a line along the stretch of edge that one is about, in page
        metres, with number, severity, code, subject, figure, rule, message, and how far what was
        measured is beyond its limit.
    """
    place = np.asarray(cautions.geometry.array, dtype=object)
    level, lift = cautions["level"].to_numpy(dtype=float), _lifts(cautions, diagram)
    edge = np.flatnonzero(shapely.get_dimensions(place) == 1)
    shapes = [
        _onto_page(_middles(place), level, lift, diagram.view),
        _onto_page(place[edge], level[edge], lift[edge], diagram.view),
    ]
    rows = np.concatenate([np.arange(len(place)), edge])
    names = ("layer", "source_id", "role", "code", "subject", "figure", "rule", "message")
    columns = {name: cautions[name].to_numpy(dtype=object)[rows] for name in names}
    line = np.arange(len(rows)) >= len(place)
    beyond = np.abs(cautions["value"] - cautions["limit"]).to_numpy(dtype=float)[rows]
    return extra_table(
        np.concatenate(shapes),
        **columns,
        kind=np.where(line, "caution edge", "caution").astype(object),
        beyond=beyond,
        number=cautions["number"].to_numpy(dtype=np.int64)[rows],
        severity=np.full(len(rows), "warning", dtype=object),
        line_mm=np.where(line, EDGE_MM, 0.0),
        colour=np.where(line, style.ink, "").astype(object),
        draw_order=np.zeros(len(rows), dtype=np.int64),
    )


def _lifts(cautions: Any, diagram: DiagramLayers) -> np.ndarray:
    """How far the feature of each caution is lifted in an exploded view [m]."""
    plan = diagram.plan
    if "lift_m" not in plan:
        return np.zeros(len(cautions))
    keys = ["layer", "source_id"]
    lift = plan.astype(dict.fromkeys(keys, str)).groupby(keys)["lift_m"].first()
    wanted = pd.MultiIndex.from_frame(cautions[keys].astype(str))
    return np.nan_to_num(lift.reindex(wanted).to_numpy(dtype=float))


def _middles(place: np.ndarray) -> np.ndarray:
    line = shapely.get_dimensions(place) == 1
    inside = shapely.point_on_surface(place)
    inside[line] = shapely.line_interpolate_point(place[line], 0.5, normalized=True)
    return inside


def _onto_page(place: np.ndarray, level: np.ndarray, lift: np.ndarray, view: ViewRecord) -> np.ndarray:
    """Places on the page, lifted; those along what rises carry their own levels."""
    xyz, owner = shapely.get_coordinates(place, include_z=True, return_index=True)
    own = np.where(np.isnan(xyz[:, 2]), level[owner], xyz[:, 2])
    page = page_of(np.column_stack([xyz[:, :2], own + lift[owner]]), view)
    return np.asarray(shapely.set_coordinates(shapely.force_2d(place), page), dtype=object)


def cautioned_mm(diagram: DiagramLayers, sheet: str) -> float:
    """Width that the list takes up, 0 where no cautions are marked [mm]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    lines = [line for entry in _entries(marks, small) for line in entry[1:]]
    widest = max(length_mm(words, small) for words in (*lines, *CLOSING))
    return GAP_MM + TEXT_MM + WIDE * min(widest, MOST_MM)


def _entries(marks: Any, height: float) -> list[tuple[int, str, str]]:
    """Number, what and where, and rule of each entry of the list."""
    entries = []
    points = marks[marks["kind"] == "caution"]
    for number, rows in points.groupby("number", sort=True):
        first = rows.iloc[int(rows["beyond"].to_numpy(dtype=float).argmax())]
        where = f"{first['layer']} {first['source_id']}"
        if len(rows) > 1:
            where = f"{first['layer']}, {len(rows)} places, most at {first['source_id']}"
        what = f"{first['subject']}: {where}, {first['figure']}"
        rule = str(first["rule"])
        entries.append((int(str(number)), _cut(plain_text(what), height), _cut(plain_text(rule), height)))
    return entries


def _cut(words: str, height: float) -> str:
    """Leave out the end of a line that is too long for the list."""
    if length_mm(words, height) <= MOST_MM:
        return words
    while words and length_mm(f"{words}…", height) > MOST_MM:
        words = words[:-1]
    return f"{words.rstrip()}…"


def draw_cautioned(axes: Axes, diagram: DiagramLayers, placement: Placement, style: Style, ink: Ink) -> None:
    """
    Draw marks over everything else, and the list at the right of the drawing.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in page metres.
    diagram : DiagramLayers
        The drawing; without the table of caution marks nothing is drawn.
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
    group = Group(axes, ink.name(f"{TABLE}_numbers", TABLE_NAMES[TABLE], ""), 4.1)
    mm = placement.scale / 1000
    points = marks[marks["kind"] == "caution"]
    at = shapely.get_coordinates(np.asarray(points.geometry.array, dtype=object))
    number = points["number"].to_numpy()
    kept = _not_crowded(at, number, APART_MM * mm)
    for place, one in zip(set_apart(at[kept], APART_MM * mm), number[kept], strict=True):
        draw_mark(group, place, "warning", str(one), mm, style)
    _list(group, diagram, placement, style, _entries(marks, placement.sheet.lettering_mm))


def _not_crowded(at: np.ndarray, number: np.ndarray, least: float) -> np.ndarray:
    """Rows without those that lie close to an earlier one of the same number."""
    kept: list[int] = []
    for k in range(len(at)):  # a few dozen marks
        near = [j for j in kept if number[j] == number[k] and np.hypot(*(at[j] - at[k])) < least]
        if not near:
            kept.append(k)
    return np.array(kept, dtype=np.int64)


def _list(
    group: Group,
    diagram: DiagramLayers,
    placement: Placement,
    style: Style,
    entries: list[tuple[int, str, str]],
) -> None:
    mm, small, sheet = placement.scale / 1000, placement.sheet.lettering_mm, placement.sheet.name
    _, bottom, right, top = placement.window
    width = cautioned_mm(diagram, sheet) + noticed_mm(diagram, sheet)
    left = right - (width - GAP_MM + 4.0) * mm
    most = int(((top - bottom) / mm - 30.0) // PITCH_MM)
    shown = entries if len(entries) <= most else entries[: max(most - 1, 0)]
    y = top - 12.0 * mm
    _write(group, np.array([left - 2.1 * mm, y]), HEADING, small, style.ink)
    text = left + (TEXT_MM - 2.1) * mm
    for number, what, rule in shown:
        y -= PITCH_MM * mm
        draw_mark(group, np.array([left, y]), "warning", str(number), mm, style)
        _write(group, np.array([text, y + 0.5 * mm]), what, small, style.ink)
        _write(group, np.array([text, y - (small + 0.9) * mm]), rule, small, style.hidden_ink)
    if len(shown) < len(entries):
        y -= PITCH_MM * mm
        more = f"and {len(entries) - len(shown)} more, in the table of cautions"
        _write(group, np.array([text, y]), more, small, style.ink)
    y -= PITCH_MM * mm
    for line in CLOSING:
        _write(group, np.array([left - 2.1 * mm, y]), line, small, style.ink)
        y -= (small + 1.6) * mm


def _write(group: Group, place: np.ndarray, words: str, height_mm: float, colour: str) -> None:
    group.add(
        Text(
            place[0],
            place[1],
            words,
            fontproperties=font(height_mm),
            color=colour,
            ha="left",
            va="baseline",
            parse_math=False,
            clip_on=False,
        )
    )
