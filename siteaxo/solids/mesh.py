"""
Triangles that know their neighbours, and many of their shared edges turned at once.

The neighbour ``beside[t, i]`` of triangle t lies across the edge opposite its corner i,
from corner i + 1 to corner i + 2; −1 where there is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import GeometryError
from .exact import as_complex, turn

_NEXT: Final = np.array([1, 2, 0])
_LAST: Final = np.array([2, 0, 1])
_SCATTER: Final = np.uint64(0x9E3779B97F4A7C15)
_ROUND: Final = 1e-12  # share of the terms of a circle test that rounding may amount to [-]


@dataclass(frozen=True, kw_only=True)
class Mesh:
    """
    A triangulation that can be changed edge by edge.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Points on the grid of ``exact`` [m].
    corner : ndarray of int, shape (t, 3)
        Triangles, anticlockwise.
    beside : ndarray of int, shape (t, 3)
        Neighbours.
    """

    xy: np.ndarray
    corner: np.ndarray
    beside: np.ndarray

    @classmethod
    def delaunay(cls, xy: np.ndarray) -> Mesh:
        """
        Triangulate points.

        Raises
        ------
        GeometryError
            If all points lie on one line.
        """
        parts = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(xy)))
        if not len(parts):
            raise GeometryError("Points on one straight line, or fewer than three, make no surface.")
        corner = numbers_of(xy, shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3])
        flat = turn(xy[corner[:, 0]], xy[corner[:, 1]], xy[corner[:, 2]])
        corner = np.where((flat < 0)[:, None], corner[:, ::-1], corner)[flat != 0]
        return cls.of(xy, corner)

    @classmethod
    def of(cls, xy: np.ndarray, corner: np.ndarray) -> Mesh:
        """Let triangles, anticlockwise, find their neighbours."""
        mesh = cls(xy=xy, corner=corner.copy(), beside=np.full(corner.shape, -1))
        mesh.link(np.arange(len(corner)))
        return mesh

    def link(self, rows: np.ndarray) -> None:
        """Find the neighbours of triangles among one another; other neighbours stay."""
        ends, triangle, slot = self._sides(rows)
        key = edge_keys(ends, len(self.xy))
        order = np.argsort(key, kind="stable")
        twin = np.flatnonzero(key[order][1:] == key[order][:-1])
        one, other = order[twin], order[twin + 1]
        self.beside[triangle[one], slot[one]] = triangle[other]
        self.beside[triangle[other], slot[other]] = triangle[one]

    def edges(self, rows: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each edge of triangles once, with a triangle and the slot it lies in: ends (e, 2), (e,), (e,)."""
        ends, triangle, slot = self._sides(np.arange(len(self.corner)) if rows is None else rows)
        first = np.unique(edge_keys(ends, len(self.xy)), return_index=True)[1]
        return ends[first], triangle[first], slot[first]

    def _sides(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        triangle, slot = np.repeat(rows, 3), np.tile(np.arange(3), len(rows))
        corners = [self.corner[triangle, _NEXT[slot]], self.corner[triangle, _LAST[slot]]]
        return np.stack(corners, axis=1), triangle, slot

    def quads(self, triangle: np.ndarray, slot: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """
        Corners of the two triangles at edges, and the second triangle.

        Returns
        -------
        quad : ndarray of int, shape (n, 4)
            Anticlockwise; the edge runs from the second to the fourth.
        other : ndarray of int, shape (n,)
            The triangle across the edge.
        """
        other = self.beside[triangle, slot]
        back = np.argmax(self.beside[other] == triangle[:, None], axis=1)
        quad = [
            self.corner[triangle, slot],
            self.corner[triangle, _NEXT[slot]],
            self.corner[other, back],
            self.corner[triangle, _LAST[slot]],
        ]
        return np.stack(quad, axis=1), other

    def convex(self, quad: np.ndarray, *, least: float = 0.0) -> np.ndarray:
        """Whether edges can be turned: both new triangles are higher than *least* [m], shape (n,)."""
        p, a, q, b = (self.xy[quad[:, k]] for k in range(4))
        sides = [q - p, a - p, a - q, b - p, b - q] if least else []
        longest = np.sqrt(np.max([(side**2).sum(axis=1) for side in sides], axis=0)) if least else 1.0
        return (turn(p, a, q) > least * longest) & (turn(p, q, b) > least * longest)

    def with_points(self, xy: np.ndarray, fixed: np.ndarray) -> Mesh:
        """
        Add points, each within a triangle of its own, and turn edges where it asks for it.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
            Points on the grid, none on an edge [m].
        fixed : ndarray of int, sorted
            Keys, counted with the new points, of edges that must stay.
        """
        polygon = shapely.polygons(self.xy[self.corner])
        point, triangle = shapely.STRtree(polygon).query(shapely.points(xy), predicate="within")
        number = len(self.xy) + np.arange(len(xy))[point]
        a, b, c = self.corner[triangle].T
        corner = np.concatenate([self.corner, np.stack([b, c, number], 1), np.stack([c, a, number], 1)])
        corner[triangle] = np.stack([a, b, number], axis=1)
        beside = np.concatenate([self.beside, np.full((2 * len(triangle), 3), -1)])
        around = self.beside[triangle].ravel()
        beside[triangle] = -1
        mesh = Mesh(xy=np.concatenate([self.xy, xy]), corner=corner, beside=beside)
        new = np.concatenate([triangle, np.arange(len(self.corner), len(corner))])
        mesh.link(np.unique(np.concatenate([new, around[around >= 0]])))
        mesh.legalise(new, fixed)
        return mesh

    def turn_edges(self, triangle: np.ndarray, slot: np.ndarray) -> np.ndarray:
        """
        Turn edges, as many as do not touch one another's triangles.

        Parameters
        ----------
        triangle, slot : ndarray of int, shape (n,)
            Edges whose quads are convex.

        Returns
        -------
        ndarray of int
            The triangles that changed.
        """
        quad, other = self.quads(triangle, slot)
        free = _apart(triangle, other, len(self.corner))
        one, two, quad = triangle[free], other[free], quad[free]
        around = np.concatenate([self.beside[one].ravel(), self.beside[two].ravel(), one, two])
        self.corner[one], self.corner[two] = quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]
        self.beside[one] = self.beside[two] = -1
        self.link(np.unique(around[around >= 0]))
        return np.concatenate([one, two])

    def legalise(self, rows: np.ndarray, fixed: np.ndarray) -> None:
        """
        Turn edges until no triangle's circle holds the corner across an edge.

        Parameters
        ----------
        rows : ndarray of int
            Triangles to begin with.
        fixed : ndarray of int, sorted
            Keys of edges that must stay.

        References
        ----------
        Lawson (1977), the swapping of diagonals (from memory).
        """
        for _ in range(10_000):
            ends, triangle, slot = self.edges(rows)
            open_ = (self.beside[triangle, slot] >= 0) & ~among(edge_keys(ends, len(self.xy)), fixed)
            triangle, slot = triangle[open_], slot[open_]
            quad, _ = self.quads(triangle, slot)
            wrong = in_circle(self.xy, quad)
            wrong[wrong] = self.convex(quad[wrong])
            if not wrong.any():
                return
            changed = self.turn_edges(triangle[wrong], slot[wrong])
            near = np.concatenate([changed, triangle[wrong], self.beside[changed].ravel()])
            rows = np.unique(near[near >= 0])


def in_circle(xy: np.ndarray, quad: np.ndarray) -> np.ndarray:
    """Whether the third corner of quads lies clearly within the circle through the others, shape (n,)."""
    base = xy[quad[:, 2]]
    p, a, b = (xy[quad[:, k]] - base for k in (0, 1, 3))
    squares = [(v**2).sum(axis=1) for v in (p, a, b)]
    crosses = [u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] for u, v in ((a, b), (b, p), (p, a))]
    terms = [square * cross for square, cross in zip(squares, crosses, strict=True)]
    return sum(terms) > _ROUND * sum(np.abs(term) for term in terms)


def edge_keys(ends: np.ndarray, count: int) -> np.ndarray:
    """
    One number per undirected edge between points numbered below *count*, shape (e, 2).

    Examples
    --------
    >>> edge_keys(np.array([[2, 1], [1, 2]]), 10).tolist()
    [12, 12]
    """
    return ends.min(axis=1).astype(np.int64) * count + ends.max(axis=1)


def among(keys: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Whether keys occur in a sorted array of keys."""
    if not len(known):
        return np.zeros(len(keys), dtype=bool)
    place = np.minimum(np.searchsorted(known, keys), len(known) - 1)
    return known[place] == keys


def _apart(one: np.ndarray, other: np.ndarray, count: int) -> np.ndarray:
    """Choose pairs so that none shares a triangle with another."""
    priority = (np.arange(1, len(one) + 1, dtype=np.uint64) * _SCATTER).argsort().argsort()
    best = np.full(count, len(one))
    np.minimum.at(best, one, priority)
    np.minimum.at(best, other, priority)
    return (best[one] == priority) & (best[other] == priority)


def numbers_of(xy: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Numbers of the points at *places*, which are among *xy*."""
    name = as_complex(xy)
    order = np.argsort(name)
    return order[np.searchsorted(name[order], as_complex(places))]
