"""
People and planting at the scale of a sheet: widths of their lines, and which of them are drawn.

Their geometry is made once. At another scale lines take the widths of that scale, strokes of
foliage that would crowd on paper give way, and small figures are told by their tones alone, or by
one grey in a style that has none.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from .style import Style

SHADE: Final = "shade"
"""Kind of the rows of soft shade on crowns."""
OUTLINED: Final = 250.0  # at 1:x beyond this, tones alone tell figures [-]
DRAWN: Final = (
    500.0  # at 1:x beyond this, figures without tones are grey shapes: outlines would fill them [-]
)
APART_MM: Final = 1.4  # least distance of strokes of foliage on paper [mm]
CELL_SHARE: Final = 1.1
"""Side of the cells of paper that hold one stroke each, as a share of the least distance."""


def rescaled(name: str, table: Any, style: Style, *, scale: float) -> Any:
    """
    Give a table of people or planting the widths of a scale; others are left as they are.

    Parameters
    ----------
    name : str
        Name of the table.
    table : GeoDataFrame
        With EXTRA_COLUMNS.
    style : Style
        The look.
    scale : float
        The x of 1:x.

    Returns
    -------
    GeoDataFrame
        With the column ``drawn``: 0 for what is left out at this scale.
    """
    if name not in ("people", "planting") or not len(table):
        return table
    width = table["line_mm"].to_numpy(dtype=float)
    line = width > 0
    kind = table["kind"].to_numpy(dtype=str)
    fine = style.weights.of("pattern", scale)
    outline = style.weights.widths(["edge"], roles=["tree"], scale=scale)[0]
    drawn = np.ones(len(table), dtype=np.int64)
    if name == "people":
        drawn[line & (scale > (OUTLINED if style.tones else DRAWN))] = 0
        table = table if style.tones else table.assign(fill=_plain_fills(table["fill"], style, scale))
    else:
        strokes = np.flatnonzero(kind == "foliage")
        drawn[strokes] = _not_crowded(table.geometry.array[strokes], APART_MM * scale / 1000)
    new = np.where(line, np.where(kind == "outline", outline, fine), width)
    return table.assign(line_mm=new, drawn=drawn)


def _plain_fills(fills: Any, style: Style, scale: float) -> Any:
    """Tones of figures in a style without any: the paper's in outlines, else that of hidden lines."""
    own = fills.isin([style.paper, style.hidden_ink])
    return fills.mask(own, style.paper if scale <= DRAWN else style.hidden_ink)


def _not_crowded(strokes: Any, apart: float) -> np.ndarray:
    """1 for the first stroke in each square cell of the page, 0 for the others."""
    middle = shapely.get_coordinates(shapely.centroid(np.asarray(strokes, dtype=object)))
    cell = np.floor(middle / (CELL_SHARE * apart)).astype(np.int64)
    first = np.unique(cell, axis=0, return_index=True)[1]
    drawn = np.zeros(len(middle), dtype=np.int64)
    drawn[first] = 1
    return drawn
