"""
The layout that a board has unless another is given, and layouts of which parts are missing.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from .layout import EMPTY, Layout
from .page import Sheet

SMALL_MM: Final = 2.0
TITLE_MM: Final = (21.0, 30.0)
"""Height of the title on sheets with small letters and on others [mm]."""


def usual_layout(sheet: Sheet) -> Layout:
    """
    Return the layout that a board has unless another is given.

    Parameters
    ----------
    sheet : Sheet
        The sheet.

    Returns
    -------
    Layout
        Plan at the upper left, the main drawing in the middle and the exploded view along the
        right side; on an upright sheet the main drawing under the plan.

    Examples
    --------
    >>> usual_layout(Sheet(name="A1")).names
    ('plan', 'main', 'exploded', 'legend', 'cautions', 'title')
    """
    title_mm = TITLE_MM[sheet.lettering_mm > SMALL_MM]
    if sheet.orientation == "landscape":
        return Layout(
            rows=(
                "plan main exploded",
                "legend main exploded",
                "cautions main exploded",
                "title title title",
            ),
            columns=(1.0, 2.3, 0.85),
            heights=(1.0, 0.55, 0.45, 1.0),
            heights_mm=(None, None, None, title_mm),
        )
    return Layout(
        rows=("plan plan exploded", "main main exploded", "legend cautions exploded", "title title title"),
        columns=(1.0, 1.0, 0.85),
        heights=(0.95, 1.35, 0.5, 1.0),
        heights_mm=(None, None, None, title_mm),
    )


def closed_up(layout: Layout, missing: Collection[str]) -> Layout:
    """
    Take parts that are not there out of a layout of rows, with the rows and columns that only they need.

    Parameters
    ----------
    layout : Layout
        Rows and columns of names.
    missing : collection of str
        Names of the parts that are not there.

    Returns
    -------
    Layout
        What is left takes the room.

    Examples
    --------
    >>> closed_up(Layout(rows=("plan main", "legend main"), columns=(1, 3)), {"plan"}).rows
    ('legend main',)
    """
    cells = np.array([row.split() for row in layout.rows])
    column = _needed(cells.T, missing)
    row = _needed(cells[:, column], missing)
    cells = cells[np.ix_(row, column)]
    return replace(
        layout,
        rows=tuple(" ".join(EMPTY if name in missing else name for name in line) for line in cells),
        columns=_kept(layout.columns, column),
        columns_mm=_kept(layout.columns_mm, column),
        heights=_kept(layout.heights, row),
        heights_mm=_kept(layout.heights_mm, row),
    )


def _needed(lines: np.ndarray, missing: Collection[str]) -> np.ndarray:
    """Rows or columns that hold none of what is missing, or something that no other one holds."""
    keep = np.ones(len(lines), dtype=bool)
    for number, line in enumerate(lines):
        keep[number] = False
        others = set(lines[keep].flat)
        keep[number] = set(line).isdisjoint(missing) or bool(set(line) - set(missing) - others)
    return keep


def _kept(values: Sequence[Any] | None, keep: np.ndarray) -> tuple[Any, ...] | None:
    return None if values is None else tuple(itertools.compress(values, keep))
