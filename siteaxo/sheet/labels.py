"""
Words on a drawing: level marks, call-outs and dimensions, and where they are placed.

Every row of the table of labels is a line: that on which a text stands, or a leader, a mark,
or a line of a dimension. A text has ``line_mm`` 0 and is not stroked; ``fill`` is the tone of the
halo about its letters, "" where it has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..craft.style import Style
from ..diagram.layers import EXTRA_TABLES, DiagramLayers
from ..errors import Finding
from ..units import length_words, level_words
from .calling import place_callouts
from .callouts import Label, targets_of
from .cautioned import boxes_of_marks
from .dimensions import Dimension, dimension_strokes, figure_of, overall_dimensions
from .ends import SHARED_MM, End, ends_of_ramps, ends_of_steps, mark_ends, no_room
from .label_rows import LEVEL_WAY, PAD_MM, LabelRows
from .leaders import LEADER_MM2, LEVEL_LEADERS_MM, with_leader
from .lettering import LETTERING_MM, length_mm
from .levels import LevelRegion, level_regions, level_tops
from .numbered import left_out, reaches_in
from .page import Placement
from .placing import Room, pole
from .slope_marks import mark_slopes
from .slopes import slope_regions
from .words import plain_text

QUIET_ROLES: Final = ("ground", "terrace", "lawn", "paving", "path")
"""Roles whose faces may carry words about something else, at the end of a leader."""
BUILDINGS: Final = ("structure", "roof", "canopy")
"""Roles that leaders to anything else go round."""
LOW: Final = 2.0
"""A structure lower than this is no building to them [m]."""
CROWNS: Final = ("tree",)
"""Roles each of whose faces a leader rather goes round, as it does people."""
CROSS_MM: Final = 0.9
LEADER_GAP_MM: Final = 0.8


def placed_labels(
    diagram: DiagramLayers,
    placement: Placement,
    style: Style,
    *,
    levels: bool,
    dimensions: bool,
    labels: Sequence[Label] = (),
    hidden: bool = False,
    numbers: dict[str, int] | None = None,
) -> tuple[Any, tuple[Finding, ...]]:
    """
    Place dimensions, call-outs, ramps and steps, other slopes and level marks, in this order.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    placement : Placement
        Its sheet and scale.
    style : Style
        Ink.
    levels, dimensions : bool
        Mark levels and slopes; give overall dimensions.
    labels : sequence of Label
        Call-outs.
    hidden : bool
        Keep away from hidden lines too.
    numbers : dict of str to int, optional
        Numbers that stand for words on the same sheet already; new ones are added.

    Returns
    -------
    labels : GeoDataFrame
        The table of labels. Levels that find no room are not in it.
    findings : tuple of Finding
        Call-outs, and levels of ramps and steps, that are not in it.
    """
    small = placement.sheet.lettering_mm
    rows = LabelRows(
        scale=placement.scale,
        style=style,
        fills=diagram.faces["fill"].to_numpy(dtype=object),
        small_mm=small,
        usual_mm=next(height for height in LETTERING_MM if height > small),
        unit=diagram.unit,
    )
    room = _room(diagram, placement, hidden=hidden)
    if dimensions:
        for one in overall_dimensions(diagram):
            _dimension(rows, room, one)
    known, reaches = {} if numbers is None else numbers, reaches_in(placement.space)
    lost = place_callouts(rows, room, targets_of(tuple(labels), diagram), known, reaches)
    unmarked: list[End] = []
    if levels:
        unmarked = _slopes_and_ends(rows, room, diagram)
        regions = level_regions(diagram.faces, placement.scale, rows.unit)
        outside = [region for region in regions if not _level_inside(rows, room, region)]
        if outside:  # a level that stands on something level would be taken for that one's
            room.quiet[: len(diagram.faces)] &= ~level_tops(diagram.faces)
            room.bar(room.areas[: len(diagram.faces)][(diagram.faces["role"] == "tree").to_numpy()])
        for region in outside:
            _level_beside(rows, room, region)
    return rows.table(), (
        *(left_out(plain_text(one.text), one.layer, one.source_id, reaches[-1]) for one in lost),
        *no_room(unmarked, rows.unit),
    )


def _slopes_and_ends(rows: LabelRows, room: Room, diagram: DiagramLayers) -> list[End]:
    """Mark ramps and flights of steps, then other slopes; return the ends without room for their level."""
    regions = slope_regions(diagram, rows.scale)
    ramps = [one for one in regions if one.role == "ramp"]
    told: set[tuple[str, str, str]] = set()
    mark_slopes(rows, room, ramps, told)
    ends = [*ends_of_ramps(ramps, rows.scale), *ends_of_steps(diagram, rows.scale)]
    tops = np.where(level_tops(diagram.faces), diagram.faces["level_max"].to_numpy(dtype=float), np.nan)
    unmarked = mark_ends(rows, room, ends, told, tops)
    unmarked = mark_ends(rows, room, unmarked, told)  # where there is no other room, on any of them
    mark_slopes(rows, room, (one for one in regions if one.role != "ramp"), told)
    return unmarked


def _room(diagram: DiagramLayers, placement: Placement, *, hidden: bool) -> Room:
    edges = diagram.edges
    drawn = edges[edges["drawn"].to_numpy() == 1] if "drawn" in edges else edges
    lines = [np.asarray(drawn.geometry.array, dtype=object)]
    if hidden:
        lines.append(np.asarray(diagram.hidden_edges.geometry.array, dtype=object))
    areas = [np.asarray(diagram.faces.geometry.array, dtype=object)]
    shadows = diagram.extra.get("shadows")
    for name, frame in diagram.extra.items():
        if EXTRA_TABLES[name].over == "edges" and name != "labels" and len(frame):
            shapes = np.asarray(frame.geometry.array, dtype=object)
            flat = shapely.get_dimensions(shapes) == 2
            areas.append(shapes[flat])
            lines.append(np.where(flat, shapely.boundary(shapes), shapes))
            lines.append(shapes[flat])  # nothing is written on a tree or a person
    margin, gap = 2.0 * placement.scale / 1000, LEADER_GAP_MM * placement.scale / 1000
    left, bottom, right, top = placement.window
    window = (left + margin, bottom + margin, right - margin, top - margin)
    every = np.concatenate(areas)
    quiet = np.zeros(len(every), dtype=bool)
    quiet[: len(diagram.faces)] = diagram.faces["role"].isin(QUIET_ROLES).to_numpy()
    surface = _surfaces(diagram.faces, len(every))
    dark = np.empty(0, dtype=object) if shadows is None else np.asarray(shadows.geometry.array, dtype=object)
    shades = [] if shadows is None else list(zip(shadows["fill"], shadows["opacity"], strict=True))
    built, crowns = (areas[0][rows] for rows in (_built(diagram), diagram.faces["role"].isin(CROWNS)))
    return Room(
        lines=np.concatenate(lines),
        areas=every,
        quiet=quiet,
        window=window,
        shadows=dark,
        shades=shades,
        gap=gap,
        built=built,
        marks=boxes_of_marks(diagram, placement.scale),
        standing=np.concatenate([crowns, *areas[1:]]),
        surface=surface,
    )


def _built(diagram: DiagramLayers) -> np.ndarray:
    """Which faces are those of buildings; a structure that is low, such as a stone or a stage, is none."""
    faces, plan, keys = diagram.faces, diagram.plan, ["layer", "source_id"]
    low = plan[~(plan["top"] - plan["base"] >= LOW) & (plan["role"] == "structure")]
    stands_low = pd.MultiIndex.from_frame(faces[keys].astype(str)).isin(
        pd.MultiIndex.from_frame(low[keys].astype(str))
    )
    return faces["role"].isin(BUILDINGS).to_numpy() & ~stands_low


def _surfaces(faces: Any, count: int) -> np.ndarray:
    """Numbers of *count* areas: one for all that is seen from above of one feature that may carry words."""
    number = np.arange(count)
    above = np.flatnonzero(faces["role"].isin(QUIET_ROLES) & (faces["part"] != "side"))
    keys = ["layer", "source_id"]
    number[above] = above[faces.iloc[above].groupby(keys, sort=False, observed=True).ngroup().to_numpy()]
    return number


def _level_inside(rows: LabelRows, room: Room, region: LevelRegion) -> bool:
    """Put a cross and a level where they hide nothing, if there is a place and no end near it says it."""
    mm, text = rows.scale / 1000, level_words(region.level, rows.unit)
    half = rows.small_mm / 2
    width = length_mm(text, rows.small_mm)
    extent = np.array([-CROSS_MM - PAD_MM, -half - PAD_MM, 1.7 + width + PAD_MM, half + PAD_MM])
    place = room.inside(region.region, extent * mm, 1.5 * mm)
    if place is None:
        return False
    if rows.says_near(text, "slope level", place, SHARED_MM * mm):
        return True
    box = np.concatenate([place, place]) + extent * mm
    what = {**_feature(region), "kind": "level"}
    look = rows.look_on(room, box)
    room.take(box)
    rows.line(_mark(place, mm, region.role), {**what, "kind": "level mark", "colour": look["colour"]})
    rows.words(text, place + np.array([1.7, -half]) * mm, LEVEL_WAY, rows.small_mm, {**what, **look})
    return True


def _level_beside(rows: LabelRows, room: Room, region: LevelRegion) -> None:
    """Put a level at the end of a leader to a region that is large enough to be worth it."""
    mm = rows.scale / 1000
    if region.region.area < LEADER_MM2 * mm**2:
        return
    target = pole(region.region)
    arm = np.array([CROSS_MM, CROSS_MM]) * mm
    if not room.free(np.concatenate([target - arm, target + arm])[None])[0]:
        return
    what = {**_feature(region), "kind": "level"}
    mark = _mark(target, mm, region.role)
    text = level_words(region.level, rows.unit)
    placed = with_leader(rows, room, target[None], text, rows.small_mm, what, LEVEL_LEADERS_MM, mark=mark)
    if placed:
        room.take(np.concatenate([target - arm, target + arm]))


def _feature(of: LevelRegion) -> dict[str, Any]:
    return {"layer": of.layer, "source_id": of.source_id, "role": of.role}


def _mark(place: np.ndarray, mm: float, role: str) -> np.ndarray:
    """A cross, or for water a triangle that stands on its point."""
    if role == "water":
        a, b = CROSS_MM * mm, 1.5 * CROSS_MM * mm
        corners = place + np.array([[-a, b * 0.6], [a, b * 0.6], [0.0, -b * 0.4]])
        return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    arm = CROSS_MM * mm
    return place + np.array([[[-arm, 0.0], [arm, 0.0]], [[0.0, -arm], [0.0, arm]]])


def _dimension(rows: LabelRows, room: Room, one: Dimension) -> None:
    """Draw a dimension and its figure, readable from the bottom or the right."""
    mm = rows.scale / 1000
    what = {"layer": "", "source_id": "", "role": "", "kind": "dimension"}
    strokes = dimension_strokes(one, rows.scale)
    rows.line(strokes, what)
    text = length_words(one.length, rows.unit)
    size = np.array([length_mm(text, rows.small_mm), rows.small_mm]) * mm
    start, along = figure_of(strokes[2], one.outward, size, mm)
    rows.words(text, start, along, rows.small_mm, what)
    above = np.array([-along[1], along[0]])
    corners = start + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size @ np.array([along, above])
    room.take(np.concatenate([corners.min(axis=0), corners.max(axis=0)]))
    room.leaders.extend(strokes)
