"""
Where the parts of a board lie: rows and columns of names, or boxes in millimetres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from ..checks import finite
from ..errors import SheetError
from .page import Box, Sheet

EMPTY: Final = "."
"""Stands for a cell that stays empty."""
GAP_MM: Final = 6.0


@dataclass(frozen=True, kw_only=True)
class Layout:
    """
    Where the parts of a board lie.

    Parameters
    ----------
    rows : sequence of str
        One line for each row from the top, with a name for each column; cells of one name next
        to each other are one part, and "." stays empty. E.g. ``("plan main", "legend main")``.
    columns, heights : sequence of float, optional
        Shares of the width that columns have, and of the height that rows have, of what is left
        by those with millimetres; equal ones when left out.
    columns_mm, heights_mm : sequence of float or None, optional
        Widths of columns and heights of rows [mm]; None where the share counts.
    gap_mm : float
        Between two columns or rows, and between them and the frame [mm].
    boxes_mm : mapping of str to (left, bottom, width, height), optional
        Boxes on the sheet instead, from its lower left corner [mm]. They may lie on one another;
        the later is drawn over the earlier.

    Raises
    ------
    SheetError
        If rows have different lengths, a part is no rectangle, or numbers do not fit.

    Examples
    --------
    >>> Layout(rows=("plan main main", "title title title"), heights_mm=(None, 34)).names
    ('plan', 'main', 'title')
    >>> layout = Layout(rows=("main", "title"), heights_mm=(None, 34))
    >>> layout
    <Layout main / title; rows 1 : 34 mm>
    >>> layout.boxes_on(Sheet(name="A3"))["title"].height
    34.0
    """

    rows: Sequence[str] = ()
    columns: Sequence[float] | None = None
    heights: Sequence[float] | None = None
    columns_mm: Sequence[float | None] | None = None
    heights_mm: Sequence[float | None] | None = None
    gap_mm: float = GAP_MM
    boxes_mm: Mapping[str, tuple[float, float, float, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        finite(self.gap_mm, "gap_mm", SheetError, least=0.0)
        if bool(self.rows) == bool(self.boxes_mm):
            raise SheetError(
                "A layout has rows of names or boxes in millimetres, one of the two.", field="rows"
            )
        object.__setattr__(self, "boxes_mm", MappingProxyType(dict(self.boxes_mm)))
        for name, box in self.boxes_mm.items():
            _check_box(name, box)
        _check_rows(self)

    def __repr__(self) -> str:
        if self.boxes_mm:
            told = [
                f"{name} {w:g} × {h:g} mm at ({x:g}, {y:g})" for name, (x, y, w, h) in self.boxes_mm.items()
            ]
            return f"<Layout of boxes: {', '.join(told)}>"
        sizes = [
            f"{what} {_sizes_in_words(count, shares, mm)}"
            for what, count, shares, mm in (
                ("columns", len(self.rows[0].split()), self.columns, self.columns_mm),
                ("rows", len(self.rows), self.heights, self.heights_mm),
            )
            if shares or mm
        ]
        return f"<Layout {' / '.join(self.rows)}{''.join(f'; {one}' for one in sizes)}>"

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parts, in the order of rows or boxes."""
        if self.boxes_mm:
            return tuple(self.boxes_mm)
        return tuple(dict.fromkeys(name for row in self.rows for name in row.split() if name != EMPTY))

    def boxes_on(self, sheet: Sheet) -> dict[str, Box]:
        """
        Lay the parts out on a sheet.

        Parameters
        ----------
        sheet : Sheet
            The sheet.

        Returns
        -------
        dict of str to Box

        Raises
        ------
        SheetError
            If what is given in millimetres does not fit the sheet.
        """
        if self.boxes_mm:
            return {name: _on(sheet, name, box) for name, box in self.boxes_mm.items()}
        frame, cells = sheet.frame, [row.split() for row in self.rows]
        wide = _spans(len(cells[0]), frame.width, self.columns, self.columns_mm, self.gap_mm, "columns")
        high = _spans(len(cells), frame.height, self.heights, self.heights_mm, self.gap_mm, "heights")
        boxes = {}
        for name in self.names:
            spots = [
                (row, column)
                for row, line in enumerate(cells)
                for column, one in enumerate(line)
                if one == name
            ]
            (top, left), (bottom, right) = spots[0], spots[-1]
            x, y = wide[left][0], frame.height - high[bottom][1]
            boxes[name] = Box(
                left=frame.left + x,
                bottom=frame.bottom + y,
                width=wide[right][1] - x,
                height=high[bottom][1] - high[top][0],
            )
        return boxes


