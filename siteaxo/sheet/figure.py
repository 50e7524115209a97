"""
A drawing on a sheet at a true scale.
"""

from __future__ import annotations

from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from .canvas import Keep, SheetFigure, drawing_defaults
from .furniture import frame, title_block
from .key import legend, legend_rows, north_arrow, scale_bar
from .page import Box, Placement, Sheet, place
from .paths import draw_tables
from .words import alternative_text, plain_text


def make_figure(
    diagram: DiagramLayers,
    *,
    sheet: str = "A3",
    scale: float | str = 200,
    orientation: str = "landscape",
    hidden: bool = False,
    style: Style | None = None,
    title: str | None = None,
    keep: Keep | None = None,
) -> SheetFigure:
    """
    Set a drawing on a sheet.

    One millimetre of paper is *scale* millimetres of page coordinates, exactly; tones, line
    widths and colours are those in the drawing's tables.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    sheet : str
        "A0" to "A4" or "ANSI A" to "ANSI E".
    scale : float or "fit"
        The x of 1:x; "fit" takes the largest scale of ISO 5455 at which the drawing fits.
    orientation : {"landscape", "portrait", "auto"}
        How the sheet lies; "auto" as lets the drawing be larger.
    hidden : bool
        Draw hidden lines too, dashed.
    style : Style, optional
        Ink and paper of the sheet; the muted style when left out.
    title : str, optional
        Title of the sheet; the site's name when left out.
    keep : callable, optional
        What puts the bytes of ``figure.savefig(path)`` in place; plain writing when left out.

    Returns
    -------
    SheetFigure
        A ``matplotlib.figure.Figure`` whose ``savefig`` keeps the sheet's size.

    Raises
    ------
    SheetError
        If the sheet, scale or orientation is unknown, or the drawing does not fit.
    """
    look = style or Style()
    placement = place(diagram.bounds, sheet=sheet, scale=scale, orientation=orientation)
    with drawing_defaults():
        figure = SheetFigure(
            width_mm=placement.sheet.width_mm,
            height_mm=placement.sheet.height_mm,
            title=plain_text(title or diagram.name),
            description=alternative_text(diagram, placement),
            keep=keep,
            facecolor=look.paper,
        )
        _draw(
            _axes_on(figure, placement.sheet, placement.sheet.drawing_space, "drawing"),
            diagram,
            placement,
            look,
            hidden,
        )
        _furnish(figure, diagram, placement, look, title, hidden)
    return figure


def _axes_on(figure: SheetFigure, sheet: Sheet, box: Box, gid: str) -> Axes:
    """Place bare axes on a box of the sheet."""
    place_on = (
        box.left / sheet.width_mm,
        box.bottom / sheet.height_mm,
        box.width / sheet.width_mm,
        box.height / sheet.height_mm,
    )
    axes = figure.add_axes(place_on, gid=gid)
    axes.set_axis_off()
    return axes


def _draw(axes: Axes, diagram: DiagramLayers, placement: Placement, style: Style, hidden: bool) -> None:
    """Draw faces and lines in page coordinates."""
    left, bottom, right, top = placement.window
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    draw_tables(axes, diagram, hidden=hidden)


def _furnish(
    figure: SheetFigure,
    diagram: DiagramLayers,
    placement: Placement,
    style: Style,
    title: str | None,
    hidden: bool,
) -> None:
    """Draw frame, title block, legend, scale bar and north arrow, in millimetres."""
    sheet, key = placement.sheet, placement.sheet.key
    whole = Box(left=0.0, bottom=0.0, width=sheet.width_mm, height=sheet.height_mm)
    axes = _axes_on(figure, sheet, whole, "furniture")
    axes.set_xlim(0.0, sheet.width_mm)
    axes.set_ylim(0.0, sheet.height_mm)
    frame(axes, placement, style)
    title_block(axes, diagram, placement, style, title)
    middle = key.bottom + key.height / 2
    north_arrow(axes, key.right - 14.0, middle, diagram.view.north_angle, style)
    note = "" if diagram.view.keeps_plan else "in the plane of the picture"
    bar_left = key.right - 86.0
    scale_bar(axes, bar_left, middle - 1.5, placement, style, note)
    room = Box(left=key.left + 5.0, bottom=key.bottom, width=bar_left - key.left - 10.0, height=key.height)
    legend(axes, room, legend_rows(diagram.faces), style, hidden=hidden)
