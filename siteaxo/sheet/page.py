"""
Paper: sheet sizes, the frame and what lies inside it, and drawing scales.

References
----------
ISO 216 (A sizes); ASME Y14.1 (sizes A to E); ISO 5457:1999, Table 1 (frame: 20 mm on the
left for filing, 10 mm on the other sides; title block at most 180 mm wide; from memory);
ISO 5455:1979, 5.1 (scales 1:1, 1:2, 1:5 and their tenfolds).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from ..checks import finite, one_of
from ..errors import SheetError
from ..units import MM_PER_INCH

Bounds = tuple[float, float, float, float]

SHEETS_MM: Final = MappingProxyType(
    {
        "A0": (841.0, 1189.0),
        "A1": (594.0, 841.0),
        "A2": (420.0, 594.0),
        "A3": (297.0, 420.0),
        "A4": (210.0, 297.0),
        "ANSI A": (8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
        "ANSI B": (11 * MM_PER_INCH, 17 * MM_PER_INCH),
        "ANSI C": (17 * MM_PER_INCH, 22 * MM_PER_INCH),
        "ANSI D": (22 * MM_PER_INCH, 34 * MM_PER_INCH),
        "ANSI E": (34 * MM_PER_INCH, 44 * MM_PER_INCH),
    }
)
"""Short and long side of every sheet [mm]."""
SCALES: Final = tuple(float(step * 10**power) for power in range(7) for step in (1, 2, 5))
"""The x of every listed reduction 1:x, from 1:1 up."""
ORIENTATIONS: Final = ("landscape", "portrait", "auto")

FILING_MARGIN_MM: Final = 20.0
MARGIN_MM: Final = 10.0
TITLE_WIDTH_MM: Final = 180.0
STRIP_HEIGHT_MM: Final = 34.0
CLEAR_MM: Final = 6.0
"""What is left free between the drawing and the frame on every side [mm]."""


@dataclass(frozen=True, kw_only=True)
class Box:
    """An upright rectangle on the sheet, measured from its lower left corner [mm]."""

    left: float
    bottom: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right side [mm]."""
        return self.left + self.width

    @property
    def top(self) -> float:
        """Upper side [mm]."""
        return self.bottom + self.height


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """
    One sheet the way it lies: its size and how it is divided.

    Along the foot of the frame runs a strip with the title block on the right and the key
    (legend, scale bar, north arrow) on its left; on sheets too narrow for both side by side the
    key lies above the title block. The drawing space is what remains above.

    Parameters
    ----------
    name : str
        A size of ``SHEETS_MM``.
    orientation : {"landscape", "portrait"}
        Which side lies below.

    Raises
    ------
    SheetError
        If the size or the orientation is unknown.
    """

    name: str
    orientation: str = "landscape"

    def __post_init__(self) -> None:
        one_of(self.name, SHEETS_MM, "sheet", SheetError)
        one_of(self.orientation, ORIENTATIONS[:2], "orientation", SheetError)

    @property
    def width_mm(self) -> float:
        """Width of the sheet as it lies [mm]."""
        return SHEETS_MM[self.name][self.orientation == "landscape"]

    @property
    def height_mm(self) -> float:
        """Height of the sheet as it lies [mm]."""
        return SHEETS_MM[self.name][self.orientation == "portrait"]

    @property
    def frame(self) -> Box:
        """The frame inside the margins."""
        return Box(
            left=FILING_MARGIN_MM,
            bottom=MARGIN_MM,
            width=self.width_mm - FILING_MARGIN_MM - MARGIN_MM,
            height=self.height_mm - 2 * MARGIN_MM,
        )

    @property
    def key_beside(self) -> bool:
        """Whether the key fits beside the title block."""
        return self.frame.width >= 2 * TITLE_WIDTH_MM

    @property
    def title_block(self) -> Box:
        """The title block, in the lower right corner of the frame."""
        frame = self.frame
        width = TITLE_WIDTH_MM if self.key_beside else frame.width
        return Box(left=frame.right - width, bottom=frame.bottom, width=width, height=STRIP_HEIGHT_MM)

    @property
    def key(self) -> Box:
        """Room for the legend, the scale bar and the north arrow."""
        frame, title = self.frame, self.title_block
        if self.key_beside:
            return Box(
                left=frame.left, bottom=frame.bottom, width=title.left - frame.left, height=title.height
            )
        return Box(left=frame.left, bottom=title.top, width=frame.width, height=STRIP_HEIGHT_MM)

    @property
    def drawing_space(self) -> Box:
        """What remains for the drawing."""
        frame, key = self.frame, self.key
        return Box(left=frame.left, bottom=key.top, width=frame.width, height=frame.top - key.top)

    @property
    def words(self) -> str:
        """Name and orientation, e.g. "A3 landscape"."""
        return f"{self.name} {self.orientation}"


