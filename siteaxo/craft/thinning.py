"""
Lines that would run into one another on paper are thinned out.

The rule
    Of two lines that run side by side (within 10° of parallel) nearer to one another than
    twice the wider one's width, or than 0.7 mm, one gives way if at least half its length runs
    beside the other. The wider stays; of equally wide ones the one of the greater rank; of
    those one that is 1.4 mm long or longer before a shorter bit; then the one that lies lower
    on the sheet, then the one farther left. A line that has
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
CHUNK: Final = 2000  # lines looked around at once


def far_enough(
    xy: ArrayLike,
    width_mm: ArrayLike,
    rank: ArrayLike,
    *,
    scale: float,
    least_mm: float = LEAST_MM,
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
    bit = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < 2 * least_mm * scale / 1000
    order = _order(ends, width, np.asarray(rank), bit)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    yields = place[first] > place[second]  # only the lesser of two can give way
    return _settled(len(ends), first[yields], second[yields])


def _order(ends: np.ndarray, width: np.ndarray, rank: np.ndarray, bit: np.ndarray) -> np.ndarray:
    """Lines from the one that stays before all others to the one that gives way to all."""
    middle = ends.mean(axis=1)
    return np.lexsort((np.arange(len(ends)), middle[:, 0], np.round(middle[:, 1], 3), bit, -rank, -width))


def _beside(ends: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (a, b) where half of a runs beside b, nearer than the greater of their reaches."""
    right, up = (ends[:, 1, k] - ends[:, 0, k] for k in (0, 1))
    bearing = np.degrees(np.arctan2(up, right)) % 180.0
    step = 180.0 / BINS
    own = (bearing // step).astype(int) % BINS
    order = np.argsort(own, kind="stable")
    order = order[(right[order] != 0) | (up[order] != 0)]
    bins = np.split(order, np.searchsorted(own[order], np.arange(1, BINS)))
    found = [np.zeros((0, 2), dtype=np.int64)]
    for number in range(BINS):  # in a frame where the lines of two bins lie nearly level, boxes are thin
        rows = np.concatenate([bins[number - 1], bins[number]])
        if len(rows):
            pairs = rows[_pairs(ends[rows], reach[rows], bearing[rows], number * step)]
            again = (own[pairs] == (number - 1) % BINS).all(axis=1)  # found in the frame before
            found.append(pairs[~again])
    both = np.concatenate(found)
    return both[:, 0], both[:, 1]


def _pairs(ends: np.ndarray, reach: np.ndarray, bearing: np.ndarray, turn: float) -> np.ndarray:
    """Pairs, shape (n, 2), of a line and another that it runs beside."""
    c, s = cos_deg(turn), sin_deg(turn)
    x, y = ends[:, :, 0], ends[:, :, 1]
    level = np.stack([x * c + y * s, y * c - x * s], axis=-1)
    most = np.array([sin_deg(PARALLEL), 1.0]) * float(reach.max()) / 2  # across lines that lie nearly level
    low = np.minimum(level[:, 0], level[:, 1]) - most
    high = np.maximum(level[:, 0], level[:, 1]) + most
    boxes = shapely.linestrings(np.stack([low, high], axis=1))  # an envelope is all that a tree looks at
    tree = shapely.STRtree(boxes)
    found = [np.zeros((0, 2), dtype=np.int64)]
    for cut in range(0, len(boxes), CHUNK):
        row, b = tree.query(boxes[cut : cut + CHUNK])
        a = cut + row
        apart = np.abs((bearing[a] - bearing[b] + 90.0) % 180.0 - 90.0)
        near = np.flatnonzero((a != b) & (apart <= PARALLEL))
        a, b = a[near], b[near]
        close = np.flatnonzero(_runs_beside(level, a, b, np.maximum(reach[a], reach[b])))
        found.append(np.column_stack([a[close], b[close]]))
    return np.concatenate(found)


def _runs_beside(level: np.ndarray, a: np.ndarray, b: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Whether half of each line a lies beside line b within reach."""
    x, y = level[a, 0, 0], level[a, 0, 1]
    right, up = level[a, 1, 0] - x, level[a, 1, 1] - y
    length = np.hypot(right, up)
    safe = np.where(length > 0, length, 1.0)  # the shortest may vanish as they are turned
    right, up = right / safe, up / safe
    offset = [(level[b, k, 0] - x, level[b, k, 1] - y) for k in (0, 1)]
    t0, t1 = (dx * right + dy * up for dx, dy in offset)
    away0, away1 = (dy * right - dx * up for dx, dy in offset)
    begin, end = np.maximum(np.minimum(t0, t1), 0.0), np.minimum(np.maximum(t0, t1), length)
    span = t1 - t0
    slope = np.divide(away1 - away0, span, out=np.zeros(len(a)), where=np.abs(span) > 1e-12)
    distance = np.abs(away0 + slope * ((begin + end) / 2 - t0))
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
