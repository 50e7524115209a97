"""
Options and stages: several states of a site in one view and at one scale, and what differs.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from ..checks import one_of
from ..craft.changed import with_changes, with_removed
from ..diagram.changes import differences, state_of, summary_of
from ..errors import InputError
from ..export.tables import write_csv
from ..view.projection import View
from ..view.resolve import resolve
from .drawings import Diagram
from .shown import comparison_text

if TYPE_CHECKING:
    from ..sheet.canvas import SheetFigure


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """
    States of a site in one view, and what differs.

    Parameters
    ----------
    names : tuple of str
        Name of each state.
    diagrams : tuple of Diagram
        Drawing of each, all with one extent. From the second on, tables have the column
        ``change``, and ``removed`` holds what is no more.
    differences : geopandas.GeoDataFrame
        One row for every feature and state from the second on; see
        :func:`siteaxo.diagram.changes.differences`. ``state`` and ``against`` say what is
        compared with what.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> before = siteaxo.Site(name="Yard", layers=[layer])
    >>> raised = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=2.5)
    >>> found = siteaxo.compare({"today": before, "raised": siteaxo.Site(name="Yard", layers=[raised])})
    >>> found
    <Comparison of today, raised>
      1 changed
    >>> found.summary["change"].tolist()
    ['changed']
    >>> found.sheet(sheet="A3").get_size_inches().round(2).tolist()
    [16.54, 11.69]
    >>> import pathlib, tempfile
    >>> file = pathlib.Path(tempfile.mkdtemp(), "differences.csv")
    >>> found.to_csv(file)
    >>> file.is_file()
    True
    """

    names: tuple[str, ...]
    diagrams: tuple[Diagram, ...]
    differences: Any

    def __repr__(self) -> str:
        return comparison_text(self)

    def _repr_png_(self) -> bytes:
        """Picture for notebooks: all states side by side on an A4 sheet, as large as they fit."""
        from ..export.images import picture

        return picture(self._preview())

    def _repr_html_(self) -> str:
        """Picture for notebooks, with its description as alternative text, and how many features differ."""
        from ..export.images import picture_html

        return f"<div>{picture_html(self._preview())}{self.summary.to_html(index=False)}</div>"

    def _preview(self) -> SheetFigure:
        return self.sheet(sheet="A4", orientation="auto")

    @property
    def summary(self) -> pd.DataFrame:
        """How many features are new, changed, kept and removed, by state and role, with plan areas [m²]."""
        return summary_of(self.differences)

    def sheet(self, *, sheet: str = "A1", **options: Any) -> SheetFigure:
        """
        Set all states side by side on one sheet; options as of :func:`siteaxo.side_by_side`.

        Returns
        -------
        matplotlib.figure.Figure
        """
        from .boards import side_by_side

        return side_by_side(self.diagrams, sheet=sheet, **options)

    def to_csv(self, path: str | os.PathLike[str], *, unchanged: bool = False) -> None:
        """
        Write the table of differences.

        Parameters
        ----------
        path : path
            The file; it is replaced whole or not at all.
        unchanged : bool
            Write what is kept too.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        rows = self.differences if unchanged else self.differences[self.differences["change"] != "kept"]
        write_csv(pd.DataFrame(rows.drop(columns="geometry")), path)


