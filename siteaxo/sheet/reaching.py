"""
What a leader points to, and where its words stand.

The rule
    Of all places that are free the one of the least cost is taken. A leader costs its length; each
    line it crosses, each person or crown, and each millimetre by which its dot lies off the middle
    of what is meant, costs some millimetres more; so do words on the drawing and not beside it. The
    dot stands on what is seen of the thing, clear of lines, people and crowns where that has room.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from .callouts import Target
from .placing import Room

DIRECTIONS: Final = 32
ROOMY: Final = 12.0
"""An area that carries words about something else is so many times as large as they are."""
LINE_MM: Final = 0.7
"""What it costs to cross a line, as a length of leader [mm]."""
STANDING_MM: Final = 6.0
"""What it costs to cross a person or a crown, as a length of leader [mm]."""
ON_DRAWING_MM: Final = 5.0
"""What words on the drawing cost, as a length of leader [mm]."""
OFF_MIDDLE: Final = 0.4
"""What a dot costs for its distance from the middle of what is meant [-]."""
DOT_CLEAR_MM: Final = (2.0, 1.0, 0.6)
"""From the middle of a dot to lines and people, the best first [mm]."""
ASIDE_MM: Final = 2.0
"""So far at most a dot gives way to a line or a person at a place that is said [mm]."""
DOTS: Final = 24
"""Places at which a dot is tried, about."""
COVERED: Final = 1 - 1e-6
"""Share of a box that lies on a surface, if it lies there as a whole [-]."""
AT_ONCE: Final = 256
"""Leaders that are looked at at once, the shortest first."""


def reached(
    room: Room,
    targets: np.ndarray,
    size: np.ndarray,
    distances: np.ndarray,
    mm: float,
    *,
    crossing: bool = False,
    around: bool = False,
) -> tuple[np.ndarray, np.ndarray] | None:
    """
    Find the place of the least cost for a box at the end of a leader.

    Parameters
    ----------
    room : Room
        What is there already.
    targets : ndarray, shape (k, 2)
        What the leader may point to, the best first [m].
    size : ndarray, shape (2,)
        Width and height of the box [m].
    distances : ndarray, shape (n,)
        Lengths of leaders that are tried, shortest first [m].
    mm : float
        A millimetre of paper [m].
    crossing : bool
        Its leader may cross others.
    around : bool
        Its leader crosses no building but that of the target.

    Returns
    -------
    box, leader : ndarray, shapes (4,) and (2, 2), or None

    Examples
    --------
    >>> nothing = np.empty(0, dtype=object)
    >>> room = Room(lines=nothing, areas=nothing, quiet=np.zeros(0, dtype=bool), window=(-9, -9, 9, 9))
    >>> box, leader = reached(room, np.zeros((1, 2)), np.array([3.0, 1.0]), np.array([2.0, 4.0]), 0.2)
    >>> np.round(box, 2).tolist()
    [1.41, 0.91, 4.41, 1.91]
    """
    turn = np.radians(45.0 + np.arange(DIRECTIONS) * 360.0 / DIRECTIONS)
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    ends = targets[:, None, None] + distances[:, None, None] * way
    leaders = np.stack([np.broadcast_to(targets[:, None, None], ends.shape), ends], axis=3).reshape(-1, 2, 2)
    ends = leaders[:, 1]
    rightward = np.tile(way[:, 0] >= -1e-9, len(targets) * len(distances))
    left = np.where(rightward, ends[:, 0], ends[:, 0] - size[0])
    low = ends[:, 1] - size[1] / 2
    boxes = np.column_stack([left, low, left + size[0], low + size[1]])
    length, off = np.hypot(*(ends - leaders[:, 0]).T), np.hypot(*(leaders[:, 0] - targets[0]).T)
    least = length + OFF_MIDDLE * off  # what crosses nothing and leads to bare paper costs no more
    order = np.argsort(np.round(least / mm, 6), kind="stable")
    calm = ROOMY * float(size.prod())
    best, found = np.inf, None
    for begin in range(0, len(order), AT_ONCE):
        some = order[begin : begin + AT_ONCE]
        if least[some[0]] >= best:
            break
        some, bare = _open(room, boxes[some], leaders[some], calm, some, crossing=crossing, around=around)
        lines, things = room.met(leaders[some])
        cost = least[some] + mm * (LINE_MM * lines + STANDING_MM * things + ON_DRAWING_MM * ~bare)
        if len(cost) and cost.min() < best - 1e-6 * mm:
            row = int(np.argmin(np.round(cost / mm, 6)))
            best, found = float(cost[row]), (boxes[some[row]], leaders[some[row]])
    return found


def _open(
    room: Room,
    boxes: np.ndarray,
    leaders: np.ndarray,
    calm: float,
    names: np.ndarray,
    *,
    crossing: bool,
    around: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """Names of boxes on bare paper or in a calm area whose leader is clear, and which lie on bare paper."""
    rows = np.flatnonzero(room.free(boxes))
    rows = rows[room.clear(leaders[rows], words_only=crossing)]
    bare = room.bare(boxes[rows])
    fits = bare | _calm(room, boxes[rows], calm)
    if around and fits.any():
        fits[fits] = room.goes_round(leaders[rows[fits]])
    return names[rows[fits]], bare[fits]


def _calm(room: Room, boxes: np.ndarray, least: float) -> np.ndarray:
    """Which boxes lie on one surface that may carry words about something else and is as large [m²]."""
    seen = np.bincount(room.surface, weights=shapely.area(room.areas))
    large = room.quiet & (seen[room.surface] >= least)
    row, area = room.met_by(boxes)
    first = np.full(len(boxes), -1)
    first[row] = room.surface[area]
    other = np.bincount(row, weights=~large[area] | (room.surface[area] != first[row]), minlength=len(boxes))
    alone = (other == 0)[row]
    row, shape = row[alone], shapely.box(*boxes.T)
    held = shapely.area(shapely.intersection(shape[row], room.areas[area[alone]]))
    whole = np.bincount(row, weights=held, minlength=len(boxes)) >= COVERED * shapely.area(shape)
    return np.asarray(whole | np.append(large, False)[room.ground(boxes)])


def dots(room: Room, target: Target, mm: float, faces: int) -> np.ndarray:
    """
    Places at which the dot of a leader may stand, the best first.

    Parameters
    ----------
    room : Room
        What is there already.
    target : Target
        What the leader is about.
    mm : float
        A millimetre of paper [m].
    faces : int
        How many of the room's areas are faces; the others lie over them.

    Returns
    -------
    ndarray, shape (k, 2)
        [m]. A place that is said stays where it is, but for 2 mm where something is in its way.
    """
    if target.region is None:
        return _set_aside(room, target.point, mm, faces)[None]
    for clear in DOT_CLEAR_MM:
        free = room.bare_of_lines(shapely.buffer(target.region, -clear * mm), clear * mm)
        if not free.is_empty:
            return _spread(free, target.point, mm)
    return target.point[None]


def _spread(free: shapely.Geometry, middle: np.ndarray, mm: float) -> np.ndarray:
    """The free place nearest to the middle, and others evenly spread."""
    nearest = shapely.get_coordinates(shapely.shortest_line(free, shapely.points(middle)))[:1]
    low, high = np.array(free.bounds[:2]), np.array(free.bounds[2:])
    step = max(float(np.sqrt(free.area / DOTS)), 2.0 * mm)
    across, up = (np.arange(a + (b - a) % step / 2, b + 1e-9, step) for a, b in zip(low, high, strict=True))
    grid = np.column_stack([one.ravel() for one in np.meshgrid(across, up)])
    shapely.prepare(free)
    return np.concatenate([nearest, grid[shapely.contains_xy(free, *grid.T)]])


def _set_aside(room: Room, place: np.ndarray, mm: float, faces: int) -> np.ndarray:
    """A place that is said, moved off what lies in its way on the same face, if it has to go no farther."""
    under = room.areas_at(shapely.points(place))
    if not len(under) or under[0] >= faces:
        return place
    face = room.areas[under[0]]
    clear = DOT_CLEAR_MM[-1] * mm
    within = shapely.buffer(shapely.points(place), ASIDE_MM * mm)
    free = room.bare_of_lines(shapely.intersection(shapely.buffer(face, -clear), within), clear)
    if free.is_empty:
        return place
    return np.asarray(shapely.get_coordinates(shapely.shortest_line(free, shapely.points(place)))[0])
