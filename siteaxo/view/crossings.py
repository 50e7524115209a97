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

from ..solids.faces import spread
from .order import starts
from .rings import Rings

NEAR = 1e-5  # a corner this near to a side of the other polygon is not plainly beside it [m]
CHUNK = 1 << 15  # pairs of sides compared at once


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
        return cls(
            rings=rings,
            step=step,
            length=np.hypot(step[:, 0], step[:, 1]),
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


@dataclass(frozen=True, kw_only=True)
class _Compared:
    """What comparing some pairs gave, for the sides from and to which it was done."""

    sides_one: slice
    sides_two: slice
    inside_one: np.ndarray
    inside_two: np.ndarray
    doubtful: np.ndarray
    crossings: Crossings


def meeting_of(one: Outlines, two: Outlines) -> Meeting:
    """Compare all sides of all pairs."""
    work = np.diff(one.row_start) * np.diff(two.row_start)
    plain = np.ones(len(work), dtype=bool)
    found = [_compared(one, two, *rows) for rows in _runs(work)]
    none = Crossings(*(np.zeros(0, dtype=kind) for kind in (np.int64, np.int64, float, float, bool)))
    crossings = [none, *(item.crossings for item in found)]
    plain[np.concatenate([np.zeros(0, dtype=np.int64), *(item.doubtful for item in found)])] = False
    inside_one, inside_two = np.zeros(len(one.row), dtype=bool), np.zeros(len(two.row), dtype=bool)
    for item in found:
        inside_one[item.sides_one], inside_two[item.sides_two] = item.inside_one, item.inside_two
    at = Crossings(*(np.concatenate(column) for column in zip(*crossings, strict=True)))
    step_one, step_two = (np.where(at.out, way, -way) for way in (-1, 1))
    for outlines, side, step, inside in (
        (one, at.one, step_one, inside_one),
        (two, at.two, step_two, inside_two),
    ):  # a corner and the next agree with what is crossed between them
        change = np.bincount(side, step, minlength=len(inside))
        torn = inside + change != inside[outlines.after]
        plain[outlines.row[torn]] = False
    return Meeting(at=at, inside_one=inside_one, inside_two=inside_two, plain=plain)


def _runs(work: np.ndarray) -> list[tuple[int, int]]:
    """Runs of rows of about the same amount of work."""
    total = np.cumsum(work)
    cuts = np.searchsorted(total, np.arange(0, total[-1] if len(total) else 0, CHUNK))
    cuts = np.unique([*cuts, len(work)]).tolist()
    return list(pairwise(cuts))


def _compared(one: Outlines, two: Outlines, begin: int, end: int) -> _Compared:
    """Compare the sides of some rows: who crosses whom, and which corner lies in the other."""
    sides_one = slice(one.row_start[begin], one.row_start[end])
    sides_two = slice(two.row_start[begin], two.row_start[end])
    row = one.row[sides_one]
    many = two.row_start[row + 1] - two.row_start[row]
    i = np.repeat(np.arange(sides_one.start, sides_one.stop), many)
    j = spread(two.row_start[row], many)
    (px, py), (qx, qy) = one.step.take(i, axis=0).T, two.step.take(j, axis=0).T
    wx, wy = (one.xy.take(i, axis=0) - two.xy.take(j, axis=0)).T
    across_two = qx * wy - qy * wx  # beside the side of the second, times its length
    across_one = py * wx - px * wy
    turn = qx * py - qy * px
    ahead_two, ahead_one = across_two + turn, across_one - turn
    meet = ((across_two > 0) != (ahead_two > 0)) & ((across_one > 0) != (ahead_one > 0))
    ray_one = ((wy < 0) != (wy < qy)) & ((across_two > 0) == (qy > 0))
    ray_two = ((wy > 0) != (wy > -py)) & ((across_one > 0) == (py > 0))
    close = close_by(across_two, two.length[j], wx * qx + wy * qy)
    close |= close_by(across_one, one.length[i], -(wx * px + wy * py))
    rows = np.flatnonzero(meet)
    with np.errstate(divide="ignore", invalid="ignore"):
        t, u = -across_two[rows] / turn[rows], across_one[rows] / turn[rows]
    return _Compared(
        sides_one=sides_one,
        sides_two=sides_two,
        inside_one=_odd(i[ray_one] - sides_one.start, sides_one.stop - sides_one.start),
        inside_two=_odd(j[ray_two] - sides_two.start, sides_two.stop - sides_two.start),
        doubtful=one.row[i[close]],
        crossings=Crossings(i[rows], j[rows], t, u, across_two[rows] > 0),
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
