"""
Drops at the edges of what people walk on, without a wall or rail.

Edges are sounded every quarter of a metre: outward for what lies below, and around for
something that guards them. Local codes govern; these are places to look at.
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
from .tin import Tin
from .walks import Walks

STEP: Final = 0.25  # between soundings along an edge [m]
INSIDE: Final = 0.05  # how far within an edge its own surface is sounded [m]
OUTWARD: Final = (0.05, 0.45, 0.9)  # how far beyond it what lies below is sounded [m]
OVERHEAD: Final = 0.05  # what begins so much above a surface lies above it [m]
HEADROOM: Final = 2.0  # nobody stands where there is less; common practice [m]
WALKED: Final = ("terrace", "ground", "paving", "path", "deck", "lawn")
CLIMBED: Final = ("ramp", "steps")
GUARDS: Final = ("wall", "rail", "hedge", "structure", "planter")
_IN_THE_AIR: Final = ("tree", "none", "levels", "terrain", "drape")


@dataclass(frozen=True, kw_only=True)
class Edge:
    """Soundings along edges: the feature, the place, and the way outward of each."""

    row: np.ndarray
    xy: np.ndarray
    outward: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Unguarded:
    """
    Soundings along edges where it drops far, and nothing guards them.

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
    """

    row: np.ndarray
    xy: np.ndarray
    drop: np.ndarray
    level: np.ndarray

    def take(self, chosen: np.ndarray) -> Unguarded:
        """Some of the soundings, in the order given."""
        columns = (self.row, self.xy, self.drop, self.level)
        row, xy, drop, level = (column[chosen] for column in columns)
        return Unguarded(row=row, xy=xy, drop=drop, level=level)


@dataclass(frozen=True, kw_only=True)
class Climbing:
    """
    Flights and ramps whose sides are to be sounded as they rise.

    Parameters
    ----------
    walks : Walks
        Flights and ramps.
    support : ndarray of int, shape (n,)
        What each feature stands on, -1 for nothing.
    """

    walks: Walks
    support: np.ndarray

    def rows(self) -> np.ndarray:
        """Features read as one flight or ramp; those that climb all round have no sides."""
        row, count = np.unique(self.walks.feature, return_counts=True)
        return row[count == 1].astype(np.int64)

    def raised(self, row: np.ndarray, xy: np.ndarray, level: np.ndarray) -> np.ndarray:
        """Levels at points, those on flights and ramps taken along their way."""
        one = np.flatnonzero(np.isin(row, self.rows()))
        level[one] = self.walks.level_at(self.walks.of_feature(row[one]), xy[one])
        return level


def look_for_drops(features: Features, ground: Tin | None = None) -> tuple[Finding, ...]:
    """
    Find edges with a drop of more than 30 in, and nothing to guard them within 36 in.

    Parameters
    ----------
    features : Features
        With levels settled.
    ground : Tin, optional
        Ground around and under them.

    Returns
    -------
    tuple of Finding
        One for each feature that has such edges, with the deepest drop and their length.

    References
    ----------
    International Building Code §1015.
    """
    found = unguarded(features, ground)
    order = np.argsort(found.row, kind="stable")
    rows, begin = np.unique(found.row[order], return_index=True)
    runs = np.split(order, begin[1:]) if len(rows) else []
    return tuple(
        _drop(features, row, found.drop[run], found.xy[run]) for row, run in zip(rows, runs, strict=True)
    )


def unguarded(
    features: Features,
    ground: Tin | None = None,
    *,
    most: float = limits.DROP_MOST,
    guard: float = limits.GUARD_LEAST,
    climbing: Climbing | None = None,
) -> Unguarded:
    """
    Sound edges for deep drops with nothing to guard them within 36 in.

    Parameters
    ----------
    features : Features
        With levels settled.
    ground : Tin, optional
        Ground around and under them.
    most : float
        Drops no deeper than this are left out [m].
    guard : float
        What rises by less is no guard [m].
    climbing : Climbing, optional
        Flights and ramps, whose edges are sounded too where it is given.

    Returns
    -------
    Unguarded
        Soundings with such a drop.

    References
    ----------
    International Building Code §1015.
    """
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    solid = np.flatnonzero(area & ~np.isin(features.of_role("form"), _IN_THE_AIR))
    walked = area & np.isin(features.of_role("name"), WALKED)
    if climbing is not None:
        walked[climbing.rows()] |= np.isin(features.of_role("name")[climbing.rows()], CLIMBED)
    walked = solid[walked[solid]]
    if not len(walked):
        nothing = np.zeros(0)
        return Unguarded(row=walked, xy=np.zeros((0, 2)), drop=nothing, level=nothing)
    edge = _edges(features, walked)
    stack = _Tops(features, solid, ground, climbing)
    level = stack.tops(edge.row, edge.xy)
    drop = np.zeros(len(edge.row))
    for reach in OUTWARD:
        below = stack.level_at(edge.xy + reach * edge.outward, level + OVERHEAD)
        drop = np.fmax(drop, level - below)
    found = Unguarded(row=edge.row, xy=edge.xy, drop=drop, level=level)
    deep = np.flatnonzero(drop > most + 1e-6)
    deep = deep[stack.is_walked(edge.row[deep], edge.xy[deep] - INSIDE * edge.outward[deep])]
    return found.take(deep[~_guarded(stack, found.take(deep), guard)])


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


class _Tops:
    """Tops of all solids, and the ground, to be sounded from above."""

    def __init__(
        self, features: Features, rows: np.ndarray, ground: Tin | None, climbing: Climbing | None
    ) -> None:
        self.features, self.rows, self.ground, self.climbing = features, rows, ground, climbing

    def tops(self, row: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """Levels of the tops of features at points."""
        level = levels_at(self.features, row, xy)
        return level if self.climbing is None else self.climbing.raised(row, xy, level)

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
        if self.ground is not None:
            level = np.fmax(level, self.ground.level_at(xy))
        return level

    def is_walked(self, own: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """
        Whether features are what one stands on at points.

        They are the highest, of equals the last laid, and leave headroom above.
        """
        features = self.features
        point, row = self._under(xy)
        mine, its = self.tops(own[point], xy[point]), self.tops(row, xy[point])
        covers = (features.base[row] <= mine + OVERHEAD) & (its > mine + 1e-3)
        covers |= (np.abs(its - mine) <= 1e-3) & (features.order[row] > features.order[own[point]])
        begins = features.base[row] - mine
        covers |= (begins > OVERHEAD) & (begins < HEADROOM)
        covered = np.zeros(len(own), dtype=bool)
        covered[point[covers]] = True
        return ~covered


def _guarded(stack: _Tops, found: Unguarded, least: float) -> np.ndarray:
    """Whether something stands near soundings that rises well above the level there."""
    features, level = stack.features, found.level
    guard = stack.rows[np.isin(features.of_role("name")[stack.rows], GUARDS)]
    near = np.zeros(len(level), dtype=bool)
    if len(guard) and len(level):
        tree = shapely.STRtree(features.geometry[guard])
        point, item = tree.query(shapely.points(found.xy), predicate="dwithin", distance=limits.DROP_REACH)
        row = guard[item]
        rises = features.top[row] >= level[point] + least - 1e-6
        if stack.climbing is not None:  # a rail on a flight climbs with it
            climbs = (stack.climbing.support[row] == found.row[point]) & (
                features.of_role("form")[row] == "rail"
            )
            climbs &= np.isin(found.row[point], stack.climbing.rows())
            rises |= climbs & (features.height[row] >= least - 1e-6)
        near[point[rises & (features.base[row] <= level[point] + 3 * OVERHEAD)]] = True
    return near


def _drop(features: Features, row: int, drop: np.ndarray, xy: np.ndarray) -> Finding:
    message = (
        f"Along some {len(drop) * STEP:.1f} m of its edges it drops by up to {drop.max():.2f} m without a "
        f"wall or rail. Drops of more than {limits.DROP_MOST:.3f} m within {limits.DROP_REACH:.3f} m of an "
        f"edge usually ask for a guard {limits.GUARD_HEIGHT:.2f} m high (IBC §1015); check local codes."
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
