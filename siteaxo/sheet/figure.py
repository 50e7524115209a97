"""
Drawings on a sheet at a true scale, or on axes of one's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType
from typing import Any

from matplotlib.axes import Axes

from ..craft.dress import dressed
from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..diagram.tables import more_findings
from ..errors import SheetError
from .beside import beside_mm, with_words_beside
from .canvas import Keep, SheetFigure, drawing_defaults
from .captions import captions_mm
from .cautioned import cautioned_mm, draw_cautioned
from .furniture import furnish
from .labels import placed_labels
from .lettered import draw_labels
from .noticed import draw_noticed, noticed_mm
from .page import Box, Placement, Sheet
from .paths import draw_tables
from .placement import place_all
from .wants import Panel, Wants, extent_of, set_out, speaking
from .words import alternative_text, plain_text


def make_figure(
    diagram: DiagramLayers,
    *,
    sheet: str = "A3",
    scale: float | str = 200,
    orientation: str = "landscape",
    wants: Wants | None = None,
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
        The drawing, dressed for the scale.
    sheet : str
        A size of ``SHEETS_MM``: "A0" to "A4", "ANSI A" to "ANSI E", "ARCH A" to "ARCH E1".
    scale : float or "fit"
        The x of 1:x; "fit" takes the largest listed scale at which the drawing fits.
    orientation : {"landscape", "portrait", "auto"}
        How the sheet lies; "auto" as lets the drawing be larger.
    wants : Wants, optional
        What is shown beside the drawing; level marks only when left out.
    style : Style, optional
        Ink and paper of the sheet; the muted style when left out.
    title : str, optional
        Title of the sheet; the site's name when left out.
    keep : callable, optional
        What puts the bytes of ``figure.savefig(path)`` in place; plain writing when left out.

    Returns
    -------
    SheetFigure
        A ``matplotlib.figure.Figure`` whose ``savefig`` keeps the sheet's size. Its
        ``drawing`` is the drawing with the labels that were put on it.

    Raises
    ------
    SheetError
        If the sheet, scale or orientation is unknown, or the drawing does not fit.
    """
    asked, look = wants or Wants(), style or Style()
    placement = set_out(diagram, asked, sheet=sheet, scale=scale, orientation=orientation)
    with drawing_defaults():
        figure = blank_sheet(placement.sheet, look, title or diagram.name, keep)
        figure.drawing = draw_on_sheet(figure, diagram, placement, look, asked, "drawing")
        figure.description = alternative_text(figure.drawing, placement)
        furnish(figure, [figure.drawing], [placement], look, title=title, hidden=asked.hidden)
    return figure


def make_sheet(
    panels: Sequence[Panel],
    *,
    sheet: str = "A1",
    scale: float | str = "fit",
    orientation: str = "landscape",
    columns: int | None = None,
    wants: Wants | None = None,
    title: str | None = None,
    keep: Keep | None = None,
) -> SheetFigure:
    """
    Set several drawings on one sheet, row by row and all at one scale.

    Parameters
    ----------
    panels : sequence of Panel
        The drawings; each is dressed for the scale. Ink and paper of the sheet are those of
        the first one's style, and it speaks the unit of the first.
    sheet, scale, orientation, wants, title, keep
        As for :func:`make_figure`.
    columns : int, optional
        How many lie side by side; what lets them be largest when left out.

    Returns
    -------
    SheetFigure
        Its ``drawing`` is the tuple of drawings as they are shown.

    Raises
    ------
    SheetError
        As for :func:`make_figure`.
    """
    asked = wants or Wants()
    if not panels:
        raise SheetError("There is no drawing to put on the sheet.", field="panels")
    unit = panels[0].diagram.unit
    panels = [replace(panel, diagram=speaking(panel.diagram, unit)) for panel in panels]
    captions = [panel.caption for panel in panels]
    views = [panel.diagram.view for panel in panels]
    placements = place_all(
        [extent_of(panel.diagram, asked) for panel in panels],
        sheet=sheet,
        scale=scale,
        orientation=orientation,
        columns=columns,
        room_mm=asked.room_mm,
        beside_mm=max(
            sum(width(panel.diagram, sheet) for width in (beside_mm, noticed_mm, cautioned_mm))
            for panel in panels
        ),
        caption_mm=partial(captions_mm, captions, views),
        unit=unit,
    )
    look, name = panels[0].style, title or panels[0].diagram.name
    with drawing_defaults():
        figure = blank_sheet(placements[0].sheet, look, name, keep)
        figure.drawing = tuple(
            draw_on_sheet(
                figure,
                dressed(panel.diagram, panel.style, scale=placement.scale),
                placement,
                panel.style,
                asked,
                f"drawing_{number}",
            )
            for number, (panel, placement) in enumerate(zip(panels, placements, strict=True), start=1)
        )
        figure.description = " ".join(
            f"{number}. {plain_text(panel.caption)}: {alternative_text(drawing, placement)}"
            for number, (panel, drawing, placement) in enumerate(
                zip(panels, figure.drawing, placements, strict=True), start=1
            )
        )
        furnish(figure, figure.drawing, placements, look, title=title, hidden=asked.hidden, captions=captions)
    return figure