def compare(
    states: Mapping[str, Any] | Sequence[Any],
    view: View | None = None,
    *,
    against: Literal["first", "before"] = "before",
    style: Any = None,
    scale: float | str | None = None,
    people: Any = False,
    shadows: Any = None,
    planting: str | None = None,
    threads: int = 2,
    progress: Callable[[str, float], None] | None = None,
) -> Comparison:
    """
    Draw several states of a site in one view, and tell apart what is new, kept and removed.

    Parameters
    ----------
    states : mapping of str to Site or Model, or sequence of them
        At least two; those of a sequence are called by their sites' names. All are brought onto
        the plane and squared up to the base line of the first, and speak the unit of its sheets.
    view : View, optional
        The view; the one the first asks for when left out.
    against : {"before", "first"}
        What each is compared with: the state before it, or the first.
    style, scale, people, shadows, planting, threads
        As for drawing.
    progress : callable, optional
        Called as ``progress(stage, share)``, the stages of each drawing under the name of its state.

    Returns
    -------
    Comparison
        The first state is drawn as ever. In the others new and changed features have their full
        tones and lines, what is kept is pale with fine grey lines, and what is removed is a
        dashed outline over a thin wash.

    Raises
    ------
    SiteaxoError
        If there are fewer than two states, or one cannot be stacked.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> site = siteaxo.Site(name="Yard", layers=[layer])
    >>> siteaxo.compare({"today": site, "tomorrow": site}).differences["change"].tolist()
    ['kept']
    """
    one_of(against, ("before", "first"), "against", InputError)
    names, models = _on_one_plane(states)
    asked = view or models[0].view()
    common = {
        "style": style,
        "scale": scale,
        "people": people,
        "shadows": shadows,
        "planting": planting,
        "threads": threads,
    }
    say = [_for_state(progress, name) for name in names]
    drawings, tables = [models[0].draw(asked, **common, progress=say[0])], []
    for number in range(1, len(models)):
        earlier = 0 if against == "first" else number - 1
        drawing, table = _against(models[number], models[earlier], asked, {**common, "progress": say[number]})
        drawings.append(drawing)
        table.insert(0, "state", names[number])
        table.insert(1, "against", names[earlier])
        tables.append(table)
    boxes = np.array([one.bounds for one in drawings])
    extent = tuple(float(v) for v in (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0)))
    return Comparison(
        names=names,
        diagrams=tuple(
            replace(one, extent=extent, caption=name) for one, name in zip(drawings, names, strict=True)
        ),
        differences=pd.concat(tables, ignore_index=True),
    )


def _for_state(
    progress: Callable[[str, float], None] | None, name: str
) -> Callable[[str, float], None] | None:
    """Progress of the drawing of one state."""
    return progress and (lambda stage, share: progress(f"{name}: {stage}", share))


def _on_one_plane(states: Mapping[str, Any] | Sequence[Any]) -> tuple[tuple[str, ...], list[Any]]:
    """Stack all states on the plane of the first, with one point at the page's origin."""
    items = list(states.items()) if isinstance(states, Mapping) else [(None, one) for one in states]
    if len(items) < 2:
        said = f"There are {len(items)} states to compare; give at least two sites or models."
        raise InputError(said, field="states", value=len(items))
    models: list[Any] = []
    for _, one in items:
        stacked = one if hasattr(one, "stack") and not callable(one.stack) else None
        models.append(_alike(one, stacked, models[0] if models else None))
    names = tuple(
        str(name) if name is not None else model.site.name
        for (name, _), model in zip(items, models, strict=True)
    )
    lowest = min(model.drawn_in_place for model in models)
    origin, unit = np.array([*models[0].origin[:2], lowest]), models[0].site.sheet_unit
    return names, [replace(model, page_origin=origin, site=model.site.speaking(unit)) for model in models]


def _alike(one: Any, stacked: Any, first: Any) -> Any:
    """One state as a model on the plane of the first."""
    if first is None:
        return stacked or one.stack()
    crs, bearing = first.gathered.plane.crs, first.gathered.base_line_bearing
    if stacked is not None and stacked.gathered.plane.crs == crs:
        return replace(stacked, gathered=replace(stacked.gathered, base_line_bearing=bearing))
    site = one if stacked is None else stacked.site
    return replace(site, plane_crs=crs, base_line=bearing).stack()


def _against(model: Any, earlier: Any, view: View, common: dict[str, Any]) -> tuple[Diagram, Any]:
    """Draw one state such that it tells what is new against an earlier one."""
    table = differences(
        state_of(earlier.stack, earlier.gathered.features),
        state_of(model.stack, model.gathered.features),
        crs=model.gathered.plane.crs,
    )
    wish = model._wish(view, **common)
    resolver = partial(resolve, view=wish.squared, origin=model.origin, threads=wish.threads)

    def finish(layers: Diagram) -> Diagram:
        told = with_changes(layers, table, wish.style)
        return with_removed(told, model.stack, earlier.stack, table, resolver, wish.style)

    return model._drawn(wish, finish=finish), table
