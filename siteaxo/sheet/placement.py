"""
Drawings set on a sheet at a true scale, alone or several side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from ..checks import finite, one_of
from ..errors import SheetError
from .lettering import SMALL_MM
from .page import CLEAR_MM, ORIENTATIONS, SHEETS_MM, Bounds, Box, Placement, Sheet
from .scales import JUST, listed_at_least, listed_or_more, scale_words

CAPTION_MM: Final = 13.0
"""Height of the strip for a caption under each of several drawings [mm]."""
NEARLY: Final = 0.75
"""Arrangements at which drawings could be so nearly as large as at the roomiest one are as good [-]."""
Strip = float | Callable[[float, float], float]
"""Height of a strip [mm], or what tells it from its width and the height of the smallest letters [mm]."""


def place(
    bounds: Bounds,
    *,
    sheet: str = "A3",
    scale: float | str = 200,
    orientation: str = "landscape",
    room_mm: float = 0.0,
    beside_mm: float = 0.0,
    unit: str = "m",
) -> Placement:
    """
    Set a drawing in the middle of a sheet's drawing space.

    Parameters
    ----------
    bounds : tuple of float
        Page box of the drawing: left, bottom, right, top [m at full size].
    sheet : str
        A size of ``SHEETS_MM``.
    scale : float or "fit"
        The x of 1:x; "fit" is the largest listed scale at which the drawing fits.
    orientation : {"landscape", "portrait", "auto"}
        "auto" takes the one that lets the drawing be larger.
    room_mm : float
        Further room that is kept free around the drawing [mm].
    beside_mm : float
        Width kept free at its right for words [mm].
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks; in feet other scales are listed.

    Returns
    -------
    Placement

    Raises
    ------
    SheetError
        If the sheet, scale or orientation is unknown or the drawing does not fit; the message
        says how large it is and which scale or sheet would do.

    Examples
    --------
    >>> place((0.0, 0.0, 60.0, 40.0), scale="fit").words
    '1:200 at A3'
    """
    return place_all(
        [bounds],
        sheet=sheet,
        scale=scale,
        orientation=orientation,
        room_mm=room_mm,
        beside_mm=beside_mm,
        caption_mm=0.0,
        unit=unit,
    )[0]


def place_all(
    bounds: Sequence[Bounds],
    *,
    sheet: str = "A3",
    scale: float | str = "fit",
    orientation: str = "landscape",
    columns: int | None = None,
    room_mm: float = 0.0,
    beside_mm: float = 0.0,
    caption_mm: Strip = CAPTION_MM,
    unit: str = "m",
) -> list[Placement]:
    """
    Set several drawings on one sheet, row by row and all at one scale.

    Parameters
    ----------
    bounds : sequence of tuple of float
        Page box of each drawing [m at full size].
    sheet, scale, orientation, room_mm, unit
        As for :func:`place`; "fit" is the largest listed scale at which all fit.
    columns : int, optional
        How many lie side by side; when left out, of the arrangements at which they have that scale
        and whose places are about as large as any, the one that leaves fewest of them empty.
    beside_mm : float
        Width kept free at the right of each for words [mm].
    caption_mm : float or callable
        Height kept free under each for its caption; on large sheets more, as their letters are [mm].
        Or what tells it from the width of each and the height of the smallest letters [mm].

    Returns
    -------
    list of Placement
        One for each, in the same order.

    Raises
    ------
    SheetError
        If there is nothing to place, or as for :func:`place`.
    """
    sizes = [_size(one) for one in bounds]
    if not sizes:
        raise SheetError("There is no drawing to put on the sheet.", field="bounds")
    one_of(orientation, ORIENTATIONS, "orientation", SheetError)
    ways = ORIENTATIONS[:2] if orientation == "auto" else (orientation,)
    edge = (CLEAR_MM + room_mm + beside_mm / 2, CLEAR_MM + room_mm)
    choices = [
        (Sheet(name=sheet, orientation=way), count) for way in ways for count in _counts(columns, len(sizes))
    ]
    needed = [_least_scale(sizes, *one, edge, caption_mm) for one in choices]
    wanted = None if scale == "fit" else _checked_scale(scale)
    least, (chosen, count) = _fullest(needed, choices, len(sizes), wanted, unit)
    if wanted is None:
        denominator = listed_at_least(least, unit)
    else:
        denominator = wanted
        _check_fits(sizes, denominator, chosen, count, least, edge, caption_mm, columns, unit)
    return [
        Placement(
            sheet=chosen,
            scale=denominator,
            fitted=scale == "fit",
            window=_window(one, denominator, cell, beside_mm),
            space=cell,
            unit=unit,
        )
        for one, cell in zip(bounds, _cells(chosen, count, len(sizes), caption_mm), strict=True)
    ]


def _fullest(
    needed: Sequence[float],
    choices: Sequence[tuple[Sheet, int]],
    drawings: int,
    wanted: float | None,
    unit: str,
) -> tuple[float, tuple[Sheet, int]]:
    """
    The choice that leaves fewest places empty, of the roomy ones at which drawings are as large as can be.

    Where a scale is wanted, they are as large at every choice at which they fit.
    """
    most = listed_or_more(min(needed), unit) if wanted is None else max(wanted, min(needed))
    most = min(most, min(needed) / NEARLY)
    good = [(row, one) for row, one in enumerate(needed) if one <= most * (1 + JUST)]
    empty = {row: -drawings % choices[row][1] for row, _ in good}
    row, least = min(good, key=lambda one: (empty[one[0]], one[1]))
    return least, choices[row]


def _counts(columns: int | None, drawings: int) -> list[int]:
    """Numbers of columns that may be tried."""
    if columns is None:
        return list(range(1, drawings + 1))
    if isinstance(columns, bool) or not isinstance(columns, int) or columns < 1:
        raise SheetError(
            f"columns is {columns!r}; give a whole number from 1.", field="columns", value=columns
        )
    return [min(columns, drawings)]


def _cells(sheet: Sheet, columns: int, drawings: int, caption_mm: Strip) -> list[Box]:
    """Equal parts of the drawing space, the first at the upper left, each without its caption."""
    space, rows = sheet.drawing_space, -(-drawings // columns)
    width, height, small = space.width / columns, space.height / rows, sheet.lettering_mm
    strip_mm = caption_mm(width, small) if callable(caption_mm) else caption_mm * small / SMALL_MM
    return [
        Box(
            left=space.left + number % columns * width,
            bottom=space.top - (number // columns + 1) * height + strip_mm,
            width=width,
            height=height - strip_mm,
        )
        for number in range(drawings)
    ]


def _size(bounds: Bounds) -> tuple[float, float]:
    """Width and height of a page box [m]."""
    left, bottom, right, top = (finite(side, "A side of the drawing's box", SheetError) for side in bounds)
    if right <= left or top <= bottom:
        raise SheetError(
            "There is nothing to draw: no face and no line is visible. Check the layers' levels.",
            field="bounds",
            value=bounds,
        )
    return right - left, top - bottom


def _checked_scale(scale: float | str) -> float:
    """Return a scale as a number greater than zero."""
    if isinstance(scale, str):
        raise SheetError(f"scale is a number x for 1:x, or 'fit', not {scale!r}.", field="scale", value=scale)
    denominator = finite(scale, "scale", SheetError)
    if denominator <= 0:
        raise SheetError(
            f"scale is {scale!r}; give the x of 1:x, greater than zero.", field="scale", value=scale
        )
    return denominator


def _least_scale(
    sizes: Sequence[tuple[float, float]],
    sheet: Sheet,
    columns: int,
    edge_mm: tuple[float, float],
    caption_mm: Strip,
) -> float:
    """Return the x of the largest 1:x, listed or not, at which all drawings fit their cells."""
    cell = _cells(sheet, columns, len(sizes), caption_mm)[0]
    free = (cell.width - 2 * edge_mm[0], cell.height - 2 * edge_mm[1])
    if min(free) <= 0:
        return math.inf
    return max(length * 1000 / room for size in sizes for length, room in zip(size, free, strict=True))


def _check_fits(
    sizes: Sequence[tuple[float, float]],
    scale: float,
    sheet: Sheet,
    count: int,
    least: float,
    edge_mm: tuple[float, float],
    caption_mm: Strip,
    columns: int | None,
    unit: str,
) -> None:
    """Raise when drawings are larger than their cells, naming a scale and a sheet that would do."""
    if scale >= least * (1 - JUST):
        return
    family = sheet.name.split()[0] if " " in sheet.name else ""
    larger = [
        other.words
        for name in sorted(SHEETS_MM, key=lambda name: SHEETS_MM[name])
        if (name.split()[0] if " " in name else "") == family
        for way in ORIENTATIONS[:2]
        for other in [Sheet(name=name, orientation=way)]
        if any(
            _least_scale(sizes, other, count, edge_mm, caption_mm) <= scale
            for count in _counts(columns, len(sizes))
        )
    ]
    other = f", or sheet {larger[0]}" if larger else "; no sheet is large enough at this scale"
    width, height = (math.ceil(max(size[axis] for size in sizes) * 1000 / scale) for axis in (0, 1))
    space = sheet.drawing_space if len(sizes) == 1 else _cells(sheet, count, len(sizes), caption_mm)[0]
    what, each = "The drawing is", "it"
    if len(sizes) > 1:
        what, each = f"The largest of {len(sizes)} drawings is", f"each, {count} side by side"
    raise SheetError(
        f"{what} {width} × {height} mm at {scale_words(scale, unit)}, and {sheet.words} has "
        f"{space.width - 2 * edge_mm[0]:.0f} × {space.height - 2 * edge_mm[1]:.0f} mm for {each}. "
        f"Use scale {listed_at_least(least, unit):g}{other}.",
        field="scale",
        value=scale,
    )


def _window(bounds: Bounds, scale: float, space: Box, beside_mm: float = 0.0) -> Bounds:
    """Page coordinates of the sides of *space* with a drawing and what is beside it in its middle [m]."""
    middle = ((bounds[0] + bounds[2] + beside_mm * scale / 1000) / 2, (bounds[1] + bounds[3]) / 2)
    half = (space.width * scale / 2000, space.height * scale / 2000)
    return (middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1])
