"""
Paper: sheet sizes, the frame and what lies inside it.

References
----------
ISO 216 (A sizes); ASME Y14.1 (sizes A to E); architectural sizes A to E1 of North American
offices, 9 × 12 in and up (common practice); ISO 5457:1999, Table 1 (frame: 20 mm on the
left for filing, 10 mm on the other sides; title block at most 180 mm wide; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from ..checks import one_of
from ..errors import SheetError
from ..units import MM_PER_INCH
from .scales import scale_words

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
        "ARCH A": (9 * MM_PER_INCH, 12 * MM_PER_INCH),
        "ARCH B": (12 * MM_PER_INCH, 18 * MM_PER_INCH),
        "ARCH C": (18 * MM_PER_INCH, 24 * MM_PER_INCH),
        "ARCH D": (24 * MM_PER_INCH, 36 * MM_PER_INCH),
        "ARCH E": (36 * MM_PER_INCH, 48 * MM_PER_INCH),
        "ARCH E1": (30 * MM_PER_INCH, 42 * MM_PER_INCH),
    }
)
"""Short and long side of every sheet [mm]."""
ORIENTATIONS: Final = ("landscape", "portrait", "auto")

LARGE_SHEET_MM: Final = 500.0
"""Sheets whose short side is longer have larger letters [mm]."""
FILING_MARGIN_MM: Final = 20.0
MARGIN_MM: Final = 10.0
TITLE_WIDTH_MM: Final = 180.0
STRIP_HEIGHT_MM: Final = 34.0
LARGE_STRIP_MM: Final = 44.0
"""Height of the strip on large sheets, for letters that are √2 as high [mm]."""
TALL_KEY_MM: Final = 48.0
"""Height of a key above the title block on a sheet that stands: it is narrower [mm]."""
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
    def lettering_mm(self) -> float:
        """
        Height of the smallest letters: 1.8 mm, and 2.5 mm on large sheets [mm].

        All others on large sheets are one step of ISO 3098 higher too, as two sizes of paper are
        twice as long and the steps of the series √2 apart.
        """
        return 2.5 if self.is_large else 1.8

    @property
    def is_large(self) -> bool:
        """Whether the sheet is A1, ANSI D, ARCH D or larger."""
        return min(SHEETS_MM[self.name]) > LARGE_SHEET_MM

    @property
    def strip_mm(self) -> float:
        """Height of the strip along the foot of the frame [mm]."""
        return LARGE_STRIP_MM if self.is_large else STRIP_HEIGHT_MM

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
        return Box(left=frame.right - width, bottom=frame.bottom, width=width, height=self.strip_mm)

    @property
    def key(self) -> Box:
        """Room for the legend, the scale bar and the north arrow."""
        frame, title = self.frame, self.title_block
        if self.key_beside:
            return Box(
                left=frame.left, bottom=frame.bottom, width=title.left - frame.left, height=title.height
            )
        height = TALL_KEY_MM if self.orientation == "portrait" else self.strip_mm
        return Box(left=frame.left, bottom=title.top, width=frame.width, height=height)

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
        Page coordinates of the sides of *space*: left, bottom, right, top [m at full size].
    space : Box
        Where on the sheet it lies.
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.
    """

    sheet: Sheet
    scale: float
    fitted: bool
    window: Bounds
    space: Box
    unit: str = "m"

    @property
    def scale_words(self) -> str:
        """Its scale, e.g. "1:200"."""
        return scale_words(self.scale, self.unit)

    @property
    def words(self) -> str:
        """Scale and size, e.g. "1:200 at A3"."""
        return f"{self.scale_words} at {self.sheet.name}"
