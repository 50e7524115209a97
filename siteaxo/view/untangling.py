"""
Outlines that cross themselves made into the outline of all they go round.

An outline is parted where it crosses itself. How often each part's right side is gone
round is counted by casting a ray; parts with nothing to their right are the outline of
the whole, and at each crossing one of them ends and another begins. Where that fails, or
corners lie on other sides or nearly, nothing is answered.

References
----------
Winding numbers; Weiler & Atherton, SIGGRAPH 1977 (the walk from crossing to crossing; from
memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely

from ..ragged import spread
from .crossings import NEAR, Outlines, close_by
from .rings import Rings, linked, polygons_of

MOST = 48  # sides of an outline


class _Tangle(NamedTuple):
    """Sides that cross, ``one`` before ``two``, where along them, and which outlines are doubtful."""

    one: np.ndarray
    two: np.ndarray
    t: np.ndarray
    u: np.ndarray
    doubtful: np.ndarray


class _Pieces(NamedTuple):
    """
    Parts of sides, sorted.

    ``node`` is the crossing at the end of each, -1 at a corner; ``opens`` the part with
    which each side begins, and ``leaves`` the two parts that begin at each crossing.
    """

    side: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    node: np.ndarray
    opens: np.ndarray
    leaves: np.ndarray


def untangled(loops: Rings, count: int) -> tuple[np.ndarray, np.ndarray]:
    """
    Find what outlines go round at least once.

    Parameters
    ----------
    loops : Rings
        Outlines sorted by row; what they go round lies to their left.
    count : int
        Number of rows.

    Returns
    -------
    shape : ndarray of Polygon or MultiPolygon, shape (count,)
        What the outlines of each row go round.
    sure : ndarray of bool, shape (count,)
        Where *shape* means something.

    Examples
    --------
    >>> loop = np.array([[0, 0], [6, 0], [6, 3], [1, 3], [1, 1], [5, 1], [5, 4], [0, 4.0]])
    >>> shape, sure = untangled(Rings(xy=loop, start=np.array([0, 8]), row=np.array([0])), 1)
    >>> shape[0].area, sure.tolist()
    (23.0, [True])
    """
    sides = Outlines.of(loops, count)
    sure = np.diff(sides.row_start) <= MOST
    tangle = _crossings(sides, sure)
    sure[tangle.doubtful] = False
    pieces = _parted(sides, tangle)
    short = (pieces.end - pieces.begin) * sides.length[pieces.side] <= NEAR
    right = _rounds_right(sides, pieces, sure)
    row = sides.row[pieces.side]
    sure[row[short | (right < 0)]] = False
    kept = right == 0
    onward = pieces.opens[sides.after[pieces.side]]
    at = np.flatnonzero(pieces.node >= 0)
    ways = pieces.leaves[pieces.node[at]]
    onward[at] = np.where(kept[ways[:, 0]], ways[:, 0], ways[:, 1])
    sure[row[at[kept[at] & (kept[ways[:, 0]] == kept[ways[:, 1]])]]] = False
    sure[row[kept & ~kept[onward]]] = False
    keep = np.flatnonzero(kept & sure[row])
    renumbered = np.full(len(kept), -1)
    renumbered[keep] = np.arange(len(keep))
    side = pieces.side[keep]
    points = sides.xy[side] + pieces.begin[keep, None] * sides.step[side]
    shape, _, plain = polygons_of(linked(points, row[keep], renumbered[onward[keep]]), count)
    return shape, sure & plain & shapely.is_valid(shape)


def _others(sides: Outlines, side: np.ndarray, sure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of the place of a side in a list and any side of the same row."""
    row = sides.row[side]
    many = np.where(sure[row], sides.row_start[row + 1] - sides.row_start[row], 0)
    return np.repeat(np.arange(len(side)), many), spread(sides.row_start[row], many)


def _crossings(sides: Outlines, sure: np.ndarray) -> _Tangle:
    """Where sides of one row cross, and rows in which a corner lies on a side or an outline turns back."""
    i, j = _others(sides, np.arange(len(sides.row)), sure)
    apart = (i != j) & (sides.after[j] != i)
    i, j = i[apart], j[apart]
    (x, y), (right, up) = np.ascontiguousarray(sides.xy.T), np.ascontiguousarray(sides.step.T)
    px, py, qx, qy = right[i], up[i], right[j], up[j]
    wx, wy = x[i] - x[j], y[i] - y[j]
    across = qx * wy - qy * wx
    close = close_by(across, sides.length[j], wx * qx + wy * qy)
    turn = qx * py - qy * px
    back = np.abs(turn) <= NEAR * np.minimum(sides.length[i], sides.length[j])
    back &= (sides.after[i] == j) & (px * qx + py * qy < 0)
    other = py * wx - px * wy
    meet = ((across > 0) != (across + turn > 0)) & ((other > 0) != (other - turn > 0))
    rows = np.flatnonzero(meet & (i < j) & (sides.after[i] != j))
    return _Tangle(
        one=i[rows],
        two=j[rows],
        t=-across[rows] / turn[rows],
        u=other[rows] / turn[rows],
        doubtful=sides.row[i[close | back]],
    )


def _parted(sides: Outlines, tangle: _Tangle) -> _Pieces:
    """Part sides at their crossings."""
    count, nodes = len(sides.row), len(tangle.one)
    side = np.concatenate([np.arange(count), tangle.one, tangle.two])
    begin = np.concatenate([np.zeros(count), tangle.t, tangle.u])
    node = np.concatenate([np.full(count, -1), np.tile(np.arange(nodes), 2)])
    order = np.lexsort((begin, side))
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    side, begin = side[order], begin[order]
    last = np.append(side[1:] != side[:-1], True)[: len(side)]
    return _Pieces(
        side=side,
        begin=begin,
        end=np.where(last, 1.0, np.roll(begin, -1)),
        node=np.where(last, -1, np.roll(node[order], -1)),
        opens=place[:count],
        leaves=np.column_stack([place[count : count + nodes], place[count + nodes :]]),
    )


def _rounds_right(sides: Outlines, pieces: _Pieces, sure: np.ndarray) -> np.ndarray:
    """How often the place just to the right of each part is gone round."""
    middle = ((pieces.begin + pieces.end) / 2)[:, None]
    point = sides.xy[pieces.side] + middle * sides.step[pieces.side]
    k, j = _others(sides, pieces.side, sure)
    foreign = pieces.side[k] != j
    k, j = k[foreign], j[foreign]
    wx, wy = point[k, 0] - sides.xy[j, 0], point[k, 1] - sides.xy[j, 1]
    qx, qy = sides.step[j, 0], sides.step[j, 1]
    hit = ((wy < 0) != (wy < qy)) & ((qx * wy - qy * wx > 0) == (qy > 0))
    rounds = np.bincount(k[hit], np.sign(qy[hit]), minlength=len(point))
    along, up = sides.step[pieces.side, 0], sides.step[pieces.side, 1]
    return rounds - ((up < 0) | ((up == 0) & (along > 0)))
