"""
Words that stand in a column beside a drawing, each with a leader to the part it belongs to.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..diagram.tables import extra_table
from .lettering import LETTERING_MM, length_mm
from .page import Placement, Sheet
from .words import plain_text

LEADER_MM: Final = 10.0
"""From the right side of the drawing to the column of words [mm]."""
GAP_MM: Final = 1.2
"""From the end of a leader to its words [mm]."""
LEADING_MM: Final = 1.5
FINE_MM: Final = 0.13


def beside_mm(diagram: DiagramLayers, sheet: str) -> float:
    """
    Width that a column of words and its leaders take up, 0 where there are none [mm].

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    sheet : str
        Size of the sheet, which the size of letters goes by.
    """
    if not diagram.beside:
        return 0.0
    small = Sheet(name=sheet).lettering_mm
    usual = _usual(small)
    widest = max(
        max(length_mm(plain_text(one.text), usual), length_mm(plain_text(one.detail), small))
        for one in diagram.beside
    )
    return LEADER_MM + GAP_MM + widest


def _usual(small_mm: float) -> float:
    return next(height for height in LETTERING_MM if height > small_mm)


def with_words_beside(labels: Any, diagram: DiagramLayers, placement: Placement, style: Style) -> Any:
    """
    Add the column of words to a table of labels.

    Parameters
    ----------
    labels : GeoDataFrame
        Labels that are placed already.
    diagram : DiagramLayers
        The drawing.
    placement : Placement
        Its sheet and scale.
    style : Style
        Ink.

    Returns
    -------
    GeoDataFrame
        The same with words and leaders; those that would run into one another are moved apart.
    """
    if not diagram.beside:
        return labels
    mm = placement.scale / 1000
    small = placement.sheet.lettering_mm
    usual = _usual(small)
    column = diagram.bounds[2] + LEADER_MM * mm
    pitch = (usual + small + 3 * LEADING_MM) * mm
    wanted = np.array([one.at[1] for one in diagram.beside])
    shapes, columns = [], []
    for one, height in zip(diagram.beside, _apart(wanted, pitch), strict=True):
        elbow = (column - 0.4 * LEADER_MM * mm, height)
        shapes.append(shapely.linestrings([one.at, elbow, (column, height)]))
        columns.append(("leader", "", 0.0, FINE_MM))
        base = height - usual / 2 * mm
        for text, letters in ((plain_text(one.text), usual), (plain_text(one.detail), small)):
            if text:
                start = column + GAP_MM * mm
                end = start + length_mm(text, letters) * mm
                shapes.append(shapely.linestrings([(start, base), (end, base)]))
                columns.append(("label", text, letters, 0.0))
            base -= (LEADING_MM + small) * mm
    table = pd.DataFrame(columns, columns=["kind", "text", "height_mm", "line_mm"])
    order = np.where(table["line_mm"] > 0, 0, 1)
    rows = extra_table(
        np.array(shapes, dtype=object),
        **{name: table[name].to_numpy() for name in table},
        colour=style.ink,
        draw_order=order,
    )
    return rows if not len(labels) else pd.concat([labels, rows], ignore_index=True)


def _apart(wanted: np.ndarray, pitch: float) -> np.ndarray:
    """Heights as near to those wanted as can be, no two nearer than *pitch*."""
    order = np.argsort(wanted, kind="stable")
    steps = np.arange(len(wanted)) * pitch
    free = wanted[order] - steps
    blocks: list[list[float]] = []
    for value in free:  # heights that would fall on one another share their mean
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (a, m), (b, n) = blocks[-2:]
            blocks[-2:] = [[(a * m + b * n) / (m + n), m + n]]
    level = np.concatenate([np.full(int(count), value) for value, count in blocks])
    placed = np.empty(len(wanted))
    placed[order] = level + steps
    return placed
