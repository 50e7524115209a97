"""
Lines that would run into one another on paper are thinned out.

The rule
    Of two lines that run side by side (within 10° of parallel) nearer to one another than
    twice the wider one's width, or than 0.7 mm, one gives way if at least half its length runs
    beside the other. The wider stays; of equally wide ones the one of the greater rank; of
    those one that is 1.4 mm long or longer before a shorter bit; then the one that lies lower
    on the sheet, then the one farther left. A line that has
    given way makes no other give way. So a flight of steps keeps every second or third line,
    evenly, and does not turn black. A line that bends, of pieces joined without a corner, gives
    way as a whole if pieces that make up half its length would, and else stays as a whole, so
    that it is not broken into dashes. What has given way and reaches farther from all that stays
    is drawn again (see :mod:`.gaps`), so that no line has a gap where nothing stands for it.

References
----------
ISO 128-20 §4.4 (parallel lines at least twice the wider width, and at least 0.7 mm, apart).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..ragged import spread
from ..solids.linked import linked
from ..view.order import in_order, starts
from .gaps import Readable, without_gaps

LEAST_MM: Final = 0.7
PARALLEL: Final = 10.0  # lines that run within this of one another are side by side [degrees]
BINS: Final = 18
SHARE: Final = 0.5
CORNER: Final = 30.0  # pieces that turn by more are not one line [degrees]
BEND: Final = 1.0  # pieces that turn by less are one straight line [degrees]
JOINED: Final = 1e-4  # ends nearer than about this are one [m]
MEETING: Final = 4  # where more ends of one line meet, none goes on as another
CHUNK: Final = 1 << 18  # pairs of lines looked at at once
STRIPS: Final = 1 << 24  # more than lines are sorted into
STEPS: Final = 1 << 31  # to which beginnings and ends of lines are rounded while they are sorted


def far_enough(
    xy: ArrayLike,
    width_mm: ArrayLike,
    rank: ArrayLike,
    *,
    scale: float,
    least_mm: float = LEAST_MM,
    owner: ArrayLike | None = None,
    readable: Readable | None = None,
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
    owner : array_like of int, shape (n,), optional
        Number of what each piece belongs to; pieces of one that bend from one to the next stay
        or go together. Every piece is by itself when left out.
    readable : callable, optional
        Told the rows of lines that would be drawn, says for each whether it is left in; one that
        is not stands for no other. What it says of a line follows from those within ``gaps.LOCAL_MM``.

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
    near = np.union1d(first, second)
    bit = np.hypot(*(ends[near, 1] - ends[near, 0]).T) < 2 * least_mm * scale / 1000
    place = np.zeros(len(ends), dtype=np.int64)
    place[near[_order(ends[near], width[near], np.asarray(rank)[near], bit)]] = np.arange(len(near))
    yields = place[first] > place[second]  # only the lesser of two can give way
    first, second = first[yields], second[yields]
    stays = _given_way(ends, first, second, None if owner is None else np.asarray(owner))
    return without_gaps(ends, stays, place, reach, (first, second), readable=readable, scale=scale)


def _given_way(
    ends: np.ndarray, first: np.ndarray, second: np.ndarray, owner: np.ndarray | None
) -> np.ndarray:
    """Which lines stay if each *first* gives way to its *second*, those that bend as a whole."""
    stays = _settled(len(ends), first, second)
    if owner is None or not len(first):
        return stays
    some = np.flatnonzero(np.isin(owner, owner[first]))  # all others stay, whatever they are part of
    line, length = _bending(ends[some], owner[some]), np.hypot(*(ends[some, 1] - ends[some, 0]).T)
    whole = np.ones(len(ends), dtype=bool)
    whole[some] = _wholly(stays[some], line, length)
    free = (whole | ~stays)[first] & (whole | ~stays)[second]  # what goes as a whole makes nothing give way
    stays = _settled(len(ends), first[free], second[free])
    stays[some] = _wholly(stays[some], line, length)
    return stays & whole


def _wholly(stays: np.ndarray, line: np.ndarray, length: np.ndarray) -> np.ndarray:
    """The same for whole lines: one goes if pieces that make up half its length would."""
    gone, total = np.bincount(line, length * ~stays), np.bincount(line, length)
    return np.asarray(~((gone >= SHARE * total) & (gone > 0))[line])


def _bending(ends: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Number of the line that each piece is part of; pieces of a straight one are by themselves."""
    count = len(ends)
    spot = np.round(ends.reshape(-1, 2) / JOINED)
    key = np.column_stack([np.repeat(owner, 2), spot])
    sort = np.lexsort(key.T)
    node = np.empty(2 * count, dtype=np.int64)
    node[sort] = np.cumsum(np.r_[False, (np.diff(key[sort], axis=0) != 0).any(axis=1)])
    many = np.bincount(node)
    away = (ends[:, ::-1] - ends).reshape(-1, 2)
    away /= np.maximum(np.hypot(*away.T), JOINED)[:, None]
    order = np.flatnonzero(many[node] <= MEETING)
    order = order[np.argsort(node[order], kind="stable")]
    pairs = [np.column_stack([order[:-step], order[step:]]) for step in range(1, MEETING)]
    one, other = np.concatenate(pairs).T
    cosine = -(away[one] * away[other]).sum(axis=1)
    on = (node[one] == node[other]) & (cosine >= cos_deg(CORNER))
    one, other, cosine = one[on] // 2, other[on] // 2, cosine[on]
    line = linked(count, one, other)
    bends = np.bincount(line[one], cosine < cos_deg(BEND), minlength=count) > 0
    return np.unique(np.where(bends[line], line, count + np.arange(count)), return_inverse=True)[1]


