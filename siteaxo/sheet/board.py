"""
A board: several drawings at scales of their own, with title, legend and cautions, composed on one sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from ..checks import finite, nearest, one_of
from ..craft.dress import dressed
from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..errors import SheetError
from .arranged import closed_up, usual_layout
from .beside import beside_mm
from .board_words import CAPTION_MM, caption_on, legend_on, text_on, title_on
from .canvas import Keep, SheetFigure, drawing_defaults
from .figure import blank_sheet, draw_on_sheet
from .furniture import FRAME_MM
from .layout import Layout
from .lettering import rule_box
from .page import ORIENTATIONS, Bounds, Box, Placement, Sheet
from .paths import TABLE_NAMES
from .scales import scale_words, scales_in
from .wants import Wants, extent_of, speaking
from .words import CAUTION, alternative_text, plain_text

WORDS: Final = ("title", "legend", "cautions")
"""Parts of a board that are written, whatever it shows."""
CLEAR_MM: Final = 3.0
"""Left free around each drawing in its box [mm]."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """
    One drawing on a board.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    style : Style
        Its style.
    caption : str
        What is written under it.
    scale : float, "fit" or sequence of float
        The x of 1:x; the largest listed scale at which it fits; or the first of some that fits.
    """

    diagram: DiagramLayers
    style: Style
    caption: str
    scale: float | str | Sequence[float] = "fit"


def make_board(
    parts: Mapping[str, Part | str],
    *,
    layout: Layout | None = None,
    sheet: str = "A1",
    orientation: str = "landscape",
    title: str | None = None,
    subtitle: str | None = None,
    cautions: Sequence[str] = (),
    wants: Wants | None = None,
    keep: Keep | None = None,
) -> SheetFigure:
    """
    Compose drawings and words on one sheet.

    Parameters
    ----------
    parts : mapping of str to Part or str
        Drawings and texts by the names that the layout has for them. "title", "legend" and
        "cautions" need not be given. The board speaks the unit of its main drawing, or its first.
    layout : Layout, optional
        Where they lie; plan at the upper left, main drawing in the middle and exploded view on
        the right when left out.
    sheet, orientation
        As for figures.
    title, subtitle : str, optional
        The site's name when left out; a line under the title.
    cautions : sequence of str
        Written under the general caution.
    wants : Wants, optional
        What is shown beside the drawings themselves.
    keep : callable, optional
        What puts the bytes of a saved file in place.

    Returns
    -------
    SheetFigure
        Its ``drawing`` is the mapping of drawings as they are shown.

    Raises
    ------
    SheetError
        If a part has no place or a place no part, or a drawing does not fit its box.
    """
    one_of(orientation, ORIENTATIONS[:2], "orientation", SheetError)
    page = Sheet(name=sheet, orientation=orientation)
    plan = layout or usual_layout(page)
    drawings = {name: part for name, part in parts.items() if isinstance(part, Part)}
    _check_names(parts, plan, needed=layout is not None)
    if layout is None:
        plan = closed_up(plan, set(plan.names) - {*parts, *WORDS})
    if not drawings:
        raise SheetError("There is no drawing on the board. Give at least one.", field="parts")
    unit = (drawings.get("main") or next(iter(drawings.values()))).diagram.unit
    drawings = {name: replace(one, diagram=speaking(one.diagram, unit)) for name, one in drawings.items()}
    boxes = plan.boxes_on(page)
    drawings = {name: _terse(boxes[name], part, page, name) for name, part in drawings.items()}
    placed = {name: placed_in(boxes[name], part, page, name) for name, part in drawings.items()}
    first = drawings.get("main") or next(iter(drawings.values()))
    look, asked = first.style, wants or Wants()
    with drawing_defaults():
        figure = blank_sheet(page, look, title or first.diagram.name, keep)
        figure.drawing = {
            name: draw_on_sheet(
                figure,
                dressed(drawings[name].diagram, drawings[name].style, scale=placed[name].scale),
                placed[name],
                drawings[name].style,
                asked,
                f"drawing_{re.sub('[^a-z0-9]+', '-', name.lower())}",
            )
            for name in boxes
            if name in drawings
        }
        figure.description = " ".join(
            f"{plain_text(drawings[name].caption)}: {alternative_text(shown, placed[name])}"
            for name, shown in figure.drawing.items()
        )
        _furnish(figure, boxes, parts, placed, look, title, subtitle, cautions, asked)
    return figure


def _terse(box: Box, part: Part, sheet: Sheet, name: str) -> Part:
    """A part without the details of the words beside it, where it can be larger without them."""
    if not part.diagram.beside:
        return part
    words = tuple(replace(one, detail="") for one in part.diagram.beside)
    short = replace(part, diagram=replace(part.diagram, beside=words))
    larger = placed_in(box, short, sheet, name).scale
    try:
        return part if placed_in(box, part, sheet, name).scale <= larger else short
    except SheetError:
        return short


def placed_in(box: Box, part: Part, sheet: Sheet, name: str) -> Placement:
    """
    Set one drawing in the middle of its box, above its caption.

    Raises
    ------
    SheetError
        If it does not fit; the message says which scale would do.
    """
    bounds = extent_of(part.diagram, Wants())
    beside = beside_mm(part.diagram, sheet.name)
    space = Box(
        left=box.left, bottom=box.bottom + CAPTION_MM, width=box.width, height=box.height - CAPTION_MM
    )
    free = (space.width - 2 * CLEAR_MM - beside, space.height - 2 * CLEAR_MM)
    size = ((bounds[2] - bounds[0]) * 1000, (bounds[3] - bounds[1]) * 1000)
    if min(size) <= 0:
        raise SheetError(f"Part {name!r} of the board has nothing to draw.", field=name)
    if min(free) <= 0:
        raise SheetError(f"The box of part {name!r} is too small for a drawing; make it larger.", field=name)
    least = max(one / room for one, room in zip(size, free, strict=True))
    unit = part.diagram.unit
    scale = _chosen(part.scale, least, name, free, unit)
    return Placement(
        sheet=sheet,
        scale=scale,
        fitted=part.scale == "fit",
        window=_window(bounds, scale, space, beside),
        space=space,
        unit=unit,
    )


def _chosen(
    asked: float | str | Sequence[float], least: float, name: str, free: tuple[float, float], unit: str
) -> float:
    """The scale of a drawing that needs 1:*least* or smaller."""
    if isinstance(asked, str):
        one_of(asked, ("fit",), f"scale of part {name!r}", SheetError)
        known: Sequence[float] = scales_in(unit)
    else:
        known = [asked] if isinstance(asked, int | float) else list(asked)
    for scale in known:
        if finite(scale, f"scale of part {name!r}", SheetError) >= least * (1 - 1e-12):
            return float(scale)
    listed = next((one for one in scales_in(unit) if one >= least), scales_in(unit)[-1])
    raise SheetError(
        f"Part {name!r} of the board does not fit its box of {free[0]:.0f} × {free[1]:.0f} mm at "
        f"{', '.join(scale_words(scale, unit) for scale in known[:3])}. Use scale {listed:g}, or give it a "
        "larger box.",
        field=name,
        value=asked,
    )


def _window(bounds: Bounds, scale: float, space: Box, beside: float) -> Bounds:
    x = (bounds[0] + bounds[2] + beside * scale / 1000) / 2
    y = (bounds[1] + bounds[3]) / 2
    half = (space.width * scale / 2000, space.height * scale / 2000)
    return (x - half[0], y - half[1], x + half[0], y + half[1])


def _check_names(parts: Mapping[str, Any], layout: Layout, *, needed: bool) -> None:
    for name in parts:
        if name not in layout.names:
            raise SheetError(
                f"The layout has no place for part {name!r}. {nearest(name, layout.names)}", field=name
            )
    for name in layout.names:
        if needed and name not in parts and name not in WORDS:
            raise SheetError(
                f"Nothing is given for {name!r} of the layout; known: {', '.join(parts)}.", field=name
            )


def _furnish(
    figure: SheetFigure,
    boxes: Mapping[str, Box],
    parts: Mapping[str, Part | str],
    placed: Mapping[str, Placement],
    style: Style,
    title: str | None,
    subtitle: str | None,
    cautions: Sequence[str],
    wants: Wants,
) -> None:
    """Draw frame, captions and words, in millimetres."""
    sheet = next(iter(placed.values())).sheet
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), gid="furniture")
    figure.layers["furniture"] = ("", TABLE_NAMES["furniture"])
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width_mm)
    axes.set_ylim(0.0, sheet.height_mm)
    rule_box(axes, sheet.frame, FRAME_MM, style.ink, "frame")
    main = figure.drawing.get("main", next(iter(figure.drawing.values())))
    for name, box in boxes.items():
        part = parts.get(name)
        if isinstance(part, Part):
            caption_on(
                axes, figure.drawing[name], placed[name], part.caption, style, name, full=name == "main"
            )
        elif isinstance(part, str):
            text_on(axes, box, name.replace("_", " ").capitalize(), [part], sheet, style)
        elif name == "title":
            title_on(axes, box, title or main.name, subtitle or "", main, sheet, style)
        elif name == "legend":
            legend_on(axes, box, figure.drawing, placed, sheet, style, hidden=wants.hidden)
        elif name == "cautions":
            sentences = [f"{one}." for one in CAUTION.rstrip(".").split(". ")]
            text_on(axes, box, "General cautions", [" ".join(sentences), *cautions], sheet, style)
