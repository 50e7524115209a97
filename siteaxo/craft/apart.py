"""
A site pulled apart upward: tiers with their people, how far each is lifted, and the lines between.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeVar

import numpy as np
import shapely

from ..diagram.build import footprints_of
from ..diagram.clearance import (
    AIR,
    Outline,
    automatic_lifts,
    least_shift,
    lifts_from_gaps,
    outline_of,
    outlines_of,
    size_of,
)
from ..diagram.exploded import tier_words, with_lift_lines, with_plan_below, with_tiers
from ..diagram.layers import Beside, DiagramLayers
from ..diagram.lift_lines import LiftLines, lift_lines, seen_of_lines
from ..diagram.tiers import Tiers, lifted, tiers_by
from ..errors import ViewError
from ..solids.beneath import with_ground_beneath
from ..solids.faces import Faces, join
from ..solids.stack import Stack
from ..view.dashes import Dashes
from ..view.page import onto_page
from ..view.projection import View
from ..view.tolerance import Tolerance
from .cutouts import figure_faces, page_right_on_plan
from .people import People
from .style import Style

LIFT_LINE_MM: Final = 0.13
"""Width of lift lines, the narrowest of the series [mm]."""
D = TypeVar("D", bound=DiagramLayers)


@dataclass(frozen=True, kw_only=True)
class Apart:
    """
    A site pulled apart.

    Parameters
    ----------
    stack : Stack
        The site where it really is.
    raised : Stack
        The site with every tier lifted.
    people : People
        People with what they stand on, or in their own tier.
    tiers : Tiers
        The tiers.
    lift : ndarray, shape (t,)
        How far each is lifted [m].
    plan_level : float or None
        Level that the plan is drawn at [m]; None where there is none.
    lines : LiftLines
        Lift lines.
    seen : Dashes
        What is seen of them.
    words : tuple of Beside
        What is written beside each tier.
    caption : str
        Says what has been pulled apart.
    """

    stack: Stack
    raised: Stack
    people: People
    tiers: Tiers
    lift: np.ndarray
    plan_level: float | None
    lines: LiftLines
    seen: Dashes
    words: tuple[Beside, ...]
    caption: str

    def finish(self, layers: D, style: Style, *, plan: DiagramLayers | None, labels: bool) -> D:
        """Put tiers, the plan, lift lines and words into the tables of the drawing of the raised site."""
        done = with_tiers(layers, self.stack, self.tiers, self.lift)
        if plan is not None and self.plan_level is not None:
            done = with_plan_below(done, plan, self.plan_level)
        done = with_lift_lines(
            done, self.lines, self.seen, self.tiers, colour=style.fine_ink, line_mm=LIFT_LINE_MM
        )
        return replace(done, beside=self.words if labels else (), caption=self.caption)


def pull_apart(
    stack: Stack,
    people: People,
    view: View,
    origin: np.ndarray,
    *,
    by: str | Mapping[str, str | Sequence[str]],
    gaps: str | float | Sequence[float],
    plan: bool,
    values: np.ndarray | None = None,
    tolerance: Tolerance | None = None,
    unit: str = "m",
) -> Apart:
    """
    Pull a site apart upward.

    Parameters
    ----------
    stack : Stack
        The solids.
    people : People
        People where they really stand.
    view : View
        The view, squared up.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    by : str or mapping
        What makes a tier; see :func:`siteaxo.diagram.tiers.tiers_by`.
    gaps : "auto", float or sequence of float
        Clear gaps between tiers, from the highest point of one to the lowest of the next [m];
        "auto" lifts every tier just so far that nothing hides anything.
    plan : bool
        Whether a plan lies beneath.
    values : ndarray, optional
        Values of a field.
    tolerance : Tolerance, optional
        When two things count as equal.
    unit : {"m", "ft", "ft-us"}
        What names of terraces speak.

    Returns
    -------
    Apart

    Raises
    ------
    ViewError
        If the view does not show heights, or tiers or gaps are not what they should be.
    """
    rise = float(view.matrix[1, 2])
    if rise <= 0:
        raise ViewError(
            f"{view!r} does not show heights, so nothing can be pulled apart upward. "
            "Use a height factor above zero.",
            field="view",
            value=view,
        )
    limits = tolerance or Tolerance()
    tiers = tiers_by(stack, by, people=bool(len(people)), values=values, unit=unit)
    stack = with_ground_beneath(stack, tiers.feature)
    faces, tier = _with_people(stack, people, tiers, view)
    page = onto_page(faces, view, origin, limits)
    outlines = outlines_of(page, tier[page.index], len(tiers))
    lift = _lifts(gaps, outlines, rise, faces, tier)
    drawn_at = [None if one is None else one.moved(up * rise) for one, up in zip(outlines, lift, strict=True)]
    level = None
    if plan:
        flat = _flat(stack, view, origin)
        level = _plan_level(flat, drawn_at, rise) + origin[2]
        drawn_at.append(flat.moved((level - origin[2]) * rise) if flat else None)
    lines = lift_lines(faces, tier, tiers, lift, view, plan_level=level)
    apart = onto_page(_moved(faces, lift[tier]), view, origin, limits)
    return Apart(
        stack=stack,
        raised=lifted(stack, tiers, lift),
        people=_raised(people, tiers, lift),
        tiers=tiers,
        lift=lift,
        plan_level=level,
        lines=lines,
        seen=seen_of_lines(lines.xyz, apart, view, origin, limits),
        words=tier_words(stack, tiers, drawn_at),
        caption=f"Pulled apart by {by}" if isinstance(by, str) else "Pulled apart",
    )


def _lifts(
    gaps: str | float | Sequence[float],
    outlines: list[Outline | None],
    rise: float,
    faces: Faces,
    tier: np.ndarray,
) -> np.ndarray:
    if not isinstance(gaps, str):
        return lifts_from_gaps(faces, tier, len(outlines), gaps)
    if gaps != "auto":
        raise ViewError(
            f"gaps is {gaps!r}; give 'auto', metres, or metres for every gap.", field="gaps", value=gaps
        )
    return automatic_lifts(outlines, rise)


def _with_people(stack: Stack, people: People, tiers: Tiers, view: View) -> tuple[Faces, np.ndarray]:
    """Faces of the site and of its people, and the tier of each."""
    faces = stack.scene.faces
    tier = tiers.feature[stack.solid_feature[faces.solid]]
    if not len(people):
        return faces, tier
    figure = figure_faces(people, page_right_on_plan(view)).faces
    own = tiers.feature[people.feature[figure.solid]]
    own = np.full(len(own), tiers.people) if tiers.people >= 0 else own
    return join([faces, replace(figure, solid=figure.solid + len(stack.scene.rank))]), np.append(tier, own)


def _raised(people: People, tiers: Tiers, lift: np.ndarray) -> People:
    if not len(people):
        return people
    tier = tiers.feature[people.feature] if tiers.people < 0 else np.full(len(people), tiers.people)
    xyz = people.xyz.copy()
    xyz[:, 2] += lift[tier]
    return replace(people, xyz=xyz)


def _moved(faces: Faces, lift: np.ndarray) -> Faces:
    xyz = faces.xyz.copy()
    xyz[:, 2] += lift[faces.vertex_face]
    return replace(faces, xyz=xyz)


def _flat(stack: Stack, view: View, origin: np.ndarray) -> Outline | None:
    """Outline of the plan of all solids, at the level drawn in place."""
    drawn = footprints_of(stack)[np.unique(stack.solid_feature)]
    plan = view.matrix[:2, :2].T
    return outline_of(shapely.make_valid(shapely.transform(drawn, lambda xy: (xy - origin[:2]) @ plan)))


def _plan_level(flat: Outline | None, drawn_at: list[Outline | None], rise: float) -> float:
    """How far above the level drawn in place the plan lies, mostly below zero [m]."""
    there = [one for one in drawn_at if one is not None]
    if flat is None or not there:
        return 0.0
    shift = max(least_shift(flat, one) for one in there)
    return -max(shift + AIR * size_of([flat, *there[:1]]), 0.0) / rise
