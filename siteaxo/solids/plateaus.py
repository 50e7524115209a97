"""
Level triangles between points of one contour, where the ground is not level.

A bend of a contour is closed off by level triangles although the ground goes on to the next
contour: there an edge is turned. Within the last contour of a hilltop or a hollow nothing
says how the ground goes on: there a spot is added, as far up or down as half the slope
outside leads, and by no more than half the step to the next contour. What lies between
several contours of one level, or around a closed one, is level ground and stays so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from .exact import on_grid
from .linked import linked
from .mesh import Mesh, among, edge_keys
from .triangulation import triangulated

SAME: Final = 1e-6  # levels of one contour [m]
THIN: Final = 1e-3  # no edge is turned for triangles lower than this [m]
ROUNDS: Final = 6  # how often spots are added to what is still level
OFF: Final = 0.05  # spots move so far toward the middle of their triangle [-]
_HALF: Final = 0.5


@dataclass(frozen=True, kw_only=True)
class Rounded:
    """
    A triangulation without level triangles inside single contours.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Points; the added ones come last [m].
    level : ndarray, shape (v,)
        Levels [m].
    triangle : ndarray of int, shape (t, 3)
        Triangles, anticlockwise.
    added : int
        Number of spots added.
    turned : int
        Number of edges turned.
    area : ndarray, shape (r,)
        Area of each region that was level and got a spot, in the first round [m²].
    spot : ndarray, shape (r, 3)
        Its first spot [m].
    from_level : ndarray, shape (r,)
        Level of the contour around it [m].
    """

    xy: np.ndarray
    level: np.ndarray
    triangle: np.ndarray
    added: int
    turned: int
    area: np.ndarray
    spot: np.ndarray
    from_level: np.ndarray


def rounded(
    xy: np.ndarray, level: np.ndarray, segment: np.ndarray, contour: np.ndarray, *, spots: bool = True
) -> Rounded:
    """
    Triangulate contours and spots without level triangles inside contours.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Distinct points on the grid of ``exact`` [m].
    level : ndarray, shape (v,)
        Levels [m].
    segment : ndarray of int, shape (s, 2)
        Pairs of points that are edges.
    contour : ndarray of bool, shape (v,)
        Points of contours; only triangles between three of them are looked at.
    spots : bool
        Whether spots may be added; edges are turned in any case.

    Returns
    -------
    Rounded
    """
    fixed = np.unique(edge_keys(segment, len(xy)))
    mesh = Mesh.of(xy, triangulated(xy, segment))
    turned = _turn_level(mesh, level, contour, fixed)
    first: tuple[np.ndarray, ...] = (np.zeros(0), np.zeros((0, 3)), np.zeros(0))
    count = len(xy)
    for number in range(ROUNDS if spots else 0):
        area, spot, around = _spots(mesh, level, contour, fixed, count)
        if not len(spot):
            break
        first = (area, spot, around) if number == 0 else first
        xy, level = np.concatenate([xy, spot[:, :2]]), np.append(level, spot[:, 2])
        contour = np.append(contour, np.zeros(len(spot), dtype=bool))
        fixed = np.unique(edge_keys(segment, len(xy)))
        mesh = mesh.with_points(spot[:, :2], fixed)
        turned += _turn_level(mesh, level, contour, fixed)
    return Rounded(
        xy=xy,
        level=level,
        triangle=mesh.corner,
        added=len(xy) - count,
        turned=turned,
        area=first[0],
        spot=first[1],
        from_level=first[2],
    )


def is_level(corner: np.ndarray, level: np.ndarray, contour: np.ndarray) -> np.ndarray:
    """Whether triangles are level between three points of contours, shape (t,)."""
    return (np.ptp(level[corner], axis=1) <= SAME) & contour[corner].all(axis=1)


def _turn_level(mesh: Mesh, level: np.ndarray, contour: np.ndarray, fixed: np.ndarray) -> int:
    """Turn the edges between level triangles and others; return how many."""
    turned = 0
    flat = is_level(mesh.corner, level, contour)
    while True:
        ends, triangle, slot = mesh.edges(np.flatnonzero(flat))
        other = mesh.beside[triangle, slot]
        free = (other >= 0) & ~flat[other] & ~among(edge_keys(ends, len(mesh.xy)), fixed)
        triangle, slot = triangle[free], slot[free]
        ready = mesh.convex(mesh.quads(triangle, slot)[0], least=THIN)
        if not ready.any():
            return turned
        changed = mesh.turn_edges(triangle[ready], slot[ready])
        flat[changed] = False
        turned += len(changed) // 2


def _spots(
    mesh: Mesh, level: np.ndarray, contour: np.ndarray, fixed: np.ndarray, given: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Area, spot and surrounding level of each level region whose surroundings say where it goes.

    Points from number *given* on were added before.
    """
    rows = np.flatnonzero(is_level(mesh.corner, level, contour))
    if not len(rows):
        return np.zeros(0), np.zeros((0, 3)), np.zeros(0)
    region = _regions(mesh, rows, fixed)
    count = int(region.max()) + 1
    polygon = np.array(
        [shapely.union_all(shapely.polygons(mesh.xy[mesh.corner[rows[region == k]]])) for k in range(count)]
    )
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=0.01 * np.sqrt(shapely.area(polygon)))
    middle = _inside(mesh, rows, shapely.get_coordinates(radius)[::2])
    around = np.full(count, np.nan)
    around[region] = level[mesh.corner[rows, 0]]
    rise, step = _outside(mesh, level, rows, region, fixed)
    reach = _HALF * rise * shapely.length(radius)
    stated = ~contour & (np.arange(len(level)) < given)
    known = np.isfinite(step) & (np.abs(reach) > SAME)
    known &= _within_one(mesh, level, rows, region, fixed, stated)
    by = np.clip(reach, -_HALF * step, _HALF * step)
    spot = np.column_stack([middle, around + by])
    return shapely.area(polygon)[known], spot[known], around[known]


