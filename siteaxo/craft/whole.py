"""
Whole lines: which pieces are one line, straight or bending, and where such a line lies.

The rule
    Pieces of one thing are one line where they go on as one another without a corner, and where they
    lie along one straight line, whatever hides or crosses it in between.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..angles import cos_deg
from ..solids.edges import hashed
from ..solids.linked import linked
from ..view.order import in_order

CORNER: Final = 30.0  # pieces that turn by more are not one line [degrees]
BEND: Final = 1.0  # pieces that turn by less are one straight line [degrees]
JOINED: Final = 1e-4  # ends nearer than about this are one [m]
MEETING: Final = 4  # where more ends of one line meet, none goes on as another
TURNED: Final = 0.1  # pieces along one straight line differ in bearing by less, about [degrees]
ASIDE: Final = 0.004  # and lie no farther beside it, about [m]


@dataclass(frozen=True, kw_only=True)
class Whole:
    """
    The line that each of some pieces is part of.

    Parameters
    ----------
    straight : ndarray of int, shape (n,)
        Number of the straight line that a piece lies along.
    line : ndarray of int, shape (n,)
        Number of the whole line, straight or bending.
    joined : ndarray of int, shape (n,)
        Number of what is joined end to end.
    bends : ndarray of bool, shape (n,)
        Whether the pieces joined so bend, one from another.
    outline : ndarray of int, shape (n,)
        Number of the outline that whole lines make which meet, at corners or not.
    """

    straight: np.ndarray
    line: np.ndarray
    joined: np.ndarray
    bends: np.ndarray
    outline: np.ndarray


def whole_lines(ends: np.ndarray, owner: np.ndarray | None) -> Whole:
    """
    Number whole lines.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points [m].
    owner : ndarray of int, shape (n,), or None
        Number of what each piece belongs to; every piece is by itself when None.

    Returns
    -------
    Whole

    Examples
    --------
    >>> pieces = np.array([[[0, 0], [4, 0]], [[6, 0], [9, 0]], [[0, 1], [9, 1]]], dtype=float)
    >>> whole_lines(pieces, np.zeros(3, dtype=int)).line.tolist()
    [0, 0, 1]
    """
    count = len(ends)
    if owner is None or not count:
        each = np.arange(count)
        return Whole(straight=each, line=each, joined=each, bends=np.zeros(count, dtype=bool), outline=each)
    own = np.unique(owner, return_inverse=True)[1].ravel()
    node = _numbered(np.repeat(own, 2), *np.round(ends.reshape(-1, 2) / JOINED).T)
    one, other, cosine = _joints(ends, node)
    joined = linked(count, one, other)
    bent = np.bincount(joined[one], cosine < cos_deg(BEND), minlength=count) > 0
    straight = linked(count, *_along_one(ends, own, 0.0))
    line = linked(count, np.r_[one, np.arange(count)], np.r_[other, straight])
    at = in_order(node)
    same = np.flatnonzero(np.diff(node[at]) == 0)
    outline = linked(count, np.r_[at[same] // 2, np.arange(count)], np.r_[at[same + 1] // 2, line])
    line = np.unique(line, return_inverse=True)[1].ravel()
    return Whole(straight=straight, line=line, joined=joined, bends=bent[joined], outline=outline)


def _joints(ends: np.ndarray, node: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pieces that go on as one another without a corner, and the cosine of how far they turn."""
    order = in_order(node)
    order = order[np.bincount(node)[node[order]] <= MEETING]
    at = node[order]
    met = [(np.flatnonzero(at[step:] == at[:-step]), step) for step in range(1, MEETING)]
    one = np.concatenate([order[rows] for rows, _ in met])
    other = np.concatenate([order[rows + step] for rows, step in met])
    away = (ends[:, ::-1] - ends).reshape(-1, 2)
    away /= np.maximum(np.hypot(*away.T), JOINED)[:, None]
    cosine = -(away.take(one, axis=0) * away.take(other, axis=0)).sum(axis=1)
    on = np.flatnonzero(cosine >= cos_deg(CORNER))
    return one[on] // 2, other[on] // 2, cosine[on]


