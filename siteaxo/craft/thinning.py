"""
Lines that would run into one another on paper are thinned out.

The rule
    Of two lines that run side by side (within 10° of parallel) nearer to one another than
    twice the wider one's width, or than 0.7 mm, one gives way if at least half its length runs
    beside the other. The wider stays; of equally wide ones the one of the greater rank; of
    those one that is 1.4 mm long or longer before a shorter bit; then the one that lies lower
    on the sheet, then the one farther left. Where a line is cut into pieces, what it runs beside,
    how long it is and how low it lies is that of the whole (see :mod:`.whole`), so that of two lines
    along a kerb the same one stays all along; of lines that are parts of outlines, the one whose
    outline reaches lower stays, on all its sides. A line that has given way makes no other give way. So
    a flight of steps keeps every second or third line, evenly, and does not turn black. A line that
    bends, of pieces joined without a corner, gives way as a whole if pieces that make up half its
    length would, and else stays as a whole, so that it is not broken into dashes. What has given way
    and reaches farther from all that stays is drawn again (see :mod:`.gaps`), so that no line has a
    gap where nothing stands for it.

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
from ..view.order import in_order, starts
from .gaps import Readable, without_gaps
from .trace import Note, unnoted
from .whole import Whole, bridged, spans, whole_lines

LEAST_MM: Final = 0.7
PARALLEL: Final = 10.0  # lines that run within this of one another are side by side [degrees]
BINS: Final = 18
SHARE: Final = 0.5
CHUNK: Final = 1 << 18  # pairs of lines looked at at once
STRIPS: Final = 1 << 24  # more than lines are sorted into
EXACT: Final = 2.0**-30  # lengths are whole multiples of this, so that their sums have no order [m]
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
    note: Note = unnoted,
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
    note : callable
        Told what lines go through (see :mod:`.trace`).

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
    first, second, along = _beside(ends, reach)
    of = np.arange(len(ends)) if owner is None else np.asarray(owner)
    some = np.flatnonzero(np.isin(of, of[np.union1d(first, second)]))  # all others stay
    pieces = whole_lines(ends[some], None if owner is None else of[some])
    row = np.zeros(len(ends), dtype=np.int64)
    row[some] = np.arange(len(some))
    half = _half(ends[some], row[first], row[second], along, pieces)
    first, second = first[half], second[half]
    keys = _keys(ends[some], width[some], np.asarray(rank)[some], pieces, 2 * least_mm * scale / 1000)
    place, near = np.zeros(len(ends), dtype=np.int64), np.union1d(first, second)
    place[near[np.lexsort([key[row[near]] for key in keys])]] = np.arange(len(near))
    yields = place[first] > place[second]  # only the lesser of two can give way
    first, second = first[yields], second[yields]
    stays = np.ones(len(ends), dtype=bool)
    stays[some] = _given_way(ends[some], row[first], row[second], pieces, lambda state: note(state, some))
    others = ends.copy()
    others[some] = bridged(ends[some], pieces.straight, reach[some])
    pairs = first, second
    return without_gaps(ends, others, stays, place, reach, pairs, readable=readable, scale=scale, note=note)


def _half(
    ends: np.ndarray, first: np.ndarray, second: np.ndarray, along: np.ndarray, pieces: Whole
) -> np.ndarray:
    """Pairs of which half of the first, at least, runs beside the whole line of the second."""
    length = np.hypot(*(ends[first, 1] - ends[first, 0]).T)
    return np.asarray(_sums(first * len(ends) + pieces.line[second], along) >= SHARE * length)


def _sums(key: np.ndarray, values: np.ndarray) -> np.ndarray:
    """For each of some values the sum of those with the same key."""
    number = np.unique(key, return_inverse=True)[1].ravel()
    return np.asarray(np.bincount(number, values)[number])


def _given_way(
    ends: np.ndarray, first: np.ndarray, second: np.ndarray, pieces: Whole, note: Note
) -> np.ndarray:
    """Which lines stay if each *first* gives way to its *second*, those that bend as a whole."""
    stays = _settled(len(ends), first, second)
    note(stays)
    if not pieces.bends.any():
        note(3 * stays)  # as below, where each stays or goes by itself
        return stays
    alone = len(ends) + np.arange(len(ends))
    line = np.unique(np.where(pieces.bends, pieces.joined, alone), return_inverse=True)[1].ravel()
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    whole = _wholly(stays, line, length)
    free = (whole | ~stays)[first] & (whole | ~stays)[second]  # what goes as a whole makes nothing give way
    stays = _settled(len(ends), first[free], second[free])
    note(2 * stays + whole)
    return _wholly(stays, line, length) & whole


def _wholly(stays: np.ndarray, line: np.ndarray, length: np.ndarray) -> np.ndarray:
    """The same for whole lines: one goes if pieces that make up half its length would."""
    gone, total = np.bincount(line, length * ~stays), np.bincount(line, length)
    return np.asarray(~((gone >= SHARE * total) & (gone > 0))[line])


def _keys(
    ends: np.ndarray, width: np.ndarray, rank: np.ndarray, pieces: Whole, long: float
) -> list[np.ndarray]:
    """What sorts lines, the last first, from the one that stays before all to that which yields to all."""
    low, high, longest = spans(ends, pieces.line)
    (across, up), own = ((low + high) / 2).T, ends.mean(axis=1)
    several = np.bincount(pieces.outline)[pieces.outline] > np.bincount(pieces.line)[pieces.line]
    bottom = np.where(several, spans(ends, pieces.outline)[0][:, 1], up)  # a line by itself has its middle
    return [own[:, 0], own[:, 1], across, np.round(up, 3), np.round(bottom, 3), longest < long, -rank, -width]


def _beside(ends: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pairs (a, b) where some of a runs beside b, nearer than the greater of their reaches, and how much."""
    right, up = (ends[:, 1, k] - ends[:, 0, k] for k in (0, 1))
    bearing = np.degrees(np.arctan2(up, right)) % 180.0
    line = np.flatnonzero((right != 0) | (up != 0))
    turn = (bearing[line] // (180.0 / BINS)).astype(np.int64) % BINS
    line, start = line[in_order(turn)], starts(turn, BINS)
    turned = [line[start[number] : start[number + 1]] for number in range(BINS)]
    found = [(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))]
    for number, own in enumerate(turned):  # lines of a turn are held against one another and the turn before
        some = np.concatenate([own, turned[number - 1]])
        level = _levelled(ends[some], 180.0 / BINS * number)
        for one, other in _meeting(level, len(own), float(reach.max()) / 2):
            a, b = some[one], some[other]
            apart = np.abs((bearing[a] - bearing[b] + 90.0) % 180.0 - 90.0)
            near = np.flatnonzero(apart <= PARALLEL)
            one, other = np.concatenate([one[near], other[near]]), np.concatenate([other[near], one[near]])
            a, b = some[one], some[other]
            along = _along(level, one, other, np.maximum(reach[a], reach[b]))
            close = np.flatnonzero(along > 0)
            found.append((a[close], b[close], along[close]))
    a, b, along = (np.concatenate(part) for part in zip(*found, strict=True))
    return a, b, np.round(along / EXACT) * EXACT


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


def _along(level: np.ndarray, a: np.ndarray, b: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """How much of each line a lies beside line b within reach [m]."""
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
    return np.where(distance < reach * (1 - 1e-9), np.maximum(end - begin, 0.0), 0.0)


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
