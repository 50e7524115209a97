"""
One polygon less another, for many pairs at once and in numpy only.

The outlines of a pair are crossed edge by edge. What is left of the first is bounded by
the stretches of its own outline outside the second, and by the stretches of the second's
outline inside it, run backward; at every crossing one passes into the other. That holds
wherever the two are in general position: no corner of either lies on a side of the other.
Pairs for which this is not plain are not answered.

The area taken away is found another way, by Green's theorem: corners are placed inside or
outside by casting rays, and every stretch of either outline inside the other adds its
share. A pair whose rays and crossings disagree anywhere is not answered either.

References
----------
Weiler & Atherton, Hidden surface removal using polygon area sorting, SIGGRAPH 1977 (the
walk from crossing to crossing; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..ragged import spread
from .crossings import NEAR, Crossings, Meeting, Outlines, meeting_of
from .rings import Rings, laid_out, measured
from .shapes import Shapes

STOUT = 1e-3  # thickness of a polygon that cannot nearly touch itself [m]
MOST = 1024  # corners of one polygon times corners of the other


@dataclass(frozen=True, kw_only=True)
class Remains:
    """
    What is left of polygons.

    Parameters
    ----------
    rest : Shapes
        The first polygons less the second.
    taken : ndarray, shape (n,)
        Area of the overlap, found another way [m²].
    sure : ndarray of bool, shape (n,)
        Where the other columns mean something.
    """

    rest: Shapes
    taken: np.ndarray
    sure: np.ndarray


def difference(first: Shapes, second: Shapes) -> Remains:
    """
    Subtract polygons one from one where they are in general position.

    Parameters
    ----------
    first, second : Shapes, n of either
        What is reduced, and by what.

    Returns
    -------
    Remains

    Examples
    --------
    >>> one, two = shapely.box([0, 0], 0, 2, 2), shapely.box([1, 5], 1, 3, 3)
    >>> found = difference(Shapes.of(one), Shapes.of(two))
    >>> found.sure.tolist(), found.rest.area.tolist(), found.taken.tolist()
    ([True, True], [3.0, 4.0], [1.0, 0.0])
    """
    few = first.corners * second.corners <= MOST
    if few.all():
        return _difference(first, second)
    rows = np.flatnonzero(few)
    some = _difference(first.take(rows), second.take(rows))
    taken = np.full(len(few), np.nan)
    taken[rows], few[rows] = some.taken, some.sure
    return Remains(rest=first.put(rows, some.rest), taken=taken, sure=few)


def _difference(first: Shapes, second: Shapes) -> Remains:
    """Differences of polygons without very many corners."""
    one, two = (Outlines.of(shapes.rings, len(shapes)) for shapes in (first, second))
    meeting = meeting_of(one, two)
    rings, sound = _walked(one, two, meeting)
    area, sure = measured(rings, len(first))
    rest, sure = Shapes.made_of(rings, area), sure & meeting.plain & sound
    rows = np.flatnonzero(sure & ~_stout(one, first.area))
    # Where the first nearly touches itself, what is left need not be valid.
    sure[rows] = shapely.is_valid(rest.polygons(rows))
    return Remains(rest=rest, taken=_overlap(one, two, meeting), sure=sure)


def _stout(one: Outlines, area: np.ndarray) -> np.ndarray:
    """Triangles and quadrilaterals too thick to nearly touch themselves."""
    corners = np.diff(one.row_start)
    around = np.bincount(one.row, one.length, minlength=len(area))
    return (corners <= 4) & (area > STOUT * around)


def _overlap(one: Outlines, two: Outlines, meeting: Meeting) -> np.ndarray:
    """Area of the overlap of each pair, from the stretches of either outline inside the other."""
    count, at = len(one.row_start) - 1, meeting.at
    origin = np.zeros((count, 2))
    origin[one.row[::-1]] = one.xy[::-1]
    way = np.where(at.out, -1.0, 1.0)
    total = np.zeros(count)
    for outlines, inside, side, place in (
        (one, meeting.inside_one, at.one, way * (1 - at.t)),
        (two, meeting.inside_two, at.two, -way * (1 - at.u)),
    ):
        share = inside + np.bincount(side, place, minlength=len(inside))
        rows = np.flatnonzero(share)
        x, y = (outlines.xy[rows, k] - origin[outlines.row[rows], k] for k in (0, 1))
        area = x * outlines.step[rows, 1] - y * outlines.step[rows, 0]
        total += np.bincount(outlines.row[rows], area * share[rows], minlength=count) / 2
    return total


def _walked(one: Outlines, two: Outlines, meeting: Meeting) -> tuple[Rings, np.ndarray]:
    """
    Walk the outlines of what is left, and add the rings that nothing crosses.

    The second value says of each row whether its crossings take turns, in and out, along
    both outlines.
    """
    sound, at = meeting.plain.copy(), meeting.at
    keep = np.flatnonzero(sound[one.row[at.one]])
    at = Crossings(*(column[keep] for column in at))
    entry, torn_one = _next_along(one, at.one + at.t, at.one, at.out)
    leave, torn_two = _next_along(two, -(at.two + at.u), at.two, at.out)
    sound[one.row[at.one[torn_one | torn_two]]] = False
    begin = np.flatnonzero(at.out & sound[one.row[at.one]])
    tables = [_linked(one, two, at, begin, entry, leave), *_loose(one, two, meeting, sound)]
    joined = Rings.joined(tables)
    return joined.take(np.argsort(joined.row, kind="stable")), sound


def _next_along(
    outlines: Outlines, place: np.ndarray, side: np.ndarray, out: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """
    The crossing after each by place along its ring, and whether the two cannot be told apart.

    They can not where they are very near, or lead the same way.
    """
    if not len(side):
        return side, out
    order = np.argsort(place)
    ring, gap = outlines.ring[side[order]], np.diff(place[order], append=np.inf)
    first = np.flatnonzero(np.diff(ring, prepend=-1))
    following = np.empty(len(order), dtype=np.int64)
    following[order[:-1]] = order[1:]
    following[order[np.append(first[1:], len(order)) - 1]] = order[first]
    torn = out[following] == out
    torn[order] |= gap * outlines.length[side[order]] <= NEAR
    return following, torn


def _linked(
    one: Outlines, two: Outlines, at: Crossings, begin: np.ndarray, entry: np.ndarray, leave: np.ndarray
) -> Rings:
    """
    Rings that pass from one outline into the other.

    From where the first leaves the second, along the first to where it enters again, then
    along the second, backward, to where the first leaves it again.
    """
    place = np.full(len(at.one), -1)
    place[begin] = np.arange(len(begin))
    order, head = laid_out(place[leave[entry[begin]]], one.row[at.one[begin]])
    x = begin[order]
    y = entry[x]
    z = leave[y]
    corner_one, many_one = _between(one, at.one[x], at.one[y], at.t[y] <= at.t[x], 1)
    corner_two, many_two = _between(two, at.two[y], at.two[z], at.u[y] <= at.u[z], -1)
    size = 2 + many_one + many_two
    start = np.cumsum(size) - size
    xy = np.empty((int(size.sum()), 2))
    point = one.xy.take(at.one, axis=0) + at.t[:, None] * one.step.take(at.one, axis=0)
    xy[start], xy[start + 1 + many_one] = point.take(x, axis=0), point.take(y, axis=0)
    xy[spread(start + 1, many_one)] = one.xy.take(corner_one, axis=0)
    xy[spread(start + 2 + many_one, many_two)] = two.xy.take(corner_two, axis=0)
    return Rings(xy=xy, start=np.append(start, len(xy))[head], row=one.row[at.one[x[head[:-1]]]])


def _between(
    outlines: Outlines, begin: np.ndarray, end: np.ndarray, round_: np.ndarray, way: int
) -> tuple[np.ndarray, np.ndarray]:
    """Corners passed from one side to another, onward or backward, and how many each time."""
    ring = outlines.ring[begin]
    first, count = outlines.rings.start[ring], outlines.rings.count[ring]
    many = way * (end - begin) % count
    many[(begin == end) & round_] = count[(begin == end) & round_]
    step = spread(np.zeros(len(begin), dtype=np.int64), many)
    place = np.repeat(begin - first, many) + (step + 1 if way > 0 else -step)
    return np.repeat(first, many) + place % np.repeat(count, many), many


def _loose(one: Outlines, two: Outlines, meeting: Meeting, sound: np.ndarray) -> tuple[Rings, Rings]:
    """Rings of the first that lie outside the second, and of the second that become holes."""
    free = []
    for outlines, side in ((one, meeting.at.one), (two, meeting.at.two)):
        crossed = np.zeros(len(outlines.rings), dtype=bool)
        crossed[outlines.ring[side]] = True
        free.append(~crossed & sound[outlines.rings.row])
    kept = free[0] & ~meeting.inside_one[one.rings.start[:-1]]
    holes = two.rings.take(np.flatnonzero(free[1] & meeting.inside_two[two.rings.start[:-1]]))
    return one.rings.take(np.flatnonzero(kept)), holes.turned(np.arange(len(holes)))
