"""
Figures as PDF, SVG and PNG files.
"""

from __future__ import annotations

import base64
import html
import os
from typing import Final

from matplotlib.figure import Figure

from ..sheet.canvas import kind_of, render
from .atomic import write_bytes

SCREEN_DPI: Final = 110.0


def picture(figure: Figure, *, dpi: float = SCREEN_DPI) -> bytes:
    """Return a figure as a PNG for a screen."""
    return render(figure, "png", dpi=dpi)


def picture_html(figure: Figure, *, dpi: float = SCREEN_DPI) -> str:
    """
    Return a figure as an HTML image with its description as alternative text.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure, best a sheet.
    dpi : float
        Dots per inch.
    """
    data = base64.b64encode(picture(figure, dpi=dpi)).decode("ascii")
    words = html.escape(getattr(figure, "description", ""), quote=True)
    return f'<img src="data:image/png;base64,{data}" alt="{words}" style="max-width: 100%">'


def save_figure(figure: Figure, path: str | os.PathLike[str], *, dpi: float = 300.0) -> None:
    """
    Save a figure at its true size; the same figure gives the same bytes.

    It is drawn in memory first and put in place in one step, so that a failure leaves
    what stood there before.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    path : path-like
        Where to; its suffix, .pdf, .svg or .png, says what kind of image.
    dpi : float
        Dots per inch of a PNG.

    Raises
    ------
    OutputError
        If the kind of image is unknown or the file cannot be written.
    """
    write_bytes(path, render(figure, kind_of(path), dpi=dpi))
