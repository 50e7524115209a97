"""
Walls between terraces: what the differences of level between neighbours ask to be retained.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from .stack import Stack

GRID: Final = 1e-4  # borders are compared on this grid [m]
LEVEL: Final = 1e-3  # terraces whose levels differ by less need no wall [m]
REACH: Final = 0.02  # a flight this near to a wall climbs it [m]


@dataclass(frozen=True, kw_only=True)
class RetainingWalls:
    """
    Walls between neighbouring terraces, one row for each pair.

    Parameters
    ----------
    upper, lower : ndarray of int, shape (w,)
        Rows of the two terraces in the features.
    line : ndarray of LineString or MultiLineString, shape (w,)
        Where they meet [m].
    length : ndarray, shape (w,)
        Length of that line [m].
    height : ndarray, shape (w,)
        Exposed height, from the lower level to the upper [m].
    area : ndarray, shape (w,)
        Face area, length by height [m²].
    climbed : ndarray, shape (w,)
        Length along which flights or ramps arrive at the top of the wall [m].
    """

    upper: np.ndarray
    lower: np.ndarray
    line: np.ndarray
    length: np.ndarray
    height: np.ndarray
    area: np.ndarray
    climbed: np.ndarray

    def __len__(self) -> int:
        return len(self.upper)


def walls_between(stack: Stack) -> RetainingWalls:
    """
    Find the walls that hold terraces above their lower neighbours.

    Where terraces overlap, the highest counts; a terrace that lies within another has
    a wall all around.

    Parameters
    ----------
    stack : Stack
        A site as solids.

    Returns
    -------
    RetainingWalls
        Sorted by height, the highest first.
    """
    features = stack.features
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    ground = np.flatnonzero((features.of_role("theme") == "ground") & area)
    level = features.top[ground]
    region = _uppermost(features.geometry[ground], level)
    one, other = shapely.STRtree(region).query(region, predicate="dwithin", distance=GRID)
    higher = level[one] > level[other] + LEVEL
    one, other = one[higher], other[higher]
    border = shapely.boundary(region)
    line = _lines(shapely.intersection(border[one], border[other], grid_size=GRID))
    meets = shapely.length(line) > 10 * GRID
    one, other, line = one[meets], other[meets], line[meets]
    height = level[one] - level[other]
    order = np.lexsort((other, one, -height))
    one, other, line, height = one[order], other[order], line[order], height[order]
    length = shapely.length(line)
    return RetainingWalls(
        upper=ground[one],
        lower=ground[other],
        line=line,
        length=length,
        height=height,
        area=length * height,
        climbed=_climbed(stack, line, level[one], level[other]),
    )


def _uppermost(geometry: np.ndarray, level: np.ndarray) -> np.ndarray:
    """The part of each terrace that no higher one covers."""
    region = geometry.copy()
    covered, cover = shapely.STRtree(geometry).query(geometry, predicate="intersects")
    above = level[cover] > level[covered] + LEVEL
    covered, cover = covered[above], cover[above]
    for row in np.unique(covered):  # a handful of terraces
        higher = shapely.union_all(geometry[cover[covered == row]])
        region[row] = shapely.difference(geometry[row], higher, grid_size=GRID)
    return region


def _lines(geometry: np.ndarray) -> np.ndarray:
    """The lines among what borders share, joined up."""
    parts, owner = shapely.get_parts(geometry, return_index=True)
    line = shapely.get_dimensions(parts) == 1
    joined = np.full(len(geometry), shapely.MultiLineString(), dtype=object)
    rows = np.unique(owner[line])
    if len(rows):
        number = np.searchsorted(rows, owner[line])
        joined[rows] = shapely.line_merge(shapely.multilinestrings(parts[line], indices=number))
    return joined


def _climbed(stack: Stack, line: np.ndarray, upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """Length of walls at which a flight or ramp arrives that leads up them."""
    walks, features = stack.walks, stack.features
    length = np.zeros(len(line))
    if not len(walks.feature) or not len(line):
        return length
    ends = walks.ends_at(walks.line.tracks.start[1:] - 1)
    near = shapely.buffer(ends, REACH, join_style="mitre", cap_style="flat")
    wall, flight = shapely.STRtree(near).query(line, predicate="intersects")
    top, base = features.top[walks.feature[flight]], features.base[walks.feature[flight]]
    leads = (np.abs(top - upper[wall]) < REACH) & (base > lower[wall] - REACH)
    wall, flight = wall[leads], flight[leads]
    np.add.at(length, wall, shapely.length(shapely.intersection(line[wall], near[flight])))
    return np.minimum(length, shapely.length(line))
