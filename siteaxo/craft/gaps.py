"""
No gaps: what gives way to a line is drawn again where that line is too far off to stand for it.

The rule
    A line may be left out only where it runs beside one that is drawn, within the distance that
    thins them out (see :mod:`.thinning`); past its ends a line stands for others for a fifth of
    that. Of those that reach farther the strongest is drawn again, as a whole, then the next that
    still reaches farther than all that are drawn, until none does. So of lines that run together
    for a while at least one is drawn everywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import shapely

from .coarse import may_lie_near
from .covering import bare
from .trace import Note, unnoted

SLACK: Final = 0.05
"""Shortest part of a line that is missed, as a share of the distance that thins out [-]."""
PAST: Final = 0.2
"""How far past its ends a line stands for others, as a share of that distance [-]."""
LOCAL_MM: Final = 10.0
"""Whether a line can be read follows from those no farther away [mm]."""
CHUNK: Final = 1 << 16
"""Lines whose neighbours are looked at at once."""
Readable = Callable[[np.ndarray], np.ndarray]
Stretches = tuple[np.ndarray, np.ndarray, np.ndarray]


def within(ends: np.ndarray, others: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Tell what of straight lines lies beside other straight lines, pair by pair.

    Beside a line is what lies within reach of it to either side, and before its beginning or past
    its end by no more than the share ``PAST`` of that. This is a rectangle, so that of each line
    one stretch lies in it.

    Parameters
    ----------
    ends, others : ndarray, shape (n, 2, 2)
        End points [m].
    reach : ndarray, shape (n,)
        Distance [m].

    Returns
    -------
    begin, end : ndarray, shape (n,)
        From the first end of each line [m]; *begin* is above *end* where nothing lies beside.

    Examples
    --------
    >>> line, other = np.array([[[0, 0], [9, 0]]]), np.array([[[2, 3], [4, 3]]])
    >>> [float(at[0]) for at in within(line, other, np.array([5.0]))]
    [1.0, 5.0]
    """
    length, unit = _measured(ends)
    span, along = _measured(others)
    aside = np.column_stack([-along[:, 1], along[:, 0]])
    off = ends[:, 0] - others[:, 0]
    past = np.where(span > 0, PAST * reach, -np.inf)  # nothing lies beside a point
    low, high = _between((off * along).sum(axis=1), (unit * along).sum(axis=1), -past, span + past)
    least, most = _between((off * aside).sum(axis=1), (unit * aside).sum(axis=1), -reach, reach)
    return np.maximum(np.maximum(low, least), 0.0), np.minimum(np.minimum(high, most), length)


