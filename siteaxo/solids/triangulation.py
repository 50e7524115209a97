"""
Constrained Delaunay triangulation of points and of segments that must be edges.

Points are triangulated first. Where a segment is missing, the edges across it are turned,
from the highest above it on one side down to the last; no point is added. Segments that
do not share a triangle are worked on at once. In the end all other edges are turned back
until the triangulation is as near to Delaunay as the segments allow.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import GeometryError
from .exact import GRID, turn
from .mesh import Mesh, among, edge_keys, numbers_of

_NEXT: Final = np.array([1, 2, 0])
_LAST: Final = np.array([2, 0, 1])
_UNFILLED: Final = 1e-9  # share of an area that rounding may leave out [-]
_MOST: Final = 100_000  # rounds, never reached by segments that are noded


def triangulated(xy: np.ndarray, segments: np.ndarray) -> np.ndarray:
    """
    Triangulate points so that segments are edges.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Distinct points on the grid of ``exact`` [m].
    segments : ndarray of int, shape (s, 2)
        Pairs of points; segments meet at points only, and pass through none.

    Returns
    -------
    ndarray of int, shape (t, 3)
        Triangles, anticlockwise, that fill the convex hull.

    Raises
    ------
    GeometryError
        If the points lie on one line, or segments cross.

    References
    ----------
    Chew, Algorithmica 4 (1989), for what is constrained Delaunay; Sloan, Computers &
    Structures 47 (1993), for inserting segments by turning edges (both from memory).

    Examples
    --------
    >>> kite = np.array([[0.0, 0], [4, -1], [8, 0], [4, 1]])
    >>> len(triangulated(kite, np.array([[0, 2]])))
    2
    """
    mesh = Mesh.delaunay(xy)
    fixed = np.unique(edge_keys(segments, len(xy)))
    segments = np.stack(np.divmod(fixed, len(xy)), axis=1)
    rows = np.arange(len(mesh.corner))
    touched = []
    for _ in range(_MOST):
        ends, triangle, slot = mesh.edges(rows)
        present = np.sort(edge_keys(ends, len(xy)))
        segments = segments[~among(edge_keys(segments, len(xy)), present)]
        segment, crossed = _crossed(mesh, segments, ends, triangle, slot)
        if not len(segment):
            break
        rows = np.unique(crossed)
        touched.append(rows)
        segments = segments[np.unique(segment)]
        segment = np.unique(segment, return_inverse=True)[1]
        first = _alone(segment, crossed, len(mesh.corner))
        _insert(mesh, segments, segment[first], crossed[first], fixed)
    else:
        raise GeometryError("Lines of the ground cross where they have no common point.")
    if touched:
        mesh.legalise(np.unique(np.concatenate(touched)), fixed)
    return mesh.corner


def enclosed(xy: np.ndarray, segments: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Triangulate the areas that segments enclose, each for itself.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Distinct points on the grid of ``exact`` [m].
    segments : ndarray of int, shape (s, 2)
        Pairs of points, each once; segments meet at points only, and pass through none.

    Returns
    -------
    triangle : ndarray of int, shape (t, 3)
        Triangles, anticlockwise, area by area.
    area : ndarray of int, shape (t,)
        The area each lies in, numbered from 0.

    Examples
    --------
    >>> kite = np.array([[0.0, 0], [4, -1], [8, 0], [4, 1]])
    >>> enclosed(kite, np.array([[0, 1], [1, 2], [2, 3], [3, 0], [0, 2]]))[1].tolist()
    [0, 1]
    """
    found = shapely.polygonize_full(shapely.linestrings(xy[segments]))
    areas, cuts, loose, _ = (shapely.get_parts(one) for one in found)
    plain = shapely.get_num_coordinates(areas) == 4  # triangles already
    parts, owner = shapely.get_parts(shapely.constrained_delaunay_triangles(areas[~plain]), return_index=True)
    ring = shapely.get_coordinates(np.concatenate([areas[plain], parts])).reshape(-1, 4, 2)[:, :3]
    area = np.concatenate([np.flatnonzero(plain), np.flatnonzero(~plain)[owner]])
    loose = np.concatenate([cuts, loose])
    again = _not_filled(areas, ring, area, loose)
    corner, kept = numbers_of(xy, ring), ~np.isin(area, again)
    further = [_filled(xy, areas[k], loose) for k in again]
    corner = np.concatenate([corner[kept], *further])
    area = np.concatenate([area[kept], np.repeat(again, [len(one) for one in further])])
    way = turn(*(xy[corner[:, k]] for k in range(3)))
    order = np.argsort(area[way != 0], kind="stable")
    corner = np.where((way < 0)[:, None], corner[:, ::-1], corner)[way != 0]
    return corner[order], area[way != 0][order]


