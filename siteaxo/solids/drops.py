"""
Drops at the edges of what people walk on, without a wall or rail.

Edges are sounded every quarter of a metre: outward for what lies below, and around for
something that guards them. What is narrow and stands along an edge is sounded past: from
what is walked on behind it to what lies beyond. Local codes govern; these are places to
look at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from . import limits
from .notes import note
from .planes import levels_at
from .stack import Stack

STEP: Final = 0.25  # between soundings along an edge [m]
INSIDE: Final = (0.05, 0.3, 0.6, 0.9)  # how far within an edge its own surface is sounded [m]
OUTWARD: Final = (0.05, 0.45, 0.9)  # how far beyond it what lies below is sounded [m]
BROAD: Final = (1.35, 1.8)  # both, over walls that reach farther [m]
OVERHEAD: Final = 0.05  # what begins so much above a surface lies above it [m]
HEADROOM: Final = 2.0  # nobody stands where there is less; common practice [m]
WALKED: Final = ("terrace", "ground", "paving", "path", "deck", "lawn")
CLIMBED: Final = ("ramp", "steps")
GUARDS: Final = ("wall", "rail", "hedge", "structure", "planter")
ALONG: Final = (*GUARDS, "seat")  # what may stand along an edge that is walked on behind it
SLACK: Final = 1e-6  # [m]
_IN_THE_AIR: Final = ("tree", "none", "levels", "terrain", "drape")


@dataclass(frozen=True, kw_only=True)
class Edge:
    """Soundings along edges: the feature, the place, and the way outward of each."""

    row: np.ndarray
    xy: np.ndarray
    outward: np.ndarray

    def take(self, chosen: np.ndarray) -> Edge:
        """Some of the soundings, in the order given."""
        return Edge(row=self.row[chosen], xy=self.xy[chosen], outward=self.outward[chosen])


@dataclass(frozen=True, kw_only=True)
class Drops:
    """
    Soundings along edges where it drops far.

    Parameters
    ----------
    row : ndarray of int, shape (k,)
        The feature each lies on the edge of, in the order of its outline.
    xy : ndarray, shape (k, 2)
        Places [m].
    drop : ndarray, shape (k,)
        How far it drops [m].
    level : ndarray, shape (k,)
        The level it drops from [m].
    guard : ndarray, shape (k,)
        How high what guards it rises above that level, -inf where nothing does [m].
    """

    row: np.ndarray
    xy: np.ndarray
    drop: np.ndarray
    level: np.ndarray
    guard: np.ndarray

    def take(self, chosen: np.ndarray) -> Drops:
        """Some of the soundings, in the order given."""
        columns = (self.row, self.xy, self.drop, self.level, self.guard)
        row, xy, drop, level, guard = (column[chosen] for column in columns)
        return Drops(row=row, xy=xy, drop=drop, level=level, guard=guard)

    def guarded(self, height: float) -> np.ndarray:
        """Whether what guards each is as high as *height* [m], shape (k,)."""
        return self.guard >= height - SLACK

    def told(self) -> str:
        """What to say of things too low that stand along them; nothing where none rises."""
        rises = float(self.guard.max(initial=-np.inf))
        return f" that is high enough; what stands there rises by {rises:.2f} m" if rises > OVERHEAD else ""


def look_for_drops(stack: Stack) -> tuple[Finding, ...]:
    """
    Find edges with a drop of more than 30 in, and nothing to guard them within 36 in.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    tuple of Finding
        One for each feature that has such edges, with the deepest drop and their length.

    References
    ----------
    International Building Code §1015.
    """
    found = sound_drops(stack)
    found = found.take(~found.guarded(limits.GUARD_LEAST))
    order = np.argsort(found.row, kind="stable")
    rows, begin = np.unique(found.row[order], return_index=True)
    runs = np.split(order, begin[1:]) if len(rows) else []
    return tuple(_drop(stack.features, row, found.take(run)) for row, run in zip(rows, runs, strict=True))


def sound_drops(stack: Stack, *, most: float = limits.DROP_MOST) -> Drops:
    """
    Sound the edges of what is walked on for deep drops, and for what guards them within 36 in.

    The sides of flights and ramps are sounded as they rise.

    Parameters
    ----------
    stack : Stack
        The solids.
    most : float
        Drops no deeper than this are left out [m].

    Returns
    -------
    Drops

    References
    ----------
    International Building Code §1015.
    """
    tops = _Tops(stack)
    edge = _edges(stack.features, tops.walked())
    level = tops.tops(edge.row, edge.xy)
    drop = np.zeros(len(edge.row))
    wide = np.full(len(edge.row), limits.DROP_REACH)  # how far away it may be guarded
    rest = np.arange(len(edge.row))
    for reach in (*OUTWARD, *BROAD):
        at = edge.xy[rest] + reach * edge.outward[rest]
        below = tops.level_at(at, level[rest] + OVERHEAD)
        wide[rest[drop[rest] <= most + SLACK]] = max(reach, limits.DROP_REACH)
        drop[rest] = np.fmax(drop[rest], level[rest] - below)
        if reach >= OUTWARD[-1]:
            rest = rest[tops.on_wall(at, level[rest])]
    deep = np.flatnonzero(drop > most + SLACK)
    behind = _walked_behind(tops, edge.take(deep))
    deep, behind = deep[np.isfinite(behind)], behind[np.isfinite(behind)]
    row, xy = edge.row[deep], edge.xy[deep]
    guard = tops.guards(row, xy, level[deep], np.fmax(wide[deep], behind))
    return Drops(row=row, xy=xy, drop=drop[deep], level=level[deep], guard=guard)


def _edges(features: Features, rows: np.ndarray) -> Edge:
    """Places in the middle of equal pieces of all outlines, with the way outward."""
    oriented = shapely.orient_polygons(features.geometry[rows])
    rings, part = shapely.get_rings(shapely.get_parts(oriented), return_index=True)
    owner = rows[shapely.get_parts(oriented, return_index=True)[1][part]]
    fine = shapely.segmentize(rings, STEP)
    xy, ring = shapely.get_coordinates(fine, return_index=True)
    follows = np.flatnonzero(ring[1:] == ring[:-1])
    along = xy[follows + 1] - xy[follows]
    length = np.hypot(*along.T)
    real = length > 1e-6
    along, follows = along[real] / length[real][:, None], follows[real]
    middle = (xy[follows] + xy[follows + 1]) / 2
    return Edge(row=owner[ring[follows]], xy=middle, outward=np.column_stack([along[:, 1], -along[:, 0]]))


def _walked_behind(tops: _Tops, edge: Edge) -> np.ndarray:
    """How far within their edges one stands on features, past what is narrow; NaN where nobody does [m]."""
    walked = np.full(len(edge.row), np.nan)
    rest = np.arange(len(edge.row))
    for depth in (*INSIDE, *BROAD):
        past = ALONG if depth < INSIDE[-1] else ("wall",)
        at = edge.xy[rest] - depth * edge.outward[rest]
        free, barred = tops.is_walked(edge.row[rest], at, past=past)
        walked[rest[free]] = depth
        rest = rest[barred]
    return walked


class _Tops:
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

    def guards(self, row: np.ndarray, xy: np.ndarray, level: np.ndarray, reach: np.ndarray) -> np.ndarray:
        """How far what is within reach of edges rises above levels there, -inf for nothing."""
        features, rises = self.features, np.full(len(row), -np.inf)
        guard = self.rows[np.isin(self.role[self.rows], GUARDS)]
        tree = shapely.STRtree(features.geometry[guard])
        point, item = tree.query(shapely.points(xy), predicate="dwithin", distance=reach)
        near = guard[item]
        climbs = (self.stack.support[near] == row[point]) & (self.form[near] == "rail")
        climbs &= self.climbs[row[point]]  # a rail on a flight climbs with it
        above = features.top[near] - level[point]
        above = np.where(climbs, np.fmax(above, features.height[near]), above)
        stands = features.base[near] <= level[point] + 3 * OVERHEAD
        np.fmax.at(rises, point[stands], above[stands])
        return rises


def _drop(features: Features, row: int, found: Drops) -> Finding:
    drop, xy = found.drop, found.xy
    message = (
        f"Along some {len(drop) * STEP:.1f} m of its edges it drops by up to {drop.max():.2f} m without a "
        f"wall or rail{found.told()}. Drops of more than {limits.DROP_MOST:.3f} m within "
        f"{limits.DROP_REACH:.3f} m of an edge usually ask for a guard {limits.GUARD_HEIGHT:.2f} m high "
        "(IBC §1015); check local codes."
    )
    return note(
        features,
        int(row),
        "drop-unguarded",
        message,
        value=f"{drop.max():.3f} m",
        place=xy[drop.argmax()],
        of="top",
    )
