"""
Where people can stand: level enough, free above, away from edges, walls and water.

The solids are looked at from straight above, by the same steps as any drawing. A spot
on a face is taken where a solid stands on it, where another surface lies flush on it,
or where anything hangs lower than the headroom. What is left is drawn in from edges at
which the ground drops or something rises; from one surface to the next at about the
same level people may step.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE, normals, per_face
from ..solids.stack import Stack
from ..view.candidates import overlapping_pairs
from ..view.overlay import polygonal
from ..view.page import PageFaces, onto_page
from ..view.pieces import pieces_of
from ..view.projection import planometric
from ..view.tolerance import GRID, Tolerance
from .offset import offset

WALKED_ON: Final = ("ground", "terrace", "lawn", "paving", "path", "ramp", "steps", "deck")
PARTS_WALKED_ON: Final = ("top", "tread", "slope", "floor")
FLUSH: Final = 0.01  # what lies no higher than this on a surface covers it and no more [m]
STEP: Final = 0.21  # surfaces that differ by no more can be stepped between [m]
JOINT: Final = 0.02  # surfaces no farther apart than this meet [m]
UPRIGHT: Final = 1e-6  # faces whose normal rises by no more are upright [-]
SLIT: Final = 1e-4  # regions grow by this much where they are united [m]
BESIDE: Final = 4.0  # what is farther from a surface leaves no less room to stand on it [m]
STEEPEST: Final = 0.2  # rise over run that people still stand on [-]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """
    Pieces of surface that people can stand on; they may lie over one another.

    Parameters
    ----------
    polygon : ndarray of Polygon or MultiPolygon, shape (g,)
        Where a stand point may be, relative to *origin* [m].
    around : ndarray of Polygon or MultiPolygon, shape (g,)
        The same with what lies about as high beside each, some metres far [m].
    plane : ndarray, shape (g, 5)
        Mean x and y, level there, rise per metre east and north.
    feature : ndarray of int, shape (g,)
        The feature each belongs to.
    clearance : float
        How far each is drawn in from edges, to the centimetre [m].
    origin : ndarray, shape (2,)
        Point of the local plane that coordinates are relative to [m].
    """

    polygon: np.ndarray
    around: np.ndarray
    plane: np.ndarray
    feature: np.ndarray
    clearance: float
    origin: np.ndarray

    def __len__(self) -> int:
        return len(self.feature)

    def level(self, piece: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """Level of pieces at points relative to the origin, shape (n,) [m]."""
        mean_x, mean_y, level, east, north = self.plane[piece].T
        return level + east * (xy[:, 0] - mean_x) + north * (xy[:, 1] - mean_y)

    def at(self, xy: np.ndarray) -> np.ndarray:
        """The highest piece under each point relative to the origin; -1 where there is none."""
        row, piece = shapely.STRtree(self.polygon).query(shapely.points(xy), predicate="intersects")
        order = np.lexsort((self.level(piece, xy[row]), row))
        best = np.full(len(xy), -1)
        best[row[order]] = piece[order]  # the highest is written last
        return best

    def room(self, piece: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """How far points on pieces are from the nearest drop or obstacle, shape (n,) [m]."""
        edge = shapely.boundary(self.around[piece])
        return shapely.distance(edge, shapely.points(xy)) + self.clearance


def walkable(
    stack: Stack, *, headroom: float = 2.1, clearance: float = 0.3, roles: tuple[str, ...] = WALKED_ON
) -> Ground:
    """
    Find where people can stand.

    Parameters
    ----------
    stack : Stack
        The solids of a site.
    headroom : float
        Free height that people need [m].
    clearance : float
        Distance kept from drops, walls and whatever stands there [m].
    roles : tuple of str
        What is walked on.

    Returns
    -------
    Ground
    """
    origin = _origin(stack)
    plan = _from_above(stack, origin)
    surface = _surfaces(stack, plan, roles)
    rows = np.flatnonzero(surface)
    free = _free(stack, plan, surface, headroom)
    rows, free = rows[~shapely.is_empty(free)], free[~shapely.is_empty(free)]
    around = _drawn_in(free, plan.plane[rows], plan.faces.solid[rows], clearance)
    inner = polygonal(shapely.intersection(free, around, grid_size=GRID))
    there = np.flatnonzero(~shapely.is_empty(inner))
    return Ground(
        polygon=inner[there],
        around=around[there],
        plane=plan.plane[rows[there]],
        feature=stack.solid_feature[plan.faces.solid[rows[there]]],
        clearance=clearance,
        origin=origin[:2],
    )


def _origin(stack: Stack) -> np.ndarray:
    xyz = stack.scene.faces.xyz
    middle = np.rint((xyz[:, :2].min(axis=0) + xyz[:, :2].max(axis=0)) / 2) if len(xyz) else np.zeros(2)
    return np.array([*middle, 0.0])


def _from_above(stack: Stack, origin: np.ndarray) -> PageFaces:
    """All faces that are not upright, in plan; depth is their level."""
    leaning = np.abs(normals(stack.scene.faces)[:, 2]) > UPRIGHT
    faces = replace(stack.scene.faces, two_sided=leaning)
    return onto_page(faces, planometric(turn=0.0, height_factor=0.0), origin, Tolerance())


def _surfaces(stack: Stack, plan: PageFaces, roles: tuple[str, ...]) -> np.ndarray:
    """Which faces are the walked-on tops of features of given roles."""
    features = stack.features
    layer = features.layer[stack.solid_feature[plan.faces.solid]]
    walked = np.array([key.role.name in roles for key in features.layers], dtype=bool)[layer]
    part = np.isin(plan.faces.part, [PART_CODE[name] for name in PARTS_WALKED_ON])
    gentle = np.hypot(plan.plane[:, 3], plan.plane[:, 4]) <= STEEPEST
    return walked & part & gentle & ~plan.flipped


def _free(stack: Stack, plan: PageFaces, surface: np.ndarray, headroom: float) -> np.ndarray:
    """What is left of each surface where nothing stands, lies or hangs too low on it."""
    below, above, low, high = _pairs(plan, surface)
    rank = stack.scene.rank[plan.faces.solid]
    flush = (np.abs(low) <= FLUSH) & (np.abs(high) <= FLUSH)
    later = (rank[above] > rank[below]) | ((rank[above] == rank[below]) & (above > below))
    higher = ~flush & (high > FLUSH)
    near = (flush & later & ~plan.flipped[above]) | (higher & (low < headroom))
    crown = near & (plan.faces.part[above] == PART_CODE["crown"])
    solid = near & ~crown
    taken = [(below[solid], plan.polygon[above[solid]]), _hulls(plan, below[crown], above[crown])]
    higher &= plan.faces.part[above] != PART_CODE["crown"]
    taken.append(_insides(plan, below, above, higher & (low >= headroom), higher))
    hidden = np.concatenate([rows for rows, _ in taken])
    region = np.concatenate([shapes for _, shapes in taken])
    return _less(plan.polygon, np.flatnonzero(surface), hidden, region)


def _pairs(plan: PageFaces, surface: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Every surface with every face that overlaps it, and how far that is above it at least and at most."""
    first, second = overlapping_pairs(plan, pieces_of(plan), core=surface)
    below, above = np.concatenate([first, second]), np.concatenate([second, first])
    mine = surface[below]
    below, above = below[mine], above[mine]
    low = np.maximum(plan.box[below, :2], plan.box[above, :2])
    high = np.minimum(plan.box[below, 2:], plan.box[above, 2:])
    middle, half = (low + high) / 2, (high - low) / 2
    lead = plan.depth_at(above, middle) - plan.depth_at(below, middle)
    reach = (np.abs(plan.plane[above, 3:] - plan.plane[below, 3:]) * half).sum(axis=1)
    z, start = plan.faces.xyz[:, 2], plan.faces.vertex_start
    foot, head = per_face(z, start, np.minimum), per_face(z, start, np.maximum)
    least, most = foot[above] - head[below], head[above] - foot[below]  # steep facets are bound by these
    return below, above, np.maximum(lead - reach, least), np.minimum(lead + reach, most)


