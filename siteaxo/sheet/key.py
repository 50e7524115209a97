"""
The key to a drawing: legend, scale bar and north arrow.

All of it is drawn on axes whose units are millimetres from the sheet's lower left corner.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon

from ..angles import cos_deg, sin_deg
from ..craft.style import Style
from ..source.roles import ROLES
from ..units import points_from_mm
from .lettering import RULE_MM, SMALL_MM, USUAL_MM, letter, rule, rule_box
from .page import Box, Placement
from .paths import id_from

_BAR_MM: Final = 50.0
_RING_MM: Final = 7.0
_PITCH_MM: Final = 4.8
_COLUMN_MM: Final = 25.0
_SWATCH_MM: Final = (6.0, 3.2)
_TOPS: Final = ("top", "tread", "roof", "slope", "floor")
_LEAST_SHARE: Final = 0.05
"""Share of a role's area below which a tone is left out of its swatch."""

LegendRow = tuple[str, tuple[str, ...] | None]
"""Name and tones; no tones are a dashed line, None is a name alone."""


def bar_length(scale: float, room_mm: float = _BAR_MM) -> tuple[float, int]:
    """
    Length of a scale bar and the number of its parts.

    Parameters
    ----------
    scale : float
        The x of 1:x.
    room_mm : float
        Greatest length on paper [mm].

    Returns
    -------
    length : float
        1, 2 or 5 times a power of ten [m at full size].
    parts : int
        Parts of a round length each.

    Examples
    --------
    >>> bar_length(200)
    (10.0, 5)
    """
    most = room_mm * scale / 1000 * (1 + 1e-12)
    power = 10.0 ** np.floor(np.log10(most))
    step = max(one for one in (1, 2, 5) if one * power <= most)
    return float(step * power), {1: 5, 2: 4, 5: 5}[step]


def scale_bar(
    axes: Axes, left: float, bottom: float, placement: Placement, style: Style, note: str = ""
) -> None:
    """
    Draw a bar of alternating parts with their metres.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    left, bottom : float
        Where its lower left corner lies [mm].
    placement : Placement
        The scale.
    style : Style
        Ink and paper.
    note : str
        A line beneath it.
    """
    length, parts = bar_length(placement.scale)
    part_mm = length * 1000 / placement.scale / parts
    for part in range(parts):
        fill = style.paper if part % 2 else style.ink
        box = Box(left=left + part * part_mm, bottom=bottom, width=part_mm, height=1.5)
        rule_box(axes, box, RULE_MM, style.ink, f"scale_bar_{part}", fill=fill)
    for tick in range(parts + 1):
        x = left + tick * part_mm
        text = f"{length * tick / parts:g}"
        letter(axes, x, bottom + 3.0, text, SMALL_MM, colour=style.ink, room_mm=part_mm, align="center")
    letter(axes, left + parts * part_mm + 3.4, bottom + 3.0, "m", SMALL_MM, colour=style.ink, room_mm=8.0)
    letter(axes, left, bottom - 3.6, note, SMALL_MM, colour=style.ink, room_mm=_BAR_MM + 10.0)


def north_arrow(axes: Axes, x: float, y: float, north_angle: float, style: Style) -> None:
    """
    Draw an arrow to true north.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    x, y : float
        Middle of the arrow [mm].
    north_angle : float
        Direction of true north on the sheet [degrees anticlockwise from right].
    style : Style
        Ink and paper.
    """
    along = np.array([cos_deg(north_angle), sin_deg(north_angle)])
    across = np.array([-along[1], along[0]])
    middle = np.array([x, y])
    tail, neck, tip = (middle + reach * along for reach in (-_RING_MM, 2.0, _RING_MM))
    width = points_from_mm(RULE_MM)
    axes.add_artist(
        Circle(
            (x, y),
            _RING_MM,
            fill=False,
            edgecolor=style.ink,
            linewidth=width,
            clip_on=False,
            gid="north_ring",
        )
    )
    rule(axes, [tail[0], neck[0]], [tail[1], neck[1]], 0.35, style.ink, gid="north_shaft")
    head = np.array([tip, neck + 1.6 * across, neck - 1.6 * across])
    axes.add_artist(
        Polygon(
            head, closed=True, facecolor=style.ink, linewidth=0.0, clip_on=False, snap=False, gid="north_head"
        )
    )
    mark = middle + (_RING_MM + 2.6) * along
    letter(
        axes, mark[0], mark[1] - USUAL_MM / 2, "N", USUAL_MM, colour=style.ink, room_mm=8.0, align="center"
    )


