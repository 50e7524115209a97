"""
Stubs: short lines of steps that led on to others, where these have given way.

The rule
    A line of a flight that is shorter than 1 mm on paper leaves with what it led on to: where
    lines met one of its ends within 0.1 mm and none of them is drawn, it is left out too, unless
    it is part of a longer line without a corner. What led on to it leaves in turn.
    So a step whose edge is thinned out leaves whole, with the ends of its tread and riser.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..angles import cos_deg
from ..solids.linked import linked
from .specks import SPECK_MM, TOUCH_MM

BEND: Final = 16.0  # lines that turn by less go on as one, such as chords of a circle [degrees]


def no_stubs(ends: np.ndarray, drawn: np.ndarray, steps: np.ndarray, *, scale: float) -> np.ndarray:
    """
    Leave out what led on to lines that have given way.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points of straight lines on the page [m].
    drawn : ndarray of bool, shape (n,)
        Which of them have not given way.
    steps : ndarray of bool, shape (n,)
        Which of them belong to flights.
    scale : float
        The x of 1:x.

    Returns
    -------
    ndarray of bool, shape (n,)
        Which of them are still drawn.

    Examples
    --------
    A tread 4 m wide with a riser at its right end, beside another that has given way:

    >>> lines = [[[0, 0], [4, 0]], [[4, 0], [4, 0.15]], [[4, 0.15], [4, 3]]]
    >>> drawn, steps = np.array([True, True, False]), np.ones(3, dtype=bool)
    >>> no_stubs(np.array(lines), drawn, steps, scale=500).tolist()
    [True, False, False]
    """
    mm = scale / 1000
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    short = np.flatnonzero(steps & drawn & (length < SPECK_MM * mm))
    if drawn.all() or not len(short):
        return drawn
    tips = shapely.STRtree(shapely.points(ends[short].reshape(-1, 2)))  # far fewer than lines
    gone = np.flatnonzero(~drawn)
    reach = TOUCH_MM * mm
    if not len(tips.query(shapely.linestrings(ends[gone]), predicate="dwithin", distance=reach)[1]):
        return drawn
    line, tip = tips.query(shapely.linestrings(ends), predicate="dwithin", distance=reach)
    other = line != short[tip // 2]
    line, tip = line[other], tip[other]
    along = (ends[:, 1] - ends[:, 0]) / np.where(length > 0, length, 1.0)[:, None]
    runs_on = np.abs((along[line] * along[short[tip // 2]]).sum(axis=1)) > cos_deg(BEND)
    place = np.full(len(ends), -1)
    place[short] = np.arange(len(short))
    joined = runs_on & (place[line] >= 0)
    whole = linked(len(short), tip[joined] // 2, place[line[joined]])
    long = np.bincount(whole, length[short], len(short)) >= SPECK_MM * mm
    met = np.bincount(tip, minlength=2 * len(short)) > 0
    stays = drawn.copy()
    while True:  # each time round at least one leaves
        there = stays[line]
        lost = met & (np.bincount(tip[there], minlength=len(met)) == 0) & np.repeat(stays[short], 2)
        on = long.copy()
        on[whole[tip[there & runs_on & (place[line] < 0)] // 2]] = True
        stub = np.bincount(whole, lost.reshape(-1, 2).any(axis=1), len(short)) > 0
        stub = (stub & ~on)[whole]
        if not stub.any():
            return stays
        stays[short[stub]] = False