def _insides(
    plan: PageFaces, below: np.ndarray, above: np.ndarray, tall: np.ndarray, higher: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """
    Where surfaces lie inside solids that reach higher than the headroom.

    There a solid has a top above the surface and no underside between the two.
    """
    solid = plan.faces.solid[above]
    top, under = tall & ~plan.flipped[above], higher & plan.flipped[above]
    count = int(plan.faces.solid.max(initial=0)) + 1
    names, group = np.unique(below * count + solid, return_inverse=True)
    excess = np.bincount(group, plan.area[above] * (top * 1.0 - under), len(names))
    hollow = np.abs(excess) <= FLUSH**2  # as much underside as top: nothing lies inside
    hollow |= np.bincount(group, top, len(names)) == 0
    top, under = top & ~hollow[group], under & ~hollow[group]
    roofs = _grouped(plan.polygon[above[top]], group[top], len(names))
    undersides = _grouped(plan.polygon[above[under]], group[under], len(names))
    inside = polygonal(shapely.difference(roofs, undersides, grid_size=GRID))
    filled = ~shapely.is_empty(inside)
    return names[filled] // count, inside[filled]


def _hulls(plan: PageFaces, below: np.ndarray, above: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The convex hull of the faces of each crown over each surface."""
    count = int(plan.faces.solid.max(initial=0)) + 1
    names, group = np.unique(below * count + plan.faces.solid[above], return_inverse=True)
    order = np.argsort(group, kind="stable")
    if not len(order):
        return below, np.empty(0, dtype=object)
    whole = shapely.multipolygons(plan.polygon[above[order]], indices=group[order])
    return names // count, shapely.convex_hull(whole)


def _grouped(polygon: np.ndarray, group: np.ndarray, count: int) -> np.ndarray:
    """Union of the polygons of each group, slits in it closed; empty where there is none."""
    whole = np.full(count, shapely.Polygon(), dtype=object)
    if len(polygon):
        parts, owner = shapely.get_parts(polygon, return_index=True)
        order = np.argsort(group[owner], kind="stable")
        shapely.multipolygons(parts[order], indices=group[owner][order], out=whole)
        with contextlib.suppress(shapely.GEOSException):  # buffers unite too, but take longer for it
            whole = shapely.unary_union(whole[:, None], axis=1)
        whole = shapely.buffer(whole, SLIT, join_style="mitre")
    return whole


def _less(polygon: np.ndarray, rows: np.ndarray, hidden: np.ndarray, region: np.ndarray) -> np.ndarray:
    """Polygons of some rows, less the regions that belong to each."""
    taken = _grouped(region, np.searchsorted(rows, hidden), len(rows))
    return polygonal(shapely.difference(polygon[rows], taken, grid_size=GRID))


def _drawn_in(free: np.ndarray, plane: np.ndarray, solid: np.ndarray, clearance: float) -> np.ndarray:
    """
    Surfaces with their neighbours at about the same level, drawn in from their edges.

    Those of one solid are taken together, unless it has a step that is too high between any two.
    """
    here, there = shapely.STRtree(free).query(free, predicate="dwithin", distance=JOINT)
    box = shapely.bounds(free)
    middle = (np.maximum(box[here, :2], box[there, :2]) + np.minimum(box[here, 2:], box[there, 2:])) / 2
    near = np.abs(_level(plane[there], middle) - _level(plane[here], middle)) <= STEP
    broken = np.isin(solid, solid[here[~near & (solid[here] == solid[there])]])
    apart = solid.max(initial=0) + 1 + np.arange(len(free))
    group = np.unique(np.where(broken, apart, solid), return_inverse=True)[1]
    beside = np.unique(group[here[near]] * len(free) + there[near])
    owner, piece = np.divmod(beside, max(len(free), 1))
    grown = offset(free, JOINT, join_style="mitre")
    around = _grouped(_near(grown[piece], _boxes(box, group)[owner]), owner, int(group.max(initial=-1)) + 1)
    return offset(around, -(clearance + JOINT + SLIT), quad_segs=8)[group]


def _boxes(box: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Box of each group of surfaces and of what counts beside it, shape (g, 4)."""
    found = np.full((int(group.max(initial=-1)) + 1, 4), np.inf) * [1.0, 1.0, -1.0, -1.0]
    np.minimum.at(found[:, :2], group, box[:, :2])
    np.maximum.at(found[:, 2:], group, box[:, 2:])
    return np.asarray(found + BESIDE * np.array([-1.0, -1.0, 1.0, 1.0]))


def _near(polygon: np.ndarray, box: np.ndarray) -> np.ndarray:
    """What of each polygon lies in the box beside it."""
    near, bounds = polygon.copy(), shapely.bounds(polygon)
    out = (bounds[:, :2] < box[:, :2]).any(axis=1) | (bounds[:, 2:] > box[:, 2:]).any(axis=1)
    near[out] = polygonal(shapely.intersection(polygon[out], shapely.box(*box[out].T)))
    return near


def _level(plane: np.ndarray, xy: np.ndarray) -> np.ndarray:
    return plane[:, 2] + plane[:, 3] * (xy[:, 0] - plane[:, 0]) + plane[:, 4] * (xy[:, 1] - plane[:, 1])
