"""
What a model can say in numbers: studies of views, quantities, and cautions.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from ..craft.style import Style
from ..export.atomic import write_bytes
from ..export.tables import write_csv
from ..measure.cautions import cautions
from ..measure.quantities import Measured, measured, quantities
from ..measure.thresholds import CautionLimits
from ..measure.viewing import AVOID, study_tables
from ..view.choices import TURNS, candidates
from ..view.study import look_from
from ..view.tolerance import Tolerance
from .studied import ViewStudy

if TYPE_CHECKING:
    from ..sheet.canvas import SheetFigure

Progress = Callable[[str, float], None]
BILL_NAMES: Final = MappingProxyType(
    {
        "role": ("role",),
        "material": ("role", "material"),
        "terrace": ("terrace",),
        "feature": ("layer", "source_id"),
    }
)
"""Columns that name the rows of each table of quantities."""


class Measures:
    """
    What a model says in numbers.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame({"phase": [1]}, geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> model.study(turns=(30, 60), pictures=False).best.view.turn in (30, 60)
    True
    >>> model.quantities(by="role")["role"].tolist()
    ['terrace']
    >>> model.quantities_figure(sheet="A4").get_size_inches().round(2).tolist()
    [11.69, 8.27]
    >>> import pathlib, tempfile
    >>> file = pathlib.Path(tempfile.mkdtemp(), "quantities.csv")
    >>> model.quantities_to_csv(file)
    >>> file.is_file()
    True
    >>> len(model.cautions())
    0
    """

    def study(
        self: Any,
        *,
        kinds: Iterable[str] = ("planometric",),
        turns: Iterable[float] = TURNS,
        height_factors: Iterable[float] = (1.0,),
        mirrored: bool = False,
        targets: Mapping[str, Any] | None = None,
        weights: Mapping[str, float] | None = None,
        avoid: float = AVOID,
        tolerance: Tolerance | None = None,
        threads: int = 2,
        pictures: bool = True,
        progress: Progress | None = None,
    ) -> ViewStudy:
        """
        Find which view shows most of what matters.

        Parameters
        ----------
        kinds, turns, height_factors, mirrored
            The views; see :func:`siteaxo.view.choices.candidates`.
        targets : mapping of str to Selection, mapping or str, optional
            What matters, e.g. ``{"water": "water", "flights": {"layer": "steps"}}``.
        weights : mapping of str to float, optional
            Weight of targets, roles, "all", "size" and "coincidence".
        avoid : float
            Views with a larger share of plan edges that fall on one another are set aside.
        tolerance : Tolerance, optional
            When two things count as equal.
        threads : int
            How many views are worked on at once.
        pictures : bool
            Keep what is seen, for :meth:`ViewStudy.sheet`.
        progress : callable, optional
            Called as ``progress("views", share)``.

        Returns
        -------
        ViewStudy
            With ``table``, ``roles``, ``targets``, ``features``, ``best`` and ``sheet()``.

        Raises
        ------
        ViewError
            If there is no view, a target cannot be seen at all, or a weight is unknown.
        """
        asked = candidates(kinds=kinds, turns=turns, height_factors=height_factors, mirrored=mirrored)
        views = [one.view.after_turning(self.squaring) for one in asked]
        looks = look_from(
            self.stack.scene,
            views,
            origin=self.origin,
            tolerance=tolerance,
            threads=threads,
            pictures=pictures,
            progress=progress,
        )
        tables = study_tables(
            self.stack,
            asked,
            looks,
            name=self.site.name,
            targets=targets,
            weights=weights,
            avoid=avoid,
        )
        return ViewStudy(**tables, matrices=tuple(view.matrix for view in views))

    def quantities(
        self: Any, *, by: str = "role", style: Style | None = None, progress: Progress | None = None
    ) -> Any:
        """
        Measure the site; see :func:`siteaxo.measure.quantities.quantities`.

        Parameters
        ----------
        by : {"role", "material", "terrace", "feature"}
            What the rows are.
        style : Style, optional
            Sizes of paving units by material.
        progress : callable, optional
            Called as ``progress("quantities", share)``; it may raise to stop the work.

        Returns
        -------
        geopandas.GeoDataFrame
            In the local plane.
        """
        say = progress or (lambda stage, share: None)
        say("quantities", 0.0)
        known = self._amounts if style is None else self._measured(style)
        say("quantities", 0.8)
        rows = quantities(self.stack, by=by, crs=self.gathered.plane.crs, known=known)
        say("quantities", 1.0)
        return rows

    @cached_property
    def _amounts(self: Any) -> Measured:
        """What is measured with the usual sizes of paving units."""
        return self._measured(None)

    def _measured(self: Any, style: Style | None) -> Measured:
        read = self.gathered.features
        drawn = read.geometry[read.of_role("name") == "ground"]
        return measured(self.stack, style=style, drawn_ground=drawn, base_line=-self.squaring)

    def quantities_to_csv(self: Any, path: str | os.PathLike[str], *, by: str = "role") -> None:
        """
        Write a table of quantities.

        Parameters
        ----------
        path : path
            The file; it is replaced whole or not at all.
        by : {"role", "material", "terrace", "feature"}
            What the rows are.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        rows = self.quantities(by=by).drop(columns="geometry")
        write_csv(rows, path, inputs=self.site.inputs)

    def quantities_figure(
        self: Any,
        *,
        sheet: str = "A3",
        orientation: str = "landscape",
        title: str = "Quantities",
        by: Iterable[str] = ("material", "terrace"),
        style: Style | None = None,
        progress: Progress | None = None,
    ) -> SheetFigure:
        """
        Set tables of quantities on one sheet, in the unit that the site's sheets speak.

        Parameters
        ----------
        sheet, orientation, title : str
            Size, "landscape" or "portrait", and heading.
        by : iterable of str
            Which tables: "role", "material", "terrace" and "feature".
        style : Style, optional
            Ink, paper, swatches, and sizes of paving units.
        progress : callable, optional
            Called as ``progress("quantities", share)`` for each table; it may raise to stop the work.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        SheetError
            If they do not fit.
        """
        from ..sheet.bills import Bill, quantities_sheet

        frames = [(one, self.quantities(by=one, style=style, progress=progress)) for one in by]
        bills = [Bill(heading=f"By {one}", frame=frame, names=BILL_NAMES[one]) for one, frame in frames]
        return quantities_sheet(
            bills,
            site=self.site.name,
            sheet=sheet,
            orientation=orientation,
            title=title,
            style=style,
            keep=write_bytes,
            unit=self.site.sheet_unit,
        )

    def cautions(self: Any, limits: CautionLimits | None = None, *, progress: Progress | None = None) -> Any:
        """
        List places to look at; see :func:`siteaxo.measure.cautions.cautions`.

        Parameters
        ----------
        limits : CautionLimits, optional
            Thresholds.
        progress : callable, optional
            Called as ``progress("cautions", share)``; it may raise to stop the work.

        Returns
        -------
        geopandas.GeoDataFrame
            In the local plane, each row with the rule that it comes from.
        """
        return cautions(self.stack, limits=limits, crs=self.gathered.plane.crs, progress=progress)