def _sizes_in_words(
    count: int, shares: Sequence[float] | None, sizes_mm: Sequence[float | None] | None
) -> str:
    """Shares and millimetres of rows or columns: "1 : 2 : 30 mm"."""
    each = zip(sizes_mm or [None] * count, shares or [1] * count, strict=True)
    return " : ".join(f"{share:g}" if mm is None else f"{mm:g} mm" for mm, share in each)


def _spans(
    count: int,
    room: float,
    shares: Sequence[float] | None,
    fixed: Sequence[float | None] | None,
    gap: float,
    what: str,
) -> list[tuple[float, float]]:
    """Begin and end of columns from the left, or of rows from the top [mm]."""
    part = list(shares) if shares is not None else [1.0] * count
    given = list(fixed) if fixed is not None else [None] * count
    free = room - (count + 1) * gap - sum(one for one in given if one is not None)
    total = sum(one for one, mm in zip(part, given, strict=True) if mm is None)
    if free < -1e-9 or (total and free <= 0):
        raise SheetError(
            f"The {what} of the layout take {room - free:.0f} mm with their gaps, and the sheet has "
            f"{room:.0f} mm for them. Make them smaller, or take a larger sheet.",
            field=what,
            value=f"{room - free:.0f}",
        )
    spans, at = [], gap
    for one, mm in zip(part, given, strict=True):
        size = free * one / total if mm is None else mm
        spans.append((at, at + size))
        at += size + gap
    return spans


def _check_rows(layout: Layout) -> None:
    cells = [row.split() for row in layout.rows]
    if not cells:
        return
    if any(len(line) != len(cells[0]) for line in cells):
        raise SheetError(
            "Rows of a layout have as many names as one another; write '.' for an empty cell.", field="rows"
        )
    for name in layout.names:
        spots = [(r, c) for r, line in enumerate(cells) for c, one in enumerate(line) if one == name]
        high = {r for r, _ in spots}
        wide = {c for _, c in spots}
        if len(spots) != (max(high) - min(high) + 1) * (max(wide) - min(wide) + 1):
            raise SheetError(
                f"Part {name!r} of the layout is no rectangle; give its pieces names of their own.",
                field=name,
            )
    for what, count in (("columns", len(cells[0])), ("heights", len(cells))):
        for key in (what, f"{what}_mm"):
            numbers = getattr(layout, key)
            if numbers is None:
                continue
            if len(numbers) != count:
                raise SheetError(
                    f"{key} has {len(numbers)} numbers for {count} {what}; give one for each.",
                    field=key,
                    value=len(numbers),
                )
            for number in numbers:
                if number is not None and finite(number, key, SheetError) <= 0:
                    raise SheetError(f"{key} has {number:g}; give sizes above zero.", field=key, value=number)


def _check_box(name: str, box: Sequence[float]) -> None:
    if len(box) != 4:
        raise SheetError(
            f"Box {name!r} is (left, bottom, width, height) in millimetres, not {box!r}.",
            field=name,
            value=box,
        )
    for number in box:
        finite(number, f"A side of box {name!r}", SheetError)
    if box[2] <= 0 or box[3] <= 0:
        raise SheetError(
            f"Box {name!r} is {box[2]:g} × {box[3]:g} mm; give sizes above zero.", field=name, value=box
        )


def _on(sheet: Sheet, name: str, box: Sequence[float]) -> Box:
    left, bottom, width, height = box
    if left < 0 or bottom < 0 or left + width > sheet.width_mm or bottom + height > sheet.height_mm:
        raise SheetError(
            f"Box {name!r} ends at {left + width:g} × {bottom + height:g} mm and {sheet.words} at "
            f"{sheet.width_mm:g} × {sheet.height_mm:g} mm. Move it, or take a larger sheet.",
            field=name,
            value=box,
        )
    return Box(left=float(left), bottom=float(bottom), width=float(width), height=float(height))
