"""
Lines that fall on one another on the page: the nearer is kept.

Dashes are binned by direction and distance from the origin, with those near the rim of
a bin entered on both sides of it; within a bin a sweep along the line finds overlaps,
which are then verified. At equal depth the kind decides, then rank, then order.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from .dashes import Dashes, PageEdges, complement
from .tolerance import GRID, Tolerance

ANGLE_BIN: Final = 1e-3  # [radians]
OFFSET_BIN: Final = 0.05  # [m]
BRANCH: Final = 0.2345  # directions are counted from here, where few lines lie [radians]


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
    first, second = _candidates(xy, dashes, edges, tolerance)
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


def _candidates(
    xy: np.ndarray, dashes: Dashes, edges: PageEdges, tolerance: Tolerance
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of dashes that may lie on one line and overlap."""
    whole = edges.xy[dashes.edge, 1] - edges.xy[dashes.edge, 0]
    size = np.maximum(np.hypot(*whole.T), GRID)
    angle = np.mod(np.arctan2(whole[:, 1], whole[:, 0]) - BRANCH, np.pi)
    along = np.column_stack([np.cos(angle + BRANCH), np.sin(angle + BRANCH)])
    middle = xy.mean(axis=1)
    offset = along[:, 0] * middle[:, 1] - along[:, 1] * middle[:, 0]
    reach = np.sort((xy * along[:, None]).sum(axis=2), axis=1)
    swing = np.minimum(2 * (GRID + tolerance.page) / size, ANGLE_BIN / 2)
    slack = 2 * tolerance.page + 2 * GRID / size * np.hypot(*middle.T)
    entry, angle_bin, sign = _angle_bins(angle, swing)
    entry, angle_bin, sign, offset_bin = _offset_bins(entry, angle_bin, sign, offset, slack)
    low = np.where(sign > 0, reach[entry, 0], -reach[entry, 1])
    high = np.where(sign > 0, reach[entry, 1], -reach[entry, 0])
    return _sweep(entry, angle_bin, offset_bin, low, high + slack[entry])


def _angle_bins(angle: np.ndarray, swing: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Bins of directions, both where a direction is near a rim; a line may also count as reversed."""
    rows = np.arange(len(angle))
    below, above = np.flatnonzero(angle < swing), np.flatnonzero(angle > np.pi - swing)
    entry = np.concatenate([rows, below, above])
    turned = np.concatenate([angle, angle[below] + np.pi, angle[above] - np.pi])
    sign = np.concatenate([np.ones(len(rows)), -np.ones(len(below) + len(above))])
    low = np.floor((turned - swing[entry]) / ANGLE_BIN).astype(np.int64)
    high = np.floor((turned + swing[entry]) / ANGLE_BIN).astype(np.int64)
    again = np.flatnonzero(high > low)
    pick = np.concatenate([np.arange(len(entry)), again])
    return entry[pick], np.concatenate([low, high[again]]), sign[pick]


def _offset_bins(
    entry: np.ndarray, angle_bin: np.ndarray, sign: np.ndarray, offset: np.ndarray, slack: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    moved = offset[entry] * sign
    margin = np.minimum(slack[entry], OFFSET_BIN / 2)
    low = np.floor((moved - margin) / OFFSET_BIN).astype(np.int64)
    high = np.floor((moved + margin) / OFFSET_BIN).astype(np.int64)
    again = np.flatnonzero(high > low)
    pick = np.concatenate([np.arange(len(entry)), again])
    return entry[pick], angle_bin[pick], sign[pick], np.concatenate([low, high[again]])


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
    """Pairs that do coincide, the longer first, with the overlap as a range along the first."""
    swap = length[second] > length[first]
    first, second = np.where(swap, second, first), np.where(swap, first, second)
    start, along = xy[first, 0], xy[first, 1] - xy[first, 0]
    unit = along / length[first, None]
    local = xy[second] - start[:, None]
    across = np.abs(unit[:, None, 0] * local[:, :, 1] - unit[:, None, 1] * local[:, :, 0])
    reach = np.sort((local * unit[:, None]).sum(axis=2), axis=1)
    begin, end = np.maximum(reach[:, 0], 0.0), np.minimum(reach[:, 1], length[first])
    real = (across <= tolerance.page).all(axis=1) & (end - begin > 2 * tolerance.page)
    return first[real], second[real], begin[real], end[real]


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
