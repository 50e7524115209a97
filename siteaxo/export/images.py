"""
Figures as PDF, SVG and PNG files.
"""

from __future__ import annotations

import os

from matplotlib.figure import Figure

from ..sheet.canvas import kind_of, render
from .atomic import write_bytes


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
