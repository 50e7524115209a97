"""
Which sides of a flight's footprint are its lower end, its upper end and its flanks.

A footprint is parted into sides at its corners. Two readings are tried for every pair
of sides: as lower and upper end, with flanks of any form between them (straight, splayed
and curved flights); or as flanks, with ends that bend around a corner (flights that wrap
around a landing). What fits the levels of the surfaces beyond its sides best is taken;
where these say nothing, what gives the most comfortable run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..ragged import ragged, spread
from .surfaces import Surfaces, misfit, sounded

CORNER: Final = 40.0  # a turn of at least this parts two sides [degrees]
STRAIGHT: Final = 1e-5  # a turn of less than this is none [rad]
MOST_SIDES: Final = 40  # footprints with more are not read
CLEARLY: Final = 0.25  # the reverse must fit worse by this [-]
COMFORT: Final = 0.3  # weight of the run's comfort against its fit to the levels [-]


@dataclass(frozen=True, kw_only=True)
class Ends:
    """
    Footprints read as flights.

    Parameters
    ----------
    rail : ndarray of LineString, shape (r,)
        Lines uphill from the lower to the upper end, from right to left [m].
    rail_start : ndarray of int, shape (k + 1,)
        Where the rails of each footprint start; none where it cannot be read.
    decided : ndarray of bool, shape (k,)
        Whether the levels tell which end is the lower one.
    """

    rail: np.ndarray
    rail_start: np.ndarray
    decided: np.ndarray


def read_ends(
    footprint: np.ndarray, base: np.ndarray, top: np.ndarray, run: np.ndarray, surfaces: Surfaces
) -> Ends:
    """
    Read footprints as flights.

    Parameters
    ----------
    footprint : ndarray of Polygon, shape (k,)
        Their holes are not looked at [m].
    base, top : ndarray, shape (k,)
        Levels of the two ends [m].
    run : ndarray, shape (k,)
        The most comfortable length of run [m].
    surfaces : Surfaces
        What lies beyond their sides.

    Returns
    -------
    Ends
    """
    sides = _Sides.of(footprint, base, top, surfaces)
    pairs = _Pairs.of(sides, run)
    chosen, decided = pairs.best()
    rail, owner = _rails(sides, pairs, chosen)
    start = np.searchsorted(owner, np.arange(len(footprint) + 1))
    return Ends(rail=rail, rail_start=start, decided=decided)


@dataclass(frozen=True, kw_only=True)
class _Sides:
    """
    Sides of footprints, anticlockwise, each a chain of edges between two corners.

    ``xy`` and ``vertex_start`` hold the corners of each footprint, twice round, so that a
    chain across the seam is one slice; ``first`` is the vertex each side starts at.
    """

    xy: np.ndarray
    vertex_start: np.ndarray
    start: np.ndarray
    first: np.ndarray
    edges: np.ndarray
    length: np.ndarray
    low: np.ndarray
    high: np.ndarray
    convex: np.ndarray

    @classmethod
    def of(cls, footprint: np.ndarray, base: np.ndarray, top: np.ndarray, surfaces: Surfaces) -> _Sides:
        xy, start, turn = _corners(footprint)
        count = np.diff(start)
        owner, place = ragged(count)
        ahead = start[owner] + (place + 1) % count[owner]
        level = sounded(surfaces, xy, xy[ahead], top[owner])
        rise = (top - base)[owner]
        length = np.hypot(*(xy[ahead] - xy).T)
        sharp = np.abs(turn) >= np.radians(CORNER)
        sharp &= np.bincount(owner[sharp], minlength=len(footprint))[owner] <= MOST_SIDES
        corner = np.flatnonzero(sharp)
        per_side = np.bincount(owner[corner], minlength=len(footprint))
        side = np.searchsorted(corner, np.arange(len(xy)), side="right") - 1
        side[per_side[owner] == 0] = len(corner)

        def total(values: np.ndarray) -> np.ndarray:
            return np.bincount(side, values, len(corner) + 1)[:-1]

        side_start = np.concatenate([[0], np.cumsum(per_side)])
        twice, vertex_start = _twice(xy, start)
        following = _following(side_start)
        convex = turn[corner] > 0
        return cls(
            xy=twice,
            vertex_start=vertex_start,
            start=side_start,
            first=vertex_start[owner[corner]] + place[corner],
            edges=total(np.ones(len(xy))).astype(np.int64),
            length=total(length),
            low=total(length * misfit(level, base[owner], rise)),
            high=total(length * misfit(level, top[owner], rise)),
            convex=convex & convex[following],
        )


def _following(start: np.ndarray) -> np.ndarray:
    """The member after each, within its group, the last followed by the first."""
    count = np.diff(start)
    owner, place = ragged(count)
    return start[owner] + (place + 1) % count[owner]


def _twice(xy: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    count = np.diff(start)
    owner, place = ragged(2 * count)
    return xy[start[owner] + place % count[owner]], 2 * start


def _corners(footprint: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Corners of the outer rings, each ring from a side's start, and the turn at each."""
    rings = shapely.get_exterior_ring(shapely.orient_polygons(footprint))
    xy, owner = shapely.get_coordinates(rings, return_index=True)
    last = np.append(owner[1:] != owner[:-1], True)
    xy, owner = xy[~last], owner[~last]
    for _ in range(2):  # once for corners on a straight side, once more for what that leaves
        start = np.searchsorted(owner, np.arange(len(footprint) + 1))
        turn = _turns(xy, start)
        kept = np.abs(turn) > STRAIGHT
        xy, owner, turn = xy[kept], owner[kept], turn[kept]
    start = np.searchsorted(owner, np.arange(len(footprint) + 1))
    sharp = np.abs(turn) >= np.radians(CORNER)
    first = np.full(len(footprint), len(xy))
    np.minimum.at(first, owner[sharp], np.flatnonzero(sharp))
    shift = np.where(first < len(xy), first - start[:-1], 0)
    group, place = ragged(np.diff(start))
    order = start[group] + (place + shift[group]) % np.diff(start)[group]
    return xy[order], start, turn[order]


