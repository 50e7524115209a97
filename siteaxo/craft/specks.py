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
        spots, distance = ends[short].reshape(-1, 2), TOUCH_MM * scale / 1000
        lines = ends[kept]
        lines = shapely.linestrings(lines[_may_meet(lines, spots, distance)])
        tree = shapely.STRtree(shapely.points(spots))  # far fewer than lines
        near = tree.query(lines, predicate="dwithin", distance=distance)[1]
        kept[short[np.unique(near) // 2]] = True
    return kept


def _may_meet(ends: np.ndarray, spots: np.ndarray, distance: float) -> np.ndarray:
    """
    Which lines have a spot in the cells that their boxes touch.

    The page is a grid of about four times as many cells as lines, of which each knows how many spots lie
    in it or left of and below it.
    """
    many = 2 * int(np.sqrt(len(ends))) + 1
    low, high, wide = spots.min(axis=0), spots.max(axis=0), many + 4
    side = max(float((high - low).max()) / many, distance)

    def cell(xy: np.ndarray) -> np.ndarray:
        return (np.clip((xy - low) / side, -1.0, many + 1) + 2).astype(np.int64)

    right, up = cell(spots).T
    count = np.bincount(right * wide + up, minlength=wide * wide).reshape(wide, wide)
    below = count.cumsum(axis=0).cumsum(axis=1).ravel()
    left, bottom = cell(np.minimum(ends[:, 0], ends[:, 1]) - distance).T - 1
    right, top = cell(np.maximum(ends[:, 0], ends[:, 1]) + distance).T
    outer, inner = below[right * wide + top], below[left * wide + bottom]
    return np.asarray(outer - below[left * wide + top] - below[right * wide + bottom] + inner > 0)
