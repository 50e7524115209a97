"""
What a model can do beside being drawn once: pulled apart, and drawn step by step.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from ..checks import near
from ..craft.apart import pull_apart
from ..craft.staging import Extras
from ..craft.steps import MOST, STEPS, checked_steps, finish_in_words, rises_of, sketched
from ..craft.style import Style
from ..diagram.frames import Frames
from ..diagram.layers import DiagramLayers
from ..diagram.tables import without_notes
from ..errors import FieldError
from ..source.own_fields import field_values
from ..units import length_words
from ..view.projection import View, planometric
from ..view.tolerance import Tolerance
from .drawings import Diagram
from .drawn import Draws
from .wishes import Wish

if TYPE_CHECKING:
    from ..craft.crowd import Crowd

TIERS = ("theme", "terrace", "role", "layer")
"""What a site may be pulled apart by without a field."""


class Story(Draws):
    """
    Verbs of a model that make more of it than one drawing.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame({"phase": [1]}, geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> sorted(set(model.exploded_view(by="role").faces["tier"]))
    ['Plan', 'Terrace']
    >>> len(model.sequence(steps=("plan", "finished")))
    2
    """

    def exploded_view(
        self,
        view: View | None = None,
        *,
        by: str | Mapping[str, str | Sequence[str]] = "theme",
        gaps: str | float | Sequence[float] = "auto",
        plan: bool = True,
        labels: bool = True,
        style: Style | Mapping[str, Any] | str | os.PathLike[str] | None = None,
        scale: float | str | None = None,
        people: Crowd | Mapping[str, Any] | bool | None = None,
        planting: str | None = None,
        tolerance: Tolerance | None = None,
        threads: int = 2,
        progress: Callable[[str, float], None] | None = None,
    ) -> Diagram:
        """
        Pull the model apart upward, tier by tier, with lift lines.

        Parameters
        ----------
        view : View, optional
            The view; the one the site asks for when left out.
        by : str or mapping of str to names
            What makes a tier: "theme" (ground, surfaces, structures with furniture,
            planting, people), "terrace" (every level of ground with what stands there), "role", "layer",
            or the name of a field in the layers; or names of tiers from below, each with the
            themes, roles or layers that belong to it, "people" among them.
        gaps : "auto", float or sequence of float
            "auto" lifts every tier just so far that nothing hides anything. Else the clear
            height between the highest point of a tier and the lowest of the next, one for all
            or one for every gap [m]; what is hidden then is left out exactly.
        plan : bool
            Lay the plan beneath.
        labels : bool
            Write beside each tier what it is.
        style, scale, people, planting, tolerance, threads, progress
            As for drawing.

        Returns
        -------
        Diagram
            Its tables have the columns ``tier`` and ``lift_m``; levels in them are those of the
            site. The table ``lift_lines`` holds what is seen of the lift lines.

        Raises
        ------
        ViewError
            If the view does not show heights, or tiers or gaps are not what they should be.
        FieldError
            If no layer has the field.

        Notes
        -----
        A clear gap of the plan's depth on the page by the height factor hides nothing, whatever
        the site; "auto" mostly needs less.

        No shadows are cast: between tiers that are pulled apart they would fall elsewhere than
        on the site, or on nothing.
        """
        wish = self._wish(
            view,
            style=style,
            scale=scale,
            people=people,
            shadows=False,
            planting=planting,
            tolerance=tolerance,
            threads=threads,
            progress=progress,
        )
        apart = pull_apart(
            self.stack,
            self._placed(wish),
            wish.squared,
            self.origin,
            by=by,
            gaps=gaps,
            plan=plan,
            values=self._values(by) if isinstance(by, str) and by not in TIERS else None,
            tolerance=tolerance,
            unit=self.site.sheet_unit,
        )
        beneath = self._plan_beneath(wish) if plan else None
        return self._drawn(
            wish,
            stack=apart.raised,
            people=apart.people,
            finish=lambda layers: apart.finish(layers, wish.style, plan=beneath, labels=labels),
        )

    def sequence(
        self,
        view: View | None = None,
        *,
        steps: str | Sequence[str] = STEPS,
        frames: int = MOST,
        style: Style | Mapping[str, Any] | str | os.PathLike[str] | None = None,
        scale: float | str | None = None,
        people: Crowd | Mapping[str, Any] | bool | None = None,
        shadows: Any = None,
        planting: str | None = None,
        tolerance: Tolerance | None = None,
        threads: int = 2,
        progress: Callable[[str, float], None] | None = None,
    ) -> tuple[Diagram, ...]:
        """
        Draw the model step by step, as a drawing comes about by hand.

        Parameters
        ----------
        view : View, optional
            The view; the one the site asks for when left out.
        steps : sequence of str
            Any of these, in any order: "plan" (square to the base line), "turned" (the plan
            turned), "outlines" (of everything, at the lowest level), "raised" (heights straight
            up, terrace by terrace from the lowest), "joined" (all edges, nothing hidden),
            "removed" (hidden lines removed), "finished" (planting, people and colour).
        frames : int
            Drawings in which heights are raised, at most; one for each terrace where it is as
            large as their number.
        style, scale, people, shadows, planting, tolerance, threads, progress
            As for drawing; people, shadows and planting are for the finished step.

        Returns
        -------
        tuple of Diagram
            All with one extent, so that figures of them at one scale lie on one another, and
            each with its ``caption``.

        Raises
        ------
        ViewError
            If a step is unknown.
        """
        asked = checked_steps(steps)
        wish = self._wish(
            view,
            style=style,
            scale=scale,
            people=people,
            shadows=shadows,
            planting=planting or "texture",
            tolerance=tolerance,
            threads=threads,
            progress=progress,
        )
        drawings = [
            one if step == "finished" else without_notes(one)
            for step in asked
            for one in self._step(step, wish, frames)
        ]
        boxes = np.array([one.bounds for one in drawings])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        extent = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
        return tuple(replace(one, extent=extent) for one in drawings)

    def _step(self, step: str, wish: Wish, frames: int) -> list[Diagram]:
        """Draw one step, which may be several drawings."""
        lines = replace(wish, style=sketched(wish.style), extras=Extras())
        if step == "finished":
            drawing = self._drawn(wish)
            words = finish_in_words(planting="planting" in drawing.extra, people="people" in drawing.extra)
            return [replace(drawing, caption=words)]
        if step == "removed":
            return [replace(self._drawn(lines), caption="Hidden lines removed")]
        if step in ("plan", "turned"):
            square = replace(wish.view, turn=0.0) if step == "plan" else wish.view
            words = "Plan, square to its base line" if step == "plan" else f"Plan turned by {square.turn:g}°"
            return [replace(self._drawn(self._plan_wish(replace(lines, view=square))), caption=words)]
        maker = self._frames(wish)
        level = length_words(maker.level, self.site.sheet_unit)
        if step == "outlines":
            return [self._line_drawing(maker.outlines(), lines, f"Outlines at the lowest level, {level}")]
        if step == "joined":
            return [self._line_drawing(maker.joined(), lines, "Corners joined, nothing hidden")]
        group, rises = rises_of(self.stack, frames, unit=self.site.sheet_unit)
        return [
            self._line_drawing(
                maker.raised(group, rise.newest, since=rise.since),
                lines,
                "Heights raised" + (f": {rise.words}" if rise.words else ""),
            )
            for rise in rises
        ]

    def _frames(self, wish: Wish) -> Frames:
        """What makes frames of a drawing as it comes about."""
        return Frames(
            self.stack,
            wish.squared,
            self._record(wish),
            name=self.site.name,
            plan_turn=wish.view.turn + self.squaring,
            level=self.stack.lowest,
        )

    def _line_drawing(self, layers: DiagramLayers, wish: Wish, caption: str) -> Diagram:
        """Make a diagram of tables that were not resolved."""
        told = replace(layers, caption=caption, unit=self.site.sheet_unit)
        bare = Diagram(**vars(told), sheet_settings=self.site.sheet, style=wish.style)
        return bare.at_scale(bare.scale_of(scale=wish.scale))

    def _plan_beneath(self, wish: Wish) -> Diagram:
        """Draw the plan that lies beneath, unless that was done just now."""
        flat = self._plan_wish(wish)
        look = flat.style, flat.scale, flat.extras, flat.tolerance
        where = flat.squared.matrix.tobytes(), self.origin.tobytes()
        make = partial(self._drawn, flat)
        size = len(self.stack.scene.faces)
        return self.recent.made(("plan", *look, *where), make, within=(self.site, self.stack), size=size)

    def _plan_wish(self, wish: Wish) -> Wish:
        """The same drawing as a plan, turned as far, without people."""
        view = planometric(turn=wish.view.turn, height_factor=0.0)
        return replace(
            wish,
            view=view,
            squared=view.after_turning(self.squaring),
            extras=replace(wish.extras, people=None, sun=None),
        )

    def _values(self, field: str) -> np.ndarray:
        try:
            return field_values(self.site.layers, self.stack.features, field)
        except FieldError as problem:
            close = near(field, TIERS)
            hint = "Name a field that one has." if close is None else f"Did you mean {close!r}?"
            raise problem.saying(
                f"Cannot pull apart by {field!r}: it is none of {', '.join(TIERS)}, and no layer has a "
                f"field of that name. {hint}"
            ) from None
