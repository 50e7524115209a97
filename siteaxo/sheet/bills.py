"""
Quantities on a sheet: tables with a swatch, figures, and a bar for what there is most of.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from ..craft.style import Style
from ..errors import SheetError
from ..units import MEASURES, Measure
from .canvas import Keep, SheetFigure, drawing_defaults
from .lettering import SMALL_MM, USUAL_MM
from .page import Box
from .plain import PlainSheet, plain_sheet

HEADINGS: Final[Mapping[str, tuple[str, str, int]]] = MappingProxyType(
    {
        "features": ("features", "", 0),
        "plan_area_m2": ("plan area", "m²", 1),
        "open_area_m2": ("open area", "m²", 1),
        "true_area_m2": ("true area", "m²", 1),
        "edge_m": ("edges", "m", 1),
        "side_area_m2": ("sides, free", "m²", 1),
        "side_length_m": ("side length", "m", 1),
        "flights": ("flights", "", 0),
        "risers": ("risers", "", 0),
        "treads": ("treads", "", 0),
        "paving_units": ("paving units", "", 0),
        "whole_units": ("whole units", "", 0),
        "cut_units": ("cut units", "", 0),
        "trees": ("trees", "", 0),
        "crown_cover_m2": ("crown cover", "m²", 1),
        "cut_m3": ("cut", "m³", 1),
        "fill_m3": ("fill", "m³", 1),
    }
)
"""Heading, metric unit and decimals of each column."""
BARRED: Final = "plan_area_m2"
COUNTED: Final = Measure(word="", metric=1.0)
ROW_MM: Final = (7.2, 3.3)  # usual and least height of a row [mm]
HEAD_MM: Final = 12.0
GAP_MM: Final = 7.0
NAME_MM: Final = 60.0
ROOMY_MM: Final = 6.0  # rows so high have larger letters [mm]
SWATCH_MM: Final = (7.0, 2.7)
PALE: Final = "#e4e4e0"
NOTES: Final = (
    "Plan area: footprints, where terraces or surfaces lie over one another the upper one's. Open area: "
    "what of it is seen from above once trees, roofs, canopies and rails are lifted off. True area: faces "
    "that look upward, along their slope. Sides: upright faces as far as they stand free, risers left out. "
    "Paving units: open area by units to the square {metre}, joints included; whole and cut units: as they "
    "are laid. Crown cover: overlaps counted once.",
    "Areas of roles that lie upon one another overlap; they are not to be added up. "
    "Quantities as modelled, without waste or allowances.",
)


@dataclass(frozen=True, kw_only=True)
class Bill:
    """
    One table of quantities.

    Parameters
    ----------
    heading : str
        What its rows are.
    frame : pandas.DataFrame
        Its rows; columns that are all zero or unknown are left out.
    names : sequence of str
        Columns that name a row.
    """

    heading: str
    frame: Any
    names: Sequence[str]


def quantities_sheet(
    bills: Sequence[Bill],
    *,
    site: str,
    sheet: str = "A3",
    orientation: str = "landscape",
    title: str = "Quantities",
    style: Style | None = None,
    keep: Keep | None = None,
    unit: str = "m",
) -> SheetFigure:
    """
    Set tables of quantities on one sheet, one under another.

    Parameters
    ----------
    bills : sequence of Bill
        The tables.
    site : str
        Name of the site.
    sheet, orientation, title, style, keep
        As for other sheets.
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.

    Returns
    -------
    SheetFigure

    Raises
    ------
    SheetError
        If the rows do not fit; the message says how many do.
    """
    with drawing_defaults():
        page = plain_sheet(
            sheet=sheet,
            orientation=orientation,
            title=title,
            site=site,
            lines=tuple(note.format(metre="metre" if unit == "m" else "foot") for note in NOTES),
            style=style,
            keep=keep,
        )
        count = sum(len(bill.frame) for bill in bills)
        room = page.space.height - len(bills) * HEAD_MM - (len(bills) - 1) * GAP_MM
        pitch = min(ROW_MM[0], room / max(count, 1))
        if pitch < ROW_MM[1]:
            most = int(room / ROW_MM[1])
            raise SheetError(
                f"{count} rows of quantities do not fit on {sheet}, which holds {most}. "
                "Use a larger sheet, or rows by role.",
                field="sheet",
                value=sheet,
            )
        y = page.space.top
        for bill in bills:
            y = _bill(page, bill, y, pitch, unit) - GAP_MM
        page.figure.description = f"{title} of {site}: " + "; ".join(
            f"{len(bill.frame)} rows by {bill.heading}" for bill in bills
        )
    return page.figure


def _bill(page: PlainSheet, bill: Bill, top: float, pitch: float, unit: str) -> float:
    """Draw one table and return where it ends [mm]."""
    columns = [name for name in HEADINGS if name in bill.frame and _says_something(bill.frame[name])]
    left, right = page.space.left, page.space.right
    width = (right - left - NAME_MM) / max(len(columns), 1)
    ends = [left + NAME_MM + (k + 1) * width for k in range(len(columns))]
    head = top - HEAD_MM + 4.4
    page.write(left, head, bill.heading, USUAL_MM, room=NAME_MM - 2.0)
    for name, end in zip(columns, ends, strict=True):
        words, measure, _ = _column(name, unit)
        page.write(end, head + 3.4, words, SMALL_MM, room=width - 1.5, align="right")
        page.write(end, head, measure.word, SMALL_MM, room=width - 1.5, align="right")
    y, height = top - HEAD_MM + 2.2, USUAL_MM if pitch >= ROOMY_MM else SMALL_MM
    page.rule(left, right, y, 0.35)
    largest = float(np.nanmax(bill.frame[BARRED].to_numpy(dtype=float), initial=0.0)) or 1.0
    for row in bill.frame.to_dict("records"):
        base = y - (pitch + height) / 2
        _name(page, bill, row, left, base, height)
        for name, end in zip(columns, ends, strict=True):
            if name == BARRED and row[name] > 0:
                bar = (width - 3.0) * row[name] / largest
                under = Box(left=end - bar, bottom=base - 0.9, width=bar, height=height + 1.8)
                page.fill(under, PALE, gid="bar")
            _, measure, decimals = _column(name, unit)
            text = in_figures(row[name] / measure.metric, decimals)
            page.write(end, base, text, height, room=width - 1.0, align="right")
        y -= pitch
        page.rule(left, right, y, 0.09)
    return y


def _column(name: str, unit: str) -> tuple[str, Measure, int]:
    """Heading, measure and decimals of a column in a unit."""
    words, metric, decimals = HEADINGS[name]
    measure = MEASURES[unit].get(metric, COUNTED)
    return words, measure, decimals - measure.fewer


def _name(
    page: PlainSheet, bill: Bill, row: Mapping[str, Any], left: float, base: float, height: float
) -> None:
    """Write what a row is, with a swatch where it has a role."""
    x = left
    if "role" in row:
        tone = page.style.top(str(row["role"]), str(row.get("material", "")))
        box = Box(
            left=x, bottom=base + height / 2 - SWATCH_MM[1] / 2, width=SWATCH_MM[0], height=SWATCH_MM[1]
        )
        page.fill(box, tone, outline=0.13, gid="swatch")
        x += SWATCH_MM[0] + 2.0
    words = ", ".join(str(row[name]) for name in bill.names if str(row[name]))
    words = words or "on no terrace"
    page.write(x, base, words[:1].upper() + words[1:], height, room=NAME_MM - (x - left) - 2.0)


def _says_something(column: Any) -> bool:
    values = column.to_numpy(dtype=float)
    return bool((np.isfinite(values) & (values != 0)).any())


def in_figures(value: float, decimals: int) -> str:
    """
    Write a figure with its thousands apart; nothing for zero and for what is not known.

    Examples
    --------
    >>> in_figures(12345.678, 1), in_figures(0, 0), in_figures(float("nan"), 1)
    ('12\\u202f345.7', '', '')
    """
    if not np.isfinite(value) or round(float(value), decimals) == 0:
        return ""
    return f"{value:,.{decimals}f}".replace(",", "\u202f").replace("-", "−")
