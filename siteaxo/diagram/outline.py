"""
Which lines stand against nothing: the outline of a site and its cut foot.

A line stands against nothing where the page just beside it, on one side or the other, is bare.
That is found in one dimension: the line is moved a little to either side and what the visible
faces cover of it is taken away.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from ..ragged import spread
from ..solids.chips import chips
from ..view.crossings import Outlines
from ..view.dashes import Dashes, complement
from ..view.order import by_group
from ..view.rings import rings_of

REACH: Final = 2e-3  # how far beside a line the page is looked at [m]
SHORTEST: Final = 1e-2  # bare stretches shorter than this do not count [m]
MOST: Final = 256  # sides of a polygon that lines are held against one by one; others are cut
CHUNK: Final = 1 << 15  # pairs of a line and a side of a polygon looked at at once


def bare_stretches(ends: np.ndarray, polygons: np.ndarray) -> Dashes:
    """
    Find the stretches of lines that have nothing on one side.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points on the page [m].
    polygons : ndarray of Polygon or MultiPolygon
        All that is seen.

    Returns
    -------
    Dashes
        Disjoint stretches, as parameters along each line, sorted.
    """
    if not len(ends):
        return Dashes.none()
    polygons = chips(polygons, most=MOST)[0]
    sides = Outlines.of(rings_of(polygons), len(polygons))
    low, high = np.minimum(ends[:, 0], ends[:, 1]) - REACH, np.maximum(ends[:, 0], ends[:, 1]) + REACH
    line, face = shapely.STRtree(polygons).query(shapely.linestrings(np.stack([low, high], axis=1)))
    right, up = (ends[:, 1, k] - ends[:, 0, k] for k in (0, 1))
    length = np.hypot(right, up)
    across = np.column_stack([-up, right]) / np.where(length > 0, length, 1.0)[:, None]
    bare = []
    for side in (REACH, -REACH):
        moved = ends + side * across[:, None]
        bare.append(complement(covered(moved, line, face, sides), length, SHORTEST)[0])
    return complement(Dashes.joined(bare), length, 0.0)[1]


def covered(ends: np.ndarray, line: np.ndarray, face: np.ndarray, sides: Outlines) -> Dashes:
    """
    What polygons cover of lines, for pairs of both.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points of lines [m].
    line, face : ndarray of int, shape (p,)
        Pairs of a line and a polygon.
    sides : Outlines
        Of the polygons.

    Returns
    -------
    Dashes
        Stretches, as parameters along each line; those of different polygons may overlap.
    """
    work = np.cumsum(np.diff(sides.row_start)[face])
    cuts = np.searchsorted(work, np.arange(0, work[-1] if len(work) else 0, CHUNK))
    cuts = np.unique([*cuts, len(work)]).tolist()
    parts = [_within(ends, line[a:b], face[a:b], sides) for a, b in pairwise(cuts)]
    return Dashes.joined([Dashes.none(), *parts])


def _within(ends: np.ndarray, line: np.ndarray, face: np.ndarray, sides: Outlines) -> Dashes:
    """
    Where lines run within polygons, pair by pair.

    A line without ends passes in and out by turns where it crosses sides. On which side of the
    line a corner lies is asked once, so that who enters leaves again.
    """
    many = sides.row_start[face + 1] - sides.row_start[face]
    pair, j = np.repeat(np.arange(len(line)), many), spread(sides.row_start[face], many)
    here = ends.take(line, axis=0)
    start, step = here[:, 0], here[:, 1] - here[:, 0]
    px, py = step.take(pair, axis=0).T
    wx, wy = (start.take(pair, axis=0) - sides.xy.take(j, axis=0)).T
    left = py * wx > px * wy
    meet = np.flatnonzero(left != left[np.arange(len(j)) + sides.after[j] - j])
    qx, qy = sides.step.take(j[meet], axis=0).T
    with np.errstate(divide="ignore", invalid="ignore"):
        place = (qy * wx[meet] - qx * wy[meet]) / (qx * py[meet] - qy * px[meet])
    whose = pair[meet]
    order = by_group(whose, np.clip(place, -0.5, 1.5))
    begin, end = np.clip(place[order], 0.0, 1.0).reshape(-1, 2).T
    real = np.flatnonzero(end > begin)
    return Dashes(edge=line[whose[order[::2][real]]], begin=begin[real], end=end[real])


def parted(dashes: Dashes, chosen: np.ndarray, stretches: Dashes) -> tuple[Dashes, np.ndarray, np.ndarray]:
    """
    Part some dashes where stretches of them begin and end.

    Parameters
    ----------
    dashes : Dashes
        Parts of edges.
    chosen : ndarray of int, shape (n,)
        Which of them the stretches belong to, ascending.
    stretches : Dashes
        Disjoint stretches along the chosen dashes, sorted; ``edge`` is a place in *chosen*.

    Returns
    -------
    dashes : Dashes
        All of them, some in parts, in their old order.
    origin : ndarray of int
        The dash that each comes from.
    inside : ndarray of bool
        Whether each is one of the stretches.
    """
    lengths = np.ones(len(chosen))
    gaps, within = complement(stretches, lengths, 0.0)
    row = chosen[np.concatenate([gaps.edge, within.edge])]
    t0, t1 = (np.concatenate([getattr(gaps, name), getattr(within, name)]) for name in ("begin", "end"))
    inside = np.concatenate([np.zeros(len(gaps), dtype=bool), np.ones(len(within), dtype=bool)])
    whole = np.ones(len(dashes), dtype=bool)
    whole[chosen] = False
    rest = np.flatnonzero(whole)
    origin = np.concatenate([rest, row])
    span = dashes.end[row] - dashes.begin[row]
    begin = np.concatenate([dashes.begin[rest], dashes.begin[row] + t0 * span])
    end = np.concatenate(
        [dashes.end[rest], np.where(t1 == 1.0, dashes.end[row], dashes.begin[row] + t1 * span)]
    )
    inside = np.concatenate([np.zeros(len(rest), dtype=bool), inside])
    order = by_group(origin, begin)
    result = Dashes(edge=dashes.edge[origin[order]], begin=begin[order], end=end[order])
    return result, origin[order], inside[order]