def plot_on(axes: Axes | None, diagram: DiagramLayers, *, wants: Wants | None = None) -> Axes:
    """
    Draw on axes of one's own, in page metres; line widths are those of the tables.

    Parameters
    ----------
    axes : matplotlib.axes.Axes or None
        Where to; a new figure's when None. Their limits are set to hold the drawing, and their
        aspect to equal.
    diagram : DiagramLayers
        The drawing, dressed.
    wants : Wants, optional
        Whether hidden lines are drawn; labels are drawn where the tables have them.

    Returns
    -------
    matplotlib.axes.Axes
        The same.
    """
    if axes is None:
        from matplotlib import pyplot

        axes = pyplot.subplots()[1]
        axes.set_axis_off()
    left, bottom, right, top = diagram.bounds
    pad = 0.02 * max(right - left, top - bottom, 1e-9)
    axes.set_aspect("equal")
    axes.set_xlim(left - pad, right + pad)
    axes.set_ylim(bottom - pad, top + pad)
    ink = draw_tables(axes, diagram, hidden=bool(wants and wants.hidden))
    if "labels" in diagram.extra:
        draw_labels(axes, diagram.extra["labels"], ink, scale=diagram.scale or 200.0)
    return axes


def blank_sheet(sheet: Sheet, style: Style, title: str, keep: Keep | None) -> SheetFigure:
    """Return a figure the size of a sheet with nothing on it."""
    return SheetFigure(
        width_mm=sheet.width_mm,
        height_mm=sheet.height_mm,
        title=plain_text(title),
        keep=keep,
        facecolor=style.paper,
    )


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


def draw_on_sheet(
    figure: SheetFigure, diagram: Any, placement: Placement, style: Style, wants: Wants, gid: str
) -> Any:
    """Draw one drawing in page coordinates, and return it with its labels."""
    axes = _axes_on(figure, placement.sheet, placement.space, gid)
    left, bottom, right, top = placement.window
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    labels, lost = placed_labels(
        diagram,
        placement,
        style,
        levels=wants.levels,
        dimensions=wants.dimensions,
        labels=wants.labels,
        hidden=wants.hidden,
        numbers=figure.numbers,
    )
    labels = with_words_beside(labels, diagram, placement, style)
    kept = {name: frame for name, frame in diagram.extra.items() if name != "labels"}
    further = {"labels": labels} if len(labels) else {}
    shown = replace(
        diagram,
        extra=MappingProxyType({**kept, **further}),
        findings=more_findings(diagram.findings, lost),
    )
    ink = draw_tables(axes, shown, hidden=wants.hidden, layers=figure.layers)
    draw_labels(axes, labels, ink, scale=placement.scale)
    draw_noticed(axes, diagram, placement, style, ink)
    draw_cautioned(axes, shown, placement, style, ink)
    return shown
