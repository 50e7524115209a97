"""
Triangles too thin or too small to be drawn, made one with their neighbours.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..ragged import ragged
from .mesh import Mesh, edge_keys
from .tin import Tin

THIN: Final = 2e-3  # triangles that are lower over their longest side are needles [m]
SHORT: Final = 0.01  # sides shorter than this are not worth drawing [m]
ON: Final = 1e-5  # points so near to an outline lie on it [m]
ROUNDS: Final = 60
_TURN: Final = [1, 2, 0]


def without_short_sides(tin: Tin, least: float = SHORT, *, outlines: np.ndarray | None = None) -> Tin:
    """
    Make one of points that lie nearer to one another than is worth drawing.

    Parameters
    ----------
    tin : Tin
        A surface; points on its border stay.
    least : float
        Sides shorter than this are made nothing in plan [m].
    outlines : ndarray of object, optional
        Footprints; points on their outlines stay [m].

    Returns
    -------
    Tin
        Without short sides, but for those that cannot go without folding the surface over.
    """
    xy = tin.xyz[:, :2] - tin.xyz[:, :2].mean(axis=0) if len(tin) else tin.xyz[:, :2]
    triangle = tin.triangle
    border = np.zeros(len(xy), dtype=bool)
    border[tin.border] = True
    if outlines is not None and len(outlines):
        on = shapely.STRtree(shapely.points(tin.xyz[:, :2])).query(
            shapely.boundary(outlines), predicate="dwithin", distance=ON
        )
        border[on[1]] = True
    for _ in range(ROUNDS):
        gone, kept = _short(xy, triangle, border, least)
        merged = _merged(xy, triangle, gone, kept)
        if merged is None:
            break
        triangle = merged
    return Tin(xyz=tin.xyz, triangle=triangle)


def _short(
    xy: np.ndarray, triangle: np.ndarray, border: np.ndarray, least: float
) -> tuple[np.ndarray, np.ndarray]:
    """Ends of short sides, the shortest first: the inner one that goes, and the one that stays."""
    key = np.unique(edge_keys(triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), len(xy)))
    ends = np.stack(np.divmod(key, max(len(xy), 1)), axis=1)
    length = np.hypot(*(xy[ends[:, 0]] - xy[ends[:, 1]]).T)
    short = np.flatnonzero((length < least) & ~border[ends].all(axis=1))
    ends = ends[short[np.argsort(length[short], kind="stable")]]
    turned = border[ends[:, 0]]
    return np.where(turned, ends[:, 1], ends[:, 0]), np.where(turned, ends[:, 0], ends[:, 1])


def _merged(xy: np.ndarray, triangle: np.ndarray, gone: np.ndarray, kept: np.ndarray) -> np.ndarray | None:
    """Triangles after as many points have gone as do not touch one another, None where none can."""
    side, around, slot = _around(triangle, gone, len(xy))
    moved = triangle[around]
    moved[np.arange(len(around)), slot] = kept[side]
    flat = (moved == moved[:, _TURN]).any(axis=1)
    folds = ~flat & (_heights(xy, moved)[0] <= 0)
    rank = np.arange(len(gone), dtype=float)
    rank[side[folds]] = np.inf
    best = np.full(len(triangle), np.inf)
    np.minimum.at(best, around, rank[side])
    rank[side[best[around] < rank[side]]] = np.inf
    chosen = np.isfinite(rank[side])
    if not chosen.any():
        return None
    corner = triangle.copy()
    corner[around[chosen]] = moved[chosen]
    left = np.ones(len(corner), dtype=bool)
    left[around[chosen & flat]] = False
    return corner[left]


def _around(
    triangle: np.ndarray, vertex: np.ndarray, count: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Triangles at vertices: the place in *vertex*, the triangle, and its corner there."""
    order = np.argsort(triangle, axis=None, kind="stable")
    start = np.searchsorted(triangle.ravel()[order], np.arange(count + 1))
    owner, number = ragged(np.diff(start)[vertex])
    found = order[start[vertex[owner]] + number]
    return owner, found // 3, found % 3


def without_needles(tin: Tin, least: float = THIN) -> Tin:
    """
    Turn the longest side of every needle, so that it is shared out with its neighbour.

    All points stay with their levels; the surface between them moves by no more than *least*
    times its slope. Needles whose longest side is on the border are left out.

    Parameters
    ----------
    tin : Tin
        A surface.
    least : float
        Height below which a triangle is a needle [m].

    Returns
    -------
    Tin
        With fewer needles, or none.
    """
    xy = tin.xyz[:, :2] - tin.xyz[:, :2].mean(axis=0) if len(tin) else tin.xyz[:, :2]
    triangle = tin.triangle
    for _ in range(ROUNDS):
        height, slot = _heights(xy, triangle)
        rows = np.flatnonzero(height < least)
        if not len(rows):
            break
        mesh = Mesh.of(xy, triangle)
        other = mesh.beside[rows, slot[rows]]
        bare = rows[other < 0]
        turned = _turned(mesh, rows[other >= 0], slot[rows[other >= 0]], height)
        if turned is None and not len(bare):
            break
        corner = triangle if turned is None else turned
        triangle = np.delete(corner, bare, axis=0) if len(bare) else corner
    return Tin(xyz=tin.xyz, triangle=triangle)


def _heights(xy: np.ndarray, triangle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Height of triangles over their longest side, and the corner across from that."""
    a, b, c = (xy[triangle[:, k]] for k in range(3))
    length = np.stack([np.hypot(*(c - b).T), np.hypot(*(a - c).T), np.hypot(*(b - a).T)], axis=1)
    twice = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return twice / length.max(axis=1, initial=1e-12), length.argmax(axis=1)


def _turned(mesh: Mesh, rows: np.ndarray, slot: np.ndarray, height: np.ndarray) -> np.ndarray | None:
    """Triangles after turning as many sides as go without touching one another, None for none."""
    if not len(rows):
        return None
    quad, other = mesh.quads(rows, slot)
    p, a, q, b = quad.T
    first, second = np.stack([p, a, q], axis=1), np.stack([p, q, b], axis=1)
    better = np.minimum(_heights(mesh.xy, first)[0], _heights(mesh.xy, second)[0])
    good = better > np.minimum(height[rows], height[other]) * (1 + 1e-6)
    rank = np.argsort(np.argsort(height[rows], kind="stable"), kind="stable").astype(float)
    rank[~good] = np.inf
    best = np.full(len(mesh.corner), np.inf)
    np.minimum.at(best, rows, rank)
    np.minimum.at(best, other, rank)
    chosen = good & (best[rows] == rank) & (best[other] == rank)
    if not chosen.any():
        return None
    corner = mesh.corner.copy()
    corner[rows[chosen]], corner[other[chosen]] = first[chosen], second[chosen]
    return corner
