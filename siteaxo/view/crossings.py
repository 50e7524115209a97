"""
How the outlines of pairs of polygons cross, in numpy only.

Every side of the one is compared with every side of the other. Corners are placed inside
or outside the other polygon by casting rays; wherever the rays and the crossings along an
outline disagree, or a corner lies on a side of the other or nearly, the pair is not plain.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..ragged import spread
from .order import starts
from .rings import Rings

NEAR = 1e-5  # a corner this near to a side of the other polygon is not plainly beside it [m]
MARGIN = 2 * NEAR  # sides no farther than this from the box of the other polygon may be near it [m]
CHUNK = 1 << 14  # pairs of sides compared at once


@dataclass(frozen=True, kw_only=True)
class Outlines:
    """
    The sides of one polygon of every pair.

    Parameters
    ----------
    rings : Rings
        Rings by pair; a side begins at every corner.
    step, length : ndarray, shape (v, 2) and (v,)
        From each corner to the next [m].
    after, ring, row : ndarray of int, shape (v,)
        Next corner, ring and pair of each corner.
    row_start : ndarray of int, shape (n + 1,)
        Where the corners of each pair start.
    """

    rings: Rings
    step: np.ndarray
    length: np.ndarray
    after: np.ndarray
    ring: np.ndarray
    row: np.ndarray
    row_start: np.ndarray

    @classmethod
    def of(cls, rings: Rings, count: int) -> Outlines:
        """Sides of rings sorted by pair, of *count* pairs."""
        after, ring = rings.following, np.repeat(np.arange(len(rings)), rings.count)
        row, step = rings.row[ring], rings.xy.take(after, axis=0) - rings.xy
        right, up = np.ascontiguousarray(step.T)
        return cls(
            rings=rings,
            step=step,
            length=np.sqrt(right * right + up * up),
            after=after,
            ring=ring,
            row=row,
            row_start=starts(row, count),
        )

    @property
    def xy(self) -> np.ndarray:
        """Corners, shape (v, 2) [m]."""
        return self.rings.xy


class Crossings(NamedTuple):
    """
    Where outlines cross.

    ``one`` and ``two`` are the sides, ``t`` and ``u`` how far along them (0 to 1), ``out``
    whether the first polygon's outline leaves the second polygon there.
    """

    one: np.ndarray
    two: np.ndarray
    t: np.ndarray
    u: np.ndarray
    out: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """
    How the outlines of all pairs meet.

    Parameters
    ----------
    at : Crossings
        Where they cross.
    inside_one, inside_two : ndarray of bool
        Which corners of the first lie in the second, and of the second in the first.
    plain : ndarray of bool, shape (n,)
        Pairs in general position whose rays and crossings agree.
    """

    at: Crossings
    inside_one: np.ndarray
    inside_two: np.ndarray
    plain: np.ndarray


class _Near(NamedTuple):
    """
    Sides that come near the other polygon of their pair, sorted by pair.

    ``side`` is the side itself; ``x``, ``y``, ``right``, ``up`` and ``length`` where it begins and
    how far it goes; ``row`` its pair, and ``start`` where the sides of each pair begin.
    """

    side: np.ndarray
    x: np.ndarray
    y: np.ndarray
    right: np.ndarray
    up: np.ndarray
    length: np.ndarray
    row: np.ndarray
    start: np.ndarray


class _Compared(NamedTuple):
    """What comparing some pairs gave: corners whose rays meet sides, rows in doubt, and crossings."""

    rays_one: np.ndarray
    rays_two: np.ndarray
    doubtful: np.ndarray
    crossings: Crossings


def meeting_of(one: Outlines, two: Outlines) -> Meeting:
    """Compare all sides of all pairs."""
    near_one, near_two = _near(one, two), _near(two, one)
    work = np.diff(near_one.start) * np.diff(near_two.start)
    found = [_compared(near_one, near_two, *rows) for rows in _runs(work)]
    none = Crossings(*(np.zeros(0, dtype=kind) for kind in (np.int64, np.int64, float, float, bool)))
    crossings = [none, *(item.crossings for item in found)]
    at = Crossings(*(np.concatenate(column) for column in zip(*crossings, strict=True)))
    inside_one = _odd(np.concatenate([none.one, *(item.rays_one for item in found)]), len(one.row))
    inside_two = _odd(np.concatenate([none.two, *(item.rays_two for item in found)]), len(two.row))
    plain = np.ones(len(work), dtype=bool)
    plain[np.concatenate([none.one, *(item.doubtful for item in found)])] = False
    step_one, step_two = (np.where(at.out, way, -way) for way in (-1, 1))
    for outlines, side, step, inside in (
        (one, at.one, step_one, inside_one),
        (two, at.two, step_two, inside_two),
    ):  # a corner and the next agree with what is crossed between them
        change = np.bincount(side, step, minlength=len(inside))
        torn = inside + change != inside[outlines.after]
        plain[outlines.row[torn]] = False
    return Meeting(at=at, inside_one=inside_one, inside_two=inside_two, plain=plain)


def _near(sides: Outlines, others: Outlines) -> _Near:
    """
    Leave out sides that lie wholly below, above or to the left of the other polygon.

    Nothing can cross or touch them. Rays lead to the right: none from the other polygon meets
    them, and one from them leaves it as often as it enters.
    """
    x, y = np.ascontiguousarray(sides.xy.T)
    right, up = np.ascontiguousarray(sides.step.T)
    left, bottom, top = (column.take(sides.row) for column in _extent(others))
    near = (np.maximum(y, y + up) >= bottom) & (np.minimum(y, y + up) <= top)
    near &= np.maximum(x, x + right) >= left
    side = np.flatnonzero(near)
    row = sides.row[side]
    return _Near(
        side=side,
        x=x[side],
        y=y[side],
        right=right[side],
        up=up[side],
        length=sides.length[side],
        row=row,
        start=starts(row, len(sides.row_start) - 1),
    )


def _extent(sides: Outlines) -> np.ndarray:
    """Left, bottom and top of the polygon of each pair, and a margin, shape (3, n) [m]."""
    there = np.flatnonzero(np.diff(sides.row_start))
    extent = np.full((3, len(sides.row_start) - 1), np.nan)
    if len(there):
        x, y = np.ascontiguousarray(sides.xy.T)
        for k, (how, column) in enumerate(((np.minimum, x), (np.minimum, y), (np.maximum, y))):
            extent[k, there] = how.reduceat(column, sides.row_start[there])
    return extent + np.array([[-MARGIN], [-MARGIN], [MARGIN]])


def _runs(work: np.ndarray) -> list[tuple[int, int]]:
    """Runs of rows of about the same amount of work."""
    total = np.cumsum(work)
    cuts = np.searchsorted(total, np.arange(0, total[-1] if len(total) else 0, CHUNK))
    cuts = np.unique([*cuts, len(work)]).tolist()
    return list(pairwise(cuts))


def _compared(one: _Near, two: _Near, begin: int, end: int) -> _Compared:
    """Compare the sides of some rows: who crosses whom, and which corner lies in the other."""
    some = slice(one.start[begin], one.start[end])
    row = one.row[some]
    many = two.start[row + 1] - two.start[row]
    j = spread(two.start[row], many)
    x, y, px, py, size = (
        np.repeat(column[some], many) for column in (one.x, one.y, one.right, one.up, one.length)
    )
    qx, qy = two.right.take(j), two.up.take(j)
    wx, wy = x - two.x.take(j), y - two.y.take(j)
    across_two = qx * wy - qy * wx  # beside the side of the second, times its length
    across_one = py * wx - px * wy
    turn = qx * py - qy * px
    left_two, left_one = across_two > 0, across_one > 0
    meet = (left_two != (across_two + turn > 0)) & (left_one != (across_one - turn > 0))
    ray_one = ((wy < 0) != (wy < qy)) & (left_two == (qy > 0))
    ray_two = ((wy > 0) != (wy > -py)) & (left_one == (py > 0))
    close = close_by(across_two, two.length.take(j), wx * qx + wy * qy)
    close |= close_by(across_one, size, -(wx * px + wy * py))
    i = np.repeat(one.side[some], many)
    rows = np.flatnonzero(meet)
    with np.errstate(divide="ignore", invalid="ignore"):
        t, u = -across_two[rows] / turn[rows], across_one[rows] / turn[rows]
    return _Compared(
        rays_one=i[ray_one],
        rays_two=two.side[j[ray_two]],
        doubtful=np.repeat(row, many)[close],
        crossings=Crossings(i[rows], two.side[j[rows]], t, u, left_two[rows]),
    )


def close_by(across: np.ndarray, length: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Whether corners lie on sides, or nearly: beside them by *across* / *length*."""
    close = np.abs(across) <= NEAR * length
    rows = np.flatnonzero(close)
    slack = NEAR * length[rows]
    close[rows] = (along[rows] >= -slack) & (along[rows] <= length[rows] ** 2 + slack)
    return close


def _odd(item: np.ndarray, count: int) -> np.ndarray:
    return np.bincount(item, minlength=count) % 2 == 1
