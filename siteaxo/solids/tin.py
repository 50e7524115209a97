"""
The ground as triangles: levels anywhere on it, and lines laid into it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from .exact import GRID, on_grid, turn
from .mesh import edge_keys
from .network import NEAR, network
from .triangulation import enclosed

ROUND: Final = 2.0**10  # the local origin of a computation lies on multiples of this [m]


@dataclass(frozen=True, kw_only=True)
class Tin:
    """
    A surface of triangles, one level at every place.

    Parameters
    ----------
    xyz : ndarray, shape (v, 3)
        Points with levels [m].
    triangle : ndarray of int, shape (t, 3)
        Triangles, anticlockwise as seen from above.
    """

    xyz: np.ndarray
    triangle: np.ndarray

    def __len__(self) -> int:
        return len(self.triangle)

    @cached_property
    def polygon(self) -> np.ndarray:
        """Each triangle in plan, shape (t,)."""
        ring, count = self.xyz[self.triangle[:, [0, 1, 2, 0]], :2].reshape(-1, 2), np.arange(len(self) + 1)
        return shapely.from_ragged_array(shapely.GeometryType.POLYGON, ring, (4 * count, count))

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The triangles in plan, to search in."""
        return shapely.STRtree(self.polygon)

    def meeting(self, box: np.ndarray) -> np.ndarray:
        """Rows of the triangles whose boxes meet a box: left, bottom, right, top [m]."""
        corner = self.xyz[self.triangle, :2]
        meets = (corner.max(axis=1) >= box[:2]).all(axis=1) & (corner.min(axis=1) <= box[2:]).all(axis=1)
        return np.flatnonzero(meets)

    @cached_property
    def gradient(self) -> np.ndarray:
        """Rise to the east and to the north of each triangle, shape (t, 2) [-]."""
        a, b, c = (self.xyz[self.triangle[:, k]] for k in range(3))
        u, v = b - a, c - a
        twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        east = (u[:, 2] * v[:, 1] - v[:, 2] * u[:, 1]) / twice
        north = (v[:, 2] * u[:, 0] - u[:, 2] * v[:, 0]) / twice
        return np.column_stack([east, north])

    @property
    def slope(self) -> np.ndarray:
        """Steepest rise of each triangle, shape (t,) [-]."""
        return np.hypot(*self.gradient.T)

    @property
    def plan_area(self) -> np.ndarray:
        """Area of each triangle in plan, shape (t,) [m²]."""
        return shapely.area(self.polygon)

    @property
    def area(self) -> np.ndarray:
        """True area of each triangle, shape (t,) [m²]."""
        return self.plan_area * np.sqrt(1 + self.slope**2)

    @property
    def centroid(self) -> np.ndarray:
        """Middle of each triangle, shape (t, 3) [m]."""
        return self.xyz[self.triangle].mean(axis=1)

    @cached_property
    def outline(self) -> shapely.Geometry:
        """All that the surface covers in plan, with every point on its edge."""
        try:
            return shapely.coverage_union_all(self.polygon)
        except shapely.GEOSException:  # a corner lies on the side of a needle, within rounding
            return shapely.union_all(self.polygon, grid_size=GRID)

    @cached_property
    def edge(self) -> np.ndarray:
        """Each edge once, shape (e, 2)."""
        ends = self.triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
        return ends[np.unique(edge_keys(ends, len(self.xyz)), return_index=True)[1]]

    @property
    def border(self) -> np.ndarray:
        """Edges with one triangle only, directed as in it, shape (b, 2)."""
        ends = self.triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
        _, first, count = np.unique(edge_keys(ends, len(self.xyz)), return_index=True, return_counts=True)
        return ends[first[count == 1]]

    def level_on(self, triangle: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """Levels of the planes of triangles at points, shape (n,) [m]."""
        corner = self.xyz[self.triangle[triangle, 0]]
        return corner[:, 2] + ((xy - corner[:, :2]) * self.gradient[triangle]).sum(axis=1)

    def level_at(self, xy: np.ndarray, *, beyond: bool = False) -> np.ndarray:
        """
        Levels of the surface at points.

        Parameters
        ----------
        xy : array_like, shape (n, 2)
            Points in plan [m].
        beyond : bool
            Give points off the surface the level of its nearest place.

        Returns
        -------
        ndarray, shape (n,)
            NaN off the surface, unless *beyond* [m].
        """
        xy = np.asarray(xy, dtype=float).reshape(-1, 2)
        box = _widened(self.xyz[:, :2], NEAR)
        there = np.flatnonzero(((xy >= box[:2]) & (xy <= box[2:])).all(axis=1))
        point, triangle = self.tree.query(shapely.points(xy[there]), "dwithin", distance=NEAR)
        point = there[point]
        best = np.argsort(self.plan_area[triangle], kind="stable")  # the largest is written last
        level = np.full(len(xy), np.nan)
        level[point[best]] = self.level_on(triangle[best], xy[point[best]])
        off = np.flatnonzero(np.isnan(level))
        if beyond and len(off) and len(self):
            place = shapely.points(xy[off])
            row, nearest = self.tree.query_nearest(place, all_matches=False)
            line = shapely.shortest_line(place[row], self.polygon[nearest])
            level[off[row]] = self.level_on(nearest, shapely.get_coordinates(line)[1::2])
        return level

    def levels_under(self, footprints: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """
        Lowest, mean and highest level of the surface under footprints.

        Parameters
        ----------
        footprints : ndarray of shapely geometries, shape (n,)
            Polygons, lines or points in plan [m].

        Returns
        -------
        low, mean, high : ndarray, shape (n,)
            The mean is by area, or by length of lines; NaN where no surface lies under a
            footprint [m].
        """
        item, triangle, piece = self._pieces_under(footprints)
        xy, part = shapely.get_coordinates(piece, return_index=True)
        level = self.level_on(triangle[part], xy)
        low, high = np.full(len(footprints), np.inf), np.full(len(footprints), -np.inf)
        np.minimum.at(low, item[part], level)
        np.maximum.at(high, item[part], level)
        size = np.where(
            shapely.get_dimensions(footprints[item]) == 2, shapely.area(piece), shapely.length(piece)
        )
        size = np.where(shapely.get_dimensions(footprints[item]) == 0, 1.0, size)
        middle = shapely.get_coordinates(shapely.centroid(piece))
        whole = np.bincount(item, size, len(footprints))
        total = np.bincount(item, size * self.level_on(triangle, middle), len(footprints))
        there = whole > 0
        mean = np.where(there, total / np.where(there, whole, 1.0), np.nan)
        return np.where(there, low, np.nan), mean, np.where(there, high, np.nan)

    def _pieces_under(self, footprints: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """What footprints and triangles have in common: numbers of both, and the piece."""
        meet, whole = (self.tree.query(footprints, predicate=how) for how in ("intersects", "covers"))
        item, triangle = meet
        piece = self.polygon[triangle]
        cut = np.flatnonzero(~np.isin(item * len(self) + triangle, whole[0] * len(self) + whole[1]))
        piece[cut] = shapely.intersection(footprints[item[cut]], piece[cut])
        return item, triangle, piece

    def take(self, rows: np.ndarray) -> Tin:
        """Return some of the triangles, with the points they use."""
        kept, corner = np.unique(self.triangle[rows], return_inverse=True)
        return Tin(xyz=self.xyz[kept], triangle=corner.reshape(-1, 3))

    def with_levels(self, level: np.ndarray) -> Tin:
        """Return the same triangles at other levels, shape (v,) [m]."""
        return Tin(xyz=np.column_stack([self.xyz[:, :2], level]), triangle=self.triangle)

    def with_lines(self, lines: np.ndarray) -> Tin:
        """
        Make lines into edges; the surface stays what it is.

        Parameters
        ----------
        lines : ndarray of shapely geometries, shape (n,)
            Lines or outlines in plan; what lies off the surface is left out [m].

        Returns
        -------
        Tin
        """
        cutters = _loose_segments(lines)
        if not len(cutters) or not len(self):
            return self
        some = self.meeting(_widened(cutters.reshape(-1, 2), 2 * NEAR))
        tree = self.take(some).tree
        cutter, met = tree.query(shapely.linestrings(cutters), "dwithin", distance=2 * NEAR)
        near, cutters = some[np.unique(met)], cutters[np.unique(cutter)]
        if not len(near):
            return self
        exact = Tin(xyz=np.column_stack([on_grid(self.xyz[:, :2]), self.xyz[:, 2]]), triangle=self.triangle)
        far = np.delete(np.arange(len(self)), near)
        return join_tins([exact.take(far), exact.take(near)._cut_by(cutters)])

    def _cut_by(self, cutters: np.ndarray) -> Tin:
        """Triangulate all triangles anew, with segments as edges, shape (s, 2, 2)."""
        shift = origin_of(self.xyz[:, :2])
        local = Tin(xyz=self.xyz - np.append(shift, 0.0), triangle=self.triangle)
        unknown = np.full((len(cutters), 2), np.nan)
        ends = np.concatenate([local.xyz[self.edge], np.dstack([cutters - shift, unknown])])
        net = network(shapely.linestrings(ends), np.zeros((0, 3)), known=len(self.edge))
        triangle, area = enclosed(net.xy, net.segment)
        first = np.unique(area, return_index=True)[1]
        covered = local._holds(net.xy[triangle[first]].sum(axis=1))
        level, open_ = net.level.copy(), np.isnan(net.level)
        level[open_] = local.level_at(net.xy[open_], beyond=True)
        whole = Tin(xyz=np.column_stack([net.xy + shift, level]), triangle=triangle)
        return whole.take(np.flatnonzero(np.isin(area, area[first[covered]])))

    def _holds(self, thrice: np.ndarray) -> np.ndarray:
        """Whether thirds of points on the grid lie on the surface, told without rounding, shape (n,)."""
        point, triangle = self.tree.query(shapely.points(thrice / 3), "dwithin", distance=NEAR)
        corner = 3 * self.xyz[self.triangle[triangle], :2]
        side = np.array([turn(corner[:, k - 1], corner[:, k], thrice[point]) for k in range(3)])
        held = np.zeros(len(thrice), dtype=bool)
        held[point[(side >= 0).all(axis=0) | (side <= 0).all(axis=0)]] = True
        return held

    def within(self, area: shapely.Geometry, *, outside: bool = False) -> Tin:
        """
        Cut the surface along an area and keep what lies within it, or outside.

        Parameters
        ----------
        area : Polygon or MultiPolygon
            In plan [m].
        outside : bool
            Keep what lies outside instead.

        Returns
        -------
        Tin
        """
        cut = self.with_lines(np.array([shapely.boundary(area)]))
        shapely.prepare(area)
        inside = shapely.contains_xy(area, cut.centroid[:, :2])
        return cut.take(np.flatnonzero(inside != outside))


def join_tins(tins: Sequence[Tin]) -> Tin:
    """Put surfaces that do not overlap into one; points at one place with one level become one."""
    xyz, number = np.unique(np.concatenate([tin.xyz for tin in tins]), axis=0, return_inverse=True)
    shifts = np.cumsum([0] + [len(tin.xyz) for tin in tins])
    corner = [tin.triangle + by for tin, by in zip(tins, shifts, strict=False)]
    return Tin(xyz=xyz, triangle=number.ravel()[np.concatenate(corner)].reshape(-1, 3))


def _widened(xy: np.ndarray, by: float) -> np.ndarray:
    """Box of points, wider to all sides; inside out where there is none."""
    low, high = xy.min(axis=0, initial=np.inf), xy.max(axis=0, initial=-np.inf)
    return np.concatenate([low - by, high + by])


def origin_of(xy: np.ndarray) -> np.ndarray:
    """A round point near the middle of points, to compute from, shape (2,) [m]."""
    if not len(xy):
        return np.zeros(2)
    return np.rint((xy.min(axis=0) + xy.max(axis=0)) / 2 / ROUND) * ROUND


def _loose_segments(lines: np.ndarray) -> np.ndarray:
    """All segments of lines and outlines, shape (s, 2, 2)."""
    xy, part = shapely.get_coordinates(_single_lines(lines), return_index=True)
    follows = np.flatnonzero(part[1:] == part[:-1])
    return np.stack([xy[follows], xy[follows + 1]], axis=1)


def _single_lines(geometry: np.ndarray) -> np.ndarray:
    """The lines of which geometries of any kind consist."""
    parts = shapely.get_parts(np.asarray(geometry, dtype=object))
    area = shapely.get_dimensions(parts) == 2
    rings = shapely.get_rings(parts[area])
    return np.concatenate([rings, parts[shapely.get_dimensions(parts) == 1]])