def _turns(xy: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Turn to the left at each corner of rings [rad]."""
    ahead = _following(start)
    behind = np.empty_like(ahead)
    behind[ahead] = np.arange(len(ahead))
    into, out = xy - xy[behind], xy[ahead] - xy
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return np.arctan2(cross, (into * out).sum(axis=1))


@dataclass(frozen=True, kw_only=True)
class _Pairs:
    """
    Readings of footprints: two sides as lower and upper end, or as left and right flank.

    Every footprint has all ordered pairs of its sides, twice: as ends, then as flanks.
    """

    owner: np.ndarray
    one: np.ndarray
    other: np.ndarray
    flanks: np.ndarray
    reverse: np.ndarray
    fit: np.ndarray
    cost: np.ndarray
    count: int

    @classmethod
    def of(cls, sides: _Sides, run: np.ndarray) -> _Pairs:
        per = np.diff(sides.start)
        owner, place = ragged(2 * per**2)
        n = per[owner]
        one, other = place % n**2 // n, place % n
        flanks = place >= n**2
        reverse = np.arange(len(owner)) - place + np.where(flanks, n**2, 0) + other * n + one
        p, q = sides.start[owner] + one, sides.start[owner] + other
        between, rest = (_sums(sides, owner, a, b, n) for a, b in ((one, other), (other, one)))
        single = (sides.edges[p] == 1) & (sides.edges[q] == 1) & sides.convex[p] & sides.convex[q]
        gap = (other - one) % n
        usable = single & (gap > 1) & (gap < n - 1)
        bent = (between["edges"] == rest["edges"]) & (between["edges"] > 1)
        usable &= ~flanks | bent
        low, high = sides.low / sides.length, sides.high / sides.length
        fit = np.where(flanks, between["low"] + rest["high"], low[p] + high[q])
        length = np.where(
            flanks, (sides.length[p] + sides.length[q]) / 2, (between["length"] + rest["length"]) / 2
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            comfort = COMFORT * np.minimum(np.abs(np.log(length / run[owner])), 1.0)
        cost = np.where(usable, fit + comfort, np.inf)
        return cls(
            owner=owner,
            one=p,
            other=q,
            flanks=flanks,
            reverse=reverse,
            fit=fit,
            cost=cost,
            count=len(per),
        )

    def best(self) -> tuple[np.ndarray, np.ndarray]:
        """The best reading of each footprint that has one, and for all whether levels decide."""
        order = np.lexsort((np.round(self.cost, 9), self.owner))
        owner = self.owner[order]
        first = np.append(True, owner[1:] != owner[:-1])[: len(order)]
        chosen = order[first]
        chosen = chosen[np.isfinite(self.cost[chosen])]
        decided = np.zeros(self.count, dtype=bool)
        decided[self.owner[chosen]] = self.fit[self.reverse[chosen]] - self.fit[chosen] >= CLEARLY
        return chosen, decided


def _sums(
    sides: _Sides, owner: np.ndarray, one: np.ndarray, other: np.ndarray, n: np.ndarray
) -> dict[str, np.ndarray]:
    """Totals over the sides strictly between two sides, going round; fits as means."""
    group, place = ragged(2 * np.diff(sides.start))
    per = np.diff(sides.start)
    twice = sides.start[group] + place % np.maximum(per, 1)[group]
    begin = 2 * sides.start[owner] + one + 1
    finish = begin + (other - one - 1) % n
    found = {}
    for name in ("edges", "length", "low", "high"):
        running = np.concatenate([[0], np.cumsum(getattr(sides, name)[twice])])
        found[name] = running[finish] - running[begin]
    length = np.where(found["length"] > 0, found["length"], 1.0)
    return found | {"low": found["low"] / length, "high": found["high"] / length}


def _rails(sides: _Sides, pairs: _Pairs, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lines uphill of the chosen readings, right to left, and the footprint of each."""
    owner, p, q = pairs.owner[chosen], pairs.one[chosen], pairs.other[chosen]
    around = np.diff(sides.vertex_start)[owner] // 2
    after, until = sides.first[p] + sides.edges[p], sides.first[q]
    until = until + np.where(until < after, around, 0)
    ahead = until - after + 1  # vertices from the one side's end to the other's start
    back = around - ahead
    back_start = after + ahead
    wrapped = np.where(back_start - sides.vertex_start[owner] >= around, around, 0)
    back_start = back_start - wrapped
    bent = pairs.flanks[chosen]
    plain, wrap = np.flatnonzero(~bent), np.flatnonzero(bent)

    right = spread(after[plain], ahead[plain])
    left = spread(back_start[plain], back[plain])[::-1]
    left_owner = np.repeat(plain, back[plain])[::-1]
    turned = np.argsort(left_owner, kind="stable")
    count = ahead[wrap]
    bottom = spread(after[wrap], count)[::-1]
    bottom_owner = np.repeat(wrap, count)[::-1]
    again = np.argsort(bottom_owner, kind="stable")
    upper = spread(back_start[wrap], count)
    across = np.stack([bottom[again], upper], axis=1).reshape(-1)

    index = np.concatenate([right, left[turned], across])
    line_owner = np.concatenate([plain, plain, np.repeat(wrap, count)])
    sizes = np.concatenate([ahead[plain], back[plain], np.full(count.sum(), 2)])
    lines = (
        shapely.linestrings(sides.xy[index], indices=np.repeat(np.arange(len(sizes)), sizes))
        if len(index)
        else np.empty(0, dtype=object)
    )
    order = np.argsort(owner[line_owner], kind="stable")
    return lines[order], owner[line_owner][order]
