"""
Models: a site with its levels settled is drawn.

The class puts the verbs on the data that the rooms below define.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any, Literal

import numpy as np

from ..craft.crowd import Crowd
from ..craft.style import Style
from ..diagram.footprints import footprints_of
from ..diagram.places import finding_marks, findings_on_plane, retaining_table
from ..keeping import Store
from ..solids.stack import Stack
from ..source.gather import Gathered
from ..source.site import SiteData
from ..view.projection import View
from ..view.sun import Sun
from ..view.tolerance import Tolerance
from .drawings import Diagram
from .measuring import Measures
from .recent import Recent
from .shown import model_html, model_text
from .stages import Stages
from .story import Story

Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class Model(Story, Stages, Measures):
    """
    A site with all levels settled, as solids on its local plane.

    Parameters
    ----------
    site : Site
        Where it comes from.
    gathered : Gathered
        What was read.
    stack : Stack
        The solids.
    page_origin : ndarray, shape (3,), optional
        Point of the local plane that lands at the page's origin, where several models share
        one [m]; the middle of the site at the level drawn in place when left out.
    recent : Recent
        What was resolved last, for drawings in other styles and at other scales.

    Examples
    --------
    >>> import geopandas
    >>> import shapely
    >>> import siteaxo
    >>> frame = geopandas.GeoDataFrame(geometry=[shapely.box(5e5, 0, 5e5 + 8, 6)], crs="EPSG:25832")
    >>> yard = siteaxo.Layer(name="yard", role="structure", source=frame, base=0.0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[yard]).stack()
    >>> model.footprints[["layer", "base", "top"]].to_numpy().tolist()
    [['yard', 0.0, 1.5]]
    >>> len(model.findings), len(model.retaining_walls), model.drawn_in_place, model.view().kind
    (0, 0, 0.0, 'planometric')
    >>> model.origin.shape, model.squaring
    ((3,), 0.0)
    """

    site: SiteData
    gathered: Gathered
    stack: Stack
    page_origin: np.ndarray | None = None
    recent: Recent = field(default_factory=Recent, repr=False)

    @cached_property
    def findings(self) -> Any:
        """Everything noticed in the data and where it is, a GeoDataFrame on the local plane."""
        return findings_on_plane(self._noticed(), self.stack.features, self.gathered.plane.crs)

    @cached_property
    def retaining_walls(self) -> Any:
        """Walls between terraces, a GeoDataFrame; see :class:`RetainingWalls` for what it holds."""
        return retaining_table(self.stack, self.gathered.plane.crs)

    @property
    def footprints(self) -> Any:
        """Footprints with all levels settled, a GeoDataFrame on the local plane."""
        return footprints_of(self.stack, self.gathered.plane.crs)

    @property
    def __geo_interface__(self) -> dict[str, Any]:
        """The footprints as GeoJSON features, in longitude and latitude."""
        return dict(self.footprints.to_crs("OGC:CRS84").__geo_interface__)

    def __repr__(self) -> str:
        return model_text(self)

    def _repr_html_(self) -> str:
        """Preview for notebooks: the plan, and what there is."""
        return model_html(self)

    def draw(
        self,
        view: View | None = None,
        *,
        style: Style | Mapping[str, Any] | str | os.PathLike[str] | None = None,
        scale: float | str | None = None,
        people: Crowd | Mapping[str, Any] | bool | None = None,
        shadows: Sun | datetime | Mapping[str, Any] | Literal["conventional"] | bool | None = None,
        planting: Literal["outline", "texture", "translucent"] | None = None,
        findings: bool = False,
        tolerance: Tolerance | None = None,
        threads: int = 2,
        store: Store | None = None,
        progress: Progress | None = None,
    ) -> Diagram:
        """
        Draw the model with exact hidden-line removal.

        Parameters
        ----------
        view : View, optional
            The view; the one the site asks for when left out. The plan is squared up to
            its base line first.
        style : Style, mapping, str or path, optional
            Tones, line weights and patterns: a style, the name of one, a table such as
            ``{"base": "muted", "ink": "#203040"}``, or a TOML file with the same; what the
            site asks for, or "muted", when left out.
        scale : float or "fit", optional
            The x of the 1:x that line widths and patterns are for; the one the site asks
            for when left out. A figure at another scale gets its own.
        people : Crowd, mapping or bool, optional
            People for scale, and how many. When left out, what the site asks for; when it does
            not say, people are shown where it has a layer of areas for them, and only there.
        shadows : Sun, datetime, mapping, "conventional" or bool, optional
            The light that casts shadows: a bearing and an elevation, the sun at a time with
            a time zone, or the light of the style; False for none. When left out, what the
            site asks for, or none.
        planting : {"outline", "texture", "translucent"}, optional
            Crowns as plain solids, with foliage, or such that what stands beneath is seen. When
            left out, what the site asks for, or "outline".
        findings : bool
            Mark what was noticed where it is, with a list of it beside the drawing. What several
            features of a layer have in common has one number.
        tolerance : Tolerance, optional
            When two things count as equal.
        threads : int
            How many parts of the drawing are worked on at once; large scenes (20 000 solids or
            more) by processes that are started for it and end with it, others by threads.
        store : Store, optional
            Where parts of the work are kept for the next time, such as
            :class:`siteaxo.FolderStore`; the drawing is the same.
        progress : callable, optional
            Called as ``progress(stage, share)``.

        Returns
        -------
        Diagram

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
        >>> diagram = model.draw(siteaxo.isometric(), style="line only", people=siteaxo.Crowd(density=0.1))
        >>> diagram.style.name, "people" in diagram.extra
        ('line only', True)
        """
        wish = self._wish(
            view,
            style=style,
            scale=scale,
            people=people,
            shadows=shadows,
            planting=planting,
            tolerance=tolerance,
            threads=threads,
            store=store,
            progress=progress,
        )
        return self._drawn(wish, finish=self._marked if findings else None)

    def _marked(self, diagram: Diagram) -> Diagram:
        """Add the places of findings to a drawing."""
        marks = finding_marks(self._noticed(diagram.style), self.stack, diagram.view)
        return replace(diagram, extra={**diagram.extra, "finding_marks": marks})
