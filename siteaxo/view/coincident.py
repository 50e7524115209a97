"""
Lines that fall on one another on the page: the nearer is kept.

Dashes are entered in every bin of direction that they may have and, seen along the
middle direction of that bin, in every bin of offset that they touch; within a bin a
sweep along the line finds overlaps, which are then verified. At equal depth the kind
decides, then rank, then order.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..solids.faces import spread
from .dashes import Dashes, PageEdges, complement
from .tolerance import GRID, Tolerance

BINS: Final = 3000  # of direction, over half a turn
ANGLE_BIN: Final = np.pi / BINS  # [radians]
OFFSET_BIN: Final = 0.05  # [m]
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
    if not len(dashes):
        return dashes, np.zeros(0, dtype=np.int64)
    xy, length = dashes.xy(edges), _length(dashes, edges)
    first, second = _candidates(xy, tolerance)
    first, second, begin, end = _overlaps(xy, length, first, second, tolerance)
    loser, low, high = _losers(dashes, edges, xy, priority, first, second, begin, end, tolerance)
    covered = Dashes(edge=loser, begin=low, end=high)
    bare, _ = complement(covered, length, tolerance.dash)
    span = dashes.end - dashes.begin
    origin = bare.edge
    return (
        Dashes(
            edge=dashes.edge[origin],
            begin=np.where(
                bare.begin == 0, dashes.begin[origin], dashes.begin[origin] + bare.begin * span[origin]
            ),
            end=np.where(bare.end == 1, dashes.end[origin], dashes.begin[origin] + bare.end * span[origin]),
        ),
        origin,
    )


def _length(dashes: Dashes, edges: PageEdges) -> np.ndarray:
    return (dashes.end - dashes.begin) * edges.length[dashes.edge]


def _candidates(xy: np.ndarray, tolerance: Tolerance) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of dashes that may lie on one line and overlap."""
    step = xy[:, 1] - xy[:, 0]
    size = np.maximum(np.hypot(step[:, 0], step[:, 1]), GRID)
    angle = np.mod(np.arctan2(step[:, 1], step[:, 0]), np.pi)
    swing = np.minimum(2 * tolerance.page / size, MOST_SWING)
    entry, angle_bin = _entered(angle - swing, angle + swing, ANGLE_BIN)
    angle_bin %= BINS
    direction = (angle_bin + 0.5) * ANGLE_BIN
    along = np.column_stack([np.cos(direction), np.sin(direction)])
    offset = xy[entry, :, 1] * along[:, None, 0] - xy[entry, :, 0] * along[:, None, 1]
    reach = (xy[entry] * along[:, None]).sum(axis=2)
    margin = tolerance.page
    again, offset_bin = _entered(offset.min(axis=1) - margin, offset.max(axis=1) + margin, OFFSET_BIN)
    low, high = reach.min(axis=1) - margin, reach.max(axis=1) + margin
    return _sweep(entry[again], angle_bin[again], offset_bin, low[again], high[again])


def _entered(low: np.ndarray, high: np.ndarray, width: float) -> tuple[np.ndarray, np.ndarray]:
    """Every bin that a range touches: the row of the range, and the bin."""
    first, last = np.floor(low / width).astype(np.int64), np.floor(high / width).astype(np.int64)
    count = last - first + 1
    return np.repeat(np.arange(len(low)), count), spread(first, count)


def _sweep(
    entry: np.ndarray, angle_bin: np.ndarray, offset_bin: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs within a bin whose reaches along the line overlap, each once."""
    order = np.lexsort((low, offset_bin, angle_bin))
    entry, angle_bin, offset_bin, low, high = (
        column[order] for column in (entry, angle_bin, offset_bin, low, high)
    )
    row = np.arange(len(entry))
    pairs = [np.zeros((0, 2), dtype=np.int64)]
    for shift in range(1, len(entry)):
        row = row[row + shift < len(entry)]
        other = row + shift
        near = (
            (angle_bin[row] == angle_bin[other])
            & (offset_bin[row] == offset_bin[other])
            & (low[other] <= high[row])
        )
        row = row[near]
        if not len(row):
            break
        pairs.append(np.sort(np.column_stack([entry[row], entry[row + shift]]), axis=1))
    found = np.unique(np.concatenate(pairs), axis=0)
    return found[:, 0], found[:, 1]


def _overlaps(
    xy: np.ndarray, length: np.ndarray, first: np.ndarray, second: np.ndarray, tolerance: Tolerance
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """
    Pairs that do coincide, the longer first, with the overlap as a range along the first.

    Two lines coincide where they are no farther apart than the page tolerance; lines
    that part slowly are one only along the stretch where they run together.
    """
    swap = length[second] > length[first]
    first, second = np.where(swap, second, first), np.where(swap, first, second)
    start, along = xy[first, 0], xy[first, 1] - xy[first, 0]
    unit = along / length[first, None]
    local = xy[second] - start[:, None]
    across = unit[:, None, 0] * local[:, :, 1] - unit[:, None, 1] * local[:, :, 0]
    reach = (local * unit[:, None]).sum(axis=2)
    begin, end = _together(across, tolerance.page)
    span = reach[:, 1] - reach[:, 0]
    near = np.sort(reach[:, :1] + np.column_stack([begin, end]) * span[:, None], axis=1)
    low, high = np.maximum(near[:, 0], 0.0), np.minimum(near[:, 1], length[first])
    real = (end > begin) & (high - low > 2 * tolerance.page)
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
    xy: np.ndarray,
    priority: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    begin: np.ndarray,
    end: np.ndarray,
    tolerance: Tolerance,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which dash of each pair gives way, and the range (0 to 1) of it that does."""
    along = xy[first, 1] - xy[first, 0]
    unit = along / np.hypot(*along.T)[:, None]
    ends = xy[first, 0][:, None] + np.stack([begin, end], axis=1)[:, :, None] * unit[:, None]
    lead = _depth(dashes, edges, second, ends.mean(axis=1)) - _depth(dashes, edges, first, ends.mean(axis=1))
    second_wins = np.where(np.abs(lead) > tolerance.depth, lead > 0, priority[second] > priority[first])
    loser = np.where(second_wins, first, second)
    start, step = xy[loser, 0], xy[loser, 1] - xy[loser, 0]
    square = (step**2).sum(axis=1)
    share = ((ends - start[:, None]) * step[:, None]).sum(axis=2) / square[:, None]
    share = np.sort(share, axis=1)
    snap = tolerance.page / np.sqrt(square)
    low, high = share[:, 0], share[:, 1]
    return loser, np.where(low <= snap, 0.0, low), np.where(high >= 1 - snap, 1.0, high)


def _depth(dashes: Dashes, edges: PageEdges, rows: np.ndarray, xy: np.ndarray) -> np.ndarray:
    """Depth of dashes at page points on them."""
    edge = dashes.edge[rows]
    start, step = edges.xy[edge, 0], edges.xy[edge, 1] - edges.xy[edge, 0]
    share = ((xy - start) * step).sum(axis=1) / (step**2).sum(axis=1)
    return edges.depth[edge, 0] + share * (edges.depth[edge, 1] - edges.depth[edge, 0])