def _order(ends: np.ndarray, width: np.ndarray, rank: np.ndarray, bit: np.ndarray) -> np.ndarray:
    """Lines from the one that stays before all others to the one that gives way to all."""
    middle = ends.mean(axis=1)
    return np.lexsort((np.arange(len(ends)), middle[:, 0], np.round(middle[:, 1], 3), bit, -rank, -width))


def _beside(ends: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (a, b) where half of a runs beside b, nearer than the greater of their reaches."""
    right, up = (ends[:, 1, k] - ends[:, 0, k] for k in (0, 1))
    bearing = np.degrees(np.arctan2(up, right)) % 180.0
    line = np.flatnonzero((right != 0) | (up != 0))
    turn = (bearing[line] // (180.0 / BINS)).astype(np.int64) % BINS
    line, start = line[in_order(turn)], starts(turn, BINS)
    turned = [line[start[number] : start[number + 1]] for number in range(BINS)]
    found = [np.zeros((0, 2), dtype=np.int64)]
    for number, own in enumerate(turned):  # lines of a turn are held against one another and the turn before
        some = np.concatenate([own, turned[number - 1]])
        level = _levelled(ends[some], 180.0 / BINS * number)
        for one, other in _meeting(level, len(own), float(reach.max()) / 2):
            a, b = some[one], some[other]
            apart = np.abs((bearing[a] - bearing[b] + 90.0) % 180.0 - 90.0)
            near = np.flatnonzero(apart <= PARALLEL)
            one, other = np.concatenate([one[near], other[near]]), np.concatenate([other[near], one[near]])
            a, b = some[one], some[other]
            close = np.flatnonzero(_runs_beside(level, one, other, np.maximum(reach[a], reach[b])))
            found.append(np.column_stack([a[close], b[close]]))
    both = np.concatenate(found)
    return both[:, 0], both[:, 1]


def _levelled(ends: np.ndarray, turn: float) -> np.ndarray:
    """Lines turned so that those of one bearing, or of one a little less, lie nearly level."""
    c, s = cos_deg(turn), sin_deg(turn)
    x, y = ends[..., 0], ends[..., 1]
    return np.stack([x * c + y * s, y * c - x * s], axis=-1)


def _meeting(level: np.ndarray, own: int, margin: float) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """
    Pairs of lines whose boxes meet, one at least of the first *own*, each once, some at a time.

    Every line is entered in all the level strips that its box touches; in each strip, whatever
    begins before another ends is held against it. A pair counts in the lowest strip that it shares.
    """
    if not own:
        return
    most = np.array([sin_deg(PARALLEL), 1.0]) * margin  # across lines that lie nearly level
    left, bottom = (np.minimum(level[:, 0], level[:, 1]) - most).T
    right, top = (np.maximum(level[:, 0], level[:, 1]) + most).T
    height = max(float((top - bottom).mean()), float(top.max() - bottom.min()) / (STRIPS - 1)) or 1.0
    first, last = (((side - bottom.min()) / height).astype(np.int64) for side in (bottom, top))
    step = float(right.max() - left.min()) / STEPS or 1.0
    begin, end = (((side - left.min()) / step).astype(np.int64) for side in (left, right))
    entry = np.repeat(np.arange(len(level)), last - first + 1)
    key = spread(first, last - first + 1) * (2 * STEPS)
    order = np.argsort(key + begin[entry])
    entry, key = entry[order], key[order]
    strip = key // (2 * STEPS)
    for row, after in _runs(key + begin[entry], key + end[entry]):
        one, other = entry[row], entry[after]
        meets = np.minimum(one, other) < own
        meets &= np.maximum(first[one], first[other]) == strip[row]
        meets &= (bottom[one] <= top[other]) & (bottom[other] <= top[one])
        rows = np.flatnonzero(meets)
        yield one[rows], other[rows]


def _runs(begin: np.ndarray, end: np.ndarray) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Every row with all later ones that begin before it ends, some at a time; sorted by *begin*."""
    here = np.arange(len(begin))
    many = np.searchsorted(begin, end, side="right") - here - 1
    total = np.cumsum(many)
    cuts = np.unique([0, *np.searchsorted(total, np.arange(CHUNK, total[-1], CHUNK)), len(begin)])
    for a, b in pairwise(cuts.tolist()):
        yield np.repeat(here[a:b], many[a:b]), spread(here[a:b] + 1, many[a:b])


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
