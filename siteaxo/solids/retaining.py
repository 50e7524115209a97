"""
Walls between terraces: what the differences of level between neighbours ask to be retained.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from .across import uppermost
from .cutting import is_area, united
from .planes import levels_at
from .stack import Stack
from .terraces import mean_width

GRID: Final = 1e-4  # borders are compared on this grid [m]
LEVEL: Final = 1e-3  # terraces whose levels differ by less need no wall [m]
REACH: Final = 0.02  # a flight this near to a wall climbs it [m]
MOSTLY: Final = 0.5  # share of a border along which a wall that is drawn must stand [-]


@dataclass(frozen=True, kw_only=True)
class RetainingWalls:
    """
    Walls between neighbouring terraces, one row for each pair and way round.

    Parameters
    ----------
    upper, lower : ndarray of int, shape (w,)
        Rows of the two terraces in the features.
    line : ndarray of LineString or MultiLineString, shape (w,)
        Where they meet and the one lies above the other [m].
    length : ndarray, shape (w,)
        Length of that line [m].
    height : ndarray, shape (w,)
        Greatest exposed height, from the lower level to the upper [m].
    area : ndarray, shape (w,)
        Face area, length by height all along [m²].
    climbed : ndarray, shape (w,)
        Length along which flights or ramps arrive at the top of the wall [m].
    wall : ndarray of int, shape (w,)
        Of the walls that are drawn, the one along more of the line than any other, a row of the
        features; -1 where they do not stand along most of it.
    thickness, coping : ndarray, shape (w,)
        Of that wall: its width, and how far its top stands above the upper terrace where
        that is highest [m]; NaN where there is none.
    """

    upper: np.ndarray
    lower: np.ndarray
    line: np.ndarray
    length: np.ndarray
    height: np.ndarray
    area: np.ndarray
    climbed: np.ndarray
    wall: np.ndarray
    thickness: np.ndarray
    coping: np.ndarray

    def __len__(self) -> int:
        return len(self.upper)


def walls_between(stack: Stack) -> RetainingWalls:
    """
    Find the walls that hold terraces above their lower neighbours.

    Where terraces overlap, the highest counts; a terrace that lies within another has
    a wall all around. Terraces that slope have walls whose height varies, and one may hold
    the other up on a part of their border and be held up by it on the rest.

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
    ground = (features.of_role("theme") == "ground") & (features.of_role("form") == "prism")
    rows = np.flatnonzero(ground & is_area(features.geometry))
    region = uppermost(features, rows, grid=GRID)
    one, other = shapely.STRtree(region).query(region, predicate="dwithin", distance=GRID)
    one, other = one[one != other], other[one != other]
    border = shapely.boundary(region)
    shared = _lines(shapely.intersection(border[one], border[other], grid_size=GRID))
    rise = _rises(stack, rows[one], rows[other], shared)
    kept = np.flatnonzero(rise.length > 10 * GRID)
    kept = kept[np.lexsort((other[kept], one[kept], -rise.height[kept]))]
    upper, lower = rows[one[kept]], rows[other[kept]]
    line, height = rise.line[kept], rise.height[kept]
    wall, thickness, top = _drawn_along(stack, line)
    return RetainingWalls(
        upper=upper,
        lower=lower,
        line=line,
        length=rise.length[kept],
        height=height,
        area=rise.area[kept],
        climbed=_climbed(stack, line, upper, lower),
        wall=wall,
        thickness=thickness,
        coping=top - rise.crest[kept],
    )


@dataclass(frozen=True, kw_only=True)
class _Rise:
    """How terraces rise above others along lines: the lines where they do, and their figures."""

    line: np.ndarray
    length: np.ndarray
    height: np.ndarray
    area: np.ndarray
    crest: np.ndarray


