"""
The table of labels drawn over everything else.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.text import Text
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D

from ..units import points_from_mm
from .groups import Group
from .lettering import font, shown
from .paths import TABLE_NAMES, Ink, draw_extra

HALO: Final = 0.22
"""How far a halo reaches beyond letters, as a share of their height [-]."""


def draw_labels(axes: Axes, table: Any, ink: Ink, *, scale: float) -> None:
    """
    Draw the table of labels over everything else.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in page metres.
    table : GeoDataFrame
        The labels.
    ink : Ink
        What has been drawn.
    scale : float
        The x of 1:x.
    """
    if not len(table):
        return
    group = Group(axes, ink.name("labels", TABLE_NAMES["labels"], ""), 3.0)
    stroked = table[table["line_mm"].to_numpy(dtype=float) > 0]
    texts = table[table["line_mm"].to_numpy(dtype=float) == 0]
    for row in texts.itertuples(index=False):
        if row.fill:
            group.add(_halo(row, ink.name("labels_ground", TABLE_NAMES["labels"], ""), scale))
    if len(stroked):
        draw_extra(group, stroked, ink, table="labels")
    for row in texts.itertuples(index=False):
        group.add(_text(row))


def _halo(row: Any, name: str, scale: float) -> PathPatch:
    """Outlines of the letters of a text, stroked so wide that they lie about them."""
    start, turn = _stands(row)
    letters = TextPath((0.0, 0.0), shown(row.text), prop=font(row.height_mm))
    way = Affine2D().scale(scale / 1000 / points_from_mm(1.0)).rotate_deg(turn).translate(*start)
    return PathPatch(
        letters.transformed(way),
        facecolor=row.fill,
        edgecolor=row.fill,
        linewidth=points_from_mm(2 * HALO * row.height_mm),
        joinstyle="round",
        clip_on=False,
        snap=False,
        gid=name,
    )


def _stands(row: Any) -> tuple[np.ndarray, float]:
    """Where a text begins [m], and the direction in which it is read [degrees]."""
    start, end = shapely.get_coordinates(row.geometry)[[0, -1]]
    return start, float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])))


def _text(row: Any) -> Text:
    start, turn = _stands(row)
    return Text(
        start[0],
        start[1],
        row.text,
        fontproperties=font(row.height_mm),
        color=row.colour,
        ha="left",
        va="baseline",
        rotation=turn,
        rotation_mode="anchor",
        parse_math=False,
        clip_on=False,
    )
