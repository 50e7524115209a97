"""
The direction of the plan that lies horizontal before the plan is turned.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from .features import Features

_STRAIGHT: Final = 0.5  # consecutive sides that turn less than this are one side [degrees]
_EQUAL: Final = 1e-9  # relative difference within which two sides are equally long [-]
_LEADING_ROLES: Final = ("ground", "terrace")
EAST: Final = 90.0


def site_bearing(features: Features) -> float:
    """
    Bearing of the longest straight side of the site.

    Parameters
    ----------
    features : Features
        The site. Its ground decides; without ground its terraces, without terraces all
        polygons, and without polygons east.

    Returns
    -------
    float
        Clockwise from grid north, in (0, 180] [degrees].
    """
    polygons = shapely.get_type_id(features.geometry) == shapely.GeometryType.POLYGON
    names = features.of_role("name")
    for role in _LEADING_ROLES:
        chosen = polygons & (names == role)
        if chosen.any():
            return longest_side_bearing(features.geometry[chosen])
    return longest_side_bearing(features.geometry[polygons])


def longest_side_bearing(polygons: np.ndarray) -> float:
    """
    Bearing of the longest straight side among the outlines of polygons.

    Sides that turn by less than half a degree at a vertex count as one. Of equally long
    sides the one nearest to east and west is taken, since it needs the least turning.

    Parameters
    ----------
    polygons : ndarray of Polygon, shape (n,)
        On the local plane [m].

    Returns
    -------
    float
        Clockwise from north, in (0, 180] [degrees]; 90 where there is none.

    Examples
    --------
    >>> longest_side_bearing(np.array([shapely.box(0, 0, 5, 2)]))
    90.0
    """
    vectors = _straight_runs(polygons)
    lengths = np.hypot(vectors[:, 0], vectors[:, 1])
    if not len(lengths) or lengths.max() == 0:
        return EAST
    longest = vectors[lengths >= lengths.max() * (1 - _EQUAL)]
    bearings = np.degrees(np.arctan2(longest[:, 0], longest[:, 1])) % 180.0
    bearings[bearings == 0.0] = 180.0
    best = np.lexsort([bearings, np.round(np.abs(bearings - EAST), 9)])[0]
    return float(bearings[best])


def _straight_runs(polygons: np.ndarray) -> np.ndarray:
    """Straight runs of the outer rings as vectors from start to end, shape (k, 2)."""
    rings = shapely.get_exterior_ring(polygons)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    inside = ring[1:] == ring[:-1]
    step, owner = np.diff(xy, axis=0)[inside], ring[1:][inside]
    long_enough = np.hypot(step[:, 0], step[:, 1]) > 0
    step, owner = step[long_enough], owner[long_enough]
    if not len(step):
        return step
    run = _run_numbers(step, owner)
    chord = np.column_stack([np.bincount(run, step[:, i]) for i in (0, 1)])
    path = np.bincount(run, np.hypot(step[:, 0], step[:, 1]))
    bent = np.hypot(chord[:, 0], chord[:, 1]) < path * np.cos(np.radians(_STRAIGHT))
    return np.concatenate([chord[~bent], step[bent[run]]])


def _run_numbers(step: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Number of the run of each side; runs go on through a ring's first vertex."""
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    last = np.append(first[1:], len(owner)) - 1
    before = np.arange(len(owner)) - 1
    before[first] = last
    previous = step[before]
    cross = previous[:, 0] * step[:, 1] - previous[:, 1] * step[:, 0]
    turn = np.degrees(np.arctan2(np.abs(cross), np.sum(previous * step, axis=1)))
    corner = turn > _STRAIGHT
    run = np.cumsum(corner | np.isin(np.arange(len(owner)), first)) - 1
    merge = ~corner[first]
    number = np.arange(run[-1] + 1)
    number[run[first[merge]]] = run[last[merge]]
    return number[run]
