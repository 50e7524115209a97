"""
Features stacked into solids, terrace by terrace.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .across import laid_across
from .bedding import make_beds
from .climbing import wound_edges
from .crown import usual_sizes
from .cutting import is_area
from .earth import Relief, ground_edges
from .edges import Edges, edges_of
from .forms import makers
from .grounding import DRAPE, cut_ground, stand_on_ground, walked_ground
from .joints import joined_edges
from .making import Job, Made, together
from .needles import without_needles, without_short_sides
from .panels import Panels
from .scene import Scene
from .slopes import lowered
from .sound import check_levels
from .standing import settle
from .surfaces import Surfaces
from .terrain import FORM as TERRAIN
from .terrain import Terrain, read_ground
from .tilts import read_tilts
from .tin import Tin
from .walks import Walks
from .widths import CLIMBING, pair_sides, with_widths

SAME_LEVEL: Final = 1e-6  # [m]


@dataclass(frozen=True, kw_only=True)
class Stack:
    """
    A site as solids.

    Parameters
    ----------
    features : Features
        All levels settled, footprints as polygons or points [m].
    support : ndarray of int, shape (n,)
        What each feature stands on, -1 where its base was stated.
    scene : Scene
        Faces and edges of the solids.
    solid_feature : ndarray of int, shape (s,)
        The feature each solid comes from.
    walks : Walks
        Flights and ramps with their figures.
    findings : tuple of Finding
        What was noticed on the way.
    terrain : Terrain or None
        The ground with its banks, before anything is let into it; None where the site
        gives no levels of the ground.
    contour : ndarray of bool, shape (e,), optional
        Which edges of the scene are contours of the ground; none when left out.
    panels : Panels
        Translucent panels, which hide nothing and are none of the scene's solids.
    contour_interval : float or None
        Step of the contours [m]; None where none are drawn.
    """

    features: Features
    support: np.ndarray
    scene: Scene
    solid_feature: np.ndarray
    walks: Walks
    findings: tuple[Finding, ...]
    terrain: Terrain | None = None
    contour: np.ndarray | None = None
    panels: Panels = field(default_factory=Panels.nothing)
    contour_interval: float | None = None

    @property
    def lowest(self) -> float:
        """The lowest level [m]."""
        return float(self.features.base.min(initial=np.inf))

    @cached_property
    def walked_ground(self) -> Tin | None:
        """The ground that is left where surfaces are let into it; None where the site gives it no levels."""
        return None if self.terrain is None else walked_ground(self.features, self.terrain)


def stack_features(features: Features, *, contour_interval: float | None = None) -> Stack:
    """
    Give every feature its levels and build its solids.

    Parameters
    ----------
    features : Features
        As read, in the local plane.
    contour_interval : float, optional
        Step of the contours that are drawn on the ground [m]; none when not given.

    Returns
    -------
    Stack

    Raises
    ------
    LevelError
        If levels cannot be settled, or nothing on Earth has them.
    """
    check_levels(features)
    features, tilted = read_tilts(features)
    features, terrain = read_ground(features)
    drawn = pair_sides(features)
    wide, row, parted = laid_across(with_widths(drawn))
    carried = None
    if terrain is not None:
        wide, terrain, carried = stand_on_ground(wide, terrain)
    settled = settle(wide, carried)
    check_levels(settled.features)
    surfaces = Surfaces.of(settled.features, _open_ground(settled.features, terrain))
    walks = Walks.of(settled.features, drawn.geometry[row], surfaces)
    ready = _with_crowns(lowered(settled.features, settled.support, walks))
    relief = None if terrain is None else relief_of(ready, terrain, contour_interval)
    job = Job(
        features=ready,
        drawn=drawn.geometry[row],
        whole=wide.geometry,
        support=settled.support,
        sunken=settled.sunken,
        surfaces=surfaces,
        walks=walks,
        laid=settled.laid,
        whole_ground=None if terrain is None else terrain.tin,
        ground=None if relief is None else relief.tin,
    )
    made = together([*(maker(job, rows) for maker, rows in makers(ready.of_role("form"))), make_beds(job)])
    finished = _with_tops(ready, made.top)
    scene, contour = scene_of(finished, made, relief)
    return Stack(
        features=finished,
        support=settled.support,
        scene=scene,
        solid_feature=made.row,
        walks=walks,
        findings=(
            *tilted,
            *parted,
            *(terrain.findings if terrain else ()),
            *settled.findings,
            *walks.findings,
            *made.findings,
        ),
        terrain=terrain,
        contour=contour,
        panels=made.panels,
        contour_interval=contour_interval,
    )


def _open_ground(features: Features, terrain: Terrain | None) -> Tin | None:
    """The ground that is there to be walked on, without what lies under or over what is set into it."""
    if terrain is None or not np.isin(features.of_role("form"), CLIMBING).any():
        return None if terrain is None else terrain.tin
    return cut_ground(features, terrain)


def relief_of(features: Features, terrain: Terrain, contour_interval: float | None) -> Relief:
    """Return the ground as it is drawn: cut open, without needles, with its contours."""
    area = features.geometry[is_area(features.geometry) & (features.of_role("form") != TERRAIN)]
    whole = replace(terrain, tin=without_short_sides(terrain.tin, outlines=area))
    return Relief.of(without_needles(cut_ground(features, whole)), contour_interval)


def scene_of(features: Features, made: Made, relief: Relief | None) -> tuple[Scene, np.ndarray | None]:
    """Return a scene of solids, and which of its edges are contours."""
    edges, contour = _edges(features, made, relief)
    rank, group = _ranks(features)[made.row], _groups(features)[made.row]
    return Scene(faces=made.faces, edges=edges, rank=rank, group=group), contour


def _edges(features: Features, made: Made, relief: Relief | None) -> tuple[Edges, np.ndarray | None]:
    """
    Edges of all solids, and which are contours.

    Facets of the ground and of winding slopes run into one another, and parts of one feature.
    """
    climbs = np.flatnonzero(np.isin(features.of_role("form")[made.row], CLIMBING))
    edges = wound_edges(edges_of(made.faces), made.faces, climbs)
    edges = joined_edges(edges, made.faces, made.row, features)
    if relief is None:
        return edges, None
    earth = np.flatnonzero(np.isin(features.of_role("form")[made.row], (TERRAIN, DRAPE)))
    return ground_edges(edges, made.faces, earth, relief.levels)


def _with_tops(features: Features, tops: Mapping[int, float]) -> Features:
    """Take over the levels of ridges that a pitch has raised."""
    if not tops:
        return features
    top, top_from = features.top.copy(), features.top_from.copy()
    rows = np.fromiter(tops, dtype=np.int64)
    level = np.fromiter(tops.values(), dtype=float)
    raised = np.abs(level - top[rows]) > SAME_LEVEL
    measured = ~shapely.is_missing(features.geometry_z[rows[raised]])
    top[rows[raised]] = level[raised]
    top_from[rows[raised]] = np.where(measured, "greatest of its own Z", "pitch of the roof")
    return features.with_columns(top=top, height=top - features.base, top_from=top_from)


def _with_crowns(features: Features) -> Features:
    """Fill in the crown diameter and clear stem of trees that give none."""
    tree = features.of_role("form") == "tree"
    diameter, stem, height = features.diameter.copy(), features.clear_stem.copy(), features.height
    wide, high = tree & np.isnan(diameter), tree & np.isnan(stem)
    usual_diameter, usual_stem = usual_sizes(features.shape, height)
    diameter[wide], stem[high] = usual_diameter[wide], usual_stem[high]
    stem[tree] = np.clip(stem[tree], 0.0, 0.9 * height[tree])
    return features.with_columns(diameter=diameter, clear_stem=stem)


def _ranks(features: Features) -> np.ndarray:
    """Rank of each feature: by role, then by layer, then by row."""
    order = np.lexsort((np.arange(len(features)), features.layer, features.order))
    return order.argsort()


def _groups(features: Features) -> np.ndarray:
    """Features of one role and material share a group, but for those that are shown apart."""
    role = np.unique(features.order, return_inverse=True)[1]
    material = np.unique(features.material.astype(str), return_inverse=True)[1]
    shared = role * (int(material.max(initial=0)) + 1) + material
    apart = np.array([key.apart for key in features.layers], dtype=bool)[features.layer]
    return np.where(apart, int(shared.max(initial=0)) + 1 + features.first_part, shared)
