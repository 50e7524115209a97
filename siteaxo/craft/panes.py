"""
Translucent panels as drawn: a light tone over what stands behind them, cut by what stands before.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.stack import Stack
from ..view.resolve import Drawing
from .rows import Rows, rows_of
from .style import Style

SHOWS_THROUGH: Final = 0.45  # opacity of panels
LINE_MM: Final = 0.13
MATERIAL: Final = "glass"  # where none is given


def panel_rows(stack: Stack, seen: Drawing, style: Style) -> Rows:
    """
    Make rows of what is seen of panels.

    Parameters
    ----------
    stack : Stack
        The solids of the site.
    seen : Drawing
        Their part of a drawing of the site with them; its faces are rows of the panels' own.
    style : Style
        Tones and ink.

    Returns
    -------
    Rows
        Areas with a line around them; their ``kind`` is "panel".
    """
    there = np.flatnonzero(~shapely.is_empty(seen.visible.polygon))
    feature = stack.panels.feature[stack.panels.faces.solid[seen.face[there]]]
    shapes = seen.visible.polygon[there]
    names = np.array([key.role.name for key in stack.features.layers], dtype=object)
    pairs = zip(names[stack.features.layer[feature]], stack.features.material[feature], strict=True)
    fills = [style.top(str(role), str(material) or MATERIAL) for role, material in pairs]
    return rows_of(
        stack,
        feature,
        shapes,
        kind="panel",
        fill=np.array(fills, dtype=object),
        colour=style.fine_ink,
        line_mm=LINE_MM,
        opacity=SHOWS_THROUGH,
        draw_order=0,
    )
