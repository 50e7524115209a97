"""
Several drawings on one sheet, side by side or as a board with title, legend and cautions; and
figures as pages of one PDF.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from ..checks import one_of
from ..errors import SheetError
from ..export.atomic import write_bytes
from ..export.pages import write_pages
from ..sheet.board import Part, make_board
from ..sheet.canvas import SheetFigure
from ..sheet.figure import Panel, make_sheet
from ..sheet.layout import Layout
from ..sheet.wants import Wants
from .drawings import Diagram

__all__ = ["Layout", "board", "side_by_side", "write_pages"]


def _caption(name: str, part: Diagram) -> str:
    """What is written under a drawing unless something else is asked for."""
    return part.caption or (part.name if name == "main" else name.replace("_", " ").capitalize())


def _drawn(part: Any, what: str) -> Diagram:
    """Refuse what is not drawn yet, such as a model."""
    if not isinstance(part, Diagram):
        raise SheetError(
            f"{what} is no drawing ({type(part).__name__}). Give what model.draw() returns.",
            field=what,
            value=type(part).__name__,
        )
    return part


def board(
    parts: Mapping[str, Diagram | str],
    *,
    layout: Layout | None = None,
    sheet: str = "A1",
    orientation: str = "landscape",
    scales: Mapping[str, float | str | Sequence[float]] | None = None,
    captions: Mapping[str, str] | None = None,
    title: str | None = None,
    subtitle: str | None = None,
    cautions: Sequence[str] = (),
    hidden: bool = False,
    levels: bool = True,
) -> SheetFigure:
    """
    Compose drawings at scales of their own, a title, a legend and cautions on one sheet.

    Parameters
    ----------
    parts : mapping of str to Diagram or str
        Drawings, and texts under a heading, by the names that the layout has for them. "title",
        "legend" and "cautions" of a layout are written by themselves.
    layout : Layout, optional
        Rows and columns of names, or boxes in millimetres. When left out, "plan" lies at the
        upper left, "main" in the middle and "exploded" on the right.
    sheet : str
        "A0" to "A4", or another size that sheets know.
    orientation : {"landscape", "portrait"}
        How it lies.
    scales : mapping, optional
        By name: the x of 1:x, "fit" for the largest listed scale that fits its box, or some
        scales of which the first that fits is taken; "fit" where nothing is said.
    captions : mapping of str to str, optional
        What is written under each; its caption or its name when left out.
    title, subtitle : str, optional
        The site's name, and nothing, when left out.
    cautions : sequence of str
        Written under the general caution.
    hidden, levels : bool
        As for :meth:`Diagram.figure`.

    Returns
    -------
    matplotlib.figure.Figure
        Its ``drawing`` is the mapping of drawings as they are shown.

    Raises
    ------
    SheetError
        If a part has no place or a place no part, or a drawing does not fit its box.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> drawing = siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30))
    >>> sheet = siteaxo.board({"main": drawing}, layout=siteaxo.Layout(rows=["main", "title"]), sheet="A3")
    >>> [round(25.4 * side) for side in sheet.get_size_inches()]
    [420, 297]
    """
    said, named = dict(scales or {}), dict(captions or {})
    made = {
        name: part
        if isinstance(part, str)
        else Part(
            diagram=_drawn(part, f"Part {name!r} of the board"),
            style=part.style,
            caption=named.get(name) or _caption(name, part),
            scale=said.get(name, "fit"),
        )
        for name, part in parts.items()
    }
    inputs = [path for one in parts.values() for path in getattr(one, "inputs", ())]
    for name in (*said, *named):
        one_of(name, parts, "part of the board", SheetError)
    return make_board(
        made,
        layout=layout,
        sheet=sheet,
        orientation=orientation,
        title=title,
        subtitle=subtitle,
        cautions=cautions,
        wants=Wants(hidden=hidden, levels=levels),
        keep=partial(write_bytes, inputs=inputs),
    )


def side_by_side(
    diagrams: Sequence[Diagram],
    *,
    captions: Sequence[str] | None = None,
    sheet: str = "A1",
    scale: float | str = "fit",
    orientation: str = "landscape",
    columns: int | None = None,
    hidden: bool = False,
    levels: bool = True,
    title: str | None = None,
) -> SheetFigure:
    """
    Set several drawings on one sheet, row by row and all at one scale.

    Parameters
    ----------
    diagrams : sequence of Diagram
        The drawings.
    captions : sequence of str, optional
        What is written under each; their own captions, or the names of their sites, when left out.
    sheet, scale, orientation, hidden, levels, title
        As for :meth:`Diagram.figure`; "fit" is the largest listed scale at which all fit.
    columns : int, optional
        How many lie side by side; what lets them be largest when left out.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    SheetError
        If they do not fit, or there are not as many captions as drawings.

    Examples
    --------
    >>> import geopandas
    >>> import shapely
    >>> import siteaxo
    >>> yard = geopandas.GeoDataFrame(
    ...     geometry=[shapely.box(500000, 5700000, 500008, 5700006)], crs="EPSG:25832"
    ... )
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0.0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> two = [model.draw(siteaxo.planometric(turn=turn)) for turn in (30, 60)]
    >>> sheet = siteaxo.side_by_side(two, captions=["30°", "60°"], sheet="A3", scale=100)
    >>> [len(drawing.faces) for drawing in sheet.drawing]
    [3, 3]
    """
    for number, diagram in enumerate(diagrams, start=1):
        _drawn(diagram, f"Drawing {number}")
    own = [diagram.caption or diagram.name for diagram in diagrams]
    names = own if captions is None else list(captions)
    if len(names) != len(diagrams):
        raise SheetError(
            f"There are {len(diagrams)} drawings and {len(names)} captions; give one for each.",
            field="captions",
            value=len(names),
        )
    panels = [Panel(diagram=d, style=d.style, caption=name) for d, name in zip(diagrams, names, strict=True)]
    return make_sheet(
        panels,
        sheet=sheet,
        scale=scale,
        orientation=orientation,
        columns=columns,
        wants=Wants(hidden=hidden, levels=levels),
        title=title,
        keep=partial(write_bytes, inputs=[path for diagram in diagrams for path in diagram.inputs]),
    )
