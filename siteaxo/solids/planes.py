"""
Levels of tops that may slope: at points, over footprints, and planes through levels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..source.features import Features

FLAT: Final = 1e-9  # a top that rises by less on a metre lies level [-]
ALIKE: Final = 1e-9  # points whose spread across is a smaller share of that along lie on a line [-]


def sloping(features: Features) -> np.ndarray:
    """Whether each top is a plane that falls, shape (n,)."""
    return np.hypot(features.slope_x, features.slope_y) > FLAT


def levels_at(
    features: Features, row: np.ndarray, xy: np.ndarray, top: np.ndarray | None = None
) -> np.ndarray:
    """
    Level of the tops of features at points; sloping ones go on as planes beyond their sides.

    Parameters
    ----------
    features : Features
        The features.
    row : ndarray of int, shape (m,)
        Which feature, for each point.
    xy : ndarray, shape (m, 2)
        Points in the local plane [m].
    top : ndarray, shape (n,), optional
        Levels of all tops, where those of the features are not settled yet [m].

    Returns
    -------
    ndarray, shape (m,)
        Levels [m].
    """
    level = (features.top if top is None else top)[row]
    east, north = xy[:, 0] - features.high_x[row], xy[:, 1] - features.high_y[row]
    return level + features.slope_x[row] * east + features.slope_y[row] * north


def range_over(
    features: Features, row: np.ndarray, place: np.ndarray, top: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Lowest and highest level of tops over places.

    Parameters
    ----------
    features : Features
        The features.
    row : ndarray of int, shape (m,)
        Which feature, for each place.
    place : ndarray of object, shape (m,)
        Geometries in the local plane; over an empty one it is the level *top* [m].
    top : ndarray, shape (n,), optional
        Levels of all tops, where those of the features are not settled yet [m].

    Returns
    -------
    low, high : ndarray, shape (m,)
        Levels [m].
    """
    row = np.asarray(row, dtype=np.int64)
    level = (features.top if top is None else top)[row]
    low, high = level.copy(), level.copy()
    falls = np.flatnonzero(sloping(features)[row] & ~shapely.is_empty(place))
    if not len(falls):
        return low, high
    xy, owner = shapely.get_coordinates(np.asarray(place, dtype=object)[falls], return_index=True)
    at = levels_at(features, row[falls][owner], xy, top)
    low[falls], high[falls] = np.inf, -np.inf
    np.minimum.at(low, falls[owner], at)
    np.maximum.at(high, falls[owner], at)
    return low, high


def excess_over(features: Features, one: np.ndarray, other: np.ndarray, place: np.ndarray) -> np.ndarray:
    """How far tops rise above other tops at most over places; below zero where lower, shape (m,) [m]."""
    excess = features.top[one] - features.top[other]
    falls = np.flatnonzero((sloping(features)[one] | sloping(features)[other]) & ~shapely.is_empty(place))
    if not len(falls):
        return excess
    xy, owner = shapely.get_coordinates(np.asarray(place, dtype=object)[falls], return_index=True)
    over = levels_at(features, one[falls][owner], xy) - levels_at(features, other[falls][owner], xy)
    excess[falls] = -np.inf
    np.maximum.at(excess, falls[owner], over)
    return excess


@dataclass(frozen=True, kw_only=True)
class Fit:
    """
    Planes through levels, by least squares.

    Parameters
    ----------
    middle : ndarray, shape (k, 3)
        Mean of the points of each; the plane passes through it [m].
    slope : ndarray, shape (k, 2)
        Rise per metre east and north; across the line where all points lie on one, it is
        level [-].
    off : ndarray, shape (k,)
        How far the farthest point lies above or below its plane [m].
    """

    middle: np.ndarray
    slope: np.ndarray
    off: np.ndarray


def planes_through(xyz: np.ndarray, owner: np.ndarray, count: int) -> Fit:
    """
    Lay planes through points.

    Parameters
    ----------
    xyz : ndarray, shape (m, 3)
        Points [m].
    owner : ndarray of int, shape (m,)
        The plane each belongs to; every plane has at least one.
    count : int
        Number of planes.

    Returns
    -------
    Fit
        One point gives a level, two give a plane that falls from one to the other.

    Examples
    --------
    >>> points = np.array([[0, 0, 1.0], [4, 0, 2.0], [0, 2, 1.0], [4, 2, 2.0]])
    >>> planes_through(points, np.zeros(4, dtype=int), 1).slope.tolist()
    [[0.25, 0.0]]
    """
    number = np.maximum(np.bincount(owner, minlength=count), 1)
    middle = np.stack([np.bincount(owner, xyz[:, k], count) for k in range(3)], axis=1) / number[:, None]
    away = xyz - middle[owner]

    def total(i: int, j: int) -> np.ndarray:
        return np.bincount(owner, away[:, i] * away[:, j], count)

    spread = np.stack([np.stack([total(i, j) for j in (0, 1)], axis=1) for i in (0, 1)], axis=1)
    rise = np.stack([total(0, 2), total(1, 2)], axis=1)
    slope = (np.linalg.pinv(spread, rcond=ALIKE, hermitian=True) @ rise[:, :, None])[:, :, 0]
    off = np.zeros(count)
    np.maximum.at(off, owner, np.abs(away[:, 2] - (away[:, :2] * slope[owner]).sum(axis=1)))
    slope[np.abs(slope) < FLAT / 2] = 0.0
    return Fit(middle=middle, slope=slope, off=off)
