"""
Lines that would run into one another on paper are thinned out.

The rule
    Of two lines that run side by side (within 10° of parallel) nearer to one another than
    twice the wider one's width, or than 0.7 mm, one gives way if at least half its length runs
    beside the other. The wider stays; of equally wide ones the one of the greater rank; of
    those the one that lies lower on the sheet, then the one farther left. A line that has
    given way makes no other give way. So a flight of steps keeps every second or third line,
    evenly, and does not turn black.

References
----------
ISO 128-20 §4.4 (parallel lines at least twice the wider width, and at least 0.7 mm, apart).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg

LEAST_MM: Final = 0.7
PARALLEL: Final = 10.0  # lines that run within this of one another are side by side [degrees]
BINS: Final = 18
SHARE: Final = 0.5


def far_enough(
    xy: ArrayLike,
    width_mm: ArrayLike,
    rank: ArrayLike,
    *,
    scale: float,
    least_mm: float = LEAST_MM,
    store: object = None,
) -> np.ndarray:
    """
    Which of many straight lines stay when they are drawn at 1:*scale*.

    Parameters
    ----------
    xy : array_like, shape (n, 2, 2)
        End points on the page [m at full size].
    width_mm : array_like, shape (n,)
        Width of each line on paper [mm].
    rank : array_like, shape (n,)
        Of two lines of one width the one of the greater rank stays.
    scale : float
        The x of 1:x.
    store : optional
        Where parts of the work may be kept; not used yet.
    least_mm : float
        Least distance on paper [mm].

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> steps = [[[0, y], [4, y]] for y in (0.0, 0.2, 0.4, 0.6)]
    >>> far_enough(steps, [0.18] * 4, [0] * 4, scale=500).tolist()
    [True, False, True, False]
    """
    ends = np.asarray(xy, dtype=float).reshape(-1, 2, 2)
    width = np.asarray(width_mm, dtype=float)
    if not len(ends):
        return np.zeros(0, dtype=bool)
    reach = np.maximum(2 * width, least_mm) * scale / 1000
    first, second = _beside(ends, reach)
    order = _order(ends, width, np.asarray(rank))
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    yields = place[first] > place[second]  # only the lesser of two can give way
    return _settled(len(ends), first[yields], second[yields])


def _order(ends: np.ndarray, width: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """Lines from the one that stays before all others to the one that gives way to all."""
    middle = ends.mean(axis=1)
    return np.lexsort((np.arange(len(ends)), middle[:, 0], np.round(middle[:, 1], 3), -rank, -width))


def _beside(ends: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (a, b) where half of a runs beside b, nearer than the greater of their reaches."""
    along = ends[:, 1] - ends[:, 0]
    length = np.hypot(*along.T)
    bearing = np.degrees(np.arctan2(along[:, 1], along[:, 0])) % 180.0
    step = 180.0 / BINS
    own = (bearing // step).astype(int) % BINS
    found = [np.zeros((0, 2), dtype=np.int64)]
    for number in range(BINS):  # in a frame where the lines of this bin lie level, boxes are thin
        mine = np.flatnonzero((own == number) & (length > 0))
        others = np.flatnonzero(np.isin(own, [(number + k) % BINS for k in (-1, 0, 1)]) & (length > 0))
        if len(mine):
            found.append(_pairs(ends, reach, bearing, mine, others, (number + 0.5) * step))
    both = np.concatenate(found)
    return both[:, 0], both[:, 1]


def _pairs(
    ends: np.ndarray,
    reach: np.ndarray,
    bearing: np.ndarray,
    mine: np.ndarray,
    others: np.ndarray,
    turn: float,
) -> np.ndarray:
    c, s = cos_deg(turn), sin_deg(turn)
    level = ends @ np.array([[c, -s], [s, c]])
    low, high = level.min(axis=1), level.max(axis=1)
    tree = shapely.STRtree(shapely.box(low[others, 0], low[others, 1], high[others, 0], high[others, 1]))
    most = float(reach.max())
    row, col = tree.query(shapely.box(low[mine, 0], low[mine, 1] - most, high[mine, 0], high[mine, 1] + most))
    a, b = mine[row], others[col]
    apart = np.abs((bearing[a] - bearing[b] + 90.0) % 180.0 - 90.0)
    near = (a != b) & (apart <= PARALLEL)
    a, b = a[near], b[near]
    close = _runs_beside(level[a], level[b], np.maximum(reach[a], reach[b]))
    return np.column_stack([a[close], b[close]])


def _runs_beside(a: np.ndarray, b: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Whether half of each line a lies beside line b within reach."""
    along = a[:, 1] - a[:, 0]
    length = np.hypot(*along.T)
    unit = along / np.where(length > 0, length, 1.0)[:, None]
    across = np.column_stack([-unit[:, 1], unit[:, 0]])
    offset = b - a[:, :1]
    t = (offset * unit[:, None]).sum(axis=2)
    away = (offset * across[:, None]).sum(axis=2)
    begin, end = np.maximum(t.min(axis=1), 0.0), np.minimum(t.max(axis=1), length)
    span = t[:, 1] - t[:, 0]
    slope = np.divide(away[:, 1] - away[:, 0], span, out=np.zeros(len(a)), where=np.abs(span) > 1e-12)
    distance = np.abs(away[:, 0] + slope * ((begin + end) / 2 - t[:, 0]))
    return (end - begin >= SHARE * length) & (distance < reach * (1 - 1e-9))


def _settled(count: int, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Decide in rounds: whoever yields to nobody still undecided stays or goes."""
    stays = np.ones(count, dtype=bool)
    undecided = np.zeros(count, dtype=bool)
    undecided[first] = True
    while len(first):
        waits = np.zeros(count, dtype=bool)
        waits[first[undecided[second]]] = True
        ready = undecided & ~waits
        now = ready[first]
        stays[first[now & stays[second]]] = False
        undecided[ready] = False
        first, second = first[~now], second[~now]
    return stays
