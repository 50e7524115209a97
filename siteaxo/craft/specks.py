"""
Specks: what is seen of lines for so short a way that it reads as a dirt mark.

The rule
    Lines that can be followed from one to the next for less than 1 mm on paper are left out, unless
    they lead on to others: an end of theirs lies within 0.1 mm of a line that is drawn.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from .coarse import may_lie_near
from .folds import long_enough

SPECK_MM: Final = 1.0
"""Shortest that is drawn of anything that stands alone [mm]."""
TOUCH_MM: Final = 0.1
"""Ends no farther than this from a line lead on to it [mm]."""


def no_specks(ends: np.ndarray, *, scale: float) -> np.ndarray:
    """
    Tell lines from specks.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points of straight lines on the page [m].
    scale : float
        The x of 1:x.

    Returns
    -------
    ndarray of bool, shape (n,)
        False for specks.

    Examples
    --------
    >>> lines = [[[0, 0], [2, 0]], [[2.01, 0], [2.1, 0]], [[5, 5], [5, 5.1]]]
    >>> no_specks(np.array(lines), scale=200).tolist()
    [True, True, False]
    """
    kept = long_enough(ends, SPECK_MM * scale / 1000)
    short = np.flatnonzero(~kept)
    if len(short) and kept.any():
        reach = TOUCH_MM * scale / 1000
        lines = ends[kept]
        lines = shapely.linestrings(lines[may_lie_near(lines, ends[short], reach)])
        spots = shapely.STRtree(shapely.points(ends[short].reshape(-1, 2)))  # far fewer than lines
        near = spots.query(lines, predicate="dwithin", distance=reach)[1]
        kept[short[np.unique(near) // 2]] = True
    return kept
