"""
Diagrams: a finished drawing is dressed for a scale, set on sheets and handed out.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from ..craft.dress import dress
from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..export.atomic import write_bytes
from ..export.gpkg import write_gpkg
from ..export.patching import Amendment
from ..source.site import SheetSettings
from .readback import ReadsBack, TakesMarks
from .shown import diagram_text

if TYPE_CHECKING:
    from ..sheet.callouts import Label
    from ..sheet.canvas import SheetFigure


@dataclass(frozen=True, kw_only=True, eq=False)
class Diagram(TakesMarks, ReadsBack, DiagramLayers):
    """
    A finished drawing. See :class:`siteaxo.diagram.layers.DiagramLayers`.

    Its tables are in metres of the page at full size, x right, y up. The page lies nowhere on the Earth, so
    they have no CRS; :meth:`to_site` brings places back to one, and :meth:`to_gpkg` writes the CRS of the
    page, or lays the drawing on the local plane.

    Parameters
    ----------
    sheet_settings : SheetSettings
        The sheet the site asks for.
    style : Style
        The style it was drawn in.
    inputs : tuple of str
        Files that it was made from; none of them is written onto.

    Examples
    --------
    >>> import geopandas
    >>> import shapely
    >>> import siteaxo
    >>> yard = geopandas.GeoDataFrame(
    ...     geometry=[shapely.box(500000, 5700000, 500008, 5700006)], crs="EPSG:25832"
    ... )
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0.0, top=1.5)
    >>> diagram = siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30))
    >>> len(diagram.faces), sorted(set(diagram.edges["kind"]))
    (3, ['edge', 'profile'])
    >>> diagram.faces.crs is None, diagram.to_site([(0.0, 0.0)], level=1.5).shape
    (True, (1, 3))
    >>> [float(diagram.at_scale(x).edges["line_mm"].max()) for x in (50, 200, 500)]
    [1.0, 0.7, 0.5]
    >>> [diagram.scale_of(sheet=size, scale="fit") for size in ("A4", "A1")]
    [100.0, 50.0]
    >>> figure = diagram.figure(sheet="A4", scale=100, labels=[siteaxo.Label(text="Yard", layer="yard")])
    >>> figure.description[:32]
    'Yard, drawn 1:100 at A4. Planome'
    >>> import pathlib, tempfile
    >>> file = pathlib.Path(tempfile.mkdtemp(), "diagram.gpkg")
    >>> diagram.to_gpkg(file)
    >>> file.is_file()
    True
    >>> axes = diagram.plot()
    >>> axes.get_aspect()
    1.0
    """

    sheet_settings: SheetSettings
    style: Style
    inputs: tuple[str, ...] = ()
    state: ClassVar[str] = ""
    amendment: ClassVar[Amendment | None] = None

    def __repr__(self) -> str:
        return diagram_text(self)

    @property
    def __geo_interface__(self) -> dict[str, Any]:
        """The visible faces as features in page metres, x right, y up."""
        return dict(self.faces.__geo_interface__)

    def at_scale(self, scale: float) -> Diagram:
        """
        Return the drawing with line widths, patterns and thinning for 1:*scale*.

        Parameters
        ----------
        scale : float
            The x of 1:x.

        Returns
        -------
        Diagram

        Raises
        ------
        SheetError
            If the scale is not above zero.
        """
        return self if scale == self.scale else dress(self, self.style, scale=scale)

    def scale_of(
        self,
        *,
        sheet: str | None = None,
        scale: float | str | None = None,
        orientation: str | None = None,
        dimensions: bool = False,
    ) -> float:
        """
        Return the x of the 1:x at which a figure would be drawn; parameters as for :meth:`figure`.

        A drawing without anything in it has the scale asked for, or 200.
        """
        asked = self.sheet_settings
        wanted = asked.scale if scale is None else scale
        if not isinstance(wanted, str):
            return float(wanted)
        left, bottom, right, top = self.bounds
        if right <= left or top <= bottom:
            return 200.0
        from ..sheet.wants import Wants, set_out  # it loads what draws, which takes a second

        way = orientation or asked.orientation or "landscape"
        wants = Wants(dimensions=dimensions)
        return set_out(self, wants, sheet=sheet or asked.size, scale=wanted, orientation=way).scale

    def to_gpkg(
        self,
        path: str | os.PathLike[str],
        *,
        frame: Literal["sheet", "map"] = "sheet",
        progress: Callable[[str, float], None] | None = None,
    ) -> None:
        """
        Write the diagram GeoPackage.

        Parameters
        ----------
        path : path
            The file; it is replaced whole or not at all.
        frame : {"sheet", "map"}
            Page coordinates in an engineering CRS, or, for planometric views, the same
            drawing laid on the local plane.
        progress : callable, optional
            Called as ``progress("rows", share)``; it may raise to stop, and the file is as it was.

        Raises
        ------
        OutputError
            If it cannot be written; what stood there is untouched.
        ViewError
            If the view does not keep the plan and the map frame is asked for.
        """
        write_gpkg(self, path, frame=frame, inputs=self.inputs, progress=progress)

    def figure(
        self,
        *,
        sheet: str | None = None,
        scale: float | str | None = None,
        orientation: str | None = None,
        hidden: bool = False,
        levels: bool = True,
        dimensions: bool = False,
        labels: Sequence[Label] = (),
        title: str | None = None,
        progress: Callable[[str, float], None] | None = None,
    ) -> SheetFigure:
        """
        Set the drawing on a sheet at a true scale.

        Parameters left out are taken from the site file.

        Parameters
        ----------
        sheet : str, optional
            "A0" to "A4", "ANSI A" to "ANSI E", or "ARCH A" to "ARCH E1".
        scale : float or "fit", optional
            The x of 1:x; "fit" takes the largest listed scale that fits.
        orientation : {"landscape", "portrait", "auto"}, optional
            How the sheet lies.
        hidden : bool
            Draw hidden lines, dashed.
        levels : bool
            Mark levels.
        dimensions : bool
            Give overall dimensions along the base line, across it, and in height.
        labels : sequence of Label
            Call-outs.
        title : str, optional
            Title of the sheet.
        progress : callable, optional
            Called as ``progress(stage, share)`` with the stages "dress" and "labels".

        Returns
        -------
        matplotlib.figure.Figure
            Its ``savefig`` keeps the scale and replaces files whole; its ``drawing`` is the
            diagram with the widths, patterns and labels of this figure.

        Raises
        ------
        SheetError
            If the drawing does not fit; the message names a scale and a sheet that do.
        """
        from ..sheet.figure import make_figure
        from ..sheet.wants import Wants

        asked, say = self.sheet_settings, progress or (lambda stage, share: None)
        say("dress", 0.0)
        at = self.scale_of(sheet=sheet, scale=scale, orientation=orientation, dimensions=dimensions)
        shown = self.at_scale(at)
        say("dress", 1.0)
        say("labels", 0.0)
        made = make_figure(
            shown,
            sheet=sheet or asked.size,
            scale=asked.scale if scale is None else scale,
            orientation=orientation or asked.orientation or "landscape",
            wants=Wants(hidden=hidden, levels=levels, dimensions=dimensions, labels=tuple(labels)),
            style=self.style,
            title=title or self.caption or asked.title,
            keep=partial(write_bytes, inputs=self.inputs),
        )
        say("labels", 1.0)
        return made

    def plot(self, ax: Any = None, *, hidden: bool = False) -> Any:
        """
        Draw on axes of one's own, in page metres.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Where to; a new figure's when left out.
        hidden : bool
            Draw hidden lines, dashed.

        Returns
        -------
        matplotlib.axes.Axes
            Line widths are those of the tables, so that the scale of the axes is up to you.
        """
        from ..sheet.figure import plot_on
        from ..sheet.wants import Wants

        return plot_on(ax, self, wants=Wants(hidden=hidden))

    def _repr_png_(self) -> bytes:
        """Picture for notebooks: the drawing on an A4 sheet, as large as it fits."""
        from ..export.images import picture

        return picture(self.figure(sheet="A4", scale="fit", orientation="auto"))

    def _repr_html_(self) -> str:
        """Picture for notebooks, with its description as alternative text."""
        from ..export.images import picture_html

        return picture_html(self.figure(sheet="A4", scale="fit", orientation="auto"))