def _rises(stack: Stack, upper: np.ndarray, lower: np.ndarray, line: np.ndarray) -> _Rise:
    """Keep the stretches of lines along which one terrace lies above another; both are planes."""
    part, pair = shapely.get_parts(line, return_index=True)
    xy, number = shapely.get_coordinates(part, return_index=True)
    here = np.flatnonzero(number[1:] == number[:-1])
    pair = pair[number[here]]
    ends = np.stack([xy[here], xy[here + 1]], axis=1)
    top = np.stack([levels_at(stack.features, upper[pair], ends[:, k]) for k in (0, 1)], axis=1)
    below = np.stack([levels_at(stack.features, lower[pair], ends[:, k]) for k in (0, 1)], axis=1)
    over = top - below
    clear = np.flatnonzero(over.max(axis=1, initial=-np.inf) > LEVEL)
    pair, ends, over, top = pair[clear], ends[clear], over[clear], top[clear]
    for end in (0, 1):  # where the two cross, the wall begins with no height
        cut = np.flatnonzero(over[:, end] < 0)
        share = (over[cut, end] / (over[cut, end] - over[cut, 1 - end]))[:, None]
        ends[cut, end] += share * (ends[cut, 1 - end] - ends[cut, end])
        top[cut, end] += share[:, 0] * (top[cut, 1 - end] - top[cut, end])
        over[cut, end] = 0.0
    count = len(line)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    height, crest = np.zeros(count), np.full(count, -np.inf)
    np.maximum.at(height, pair, over.max(axis=1, initial=0.0))
    np.maximum.at(crest, pair, top.max(axis=1, initial=-np.inf))
    return _Rise(
        line=_joined(shapely.linestrings(ends), pair, count),
        length=np.bincount(pair, length, count),
        height=height,
        area=np.bincount(pair, length * over.mean(axis=1), count),
        crest=crest,
    )


def _lines(geometry: np.ndarray) -> np.ndarray:
    """The lines among what borders share, joined up."""
    parts, owner = shapely.get_parts(geometry, return_index=True)
    line = shapely.get_dimensions(parts) == 1
    return _joined(parts[line], owner[line], len(geometry))


def _joined(line: np.ndarray, owner: np.ndarray, count: int) -> np.ndarray:
    """Lines of each owner, joined up; an empty one where there is none, shape (count,)."""
    joined = np.full(count, shapely.MultiLineString(), dtype=object)
    rows = np.unique(owner)
    if len(rows):
        order = np.argsort(owner, kind="stable")
        number = np.searchsorted(rows, owner[order])
        joined[rows] = shapely.line_merge(shapely.multilinestrings(line[order], indices=number))
    return joined


def _climbed(stack: Stack, line: np.ndarray, upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """Length of walls at which a flight or ramp arrives that leads up them."""
    walks, features = stack.walks, stack.features
    length = np.zeros(len(line))
    if not len(walks.feature) or not len(line):
        return length
    ends = walks.ends_at(walks.line.tracks.start[1:] - 1)
    middle = shapely.get_coordinates(shapely.centroid(ends))
    near = shapely.buffer(ends, REACH, join_style="mitre", cap_style="flat")
    wall, flight = shapely.STRtree(near).query(line, predicate="intersects")
    row = walks.feature[flight]
    high, low = (levels_at(features, which[wall], middle[flight]) for which in (upper, lower))
    leads = (np.abs(features.top[row] - high) < REACH) & (features.base[row] > low - REACH)
    wall, flight = wall[leads], flight[leads]
    np.add.at(length, wall, shapely.length(shapely.intersection(line[wall], near[flight])))
    return np.minimum(length, shapely.length(line))


def _drawn_along(stack: Stack, line: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where walls are drawn along most of a line, the longest of them, its width and the level of its top."""
    features = stack.features
    rows = np.flatnonzero((features.of_role("name") == "wall") & is_area(features.geometry))
    wall, share = np.full(len(line), -1), np.zeros(len(line))
    if len(rows) and len(line):
        item, other = shapely.STRtree(features.geometry[rows]).query(
            line, predicate="dwithin", distance=REACH
        )
        around = shapely.buffer(features.geometry[rows[other]], REACH, join_style="mitre")
        along = shapely.length(shapely.intersection(line[item], around)) / shapely.length(line[item])
        order = np.argsort(along, kind="stable")
        wall[item[order]] = rows[other[order]]
        near, together = united(around, item)
        share[near] = shapely.length(shapely.intersection(line[near], together)) / shapely.length(line[near])
        wall[share <= MOSTLY] = -1
    found = wall >= 0
    width, top = np.full((2, len(line)), np.nan)
    width[found] = mean_width(features.geometry[wall[found]])
    top[found] = features.top[wall[found]]
    return wall, width, top