def _not_filled(areas: np.ndarray, ring: np.ndarray, area: np.ndarray, loose: np.ndarray) -> np.ndarray:
    """Areas in which lines end, and those that their triangles do not fill."""
    within = shapely.STRtree(loose).query(areas, predicate="covers")[0]
    u, v = ring[:, 1] - ring[:, 0], ring[:, 2] - ring[:, 0]
    size = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    whole = shapely.area(areas)
    missing = np.abs(np.bincount(area, size, len(areas)) - whole) > _UNFILLED * whole + GRID
    return np.union1d(within, np.flatnonzero(missing))


def _filled(xy: np.ndarray, area: shapely.Polygon, loose: np.ndarray) -> np.ndarray:
    """Triangles of one area, with the loose lines in it as edges."""
    lines = np.concatenate([shapely.get_rings(area), loose[shapely.covers(area, loose)]])
    places, line = shapely.get_coordinates(lines, return_index=True)
    node, number = np.unique(numbers_of(xy, places), return_inverse=True)
    follows = np.flatnonzero(line[1:] == line[:-1])
    corner = triangulated(xy[node], number.ravel()[np.stack([follows, follows + 1], axis=1)])
    return node[corner[shapely.contains_xy(area, xy[node][corner].mean(axis=1))]]


def _crossed(
    mesh: Mesh, segments: np.ndarray, ends: np.ndarray, triangle: np.ndarray, slot: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of a segment and a triangle it runs through, each once."""
    if not len(segments):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    tree = shapely.STRtree(shapely.linestrings(mesh.xy[segments]))
    edge, segment = tree.query(shapely.linestrings(mesh.xy[ends]))
    p, q = mesh.xy[ends[edge]].transpose(1, 0, 2)
    a, b = mesh.xy[segments[segment]].transpose(1, 0, 2)
    cross = (turn(a, b, p) * turn(a, b, q) < 0) & (turn(p, q, a) * turn(p, q, b) < 0)
    edge, segment = edge[cross], segment[cross]
    both = np.concatenate([triangle[edge], mesh.beside[triangle[edge], slot[edge]]])
    pairs = np.unique(np.column_stack([np.tile(segment, 2), both]), axis=0)
    return pairs[:, 0], pairs[:, 1]


def _alone(segment: np.ndarray, crossed: np.ndarray, count: int) -> np.ndarray:
    """Pairs of segments that come first in all their triangles, so that they can go together."""
    best = np.full(count, len(segment))
    np.minimum.at(best, crossed, segment)
    second = np.zeros(int(segment.max()) + 1, dtype=bool)
    second[segment[best[crossed] != segment]] = True
    return ~second[segment]


def _insert(
    mesh: Mesh, segments: np.ndarray, segment: np.ndarray, crossed: np.ndarray, fixed: np.ndarray
) -> None:
    """Turn edges until none crosses the segments, which share no triangle."""
    for _ in range(_MOST):
        a, b = mesh.xy[segments[segment]].transpose(1, 0, 2)
        corner = mesh.corner[crossed]
        height = np.stack([turn(a, b, mesh.xy[corner[:, k]]) for k in range(3)], axis=1)
        across = height[:, _NEXT] * height[:, _LAST] < 0
        still = across.any(axis=1)
        if not still.any():
            return
        segment, crossed, corner = segment[still], crossed[still], corner[still]
        height, across = height[still], across[still]
        row, slot = np.nonzero(across & _from_peak(segment, corner, height, len(mesh.xy)))
        quad, _ = mesh.quads(crossed[row], slot)
        ready = mesh.convex(quad)
        if not ready.any() or among(edge_keys(quad[:, [1, 3]], len(mesh.xy)), fixed).any():
            break
        mesh.turn_edges(crossed[row[ready]], slot[ready])
    raise GeometryError("Lines of the ground cross where they have no common point.")


def _from_peak(segment: np.ndarray, corner: np.ndarray, height: np.ndarray, count: int) -> np.ndarray:
    """
    Whether edges start from a point left of its segment that is higher than its neighbours.

    Such a point has an edge that can be turned, and no edge is turned twice for it.
    """
    name = segment[:, None].astype(np.int64) * count + corner
    left = height > 0
    known, number = np.unique(name[left], return_inverse=True)
    code = np.full(name.shape, -1)
    code[left] = number.ravel()
    peak = np.ones(len(known), dtype=bool)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        pair = left[:, one] & left[:, other]
        lower = (height[pair, one] < height[pair, other]) | (
            (height[pair, one] == height[pair, other]) & (corner[pair, one] < corner[pair, other])
        )
        peak[np.where(lower, code[pair, one], code[pair, other])] = False
    top = left & np.append(peak, False)[code]
    return top[:, _NEXT] | top[:, _LAST]