@dataclass(frozen=True, kw_only=True)
class Placement:
    """
    A drawing set on a sheet.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    scale : float
        The x of 1:x.
    fitted : bool
        Whether the scale was chosen as the largest listed one that fits.
    window : tuple of float
        Page coordinates of the drawing space: left, bottom, right, top [m at full size].
    """

    sheet: Sheet
    scale: float
    fitted: bool
    window: Bounds

    @property
    def words(self) -> str:
        """Scale and size, e.g. "1:200 at A3"."""
        return f"1:{self.scale:g} at {self.sheet.name}"


def place(
    bounds: Bounds, *, sheet: str = "A3", scale: float | str = 200, orientation: str = "landscape"
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
        The x of 1:x; "fit" is the largest scale of ISO 5455 at which the drawing fits.
    orientation : {"landscape", "portrait", "auto"}
        "auto" takes the one that lets the drawing be larger.

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
    size_m = _size(bounds)
    one_of(orientation, ORIENTATIONS, "orientation", SheetError)
    ways = ORIENTATIONS[:2] if orientation == "auto" else (orientation,)
    chosen = min(
        (Sheet(name=sheet, orientation=way) for way in ways), key=lambda one: _least_scale(size_m, one)
    )
    if scale == "fit":
        denominator = _listed_at_least(_least_scale(size_m, chosen))
    else:
        denominator = _checked_scale(scale)
        _check_fits(size_m, denominator, chosen)
    return Placement(
        sheet=chosen,
        scale=denominator,
        fitted=scale == "fit",
        window=_window(bounds, denominator, chosen.drawing_space),
    )


def _size(bounds: Bounds) -> tuple[float, float]:
    """Width and height of a page box [m]."""
    left, bottom, right, top = (finite(side, "A side of the drawing's box", SheetError) for side in bounds)
    if right <= left or top <= bottom:
        raise SheetError(
            "There is nothing to draw: no face and no line is visible. Check the layers' levels."
        )
    return right - left, top - bottom


def _checked_scale(scale: float | str) -> float:
    """Return a scale as a number greater than zero."""
    if isinstance(scale, str):
        raise SheetError(f"scale is a number x for 1:x, or 'fit', not {scale!r}.")
    denominator = finite(scale, "scale", SheetError)
    if denominator <= 0:
        raise SheetError(f"scale is {scale!r}; give the x of 1:x, greater than zero.")
    return denominator


def _least_scale(size_m: tuple[float, float], sheet: Sheet) -> float:
    """Return the x of the largest 1:x, listed or not, at which the drawing fits."""
    space = sheet.drawing_space
    free_mm = (space.width - 2 * CLEAR_MM, space.height - 2 * CLEAR_MM)
    return max(length * 1000 / room for length, room in zip(size_m, free_mm, strict=True))


def _listed_at_least(denominator: float) -> float:
    """Return the first listed scale that is not larger than 1:*denominator*."""
    for listed in SCALES:
        if listed >= denominator * (1 - 1e-12):
            return listed
    raise SheetError(
        f"The drawing would need a scale of 1:{denominator:,.0f}; draw a smaller part of the site."
    )


def _check_fits(size_m: tuple[float, float], scale: float, sheet: Sheet) -> None:
    """Raise when the drawing is larger than its space, naming a scale and a sheet that would do."""
    least = _least_scale(size_m, sheet)
    if scale >= least * (1 - 1e-12):
        return
    larger = [
        Sheet(name=name, orientation=way).words
        for name in sorted(SHEETS_MM, key=lambda name: SHEETS_MM[name])
        for way in ORIENTATIONS[:2]
        if name.startswith("ANSI") == sheet.name.startswith("ANSI")
        and _least_scale(size_m, Sheet(name=name, orientation=way)) <= scale
    ]
    other = f", or sheet {larger[0]}" if larger else "; no sheet is large enough at this scale"
    width, height = (math.ceil(length * 1000 / scale) for length in size_m)
    space = sheet.drawing_space
    raise SheetError(
        f"The drawing is {width} × {height} mm at 1:{scale:g}, and {sheet.words} has "
        f"{space.width - 2 * CLEAR_MM:.0f} × {space.height - 2 * CLEAR_MM:.0f} mm for it. "
        f"Use scale {_listed_at_least(least):g}{other}."
    )


def _window(bounds: Bounds, scale: float, space: Box) -> Bounds:
    """Page coordinates of the sides of *space* when the drawing lies in its middle [m]."""
    middle = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    half = (space.width * scale / 2000, space.height * scale / 2000)
    return (middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1])
