"""
Lines and points with levels, noded: the net from which a surface is triangulated.

Lines are cut where they cross or touch one another, on the grid of ``exact``, so that they
meet at common points only. A crossing has the level of the line that comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from .exact import GRID, on_grid

NEAR: Final = 4 * GRID  # a point so near to a line lies on it [m]
AGREE: Final = 1e-3  # levels at one place that differ by no more agree [m]


@dataclass(frozen=True, kw_only=True)
class Conflict:
    """
    Places where two inputs give different levels.

    Parameters
    ----------
    kept, dropped : ndarray of int, shape (n,)
        Numbers of the inputs: lines first, then points.
    xy : ndarray, shape (n, 2)
        Where [m].
    kept_level, dropped_level : ndarray, shape (n,)
        The level that counts, and the other [m].
    """

    kept: np.ndarray
    dropped: np.ndarray
    xy: np.ndarray
    kept_level: np.ndarray
    dropped_level: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Network:
    """
    Points and segments that meet at points only.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Distinct points on the grid [m].
    level : ndarray, shape (v,)
        Their levels [m].
    source : ndarray of int, shape (v,)
        The input each level comes from: lines first, then points.
    segment : ndarray of int, shape (s, 2)
        Pairs of points.
    conflict : Conflict
        Where inputs disagree.
    """

    xy: np.ndarray
    level: np.ndarray
    source: np.ndarray
    segment: np.ndarray
    conflict: Conflict


def network(lines: np.ndarray, points: np.ndarray) -> Network:
    """
    Node lines and points with levels.

    Parameters
    ----------
    lines : ndarray of LineString with Z, shape (n,)
        In order of precedence [m].
    points : ndarray, shape (m, 3)
        Places with levels; lines take precedence [m].

    Returns
    -------
    Network
    """
    xyz, line = shapely.get_coordinates(lines, include_z=True, return_index=True)
    vertex = np.column_stack([on_grid(xyz[:, :2]), xyz[:, 2]])
    spot = np.column_stack([on_grid(points[:, :2]), points[:, 2]])
    follows = np.flatnonzero(line[1:] == line[:-1])
    ends = np.stack([follows, follows + 1], axis=1)
    pieces = noded(vertex[ends][:, :, :2], spot[:, :2])
    given = np.concatenate([vertex, spot])
    source = np.concatenate([line, len(lines) + np.arange(len(spot))])
    xy, number = np.unique(np.concatenate([given[:, :2], pieces.reshape(-1, 2)]), axis=0, return_inverse=True)
    number = number.ravel()
    own, corner = number[: len(given)], number[len(given) :].reshape(-1, 2)
    met = np.concatenate(
        [np.column_stack([own, source, given[:, 2]]), _lying(xy, vertex[ends], line[follows])]
    )
    order = np.lexsort((np.arange(len(met)), met[:, 1], met[:, 0]))  # the first input, its vertices first
    first = order[np.unique(met[order, 0], return_index=True)[1]]
    level, origin = met[first, 2], met[first, 1].astype(np.int64)
    return Network(
        xy=xy,
        level=level,
        source=origin,
        segment=corner[corner[:, 0] != corner[:, 1]],
        conflict=_conflicts(xy, level, origin, met),
    )


def noded(segments: np.ndarray, points: np.ndarray) -> np.ndarray:
    """
    Cut segments where they cross or touch one another, and where points lie on them.

    Ends and points that lie on a segment but for rounding are made to lie on it, so that no
    sliver is left beside them.

    Parameters
    ----------
    segments : ndarray, shape (s, 2, 2)
        End points on the grid [m].
    points : ndarray, shape (m, 2)
        Points on the grid [m].

    Returns
    -------
    ndarray, shape (k, 2, 2)
        Pieces, each once.

    References
    ----------
    Hobby, Computational Geometry 13 (1999), snap rounding (from memory); done by GEOS.
    """
    if not len(segments):
        return segments
    cut = _with_points(segments, np.unique(np.concatenate([segments.reshape(-1, 2), points]), axis=0))
    merged = shapely.union_all(shapely.linestrings(cut), grid_size=GRID)
    xy, part = shapely.get_coordinates(shapely.get_parts(merged), return_index=True)
    follows = np.flatnonzero(part[1:] == part[:-1])
    return np.stack([xy[follows], xy[follows + 1]], axis=1)


def _with_points(segments: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Bend segments through the points that lie on them."""
    if not len(points):
        return segments
    places = shapely.points(points)
    tree = shapely.STRtree(places)
    segment, point = tree.query(shapely.linestrings(segments), predicate="dwithin", distance=NEAR)
    at = points[point][:, None] == segments[segment]
    inner = ~at.all(axis=2).any(axis=1)
    segment, point = segment[inner], point[inner]
    if not len(segment):
        return segments
    begin = segments[segment, 0]
    way = ((points[point] - begin) * (segments[segment, 1] - begin)).sum(axis=1)
    owner = np.concatenate([np.repeat(np.arange(len(segments)), 2), segment])
    place = np.concatenate([segments.reshape(-1, 2), points[point]])
    order = np.concatenate([np.tile([-np.inf, np.inf], len(segments)), way])
    rank = np.lexsort((order, owner))
    place, owner = place[rank], owner[rank]
    follows = np.flatnonzero(owner[1:] == owner[:-1])
    return np.stack([place[follows], place[follows + 1]], axis=1)


def _lying(xy: np.ndarray, segments: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Points that lie on segments between their ends, as rows of point, line, level there."""
    if not len(segments):
        return np.zeros((0, 3))
    tree = shapely.STRtree(shapely.linestrings(segments[:, :, :2]))
    node, parent = tree.query(shapely.points(xy), predicate="dwithin", distance=NEAR)
    inner = ~(xy[node][:, None] == segments[parent][:, :, :2]).all(axis=2).any(axis=1)
    node, parent = node[inner], parent[inner]
    begin, end = segments[parent, 0], segments[parent, 1]
    along = end[:, :2] - begin[:, :2]
    length = (along**2).sum(axis=1)
    share = ((xy[node] - begin[:, :2]) * along).sum(axis=1) / np.where(length > 0, length, 1.0)
    level = begin[:, 2] + np.clip(share, 0.0, 1.0) * (end[:, 2] - begin[:, 2])
    return np.column_stack([node, line[parent], level])


def _conflicts(xy: np.ndarray, level: np.ndarray, origin: np.ndarray, met: np.ndarray) -> Conflict:
    node, other = met[:, 0].astype(np.int64), met[:, 1].astype(np.int64)
    wrong = np.flatnonzero((np.abs(met[:, 2] - level[node]) > AGREE) & (other != origin[node]))
    return Conflict(
        kept=origin[node[wrong]],
        dropped=other[wrong],
        xy=xy[node[wrong]],
        kept_level=level[node[wrong]],
        dropped_level=met[wrong, 2],
    )
