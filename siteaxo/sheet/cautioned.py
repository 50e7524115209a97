"""
Marks of cautions on a drawing, and the list of them beside it with the rules they come from.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers, ViewRecord
from ..diagram.sight_lines import seen_of_edges
from ..diagram.tables import extra_table
from ..units import length_words
from .ends import count_in_words
from .groups import Group
from .lettering import WIDE, length_mm
from .mark_list import HALF_MM, TEXT_MM, Entry, draw_entries, draw_mark, lines_of, write
from .noticed import APART_MM, GAP_MM, not_crowded, noticed_at, noticed_mm, set_apart
from .page import Placement, Sheet
from .paths import TABLE_NAMES, Ink
from .wrapping import wrapped

TABLE: Final = "caution_marks"
EDGE_MM: Final = 0.7
"""Width of the line along an edge that a caution is about [mm]."""
HEAD_MM: Final = 12.0
"""From the top of the drawing to the heading of the list [mm]."""
BELOW_MM: Final = 8.4
"""From there to its first mark [mm]."""
MOST_MM: Final = 90.0
"""Greatest length of its lines [mm]."""
HEADING: Final = "Cautions: triangles"
_TABLE_IN_WORDS: Final = "table of cautions"
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
        A point for each, and a line along what is seen of the stretch of edge that one is about, in page
        metres, with number, severity, code, subject, figure as it is printed, rule, message, and how
        far what was measured is beyond its limit.
    """
    place = np.asarray(cautions.geometry.array, dtype=object)
    level, lift = cautions["level"].to_numpy(dtype=float), _lifts(cautions, diagram)
    edge = np.flatnonzero(shapely.get_dimensions(place) == 1)
    at = _onto_page(_middles(place), level, lift, diagram.view)
    along = _onto_page(place[edge], level[edge], lift[edge], diagram.view)
    seen = seen_of_edges(along, diagram.faces, diagram.view)
    some = ~shapely.is_empty(seen)
    edge, seen = edge[some], seen[some]
    at[edge] = _middles(_longest(seen))
    shapes = [shapely.force_2d(at), seen]
    rows = np.concatenate([np.arange(len(place)), edge])
    names = ("layer", "source_id", "role", "code", "subject", "figure", "rule", "message")
    columns = {name: cautions[name].to_numpy(dtype=object)[rows] for name in names}
    columns["figure"] = _figures(cautions, diagram.unit)[rows]
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


def _figures(cautions: Any, unit: str) -> np.ndarray:
    """What was measured, lengths as the drawing speaks of them."""
    said = cautions["figure"].to_numpy(dtype=object).copy()
    if unit == "m":
        return said
    for row in np.flatnonzero((cautions["unit"] == "m").to_numpy()):  # a few dozen
        said[row] = length_words(float(cautions["value"].iloc[row]), unit, decimals=3)
    return said


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


def _longest(lines: np.ndarray) -> np.ndarray:
    """The longest part of each line."""
    part, owner = shapely.get_parts(lines, return_index=True)
    order = np.lexsort((shapely.length(part), owner))
    last = np.append(owner[order][1:] != owner[order][:-1], True)[: len(part)]
    return np.asarray(part[order[last]], dtype=object)


def _onto_page(place: np.ndarray, level: np.ndarray, lift: np.ndarray, view: ViewRecord) -> np.ndarray:
    """Places on the page with their depth as Z, lifted; those along what rises carry their own levels."""
    xyz, owner = shapely.get_coordinates(place, include_z=True, return_index=True)
    own = np.where(np.isnan(xyz[:, 2]), level[owner], xyz[:, 2])
    origin = np.array([view.origin_x, view.origin_y, view.drawn_in_place])
    page = (np.column_stack([xyz[:, :2], own + lift[owner]]) - origin) @ view.matrix.T
    return np.asarray(shapely.set_coordinates(shapely.force_3d(place), page), dtype=object)


