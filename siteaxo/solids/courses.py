"""
Courses: lines that rise and fall, with posts along them and beams laid on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..ragged import ragged
from .climb import polygons, warp
from .faces import PART_CODE, Faces, from_quads, join
from .rings import SAME

CORNER: Final = 20.0  # a course that turns by more has a post there [degrees]
PLANE: Final = 1e-7  # corners farther from one plane make triangles [m]


@dataclass(frozen=True, kw_only=True)
class Courses:
    """
    Lines with levels.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Vertices of all lines, none twice in a row [m].
    level : ndarray, shape (v,)
        Their levels [m].
    start : ndarray of int, shape (n + 1,)
        Where each line starts; a closed one ends where it began.
    """

    xy: np.ndarray
    level: np.ndarray
    start: np.ndarray

    def __len__(self) -> int:
        return len(self.start) - 1

    @property
    def owner(self) -> np.ndarray:
        """Line of each vertex, shape (v,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.start))

    @property
    def closed(self) -> np.ndarray:
        """Whether each line ends where it began, shape (n,)."""
        first, last = self.start[:-1], self.start[1:] - 1
        return (np.abs(self.xy[first] - self.xy[last]) <= SAME).all(axis=1) & (last - first > 2)

    @property
    def way(self) -> np.ndarray:
        """Distance of each vertex along its line, in plan, shape (v,) [m]."""
        step = np.hypot(*np.diff(self.xy, axis=0, prepend=self.xy[:1]).T)
        step[self.start[:-1]] = 0.0
        way = np.cumsum(step)
        return way - way[self.start[:-1]][self.owner]

    def directions(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit directions into and out of each vertex; at open ends both are the same."""
        step = np.diff(self.xy, axis=0)
        step = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
        into, out = np.vstack([step[:1], step]), np.vstack([step, step[-1:]])
        first, last = self.start[:-1], self.start[1:] - 1
        ring = self.closed[:, None]
        into[first] = np.where(ring, into[last], out[first])
        out[last] = np.where(ring, out[first], into[last])
        return into, out


@dataclass(frozen=True, kw_only=True)
class Posts:
    """
    Posts along courses.

    Parameters
    ----------
    course : ndarray of int, shape (p,)
        The course of each.
    xy, along : ndarray, shape (p, 2)
        Where it stands, and the unit direction of its course there.
    level : ndarray, shape (p,)
        Level of the course there [m].
    """

    course: np.ndarray
    xy: np.ndarray
    along: np.ndarray
    level: np.ndarray


def posts_along(courses: Courses, spacing: np.ndarray) -> Posts:
    """
    Set posts at ends and corners, and evenly between these.

    Parameters
    ----------
    courses : Courses
        n lines.
    spacing : ndarray, shape (n,)
        Greatest distance of two posts along the line [m].

    Returns
    -------
    Posts
    """
    into, out = courses.directions()
    owner, way = courses.owner, courses.way
    turn = np.abs(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)))
    stops = turn > np.radians(CORNER)
    stops[courses.start[:-1]] = stops[courses.start[1:] - 1] = True
    stop = np.flatnonzero(stops)
    here, there = stop[:-1], stop[1:]
    one = owner[here] == owner[there]
    here, there = here[one], there[one]
    length = way[there] - way[here]
    count = np.maximum(np.ceil(length / spacing[owner[here]] - 1e-9), 1).astype(np.int64)
    leg, place = ragged(count)
    at = way[here][leg] + length[leg] * place / count[leg]
    ends = courses.start[1:][~courses.closed] - 1
    course = np.concatenate([owner[here][leg], owner[ends]])
    at = np.concatenate([at, way[ends]])
    scale = float(way.max(initial=0.0)) + 1.0
    vertex = np.searchsorted(owner * scale + way, course * scale + at + SAME, side="right") - 1
    vertex = np.minimum(vertex, courses.start[course + 1] - 2)
    share = ((at - way[vertex]) / (way[vertex + 1] - way[vertex]))[:, None]
    xy = courses.xy[vertex] + share * (courses.xy[vertex + 1] - courses.xy[vertex])
    rise = courses.level[vertex + 1] - courses.level[vertex]
    level = courses.level[vertex] + share[:, 0] * rise
    return Posts(course=course, xy=xy, along=out[vertex], level=level)


def uprights(
    xy: np.ndarray, along: np.ndarray, size: float, low: np.ndarray, high: np.ndarray, solid: np.ndarray
) -> Faces:
    """
    Square posts.

    Parameters
    ----------
    xy, along : ndarray, shape (p, 2)
        Where they stand, and a unit direction of one side.
    size : float
        Side [m].
    low, high : ndarray, shape (p,)
        Levels of foot and head [m].
    solid : ndarray of int, shape (p,)
        Solid of each.

    Returns
    -------
    Faces
    """
    left = np.column_stack([-along[:, 1], along[:, 0]])
    ring = np.stack([-along - left, along - left, along + left, left - along], axis=1) * (size / 2)
    ring = xy[:, None] + ring
    below = np.dstack([ring, np.broadcast_to(low[:, None], ring.shape[:2])])
    above = np.dstack([ring, np.broadcast_to(high[:, None], ring.shape[:2])])
    ahead = [1, 2, 3, 0]
    sides = np.stack([below, below[:, ahead], above[:, ahead], above], axis=2).reshape(-1, 4, 3)
    return join(
        [
            from_quads(above, solid=solid, part=PART_CODE["top"]),
            from_quads(sides, solid=np.repeat(solid, 4), part=PART_CODE["side"]),
            from_quads(below[:, ::-1], solid=solid, part=PART_CODE["soffit"]),
        ]
    )


def beams(courses: Courses, width: float, low: float, high: np.ndarray, solid: np.ndarray) -> Faces:
    """
    Beams that follow courses, mitred at their corners.

    Parameters
    ----------
    courses : Courses
        n lines.
    width, low : float
        Width across, and depth from the upper side to the underside [m].
    high : ndarray, shape (n,)
        Height of the upper side above the course [m].
    solid : ndarray of int, shape (n,)
        Solid of each.

    Returns
    -------
    Faces
    """
    into, out = courses.directions()
    bend = np.maximum(1.0 + (into * out).sum(axis=1), 0.1)[:, None]
    left = np.column_stack([-(into + out)[:, 1], (into + out)[:, 0]]) / bend * (width / 2)
    upper = (courses.level + high[courses.owner])[:, None]
    lower = upper - low
    corner = [  # lower right, lower left, upper left, upper right
        np.hstack([courses.xy + side, level])
        for side, level in ((-left, lower), (left, lower), (left, upper), (-left, upper))
    ]
    last = np.zeros(len(courses.xy), dtype=bool)
    last[courses.start[1:] - 1] = True
    here = np.flatnonzero(~last)
    tables = []
    for one, other, part in ((3, 2, "top"), (0, 3, "side"), (2, 1, "side"), (1, 0, "soffit")):
        quad = np.stack(
            [corner[one][here], corner[one][here + 1], corner[other][here + 1], corner[other][here]], axis=1
        )
        tables.append(_plane_or_split(quad, solid[courses.owner[here]], part))
    is_open = ~courses.closed
    for station, order in (
        (courses.start[:-1][is_open], (1, 0, 3, 2)),
        (courses.start[1:][is_open] - 1, (0, 1, 2, 3)),
    ):
        cap = np.stack([corner[k][station] for k in order], axis=1)
        tables.append(polygons(cap, solid[is_open], "side"))
    return join(tables)


def sheets_between(courses: Courses, low: np.ndarray, high: np.ndarray, solid: np.ndarray) -> Faces:
    """
    Upright sheets along courses, seen from both sides.

    Parameters
    ----------
    courses : Courses
        n lines.
    low, high : ndarray, shape (n,)
        Heights of their lower and upper side above the course [m].
    solid : ndarray of int, shape (n,)
        Solid of each.

    Returns
    -------
    Faces
        One for each straight stretch.
    """
    last = np.zeros(len(courses.xy), dtype=bool)
    last[courses.start[1:] - 1] = True
    here = np.flatnonzero(~last)
    owner = courses.owner[here]
    corners = np.empty((len(here), 4, 3))
    for place, (vertex, height) in enumerate(((here, low), (here + 1, low), (here + 1, high), (here, high))):
        corners[:, place] = np.column_stack([courses.xy[vertex], courses.level[vertex] + height[owner]])
    return from_quads(corners, solid=solid[owner], part=PART_CODE["side"], two_sided=True)


def _plane_or_split(quad: np.ndarray, solid: np.ndarray, part: str) -> Faces:
    """Quads as they are where plane, as two triangles where not."""
    plane = np.abs(warp(quad)) <= PLANE
    halves = np.concatenate([quad[~plane][:, [0, 1, 2]], quad[~plane][:, [0, 2, 3]]])
    return join(
        [polygons(quad[plane], solid[plane], part), polygons(halves, np.tile(solid[~plane], 2), part)]
    )