def _along_one(ends: np.ndarray, owner: np.ndarray, zero: float) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of pieces of one thing that lie along one straight line, enough to link all of them."""
    way, bearing = _ways(ends, zero)
    aside = _aside(ends, owner, way)
    pairs = []
    for turn, off in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):  # what lies near shares a cell
        cell = _numbered(owner, np.floor(bearing / TURNED + turn), np.floor(aside / ASIDE + off))
        order = in_order(cell)
        same = np.flatnonzero(np.diff(cell[order]) == 0)
        pairs.append((order[same], order[same + 1]))
    turns = np.flatnonzero(np.minimum(bearing, 180.0 - bearing) < TURNED)
    if zero == 0.0 and len(turns):  # whose bearings may be either side of where they are counted from
        pairs.append(tuple(turns[row] for row in _along_one(ends[turns], owner[turns], 90.0)))
    one, other = (np.concatenate(each) for each in zip(*pairs, strict=True))
    return one, other


def _ways(ends: np.ndarray, zero: float) -> tuple[np.ndarray, np.ndarray]:
    """Directions of pieces, whichever way they run, (n, 2), and their bearings from *zero* [degrees]."""
    step = ends[:, 1] - ends[:, 0]
    bearing = (np.degrees(np.arctan2(step[:, 1], step[:, 0])) - zero) % 180.0
    turn = np.radians(bearing + zero)
    return np.column_stack([np.cos(turn), np.sin(turn)]), bearing


def _aside(ends: np.ndarray, owner: np.ndarray, way: np.ndarray) -> np.ndarray:
    """How far the line of each piece runs beside the middle of its thing [m]."""
    many, middle = np.bincount(owner), ends.mean(axis=1)
    home = np.column_stack([np.bincount(owner, middle[:, k]) / np.maximum(many, 1) for k in (0, 1)])
    off = middle - home[owner]
    return np.asarray(off[:, 1] * way[:, 0] - off[:, 0] * way[:, 1])


def _numbered(*columns: np.ndarray) -> np.ndarray:
    """Number of each row of whole numbers, equal rows alike."""
    name = hashed([column.astype(np.int64) for column in columns])
    return np.unique(name, return_inverse=True)[1].ravel()


def spans(ends: np.ndarray, line: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Corners of the box about each piece's whole line, and the length of its longest piece.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points [m].
    line : ndarray of int, shape (n,)
        Numbers of whole lines.

    Returns
    -------
    low, high, longest : ndarray, shapes (n, 2), (n, 2) and (n,)
        [m]

    Examples
    --------
    >>> low, high, longest = spans(np.array([[[0, 0], [4, 0]], [[6, 0], [9, 0]]]), np.zeros(2, dtype=int))
    >>> low.tolist(), high.tolist(), longest.tolist()
    ([[0, 0], [0, 0]], [[9, 0], [9, 0]], [4.0, 4.0])
    """
    if not len(ends):
        return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0)
    order = in_order(line)
    start = np.flatnonzero(np.diff(line[order], prepend=-1))
    low = np.minimum.reduceat(ends.min(axis=1)[order], start)
    high = np.maximum.reduceat(ends.max(axis=1)[order], start)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    place = np.empty(len(ends), dtype=np.int64)
    place[order] = np.repeat(np.arange(len(start)), np.diff(np.append(start, len(order))))
    return low[place], high[place], np.maximum.reduceat(length[order], start)[place]


def bridged(ends: np.ndarray, straight: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """
    Pieces of straight lines drawn out to the middle of the gaps between them, where these are short.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points [m].
    straight : ndarray of int, shape (n,)
        Number of the straight line that each lies along.
    reach : ndarray, shape (n,)
        Gaps no longer than this are bridged [m].

    Returns
    -------
    ndarray, shape (n, 2, 2)

    Examples
    --------
    >>> pieces = np.array([[[0, 0], [4, 0]], [[4.2, 0], [9, 0]]], dtype=float)
    >>> bridged(pieces, np.zeros(2, dtype=int), np.full(2, 0.5))[:, :, 0].tolist()
    [[0.0, 4.1], [4.1, 9.0]]
    """
    found = ends.copy()
    some = np.flatnonzero(np.bincount(straight, minlength=1)[straight] > 1)
    if not len(some):
        return found
    _, first, own = np.unique(straight[some], return_index=True, return_inverse=True)
    way = _ways(ends[some], 0.0)[0][first][own]
    along = (ends[some] * way[:, None]).sum(axis=2)
    last = np.argmax(along, axis=1)
    order = np.lexsort((along.min(axis=1), own))
    one, other = order[:-1], order[1:]
    gap = along.min(axis=1)[other] - along.max(axis=1)[one]
    short = (own[one] == own[other]) & (gap > 0) & (gap <= np.minimum(reach[some[one]], reach[some[other]]))
    one, other = one[short], other[short]
    before, after = (some[one], last[one]), (some[other], 1 - last[other])
    middle = (ends[before] + ends[after]) / 2
    found[before], found[after] = middle, middle
    return found
