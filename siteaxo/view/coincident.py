"""
Lines that fall on one another on the page: the nearer is kept.

Dashes are entered in every bin of direction that they may have and, seen along the
middle direction of that bin, in every bin of offset that they touch; within a bin a
sweep along the line finds overlaps, which are then verified. At equal depth, and among the
facets of one curve, the kind decides, then rank, then order.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..ragged import spread
from .dashes import Dashes, Doubles, PageEdges, complement
from .tolerance import GRID, Tolerance

BINS: Final = 3000  # of direction, over half a turn
ANGLE_BIN: Final = np.pi / BINS  # [radians]
OFFSET_BIN: Final = 0.05  # [m]
OFFSETS: Final = 1 << 40  # more than there are bins of offset
CHUNK: Final = 1 << 17  # dashes entered at once
MOST_SWING: Final = 2 * ANGLE_BIN  # of short lines, which would enter very many bins [radians]


def without_doubles(
    dashes: Dashes, edges: PageEdges, priority: np.ndarray, tolerance: Tolerance
) -> tuple[Dashes, np.ndarray]:
    """
    Take away what lies on a nearer dash.

    Parameters
    ----------
    dashes : Dashes
        Visible dashes.
    edges : PageEdges
        Their edges.
    priority : ndarray of int, shape (d,)
        Which of two at equal depth is kept; unequal for any two.
    tolerance : Tolerance
        Lines no farther apart than its page length coincide.

    Returns
    -------
    dashes : Dashes
        What is left.
    origin : ndarray of int, shape (n,)
        The dash each comes from.
    """
    return less_doubles(dashes, edges, doubles(dashes, edges, priority, tolerance), tolerance)


def doubles(
    dashes: Dashes,
    edges: PageEdges,
    priority: np.ndarray,
    tolerance: Tolerance,
    *,
    tile: np.ndarray | None = None,
) -> Doubles:
    """
    Find what lies on a nearer dash.

    Parameters
    ----------
    dashes, edges, priority, tolerance
        As for :func:`without_doubles`.
    tile : ndarray of int, shape (d,), optional
        Only dashes of two tiles are compared; all when left out.

    Returns
    -------
    Doubles
        Parts that give way.
    """
    if not len(dashes):
        return Doubles.none()
    length = _length(dashes, edges)
    first, second = _candidates(dashes, edges, tolerance)
    if tile is not None:
        apart = tile[first] != tile[second]
        first, second = first[apart], second[apart]
    first, second, begin, end = _overlaps(dashes, edges, length, first, second, tolerance)
    return _losers(dashes, edges, priority, first, second, begin, end, tolerance)


def less_doubles(
    dashes: Dashes, edges: PageEdges, double: Dashes, tolerance: Tolerance
) -> tuple[Dashes, np.ndarray]:
    """Take away what :func:`doubles` found; returns what :func:`without_doubles` does."""
    losers, place = np.unique(double.edge, return_inverse=True)
    covered = Dashes(edge=place, begin=double.begin, end=double.end)
    bare, _ = complement(covered, _length(dashes.take(losers), edges), tolerance.dash)
    origin = losers[bare.edge]
    start, span = dashes.begin[origin], dashes.end[origin] - dashes.begin[origin]
    whole = np.ones(len(dashes), dtype=bool)
    whole[losers] = False
    rest = np.flatnonzero(whole)
    order = np.argsort(np.concatenate([rest, origin]), kind="stable")
    begin = np.where(bare.begin == 0, start, start + bare.begin * span)
    end = np.where(bare.end == 1, dashes.end[origin], start + bare.end * span)
    origin = np.concatenate([rest, origin])[order]
    return Dashes(
        edge=dashes.edge[origin],
        begin=np.concatenate([dashes.begin[rest], begin])[order],
        end=np.concatenate([dashes.end[rest], end])[order],
    ), origin


def _length(dashes: Dashes, edges: PageEdges) -> np.ndarray:
    return (dashes.end - dashes.begin) * edges.length[dashes.edge]


def _candidates(dashes: Dashes, edges: PageEdges, tolerance: Tolerance) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of dashes that may lie on one line and overlap."""
    found = []
    for cut in range(0, len(dashes), CHUNK):
        rows = np.arange(cut, min(cut + CHUNK, len(dashes)))
        entry, key = _entries(dashes.take(rows).xy(edges), tolerance)
        found.append((rows[entry], key))
    entry, key = (np.concatenate(column) for column in zip(*found, strict=True))
    crowd = _crowded(key)
    entry, key = entry[crowd], key[crowd]
    cosine, sine = _direction((key + OFFSETS // 2) // OFFSETS)
    xy = dashes.take(entry).xy(edges)
    one, other = (xy[:, k, 0] * cosine + xy[:, k, 1] * sine for k in (0, 1))
    low, high = _between(one, other, tolerance.page)
    return _sweep(entry, key, low, high)


def _entries(xy: np.ndarray, tolerance: Tolerance) -> tuple[np.ndarray, np.ndarray]:
    """Every bin of direction and offset that each line may have: its row, and the bin."""
    right, up = xy[:, 1, 0] - xy[:, 0, 0], xy[:, 1, 1] - xy[:, 0, 1]
    size = np.maximum(np.hypot(right, up), GRID)
    angle = np.mod(np.arctan2(up, right), np.pi)
    swing = _swing(size, tolerance)
    entry, angle_bin = _entered(angle - swing, angle + swing, ANGLE_BIN)
    angle_bin %= BINS
    cosine, sine = _direction(angle_bin)
    one, other = (xy[entry, k, 1] * cosine - xy[entry, k, 0] * sine for k in (0, 1))
    again, offset_bin = _entered(*_between(one, other, tolerance.page), OFFSET_BIN)
    return entry[again], angle_bin[again] * OFFSETS + offset_bin


def _swing(size: np.ndarray, tolerance: Tolerance) -> np.ndarray:
    """How far lines of some lengths may be turned from another that they lie on [radians]."""
    return np.minimum(2 * tolerance.page / size, MOST_SWING)


def _direction(angle_bin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cosine and sine of the middle of bins of direction."""
    middle = (np.arange(BINS) + 0.5) * ANGLE_BIN
    return np.cos(middle)[angle_bin], np.sin(middle)[angle_bin]


def _between(one: np.ndarray, other: np.ndarray, margin: float) -> tuple[np.ndarray, np.ndarray]:
    """The lesser and the greater of two, and a margin."""
    return np.minimum(one, other) - margin, np.maximum(one, other) + margin


def _crowded(key: np.ndarray) -> np.ndarray:
    """Rows whose key another row has too."""
    order = np.argsort(key)
    same = key[order[1:]] == key[order[:-1]]
    crowded = np.zeros(len(key), dtype=bool)
    crowded[order[1:][same]] = crowded[order[:-1][same]] = True
    return np.flatnonzero(crowded)


def _entered(low: np.ndarray, high: np.ndarray, width: float) -> tuple[np.ndarray, np.ndarray]:
    """Every bin that a range touches: the row of the range, and the bin."""
    first, last = np.floor(low / width).astype(np.int64), np.floor(high / width).astype(np.int64)
    count = last - first + 1
    return np.repeat(np.arange(len(low)), count), spread(first, count)


def _sweep(
    entry: np.ndarray, key: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs within a bin whose reaches along the line overlap, each once."""
    order = np.lexsort((low, key))
    entry, key, low, high = (column[order] for column in (entry, key, low, high))
    row = np.arange(len(entry))
    pairs = [np.zeros((0, 2), dtype=np.int64)]
    for shift in range(1, len(entry)):
        row = row[row + shift < len(entry)]
        other = row + shift
        near = (key[row] == key[other]) & (low[other] <= high[row])
        row = row[near]
        if not len(row):
            break
        pairs.append(np.sort(np.column_stack([entry[row], entry[row + shift]]), axis=1))
    found = np.unique(np.concatenate(pairs), axis=0)
    return found[:, 0], found[:, 1]


def _overlaps(
    dashes: Dashes,
    edges: PageEdges,
    length: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    tolerance: Tolerance,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """
    Pairs that do coincide, the longer first, with the overlap as a range along the first.

    Two lines coincide where they are no farther apart than the page tolerance; lines
    that part slowly are one only along the stretch where they run together. Lines that part
    faster than their swings allow are two, whichever bins they have in common by chance.
    """
    swap = length[second] > length[first]
    first, second = np.where(swap, second, first), np.where(swap, first, second)
    line, other = dashes.take(first).xy(edges), dashes.take(second).xy(edges)
    start, along = line[:, 0], line[:, 1] - line[:, 0]
    unit = along / length[first, None]
    local = other - start[:, None]
    across = unit[:, None, 0] * local[:, :, 1] - unit[:, None, 1] * local[:, :, 0]
    reach = (local * unit[:, None]).sum(axis=2)
    begin, end = _together(across, tolerance.page)
    span = reach[:, 1] - reach[:, 0]
    near = np.sort(reach[:, :1] + np.column_stack([begin, end]) * span[:, None], axis=1)
    low, high = np.maximum(near[:, 0], 0.0), np.minimum(near[:, 1], length[first])
    parting = np.abs(across[:, 1] - across[:, 0]) / length[second]
    real = (end > begin) & (high - low > 2 * tolerance.page)
    real &= parting <= _swing(length[first], tolerance) + _swing(length[second], tolerance)
    return first[real], second[real], low[real], high[real]


def _together(across: np.ndarray, margin: float) -> tuple[np.ndarray, np.ndarray]:
    """Range (0 to 1) over which a linear distance stays within a margin of zero."""
    start, change = across[:, 0], across[:, 1] - across[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        bounds = np.sort((np.array([-margin, margin]) - start[:, None]) / change[:, None], axis=1)
    flat = np.abs(change) < GRID * GRID
    begin = np.where(flat, 0.0, np.maximum(bounds[:, 0], 0.0))
    end = np.where(flat, np.where(np.abs(start) <= margin, 1.0, -1.0), np.minimum(bounds[:, 1], 1.0))
    return begin, end


def _losers(
    dashes: Dashes,
    edges: PageEdges,
    priority: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    begin: np.ndarray,
    end: np.ndarray,
    tolerance: Tolerance,
) -> Doubles:
    """Which dash of each pair gives way, and where."""
    line = dashes.take(first).xy(edges)
    along = line[:, 1] - line[:, 0]
    unit = along / np.hypot(*along.T)[:, None]
    ends = line[:, 0][:, None] + np.stack([begin, end], axis=1)[:, :, None] * unit[:, None]
    lead = _depth(dashes, edges, second, ends.mean(axis=1)) - _depth(dashes, edges, first, ends.mean(axis=1))
    apart = (np.abs(lead) > tolerance.depth) & ~_of_one_curve(edges, dashes.edge[first], dashes.edge[second])
    second_wins = np.where(apart, lead > 0, priority[second] > priority[first])
    loser = np.where(second_wins, first, second)
    line = dashes.take(loser).xy(edges)
    start, step = line[:, 0], line[:, 1] - line[:, 0]
    square = (step**2).sum(axis=1)
    share = ((ends - start[:, None]) * step[:, None]).sum(axis=2) / square[:, None]
    share = np.sort(share, axis=1)
    snap = tolerance.page / np.sqrt(square)
    low, high = share[:, 0], share[:, 1]
    return Doubles(
        edge=loser,
        begin=np.where(low <= snap, 0.0, low),
        end=np.where(high >= 1 - snap, 1.0, high),
        over=first + second - loser,
    )


def _of_one_curve(edges: PageEdges, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Edges between facets of one curve, which lie near its outline behind one another: no seam hides it."""
    return edges.smooth[one] & edges.smooth[other] & (edges.solid[one] == edges.solid[other])


def _depth(dashes: Dashes, edges: PageEdges, rows: np.ndarray, xy: np.ndarray) -> np.ndarray:
    """Depth of dashes at page points on them."""
    edge = dashes.edge[rows]
    ends = edges.xy.take(edge, axis=0)
    start, step = ends[:, 0], ends[:, 1] - ends[:, 0]
    share = ((xy - start) * step).sum(axis=1) / (step**2).sum(axis=1)
    return edges.depth[edge, 0] + share * (edges.depth[edge, 1] - edges.depth[edge, 0])