def _measured(ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Length and direction of straight lines."""
    step = ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    return length, step / np.where(length > 0, length, 1.0)[:, None]


def _between(
    start: np.ndarray, slope: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """For which t, ``start + slope * t`` lies between two bounds."""
    level = np.abs(slope) < 1e-12
    safe = np.where(level, 1.0, slope)
    one, other = (low - start) / safe, (high - start) / safe
    always = np.where((start >= low) & (start <= high), np.inf, -np.inf)
    return (
        np.where(level, -always, np.minimum(one, other)),
        np.where(level, always, np.maximum(one, other)),
    )


def without_gaps(
    ends: np.ndarray,
    others: np.ndarray,
    stays: np.ndarray,
    place: np.ndarray,
    reach: np.ndarray,
    pairs: tuple[np.ndarray, np.ndarray],
    *,
    readable: Readable | None,
    scale: float,
    note: Note = unnoted,
) -> np.ndarray:
    """
    Leave out what cannot be read, and draw again what nothing stands for then.

    Parameters
    ----------
    ends, others, stays, place, reach
        As for :func:`no_gaps`.
    pairs : tuple of ndarray of int, shape (p,)
        Which lines give way to which.
    readable : callable or None
        Told the rows of lines that would be drawn, says for each whether it is left in; what it
        says of a line follows from those within ``LOCAL_MM``.
    scale : float
        The x of 1:x.
    note : callable
        Told what lines go through (see :mod:`.trace`).

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> lines = np.array([[[0, 0], [9, 0]], [[0, 0.1], [5, 0.1]]])
    >>> how = {"readable": lambda rows: rows != 1, "scale": 200}
    >>> pairs = np.array([0]), np.array([1])
    >>> order, reach = np.array([1, 0]), np.full(2, 0.5)
    >>> without_gaps(lines, lines, np.array([False, True]), order, reach, pairs, **how).tolist()
    [True, False]
    """
    before, lost = stays.copy(), np.zeros(0, dtype=np.int64)
    if readable is not None:
        seen = np.flatnonzero(stays)
        lost = seen[~readable(seen)]
        before[lost] = False
    note(before)
    missed = np.setdiff1d(_missed(ends, others, before, *pairs, reach), lost)
    if readable is not None:
        missed = missed[_read(ends, missed, before, readable, scale)]
    note(np.ones(len(missed)), missed)
    stays = no_gaps(ends, others, before, place, reach, missed, note=note)
    if readable is not None:
        back = np.flatnonzero(stays & ~before)
        stays[back] = _read(ends, back, before, readable, scale)
    note(stays)
    return stays


def _read(
    ends: np.ndarray, some: np.ndarray, others: np.ndarray, readable: Readable, scale: float
) -> np.ndarray:
    """Whether some lines can be read among one another and others."""
    mine = others.copy()
    mine[some] = True
    every = np.flatnonzero(mine)
    every = every[may_lie_near(ends[every], ends[some], LOCAL_MM * scale / 1000)]
    return np.isin(some, every[readable(every)])


def _missed(
    ends: np.ndarray,
    others: np.ndarray,
    stays: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    reach: np.ndarray,
) -> np.ndarray:
    """Lines that have given way, unless they lie within reach of those that they gave way to."""
    rows = np.flatnonzero(~stays[first] & stays[second])
    one, other = first[rows], second[rows]
    near = within(ends[one], others[other], np.maximum(reach[one], reach[other]))
    return np.flatnonzero(~stays & (bare(_measured(ends)[0], one, *near) > SLACK * reach))


def no_gaps(
    ends: np.ndarray,
    others: np.ndarray,
    stays: np.ndarray,
    place: np.ndarray,
    reach: np.ndarray,
    missed: np.ndarray,
    *,
    note: Note = unnoted,
) -> np.ndarray:
    """
    Draw again what has given way to lines that do not lie beside it all along.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points on the page [m].
    others : ndarray, shape (n, 2, 2)
        The same lines as far as they stand for others [m].
    stays : ndarray of bool, shape (n,)
        Lines that are drawn so far.
    place : ndarray of int, shape (n,)
        Order of the lines, the strongest first.
    reach : ndarray, shape (n,)
        How far from each line others give way; of two the greater counts [m].
    missed : ndarray of int, shape (k,)
        Lines among which those to be drawn again are; others are within reach.
    note : callable
        Told when lines are drawn again, the first ones at 1 (see :mod:`.trace`).

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> lines = np.array([[[0, 0], [9, 0]], [[0, 0.1], [5, 0.1]]])
    >>> order, reach, missed = np.array([1, 0]), np.full(2, 0.5), np.array([0])
    >>> no_gaps(lines, lines, np.array([False, True]), order, reach, missed).tolist()
    [True, True]
    """
    stays, old = stays.copy(), np.flatnonzero(stays)
    old = old[may_lie_near(ends[old], ends[missed], (1 + PAST) * float(reach.max(initial=0.0)))]
    length = _measured(ends[missed])[0]
    tree = shapely.STRtree(shapely.linestrings(ends[missed]))
    chunks = [old[row : row + CHUNK] for row in range(0, len(old), CHUNK)]
    found: list[Stretches] = [(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))]
    near = ((chunk, _near(others, chunk, tree, reach)) for chunk in chunks)
    found += [_covered(ends, others, chunk, missed, *pair, reach) for chunk, pair in near]
    one, other = _near(others, missed, tree, reach) if len(missed) else (missed, missed)
    far = np.maximum(reach[missed[one]], reach[missed[other]])
    close = np.flatnonzero(_apart(others[missed[one]], ends[missed[other]]) <= far)
    one, other, times = one[close], other[close], np.zeros(len(ends), dtype=np.int64)
    while True:
        line, begin, end = (np.concatenate(part) for part in zip(*found, strict=True))
        new = ~stays[missed] & (bare(length, line, begin, end) > SLACK * reach[missed])
        if not new.any():
            note(times)
            return stays
        weaker = new[one] & new[other] & (place[missed[one]] > place[missed[other]])
        new[one[weaker]] = False
        stays[missed[new]] = True
        times[missed[new]] = times.max(initial=0) + 1
        mine = new[one]
        found.append(_covered(ends, others, missed, missed, one[mine], other[mine], reach))


def _near(
    ends: np.ndarray, rows: np.ndarray, tree: shapely.STRtree, reach: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Which of some lines lie within the greatest reach, and a little more, of which lines of a tree."""
    far = (1 + PAST) * reach.max()  # so that what lies beside counts in whatever drawing
    by, of = tree.query(shapely.linestrings(ends[rows]), predicate="dwithin", distance=far)
    return by, of


def _apart(ends: np.ndarray, others: np.ndarray) -> np.ndarray:
    """How far lines lie from others, pair by pair [m]."""
    return np.asarray(shapely.distance(shapely.linestrings(ends), shapely.linestrings(others)))


def _covered(
    ends: np.ndarray,
    others: np.ndarray,
    new: np.ndarray,
    missed: np.ndarray,
    by: np.ndarray,
    of: np.ndarray,
    reach: np.ndarray,
) -> Stretches:
    """Stretches of *missed* lines that lie within reach of the *new* ones, pair by pair."""
    far = np.maximum(reach[new[by]], reach[missed[of]])
    begin, end = within(ends[missed[of]], others[new[by]], far)
    return of, begin, end