def cautioned_mm(diagram: DiagramLayers, sheet: str) -> float:
    """Width that the list takes up, 0 where no cautions are marked [mm]."""
    marks = diagram.extra.get(TABLE)
    if marks is None or not len(marks):
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    lines = [line for entry in _entries(marks, small) for line in (*entry.lines, *entry.quiet)]
    widest = max(length_mm(words, small) for words in (HEADING, *lines, *CLOSING))
    return GAP_MM + TEXT_MM + WIDE * min(widest, MOST_MM)


def _entries(marks: Any, small: float) -> list[Entry]:
    """What and where each entry of the list is, and its rule."""
    entries = []
    points = marks[marks["kind"] == "caution"]
    for number, rows in points.groupby("number", sort=True):
        first = rows.iloc[int(rows["beyond"].to_numpy(dtype=float).argmax())]
        where = f"{first['layer']} {first['source_id']}"
        if len(rows) > 1:
            where = f"{first['layer']}, {len(rows)} places, most at {first['source_id']}"
        what = f"{first['subject']}: {where}, {first['figure']}"
        lines, quiet = (
            lines_of(words, small, MOST_MM, _TABLE_IN_WORDS) for words in (what, str(first["rule"]))
        )
        entries.append(Entry(shape="caution", number=str(number), lines=lines, quiet=quiet))
    return entries


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
    for place, one in zip(*_marked(marks, mm, noticed_at(diagram, mm)), strict=True):
        draw_mark(group, place, "caution", str(one), mm, style)
    _list(group, diagram, placement, style, _entries(marks, placement.sheet.lettering_mm))


def boxes_of_marks(diagram: DiagramLayers, scale: float) -> np.ndarray:
    """
    Room that marks of cautions and findings take on a drawing.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    scale : float
        The x of 1:x.

    Returns
    -------
    ndarray, shape (m, 4)
        Left, bottom, right and top of each [m on the page].
    """
    mm, marks = scale / 1000, diagram.extra.get(TABLE)
    at = noticed_at(diagram, mm)
    if marks is not None and len(marks):
        at = np.concatenate([at, _marked(marks, mm, at)[0]])
    return np.concatenate([at, at], axis=1) + np.array([-3.2, -2.9, 3.2, 3.6]) * mm


def _marked(marks: Any, mm: float, others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Places of the marks that are drawn, shape (n, 2), apart from others [m on the page]; their numbers."""
    points = marks[marks["kind"] == "caution"]
    at = shapely.get_coordinates(np.asarray(points.geometry.array, dtype=object))
    number = points["number"].to_numpy()
    kept = not_crowded(at, number, APART_MM * mm)
    every = set_apart(np.concatenate([others, at[kept]]), APART_MM * mm)
    return every[len(others) :], number[kept]


def _list(
    group: Group, diagram: DiagramLayers, placement: Placement, style: Style, entries: list[Entry]
) -> None:
    """The heading, the entries as far as there is room, and what is not looked at."""
    mm, small, sheet = placement.scale / 1000, placement.sheet.lettering_mm, placement.sheet.name
    _, bottom, right, top = placement.window
    width = cautioned_mm(diagram, sheet) + noticed_mm(diagram, sheet)
    left = right - (width - GAP_MM + 4.0) * mm
    side = left - HALF_MM * mm
    write(group, np.array([side, top - HEAD_MM * mm]), HEADING, small, style.ink)
    first = np.array([left, top - (HEAD_MM + BELOW_MM) * mm])
    step = small + 1.6
    closing = wrapped(count_in_words(diagram), small, cautioned_mm(diagram, sheet) - GAP_MM - TEXT_MM)
    closing = [*closing, *CLOSING]
    room = (first[1] - bottom) / mm - len(closing) * step
    y = draw_entries(
        group, first, entries, room_mm=room, mm=mm, small=small, style=style, table=_TABLE_IN_WORDS
    )
    for line in closing:
        write(group, np.array([side, y]), line, small, style.ink)
        y -= step * mm
