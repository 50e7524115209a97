"""
The table of labels drawn over everything else.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.text import Text

from .behind import grounds
from .groups import Group
from .lettering import font
from .paths import TABLE_NAMES, Ink, draw_extra


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
    for row, corners in zip(texts.itertuples(index=False), grounds(texts, scale=scale), strict=True):
        if row.fill:
            name = ink.name("labels_ground", TABLE_NAMES["labels"], "")
            look = {"facecolor": row.fill, "linewidth": 0.0, "clip_on": False, "snap": False}
            group.add(Polygon(corners, closed=True, gid=name, **look))
    if len(stroked):
        draw_extra(group, stroked, ink, table="labels")
    for row in texts.itertuples(index=False):
        group.add(_text(row))


def _text(row: Any) -> Text:
    start, end = shapely.get_coordinates(row.geometry)[[0, -1]]
    turn = float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])))
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