def legend_rows(faces: Any) -> list[LegendRow]:
    """
    Return the roles that are seen, each with the tones of its tops.

    Parameters
    ----------
    faces : GeoDataFrame
        With the columns geometry, role, part and fill.

    Returns
    -------
    list of (role, colours)
        Roles in the order in which they are stacked, up to three tones each, the one
        that shows most first; where no top is seen, the tone that shows most of the
        rest. Empty when all faces have one tone.
    """
    if faces["fill"].nunique() < 2:
        return []
    tops = faces["part"].isin(_TOPS)
    area = shapely.area(np.asarray(faces.geometry.array))
    table = faces[["role", "fill"]].assign(area=area)
    rows: list[LegendRow] = []
    for role in table["role"].unique():
        own = table["role"] == role
        seen, most = (table[own & tops], 3) if (own & tops).any() else (table[own], 1)
        sums = seen.groupby("fill", sort=True)["area"].sum().sort_values(ascending=False, kind="stable")
        shown = sums.index[sums.to_numpy() > _LEAST_SHARE * sums.sum()]
        rows.append((str(role), tuple(shown[:most])))
    return sorted(rows, key=lambda row: (ROLES[row[0]].order if row[0] in ROLES else len(ROLES), row[0]))


def legend(axes: Axes, box: Box, rows: list[LegendRow], style: Style, *, hidden: bool) -> None:
    """
    Draw a swatch and a name for every role, column by column.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    box : Box
        Room for it; what finds no room is counted in the last line.
    rows : list of (role, colours)
        What to show; a swatch is divided among the tones of its role.
    style : Style
        Ink.
    hidden : bool
        Explain the dashed line too.
    """
    per_column = int((box.height - _PITCH_MM) // _PITCH_MM)
    most = per_column * max(1, int(box.width // _COLUMN_MM))
    names = [*rows, ("hidden line", ())] if hidden else list(rows)
    if len(names) > most:
        names = [*names[: most - 1], (f"and {len(names) - most + 1} more", None)]
    top = box.top - (box.height - per_column * _PITCH_MM + _PITCH_MM - _SWATCH_MM[1]) / 2
    for place, (name, tones) in enumerate(names):
        x = box.left + (place // per_column) * _COLUMN_MM
        y = top - (place % per_column) * _PITCH_MM - _SWATCH_MM[1]
        _entry(axes, x, y, name, tones, style)


def _entry(axes: Axes, x: float, y: float, name: str, tones: tuple[str, ...] | None, style: Style) -> None:
    """Draw one line of the legend: tones, or a dash for no tones, or nothing, and a name."""
    width, height = _SWATCH_MM
    if tones:
        box = Box(left=x, bottom=y, width=width, height=height)
        _swatch(axes, box, tones, style, f"legend_{id_from(name)}")
    elif tones is not None:
        middle = y + height / 2
        hidden_mm = style.weights.of("hidden", 200.0)
        rule(axes, [x, x + width], [middle, middle], hidden_mm, style.hidden_ink, dashed=True)
    base = y + (height - SMALL_MM) / 2
    room = _COLUMN_MM - width - 3.0
    letter(axes, x + width + 2.0, base, name.capitalize(), SMALL_MM, colour=style.ink, room_mm=room)


def _swatch(axes: Axes, box: Box, tones: tuple[str, ...], style: Style, gid: str) -> None:
    """Draw a rectangle divided evenly among some tones."""
    width = box.width / len(tones)
    for place, fill in enumerate(tones):
        part = Box(left=box.left + place * width, bottom=box.bottom, width=width, height=box.height)
        rule_box(axes, part, 0.0, style.ink, f"{gid}_{place}", fill=fill)
    rule_box(axes, box, 0.13, style.ink, gid)
