"""
Which typeface sheets are lettered in, and where it lies.
"""

from __future__ import annotations

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
