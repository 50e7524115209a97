"""
Lettering and ruled lines on axes whose units are millimetres of paper.

References
----------
ISO 3098 (lettering heights 1.8 2.5 3.5 5 7 10 14 20 mm).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.textpath import TextToPath

from ..craft.lines import DASH
from ..units import points_from_mm
from .fonts import missing_signs
from .page import Box
from .words import plain_text

LETTERING_MM: Final = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0)
SMALL_MM, USUAL_MM, LARGE_MM, TITLE_MM = LETTERING_MM[:4]
WIDE: Final = 1.06
"""Letters on a screen run so much wider than measured, at most [-]."""
RULE_MM: Final = 0.18
KNOWN_LENGTHS: Final = 8192
"""Lengths of texts that are kept: sheets of one site have most of their words in common."""
_FAMILY: Final = ("DejaVu Sans", "sans-serif")
_CAPITAL: Final = 0.729
"""Height of a capital of the typeface as a share of its size."""


def stepped(height_mm: float, letters_mm: float) -> float:
    """
    Return a height as many steps of the series up as the smallest letters are above the usual ones.

    Parameters
    ----------
    height_mm : float
        Height on usual sheets, of the series [mm].
    letters_mm : float
        Height of the smallest letters on the sheet, of the series [mm].

    Returns
    -------
    float
        [mm]

    Examples
    --------
    >>> stepped(3.5, 1.8), stepped(3.5, 2.5)
    (3.5, 5.0)
    """
    return LETTERING_MM[LETTERING_MM.index(height_mm) + LETTERING_MM.index(letters_mm)]


def letter(
    axes: Axes,
    x: float,
    y: float,
    text: str,
    height_mm: float,
    *,
    colour: str,
    room_mm: float,
    least_mm: float = SMALL_MM,
    align: str = "left",
) -> None:
    """
    Write one line so that its capitals have a height of ISO 3098.

    What is too long for its room becomes smaller down the series, and is cut at last.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    x, y : float
        Where the line stands: its *align* side and its base line [mm].
    text : str
        What to write.
    height_mm : float
        Height of capitals [mm].
    colour : str
        ``"#rrggbb"``.
    room_mm : float
        Greatest length of the line [mm].
    least_mm : float
        Height that it does not go below [mm].
    align : {"left", "center", "right"}
        Which part of the line stands at *x*.
    """
    words = plain_text(text)
    heights = [one for one in reversed(LETTERING_MM) if least_mm <= one <= height_mm]
    height = next((one for one in heights if length_mm(words, one) <= room_mm), heights[-1])
    if length_mm(words, height) > room_mm:
        words = _cut(words, height, room_mm)
    axes.text(
        x, y, words, fontproperties=font(height), color=colour, ha=align, va="baseline", parse_math=False
    )


def font(height_mm: float) -> FontProperties:
    """Return the typeface at the size at which its capitals are *height_mm* high."""
    return FontProperties(family=list(_FAMILY), size=points_from_mm(height_mm) / _CAPITAL)


@lru_cache(maxsize=KNOWN_LENGTHS)
def length_mm(words: str, height_mm: float) -> float:
    """Length of a line of text as it is written: control characters as marks [mm]."""
    width, _, _ = TextToPath().get_text_width_height_descent(shown(words), font(height_mm), False)
    return float(width / points_from_mm(1.0))


def shown(words: str) -> str:
    """Return a text with marks in place of control characters and of signs that the typeface has not."""
    plain = plain_text(words)
    for sign in missing_signs(plain):
        plain = plain.replace(sign, "\ufffd")
    return plain


def _cut(words: str, height_mm: float, room_mm: float) -> str:
    """Return as much of a line as there is room for, with an ellipsis."""
    fits, over = 0, len(words)
    while over - fits > 1:
        middle = (fits + over) // 2
        if length_mm(words[:middle].rstrip() + "…", height_mm) <= room_mm:
            fits = middle
        else:
            over = middle
    return words[:fits].rstrip() + "…"


def rule_box(
    axes: Axes,
    box: Box,
    width_mm: float,
    colour: str,
    gid: str,
    fill: str | None = None,
    *,
    opacity: float | None = None,
) -> None:
    """Draw an upright rectangle, ruled in a width of *width_mm* and filled if wanted."""
    axes.add_artist(
        Rectangle(
            (box.left, box.bottom),
            box.width,
            box.height,
            facecolor=fill or "none",
            edgecolor=colour,
            linewidth=points_from_mm(width_mm),
            joinstyle="miter",
            alpha=opacity,
            clip_on=False,
            snap=False,
            gid=gid,
        )
    )


def rule(
    axes: Axes,
    x: list[float],
    y: list[float],
    width_mm: float,
    colour: str,
    *,
    dashed: bool = False,
    gid: str | None = None,
) -> None:
    """Draw a straight line through points given as x and y [mm]."""
    axes.add_artist(
        Line2D(
            x,
            y,
            color=colour,
            linewidth=points_from_mm(width_mm),
            linestyle=(0.0, DASH) if dashed else "solid",
            solid_capstyle="butt",
            dash_capstyle="butt",
            clip_on=False,
            snap=False,
            gid=gid,
        )
    )
