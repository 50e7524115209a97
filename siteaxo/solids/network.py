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

from .exact import as_complex, on_grid
from .noding import NEAR, noded

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


def network(lines: np.ndarray, points: np.ndarray, *, known: int = 0) -> Network:
    """
    Node lines and points with levels.

    Parameters
    ----------
    lines : ndarray of LineString with Z, shape (n,)
        In order of precedence [m].
    points : ndarray, shape (m, 3)
        Places with levels; lines take precedence [m].
    known : int
        So many segments, the first ones, meet at their ends only; these keep their levels.

    Returns
    -------
    Network
    """
    xyz, line = shapely.get_coordinates(lines, include_z=True, return_index=True)
    vertex = np.column_stack([on_grid(xyz[:, :2]), xyz[:, 2]])
    spot = np.column_stack([on_grid(points[:, :2]), points[:, 2]])
    follows = np.flatnonzero(line[1:] == line[:-1])
    ends = np.stack([follows, follows + 1], axis=1)
    pieces = noded(vertex[ends][:, :, :2], spot[:, :2], known=known)
    given = np.concatenate([vertex, spot])
    source = np.concatenate([line, len(lines) + np.arange(len(spot))])
    every = np.concatenate([given[:, :2], pieces.reshape(-1, 2)])
    _, first, number = np.unique(as_complex(every), return_index=True, return_inverse=True)
    xy = every[first]
    own, corner = number[: len(given)], number[len(given) :].reshape(-1, 2)
    new = np.setdiff1d(np.arange(len(xy)), own[ends[:known]])
    met = np.concatenate(
        [np.column_stack([own, source, given[:, 2]]), _lying(xy, new, vertex[ends], line[follows])]
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


def _lying(xy: np.ndarray, among: np.ndarray, segments: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Points *among* all that lie on segments between their ends, as rows of point, line, level there."""
    if not len(segments):
        return np.zeros((0, 3))
    tree = shapely.STRtree(shapely.linestrings(segments[:, :, :2]))
    asked, parent = tree.query(shapely.points(xy[among]), predicate="dwithin", distance=NEAR)
    node = among[asked]
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