def _inside(mesh: Mesh, rows: np.ndarray, xy: np.ndarray) -> np.ndarray:
    """Places on the grid near points, well within one of the triangles of *rows* each."""
    corners = mesh.xy[mesh.corner[rows]]
    nearest = shapely.STRtree(shapely.polygons(corners)).nearest(shapely.points(xy))
    middle = corners[nearest].mean(axis=1)
    return on_grid(xy + OFF * (middle - xy))


def _regions(mesh: Mesh, rows: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Number of the connected region each of *rows* lies in; fixed edges part regions."""
    ends, triangle, slot = mesh.edges(rows)
    place = np.full(len(mesh.corner), -1)
    place[rows] = np.arange(len(rows))
    one, other = place[triangle], place[mesh.beside[triangle, slot]]
    joined = (mesh.beside[triangle, slot] >= 0) & (other >= 0) & ~among(edge_keys(ends, len(mesh.xy)), fixed)
    first = linked(len(rows), one[joined], other[joined])
    return np.unique(first, return_inverse=True)[1].ravel()


def _within_one(
    mesh: Mesh,
    level: np.ndarray,
    rows: np.ndarray,
    region: np.ndarray,
    fixed: np.ndarray,
    stated: np.ndarray,
) -> np.ndarray:
    """
    Which level regions lie within one contour; all others are level ground.

    Ground is level between several contours, unless it falls away there toward others, and
    around a closed one. What the edge of the survey cuts off lies within the contour cut.
    *stated* are the spots of the survey.
    """
    begin, end = np.divmod(fixed, len(mesh.xy))
    same = np.abs(level[begin] - level[end]) <= SAME
    begin, end = begin[same], end[same]
    line = linked(len(mesh.xy), begin, end)
    ways = np.bincount(np.concatenate([begin, end]), minlength=len(mesh.xy))
    cut = np.isin(np.arange(len(mesh.xy)), line[ways == 1])
    own, corner = np.repeat(region, 3), mesh.corner[rows].ravel()
    several = line[corner] != line[mesh.corner[rows[np.unique(region, return_index=True)[1]], 0]][own]
    several |= ways[corner] > 2  # where contours cross
    stays, slopes = _beside(mesh, level, rows, fixed, stated)
    count = int(region.max()) + 1
    between, open_end, goes_on, falls = (
        np.bincount(of, what, count) > 0
        for of, what in ((own, several), (own, cut[line[corner]]), (region, stays), (region, slopes))
    )
    return np.where(between, falls, ~goes_on | open_end)


def _beside(
    mesh: Mesh, level: np.ndarray, rows: np.ndarray, fixed: np.ndarray, stated: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Beside which of *rows* the ground ends or is stated level too, and where it slopes, nothing stated."""
    corner, beside = mesh.corner[rows], mesh.beside[rows]
    ends = np.stack([corner[:, [1, 2, 0]], corner[:, [2, 0, 1]]], axis=2).reshape(-1, 2)
    free = ~among(edge_keys(ends, len(mesh.xy)), fixed).reshape(-1, 3)
    flat = np.ptp(level[mesh.corner], axis=1) <= SAME
    said = stated[mesh.corner].any(axis=1)
    stays = (beside < 0) | (free & flat[beside] & said[beside])
    slopes = (beside >= 0) & free & ~flat[beside] & ~said[beside]
    return stays.any(axis=1), slopes.any(axis=1)


def _outside(
    mesh: Mesh, level: np.ndarray, rows: np.ndarray, region: np.ndarray, fixed: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """How steeply the ground rises toward each region across its contour, and the step it takes there."""
    owner = np.repeat(region, 3)
    triangle, slot = np.repeat(rows, 3), np.tile(np.arange(3), len(rows))
    ends = np.stack([mesh.corner[triangle, (slot + k) % 3] for k in (1, 2)], axis=1)
    rim = (mesh.beside[triangle, slot] >= 0) & among(edge_keys(ends, len(mesh.xy)), fixed)
    quad, _ = mesh.quads(triangle[rim], slot[rim])
    along = mesh.xy[quad[:, 3]] - mesh.xy[quad[:, 1]]
    to_tip = mesh.xy[quad[:, 2]] - mesh.xy[quad[:, 1]]
    length = np.hypot(*along.T)
    away = np.abs(along[:, 0] * to_tip[:, 1] - along[:, 1] * to_tip[:, 0]) / length
    drop = level[quad[:, 1]] - level[quad[:, 2]]
    count = int(region.max()) + 1
    slopes = np.abs(drop) > SAME
    weight = np.bincount(owner[rim], length * slopes, count)
    rise = np.bincount(owner[rim], length * drop / away, count) / np.where(weight > 0, weight, 1.0)
    step = np.full(count, np.inf)
    np.minimum.at(step, owner[rim][slopes], np.abs(drop[slopes]))
    return rise, step
