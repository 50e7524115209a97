"""
Which typeface sheets are lettered in, and where it lies.
"""

from __future__ import annotations

import functools
from pathlib import Path

from matplotlib import font_manager

FAMILY = "DejaVu Sans"  # comes with matplotlib, so that sheets look alike everywhere


def font_in_use() -> tuple[str, Path]:
    """
    Return the name and the file of the typeface of sheets.

    Examples
    --------
    >>> font_in_use()[0]
    'DejaVu Sans'
    """
    file = Path(font_manager.findfont(font_manager.FontProperties(family=FAMILY)))
    return str(font_manager.FontProperties(fname=str(file)).get_name()), file


def fonts_known() -> int:
    """Return how many typefaces matplotlib knows on this machine."""
    return len({entry.name for entry in font_manager.fontManager.ttflist})


def missing_signs(text: str) -> str:
    """
    Return the letters of a text that the typeface has no sign for, each once, in order.

    A box is drawn in place of such a letter; in SVG and PDF it stays the letter that it is.

    Examples
    --------
    >>> missing_signs("Pond 池, 池")
    '池'
    """
    if text.isascii():
        return ""
    return "".join(dict.fromkeys(one for one in text if ord(one) > 127 and ord(one) not in _signs()))


@functools.cache
def _signs() -> frozenset[int]:
    return frozenset(font_manager.get_font(str(font_in_use()[1])).get_charmap())
