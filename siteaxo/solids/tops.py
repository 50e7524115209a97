"""
Tops of all solids, to be sounded from above: what is walked on, how far it drops, what guards it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from .planes import levels_at
from .stack import Stack
from .terraces import mean_width

OVERHEAD: Final = 0.05  # what begins so much above a surface lies above it [m]
HEADROOM: Final = 2.0  # nobody stands where there is less; common practice [m]
WALKED: Final = ("terrace", "ground", "paving", "path", "deck", "lawn")
CLIMBED: Final = ("ramp", "steps")
GUARDS: Final = ("wall", "rail", "hedge", "structure", "planter")
_IN_THE_AIR: Final = ("tree", "none", "levels", "terrain", "drape")


class Tops:
    """Tops of all solids, and the ground, to be sounded from above."""

    def __init__(self, stack: Stack) -> None:
        features, walks = stack.features, stack.walks
        self.stack, self.features = stack, features
        self.role, self.form = features.of_role("name"), features.of_role("form")
        self.area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
        self.rows = np.flatnonzero(self.area & ~np.isin(self.form, _IN_THE_AIR))
        row, count = np.unique(walks.feature, return_counts=True)
        self.climbs = np.zeros(len(features), dtype=bool)  # what climbs all round has no sides
        self.climbs[row[count == 1].astype(np.int64)] = True

    def walked(self) -> np.ndarray:
        """Features whose edges are sounded."""
        walked = np.isin(self.role, WALKED) | (self.climbs & np.isin(self.role, CLIMBED))
        return self.rows[walked[self.rows]]

    def tops(self, row: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """Levels of the tops of features at points, those on flights and ramps taken along their way."""
        level, walks = levels_at(self.features, row, xy), self.stack.walks
        one = np.flatnonzero(self.climbs[row])
        level[one] = walks.level_at(walks.of_feature(row[one]), xy[one])
        return level

    def _under(self, xy: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Pairs of a point and the row of a solid there; each footprint is prepared once."""
        tree = shapely.STRtree(shapely.points(xy))
        item, point = tree.query(self.features.geometry[self.rows], predicate="intersects")
        return point, self.rows[item]

    def level_at(self, xy: np.ndarray, ceiling: np.ndarray) -> np.ndarray:
        """Highest top at points, of what begins below a ceiling; NaN where there is nothing."""
        point, row = self._under(xy)
        lies = self.features.base[row] <= ceiling[point]
        level = np.full(len(xy), np.nan)
        np.fmax.at(level, point[lies], self.tops(row[lies], xy[point[lies]]))
        ground = self.stack.walked_ground
        return level if ground is None else np.fmax(level, ground.level_at(xy))

    def on_wall(self, xy: np.ndarray, level: np.ndarray) -> np.ndarray:
        """Whether walls that rise from below levels lie at points."""
        wall = self.rows[self.role[self.rows] == "wall"]
        item, point = shapely.STRtree(shapely.points(xy)).query(
            self.features.geometry[wall], predicate="intersects"
        )
        found = np.zeros(len(xy), dtype=bool)
        found[point[self.features.base[wall[item]] <= level[point] + OVERHEAD]] = True
        return found

    def broad_walls(
        self, xy: np.ndarray, outward: np.ndarray, level: np.ndarray, *, wide: float
    ) -> np.ndarray:
        """
        How far walls reach that are wider than *wide*, and walked on: where they are flush with levels.

        Distances from points outward, to where the wall that lies *wide* away ends; NaN where none does.
        """
        wall = self.rows[
            (self.role[self.rows] == "wall") & (mean_width(self.features.geometry[self.rows]) > wide)
        ]
        shape, ends = self.features.geometry[wall], np.full(len(xy), np.nan)
        item, point = shapely.STRtree(shapely.points(xy + wide * outward)).query(
            shape, predicate="intersects"
        )
        flush = np.abs(self.tops(wall[item], xy[point]) - level[point]) <= OVERHEAD
        item, point = item[flush], point[flush]
        size = shapely.bounds(shape[item])
        far = wide + np.hypot(*(size[:, 2:] - size[:, :2]).T)
        rays = shapely.linestrings(np.stack([xy[point], xy[point] + far[:, None] * outward[point]], axis=1))
        parts, ray = shapely.get_parts(shapely.intersection(rays, shape[item]), return_index=True)
        begin, end = (shapely.line_locate_point(rays[ray], shapely.get_point(parts, k)) for k in (0, -1))
        holds = (np.fmin(begin, end) <= wide) & (np.fmax(begin, end) >= wide)
        np.fmax.at(ends, point[ray[holds]], np.fmax(begin, end)[holds])
        return ends

    def is_walked(
        self, own: np.ndarray, xy: np.ndarray, *, past: tuple[str, ...]
    ) -> tuple[np.ndarray, np.ndarray]:
        """
        Whether features are what one stands on at points, and whether only roles to look past cover them.

        They are the highest, of equals the last laid, and leave headroom above.
        """
        features = self.features
        point, row = self._under(xy)
        mine, its = self.tops(own[point], xy[point]), self.tops(row, xy[point])
        covers = (features.base[row] <= mine + OVERHEAD) & (its > mine + 1e-3)
        covers |= (np.abs(its - mine) <= 1e-3) & (features.order[row] > features.order[own[point]])
        bars = covers & np.isin(self.role[row], past)
        begins = features.base[row] - mine
        covers |= (begins > OVERHEAD) & (begins < HEADROOM)
        there, covered, barred = np.zeros((3, len(own)), dtype=bool)
        there[point[row == own[point]]] = True
        covered[point[covers & ~bars]] = True
        barred[point[bars]] = True
        there &= ~covered
        return there & ~barred, there & barred

    def guards(self, row: np.ndarray, place: np.ndarray, level: np.ndarray, reach: np.ndarray) -> np.ndarray:
        """How far what is within reach of points or lines rises above levels there, -inf for nothing."""
        features, rises = self.features, np.full(len(row), -np.inf)
        guard = self.rows[np.isin(self.role[self.rows], GUARDS)]
        tree = shapely.STRtree(features.geometry[guard])
        point, item = tree.query(place, predicate="dwithin", distance=reach)
        near = guard[item]
        climbs = (self.stack.support[near] == row[point]) & (self.form[near] == "rail")
        climbs &= self.climbs[row[point]]  # a rail on a flight climbs with it
        above = features.top[near] - level[point]
        above = np.where(climbs, np.fmax(above, features.height[near]), above)
        stands = features.base[near] <= level[point] + 3 * OVERHEAD
        np.fmax.at(rises, point[stands], above[stands])
        return rises
