"""
Folds of the ground: lines where what lies on it is bent, told from the outlines of what lies there.

The rule
    A fold is drawn in the paler ink of hidden lines, unbroken, so that a mound reads as earth and
    not as something built; where it hides ground behind it, it is as wide as a profile. Only the
    outline of the site is in full ink. A fold that can be followed for less than 8 mm on paper is
    left out: it is a chance of how the ground was surveyed.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..solids.linked import linked
from .amid import beside

LYING: Final = frozenset({"ground", "lawn", "paving", "path", "water"})
"""Roles that follow the ground."""
LEAST_FOLD_MM: Final = 8.0
"""Shortest fold that is drawn, followed from line to line [mm]."""
NEAR: Final = 1e-4  # ends nearer than this are one [m]
SPREAD: Final = np.uint64(0x9E3779B97F4A7C15)  # an odd number whose multiples lie apart
KEYS: Final = ["layer", "source_id"]


def folds(lines: Any, faces: Any) -> np.ndarray:
    """
    Which lines are folds: edges, profiles and feet with a slope of their own feature on either side.

    Parameters
    ----------
    lines : GeoDataFrame, n rows
        With ``layer``, ``source_id``, ``role`` and ``kind``.
    faces : GeoDataFrame
        What is seen of faces, with ``layer``, ``source_id``, ``role`` and ``part``.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    found = np.zeros(len(lines), dtype=bool)
    slope = faces[(faces["part"] == "slope") & faces["role"].isin(LYING)]
    if not len(slope):
        return found
    rows = np.flatnonzero(lines["kind"].isin(("edge", "profile", "foot")) & lines["role"].isin(LYING))
    if not len(rows):
        return found
    shapes = np.asarray(lines.geometry.array, dtype=object)[rows]
    rows, shapes = (each[shapely.get_num_coordinates(shapes) == 2] for each in (rows, shapes))
    code = pd.MultiIndex.from_frame(pd.concat([slope[KEYS], lines[KEYS].iloc[rows]])).factorize()[0]
    ends = shapely.get_coordinates(shapes).reshape(-1, 2, 2)
    found[rows] = True
    for line, face in beside(ends, np.asarray(slope.geometry.array, dtype=object)):
        own = line[code[len(slope) + line] == code[face]]
        found[rows] &= np.isin(np.arange(len(rows)), own)
    return found


def long_enough(ends: np.ndarray, least: float) -> np.ndarray:
    """
    Which lines can be followed for some length from one to the next.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points [m].
    least : float
        The length [m].

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> chain = [[[0, 0], [3, 0]], [[3, 0], [3, 2]], [[9, 9], [9, 12]]]
    >>> long_enough(np.array(chain, dtype=float), 4.0).tolist()
    [True, True, False]
    """
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    enough = length >= least * (1 - 1e-9)
    short = np.flatnonzero(~enough)
    if not len(short):
        return np.asarray(enough)
    across, up = np.moveaxis(np.rint(ends / NEAR).astype(np.int64), -1, 0)
    spot = (across << 32) + up  # apart up to 200 km from the middle of the page
    spots, corner = np.unique(spot[short], return_inverse=True)
    corner = corner.reshape(-1, 2)
    chain = linked(int(corner.max()) + 1, *corner.T)[corner[:, 0]]
    total = np.bincount(chain, length[short])
    met = np.isin(spots, _maybe(spot[enough].ravel(), spots))[corner]
    total[chain[met.any(axis=1)]] = np.inf  # what leads on to a long one
    enough[short] = total[chain] >= least * (1 - 1e-9)
    return np.asarray(enough)


def _maybe(values: np.ndarray, few: np.ndarray) -> np.ndarray:
    """Those of many values that may be among a few: the same place in a small table is taken by one."""
    bits = np.uint64(64 - (8 * len(few)).bit_length())
    place = [(each.view(np.uint64) * SPREAD) >> bits for each in (few, values)]
    taken = np.zeros(1 << (64 - int(bits)), dtype=bool)
    taken[place[0]] = True
    return values[taken[place[1]]]
