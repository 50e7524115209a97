"""
How a model is drawn: the steps from a wish to a drawing, for the verbs that draw.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from ..collecting import uncollected
from ..craft.asked import detail_of
from ..craft.crowd import place_people
from ..craft.cutouts import page_right_on_plan
from ..craft.materials import unknown_materials
from ..craft.people import People
from ..craft.staging import Extras, Staged, extra_rows, stage
from ..craft.style import Style
from ..craft.stylefile import style_of
from ..craft.trees import from_straight_above
from ..craft.walkable import walkable
from ..diagram.build import build_diagram
from ..diagram.layers import DiagramLayers, ViewRecord
from ..diagram.tables import extra_table
from ..errors import Finding, ViewError
from ..keeping import Store, digest
from ..solids.stack import Stack
from ..source.gather import Gathered
from ..source.site import SiteData
from ..view.projection import View, make_view
from ..view.resolve import Drawing, How, resolve
from ..view.tiles import SIZE
from ..view.tolerance import Tolerance
from .amending import LEAST, Parts
from .drawings import Diagram
from .recent import Recent
from .wishes import Wish, crowd_wanted, light_wanted, recorded

Progress = Callable[[str, float], None]


class Draws:
    """
    What a model knows of its page, and how it is drawn.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> model.drawn_in_place, model.view().kind
    (0.0, 'planometric')
    """

    if TYPE_CHECKING:
        site: SiteData
        gathered: Gathered
        stack: Stack
        page_origin: np.ndarray | None
        recent: Recent

    def _noticed(self, style: Style | None = None) -> tuple[Finding, ...]:
        """What is noticed in the data, and what of it a style does not know; the site's when left out."""
        look = style or style_of(self.site.style or "muted")
        fields = {layer.name: layer.material or "" for layer in self.site.layers}
        unknown = unknown_materials(self.stack.features, look, fields)
        return (*self.gathered.findings, *self.stack.findings, *unknown)

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
        asked = self.view() if view is None else view
        if not isinstance(asked, View):
            raise ViewError(
                f"The view is {view!r}; give one such as siteaxo.planometric(turn=60).",
                field="view",
                value=view,
            )
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

    @uncollected()
    def _drawn(
        self,
        wish: Wish,
        *,
        stack: Stack | None = None,
        people: People | None = None,
        finish: Callable[[Diagram], Diagram] | None = None,
    ) -> Diagram:
        """Draw the model, or a stack made from its own, and finish its tables before they are dressed."""
        if wish.store is not None and finish is None and self._plain(wish, stack, people):
            dressed = self._amended(wish, wish.store)
        else:
            whole, wanted = self._bare(wish, stack=stack, people=people)
            dressed = (finish(whole) if finish else whole).at_scale(wanted)
        wish.tell("layers", 1.0)
        return dressed

    def _plain(self, wish: Wish, stack: Stack | None, people: People | None) -> bool:
        """Whether a drawing is one of many plain solids, which may be amended where they have changed."""
        bare = stack is None and people is None and wish.extras == Extras()
        scaled = not isinstance(self._scale(wish), str) and wish.style.weights.falloff_steps == 0
        many = len(self.stack.scene.rank) >= LEAST
        plain = self.stack.terrain is None and not len(self.stack.panels)
        return bare and scaled and many and plain and not from_straight_above(wish.squared)  # with symbols

    def _scale(self, wish: Wish) -> float | str:
        """The x of 1:x that is asked for, or "fit"."""
        return self.site.sheet.scale if wish.scale is None else wish.scale

    def _amended(self, wish: Wish, store: Store) -> Diagram:
        """Draw what has changed since the last time, or all."""
        limits, view = wish.tolerance or Tolerance(), self._record(wish)
        say = wish.progress or (lambda stage, share: None)
        parts = Parts(
            stack=self.stack,
            how=How(
                view=wish.squared, origin=self.origin, limits=limits, threads=wish.threads, tile=SIZE, say=say
            ),
            style=wish.style,
            scale=float(self._scale(wish)),
            told=digest(view, self.squaring, limits.length),
            bare=lambda drawing, planned: self._layers(wish, drawing, planned),
            whole=lambda: self._bare(wish)[0],
        )
        own = {"name": self.site.name, "view": view, "scale": parts.scale, "unit": self.site.sheet_unit}
        return parts.diagram(store, {**self._fields(wish), **own})

    def _layers(
        self, wish: Wish, drawing: Drawing, planned: np.ndarray | None = None, stack: Stack | None = None
    ) -> DiagramLayers:
        """Make what is seen, or some of it, into tables."""
        layers = build_diagram(
            stack or self.stack,
            drawing,
            name=self.site.name,
            view=self._record(wish),
            plan_turn=wish.view.turn + self.squaring,
            findings=self._noticed(wish.style),
            planned=planned,
        )
        return replace(layers, unit=self.site.sheet_unit)

    def _fields(self, wish: Wish) -> dict[str, Any]:
        """What a diagram has beside its layers."""
        return {
            "sheet_settings": self.site.sheet,
            "style": wish.style,
            "inputs": self.site.inputs,
            "source_crs": self.gathered.source_crs,
        }

    def _bare(
        self, wish: Wish, *, stack: Stack | None = None, people: People | None = None
    ) -> tuple[Diagram, float]:
        """A drawing with all its tables, not yet dressed, and the x of the 1:x that it is wanted for."""
        solids = stack or self.stack
        how: dict[str, Any] = {"tolerance": wish.tolerance, "threads": wish.threads, "store": wish.store}
        shown = self._placed(wish) if people is None else people
        staged = self._staged(wish, solids, shown)
        wish.tell("layers", 0.0)
        layers = self._layers(wish, staged.drawing, stack=solids)
        wish.tell("layers", 0.3)
        bare = Diagram(**vars(layers), **self._fields(wish))
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
        wish.tell("layers", 0.5)
        return replace(bare, extra={**bare.extra, **tables}), wanted

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
