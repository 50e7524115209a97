"""
Models: a site with its levels settled is drawn.

The class puts the verbs on the data that the rooms below define.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, partial
from typing import Any, Literal

import numpy as np

from ..craft.asked import detail_of
from ..craft.crowd import Crowd, place_people
from ..craft.cutouts import page_right_on_plan
from ..craft.people import People
from ..craft.staging import Extras, Staged, extra_rows, stage
from ..craft.style import Style
from ..craft.stylefile import style_of
from ..craft.walkable import walkable
from ..diagram.build import build_diagram
from ..diagram.footprints import footprints_of
from ..diagram.layers import ViewRecord
from ..diagram.places import finding_marks, findings_on_plane, retaining_table
from ..diagram.tables import extra_table
from ..errors import Finding
from ..keeping import Store
from ..solids.stack import Stack
from ..source.gather import Gathered
from ..source.site import SiteData
from ..view.projection import View, make_view
from ..view.resolve import resolve
from ..view.sun import Sun
from ..view.tolerance import Tolerance
from .drawings import Diagram
from .measuring import Measures
from .recent import Recent
from .shown import model_html, model_text
from .stages import Stages
from .story import Story
from .wishes import Wish, crowd_wanted, light_wanted, recorded

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
        return findings_on_plane(self._findings, self.stack.features, self.gathered.plane.crs)

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

    @property
    def _findings(self) -> tuple[Finding, ...]:
        return (*self.gathered.findings, *self.stack.findings)

    @property
    def drawn_in_place(self) -> float:
        """The level that is not shifted up the page [m]."""
        asked = self.site.drawn_in_place_m
        return self.stack.lowest if asked is None else asked

    @cached_property
    def origin(self) -> np.ndarray:
        """Point of the local plane that lands at the page's origin, shape (3,) [m]."""
        if self.page_origin is not None:
            return self.page_origin
        xyz = self.stack.scene.faces.xyz
        if not len(xyz):
            return np.array([0.0, 0.0, self.drawn_in_place])
        middle = np.rint((xyz[:, :2].min(axis=0) + xyz[:, :2].max(axis=0)) / 2)
        return np.array([*middle, self.drawn_in_place])

    @property
    def squaring(self) -> float:
        """Turn that brings the base line to the horizontal [degrees anticlockwise]."""
        turn = (self.gathered.base_line_bearing - 90.0) % 180.0
        return turn - 180.0 if turn > 90.0 else turn

    def view(self) -> View:
        """Return the view that the site asks for."""
        return make_view(self.site.view.kind, **dict(self.site.view.options))

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
            Mark what was noticed where it is, with a number, and a list of them beside it.
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
        marks = finding_marks(self._findings, self.stack, diagram.view)
        return replace(diagram, extra={**diagram.extra, "finding_marks": marks})

    def _wish(
        self,
        view: View | None = None,
        *,
        style: Any = None,
        scale: float | str | None = None,
        people: Any = None,
        shadows: Any = None,
        planting: str | None = None,
        tolerance: Tolerance | None = None,
        threads: int = 2,
        store: Store | None = None,
        progress: Progress | None = None,
    ) -> Wish:
        """Settle how a drawing is wanted; parameters as for drawing."""
        asked = view or self.view()
        squared = asked.after_turning(self.squaring)
        look = style_of(style if style is not None else self.site.style or "muted")
        detail = detail_of(planting or self.site.planting) or "outline"
        plane, place = self.gathered.plane, self.origin[:2]
        sun = light_wanted(shadows, self.site.shadows, view=squared, style=look, plane=plane, place=place)
        crowd = crowd_wanted(people, self.site.people, self.stack.features)
        extras = Extras(people=crowd, sun=sun, planting=detail)
        return Wish(
            view=asked,
            squared=squared,
            style=look,
            extras=extras,
            scale=scale,
            tolerance=tolerance,
            threads=threads,
            store=store,
            progress=progress,
        )

    def _drawn(
        self,
        wish: Wish,
        *,
        stack: Stack | None = None,
        people: People | None = None,
        finish: Callable[[Diagram], Diagram] | None = None,
    ) -> Diagram:
        """Draw the model, or a stack made from its own, and finish its tables before they are dressed."""
        solids = stack or self.stack
        how: dict[str, Any] = {"tolerance": wish.tolerance, "threads": wish.threads, "store": wish.store}
        shown = self._placed(wish) if people is None else people
        staged = self._staged(wish, solids, shown)
        layers = build_diagram(
            solids,
            staged.drawing,
            name=self.site.name,
            view=self._record(wish),
            plan_turn=wish.view.turn + self.squaring,
            findings=self._findings,
        )
        bare = Diagram(
            **vars(layers),
            sheet_settings=self.site.sheet,
            style=wish.style,
            inputs=self.site.inputs,
            source_crs=self.gathered.source_crs,
        )
        wanted = bare.scale_of(scale=wish.scale)
        rows = extra_rows(
            solids,
            staged,
            wish.squared,
            wish.extras,
            origin=self.origin,
            style=wish.style,
            scale=wanted,
            **how,
        )
        tables = {name: extra_table(table.geometry, **table.columns) for name, table in rows.items()}
        whole = replace(bare, extra={**bare.extra, **tables})
        return (finish(whole) if finish else whole).at_scale(wanted)

    def _staged(self, wish: Wish, solids: Stack, people: People) -> Staged:
        """Resolve solids with people, unless that was done just now."""
        options: dict[str, Any] = {"tolerance": wish.tolerance, "threads": wish.threads}
        options |= {"progress": wish.progress, "store": wish.store}
        resolver = partial(resolve, view=wish.squared, origin=self.origin, **options)
        make = partial(stage, solids, people, wish.squared, wish.extras, resolver)
        if solids is not self.stack or wish.store is not None:
            return make()
        crowd, translucent = wish.extras.people, wish.extras.planting == "translucent"
        asked = ("staged", crowd and crowd.seed, translucent, wish.tolerance)
        return self.recent.made(
            (*asked, _bits(wish.squared.matrix, self.origin)),
            make,
            within=(solids, people if len(people) else None),
            size=len(solids.scene.faces),
        )

    def _record(self, wish: Wish) -> ViewRecord:
        """What a drawing says of its view."""
        return recorded(wish, self.gathered.plane, origin=self.origin, squaring=self.squaring)

    def _placed(self, wish: Wish) -> People:
        """Find places for people; nobody where no crowd is wanted."""
        crowd = wish.extras.people
        if crowd is None:
            return People.nobody()
        find = partial(walkable, self.stack, headroom=crowd.headroom, clearance=crowd.clearance)
        ground = self.recent.made(("ground", crowd.headroom, crowd.clearance), find, within=(self.stack,))
        right = page_right_on_plan(wish.squared)
        make = partial(place_people, self.stack, self.gathered.features, ground, right, crowd)
        return self.recent.made(("people", crowd, _bits(right)), make, within=(self.stack, self.gathered))


def _bits(*arrays: np.ndarray) -> bytes:
    """Numbers to the last bit, to tell them from others."""
    return b"".join(np.ascontiguousarray(one, dtype=float).tobytes() for one in arrays)
