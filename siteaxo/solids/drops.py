"""
Drops at the edges of what people walk on, without a wall or rail.

Edges are sounded every quarter of a metre: outward for what lies below, and around for
something that guards them. What is narrow and stands along an edge is sounded past: from
what is walked on behind it to what lies beyond. A broad wall flush with what is walked on
is walked on too: there it drops beyond the wall. Local codes govern; these are places to
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
from .stack import Stack
from .tops import GUARDS, OVERHEAD, Tops

STEP: Final = 0.25  # between soundings along an edge [m]
INSIDE: Final = (0.05, 0.3, 0.6, 0.9)  # how far within an edge its own surface is sounded [m]
OUTWARD: Final = (0.05, 0.45, 0.9)  # how far beyond it what lies below is sounded [m]
BROAD: Final = (1.35, 1.8)  # both, over walls that reach farther [m]
ALONG: Final = (*GUARDS, "seat")  # what may stand along an edge that is walked on behind it


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
        return self.guard >= height - limits.KEPT

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
    tops = Tops(stack)
    edge = _edges(stack.features, tops.walked())
    level = tops.tops(edge.row, edge.xy)
    drop = np.zeros(len(edge.row))
    wide = np.full(len(edge.row), limits.DROP_REACH)  # how far away it may be guarded
    rest = np.arange(len(edge.row))
    for reach in (*OUTWARD, *BROAD):
        at = edge.xy[rest] + reach * edge.outward[rest]
        below = tops.level_at(at, level[rest] + OVERHEAD)
        wide[rest[drop[rest] <= most + limits.KEPT]] = max(reach, limits.DROP_REACH)
        drop[rest] = np.fmax(drop[rest], level[rest] - below)
        if reach >= OUTWARD[-1]:
            rest = rest[tops.on_wall(at, level[rest])]
    past = np.zeros(len(edge.row))  # how far a wall that is walked on reaches beyond the edge
    ends = tops.broad_walls(edge.xy[rest], edge.outward[rest], level[rest], wide=BROAD[-1])
    rest, ends = rest[np.isfinite(ends)], ends[np.isfinite(ends)]
    past[rest], wide[rest] = ends, limits.DROP_REACH
    for reach in OUTWARD:
        below = tops.level_at(
            edge.xy[rest] + (ends + reach)[:, None] * edge.outward[rest], level[rest] + OVERHEAD
        )
        drop[rest] = np.fmax(drop[rest], level[rest] - below)
    deep = np.flatnonzero(drop > most + limits.KEPT)
    behind = _walked_behind(tops, edge.take(deep))
    deep, behind = deep[np.isfinite(behind)], behind[np.isfinite(behind)]
    row, xy = edge.row[deep], edge.xy[deep] + past[deep, None] * edge.outward[deep]
    across = shapely.linestrings(np.stack([edge.xy[deep], xy], axis=1))
    place = np.where(past[deep] > 0, across, shapely.points(xy))
    guard = tops.guards(row, place, level[deep], np.fmax(wide[deep], behind))
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


def _walked_behind(tops: Tops, edge: Edge) -> np.ndarray:
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
