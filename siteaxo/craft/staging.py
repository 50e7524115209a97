"""
A site drawn with people, shadows and planting: what is resolved, and which tables come of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final, Protocol

import numpy as np

from ..keeping import Store
from ..solids.scene import Scene
from ..solids.stack import Stack
from ..source.features import Features
from ..view.crowded import naming
from ..view.projection import View
from ..view.resolve import Drawing
from ..view.shadow import Shadows, cast_shadows
from ..view.sun import Sun
from ..view.tolerance import Tolerance
from .clothes import Clothes
from .crowd import Crowd
from .crowns import without_crowns
from .cutouts import (
    FigureFaces,
    figure_faces,
    outline_faces,
    page_right_on_plan,
    people_rows,
    with_figures,
    with_solids,
    without_contacts,
)
from .from_above import plan_faces
from .panes import panel_rows
from .people import People
from .rows import Rows, split_drawing
from .shade import shadow_rows
from .style import Style
from .trees import from_straight_above, planting_rows

FINER: Final = 2.5  # strokes are made for a scale so much larger, and thinned out for smaller ones [-]


class Resolver(Protocol):
    """What resolves a scene in a view."""

    def __call__(self, scene: Scene, /, *, only: np.ndarray | None = None) -> Drawing:
        """Draw a scene, or only some of its solids."""


@dataclass(frozen=True, kw_only=True)
class Extras:
    """
    What a drawing shows beside the solids of a site.

    Parameters
    ----------
    people : Crowd, optional
        How many people, and where; none when left out.
    sun : Sun, optional
        The light that casts shadows; none when left out.
    planting : {"outline", "texture", "translucent"}
        How planting is drawn.
    """

    people: Crowd | None = None
    sun: Sun | None = None
    planting: str = "outline"


@dataclass(frozen=True, kw_only=True)
class Staged:
    """
    A site with its people, resolved.

    Parameters
    ----------
    drawing : Drawing
        The site's own solids, as far as people and each other leave them visible; without
        crowns where they are translucent. Its faces are rows of the site's scene.
    whole : Drawing
        The same with crowns.
    people : People
        The people.
    figure : FigureFaces
        Their faces.
    part : Drawing
        What is seen of people.
    panels : Drawing, optional
        What is seen of translucent panels, which hide nothing in the others.
    """

    drawing: Drawing
    whole: Drawing
    people: People
    figure: FigureFaces
    part: Drawing
    panels: Drawing | None = None


def has_people(features: Features) -> bool:
    """Whether a site has a layer of areas for people, or says how many of them there are."""
    told = np.nan_to_num(features.density) + np.nan_to_num(features.flow) > 0
    return bool(told.any()) or any(key.role.name == "people" for key in features.layers)


def stage(stack: Stack, people: People, view: View, extras: Extras, resolver: Resolver) -> Staged:
    """
    Put people on a site and resolve it.

    Parameters
    ----------
    stack : Stack
        The solids of the site.
    people : People
        Who is shown.
    view : View
        The view.
    extras : Extras
        What is shown.
    resolver : callable
        Resolves a scene in that view.

    Returns
    -------
    Staged
    """
    right = page_right_on_plan(view) if len(people) else np.array([1.0, 0.0])
    if from_straight_above(view):
        figure = plan_faces(people, seed=extras.people.seed if extras.people else 0)
    else:
        figure = figure_faces(people, right)
    scene = with_figures(stack.scene, figure) if len(people) else stack.scene
    resolver = naming(resolver, stack.features, stack.solid_feature)
    whole = resolver(scene)
    drawing = _in_winter(scene, resolver) if extras.planting == "translucent" else whole
    panels = _panels(stack, scene, resolver)
    if not len(people):
        return Staged(
            drawing=drawing,
            whole=whole,
            people=people,
            figure=figure,
            part=_nothing(drawing),
            panels=panels,
        )
    taken = np.arange(len(scene.rank)) >= len(stack.scene.rank)
    site, part = split_drawing(drawing, scene, taken)
    site = without_contacts(site, part)
    if drawing is not whole:
        whole, _ = split_drawing(whole, scene, taken)
    else:
        whole = site
    return Staged(drawing=site, whole=whole, people=people, figure=figure, part=part, panels=panels)


def _panels(stack: Stack, scene: Scene, resolver: Resolver) -> Drawing | None:
    """What is seen of translucent panels in front of and behind everything else."""
    if not len(stack.panels):
        return None
    veiled = with_solids(scene, stack.panels.faces)
    taken = np.arange(len(veiled.rank)) >= len(scene.rank)
    panels = resolver(veiled, only=taken)
    return replace(panels, face=panels.face - len(scene.faces))


def extra_rows(
    stack: Stack,
    staged: Staged,
    view: View,
    extras: Extras,
    *,
    origin: np.ndarray,
    style: Style,
    scale: float,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    store: Store | None = None,
) -> dict[str, Rows]:
    """
    Make the rows of every further table.

    Parameters
    ----------
    stack : Stack
        The solids of the site.
    staged : Staged
        The site with its people, resolved.
    view : View
        The view.
    extras : Extras
        What is shown.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    style : Style
        The look.
    scale : float
        The x of 1:x.
    tolerance, threads, store
        As for drawing.

    Returns
    -------
    dict of str to Rows
        Any of "shadows", "planting", "people" and "panels"; tables without rows are left out.
    """
    tables: dict[str, Rows] = {}
    if extras.sun is not None:
        how: dict[str, Any] = {"tolerance": tolerance, "threads": threads, "store": store}
        shadows = _shadows(stack, staged, view, extras.sun, origin, how)
        tables["shadows"] = shadow_rows(stack, shadows)
    tables["planting"] = planting_rows(
        stack, staged.whole, view, origin=origin, style=style, scale=scale / FINER, detail=extras.planting
    )
    if extras.people is not None and len(staged.people):
        tables["people"] = people_rows(
            stack,
            staged.people,
            staged.figure,
            staged.part,
            clothes=clothes_of(style),
            seed=extras.people.seed,
        )
    if staged.panels is not None:
        tables["panels"] = panel_rows(stack, staged.panels, style)
    return {name: rows for name, rows in tables.items() if len(rows)}


def clothes_of(style: Style) -> Clothes:
    """Clothes that go with a style."""
    return Clothes() if style.tones else Clothes.plain(style.paper, style.fine_ink)


def _shadows(
    stack: Stack,
    staged: Staged,
    view: View,
    sun: Sun,
    origin: np.ndarray,
    how: dict[str, Any],
) -> Shadows:
    """Shadows of the site and of its people, whose figures turn to the sun to cast theirs."""
    across = sun.view.matrix[0, :2]
    return cast_shadows(
        stack.scene,
        staged.drawing,
        view,
        origin=origin,
        sun=sun,
        casters=outline_faces(staged.people, across) if len(staged.people) else None,
        **how,
    )


def _in_winter(scene: Scene, resolver: Resolver) -> Drawing:
    """A scene without its crowns, resolved; faces and edges are numbered as in the whole."""
    bare, face, edge = without_crowns(scene)
    drawing = resolver(bare)
    source = drawing.edges.source
    source = np.where(source >= 0, edge[np.maximum(source, 0)] if len(edge) else source, -1)
    edges = replace(drawing.edges.without_members(), source=source)
    return replace(drawing, face=face[drawing.face], edges=edges, page=None)


def _nothing(drawing: Drawing) -> Drawing:
    none = np.zeros(0, dtype=np.int64)
    return replace(
        drawing,
        face=drawing.face[none],
        area=drawing.area[none],
        visible=drawing.visible.take(none),
        dashes=drawing.dashes.take(none),
        kind=drawing.kind[none],
        hidden=drawing.hidden.take(none),
        page=None,
    )
