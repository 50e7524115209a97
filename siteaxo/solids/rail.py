"""
Rails: posts with a top bar, and a middle bar or a translucent panel below it, rising and falling
with what they stand on.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..ragged import ragged
from .courses import Courses, beams, posts_along, sheets_between, uprights
from .faces import join, take
from .grounding import BENEATH, DRAPE, draped_heights
from .limits import POST_SPACING
from .making import Job, Made, as_prisms, together
from .panels import Panels
from .planes import levels_at, sloping
from .rings import SAME

POST: Final = 0.05  # side of a post, and width and depth of the top bar [m]
MIDDLE: Final = 0.03  # width and depth of the middle bar [m]
CLEAR: Final = 0.1  # from the foot of a rail to the underside of its panels [m]
GROUND_STEP: Final = 1.0  # so often a rail on the ground takes its level from it [m]
BEND: Final = 0.01  # a rail on the ground is straight where this takes it no farther from it [m]
LOW: Final = 0.4  # rails lower than this have no middle bar [m]


def make_rails(job: Job, rows: np.ndarray) -> Made:
    """
    Make rails of centre lines; polygons are raised as they are.

    A rail that stands on a flight or ramp follows its nosings or its slope, and is level
    where it goes on beyond it; one on a sloping terrace, on the ground or on a wall that rakes
    with it follows that; one with a base of its own is level. Posts and bars cast shadows; a
    panel, which lets the light through, casts none.
    """
    line = shapely.get_dimensions(job.drawn[rows]) == 1
    block, rows = rows[~line], rows[line]
    if not len(rows):
        return as_prisms(job, block)
    courses = _courses(job, rows)
    features = job.features
    height = features.height[rows]
    spacing = features.posts[rows]
    spacing = np.where(np.nan_to_num(spacing) > 0, spacing, POST_SPACING)
    posts = posts_along(courses, spacing)
    foot = _feet(job, rows, posts.course, posts.xy, posts.level)
    head = posts.level + height[posts.course] - POST
    kept = _not_twice(posts.xy, foot, head)
    numbers = np.arange(len(rows))
    panel = features.shape[rows] == "panel"
    high = np.flatnonzero((height >= LOW) & ~panel)
    glazed = np.flatnonzero(panel & (height - POST > CLEAR))
    faces = join(
        [
            uprights(posts.xy[kept], posts.along[kept], POST, foot[kept], head[kept], posts.course[kept]),
            beams(courses, POST, POST, height, numbers),
            beams(_some(courses, high), MIDDLE, MIDDLE, height[high] / 2 + MIDDLE / 2, high),
        ]
    )
    sheets = sheets_between(courses, np.full(len(rows), CLEAR), height - POST, numbers)
    kept = np.flatnonzero(np.isin(sheets.solid, glazed))
    panels = Panels(faces=take(sheets, kept), feature=rows) if len(kept) else Panels.nothing()
    return together([as_prisms(job, block), Made(faces=faces, row=rows, panels=panels)])


def _courses(job: Job, rows: np.ndarray) -> Courses:
    """Lines of rails with the level of their foot at every vertex."""
    walk = job.walks.of_feature(job.support[rows])
    wall = _raking_walls(job, rows)
    on_ground = ((job.features.base_from[rows] == BENEATH) | (wall >= 0)) & (job.ground is not None)
    drawn = shapely.segmentize(job.drawn[rows], np.where(on_ground, GROUND_STEP, np.inf))
    lines = shapely.remove_repeated_points(_with_kinks(job, drawn, walk), SAME)
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    level = job.features.base[rows][owner]
    climbs = np.flatnonzero(walk[owner] >= 0)
    level[climbs] = job.walks.level_at(walk[owner[climbs]], xy[climbs], nosings=True)
    under = job.support[rows][owner]
    tilted = np.flatnonzero((under >= 0) & sloping(job.features)[under])
    level[tilted] = levels_at(job.features, under[tilted], xy[tilted])
    if job.whole_ground is not None:
        follows = np.flatnonzero(on_ground[owner])
        level[follows] = job.whole_ground.level_at(xy[follows], beyond=True)
        level += _heights(job, wall)[owner]
    courses = Courses(xy=xy, level=level, start=np.searchsorted(owner, np.arange(len(rows) + 1)))
    return _straightened(courses, on_ground)


def _straightened(courses: Courses, chosen: np.ndarray) -> Courses:
    """The chosen courses without the vertices at which they neither turn nor bend up or down."""
    into, out = courses.directions()
    owner, way = courses.owner, courses.way
    ends = np.zeros(len(owner), dtype=bool)
    ends[courses.start[:-1]] = ends[courses.start[1:] - 1] = True
    stop = np.flatnonzero(ends | (np.abs(out - into).max(axis=1) > SAME) | ~chosen[owner])
    one = owner[stop[:-1]] == owner[stop[1:]]
    here, there = stop[:-1][one], stop[1:][one]
    leg, place = ragged(there - here + 1)
    vertex = here[leg] + place
    legs = shapely.linestrings(np.column_stack([way, courses.level])[vertex], indices=leg)
    found, leg = shapely.get_coordinates(shapely.simplify(legs, BEND), return_index=True)
    kept = np.isin(way + 1j * owner, found[:, 0] + 1j * owner[here[leg]])
    return Courses(
        xy=courses.xy[kept],
        level=courses.level[kept],
        start=np.searchsorted(owner[kept], np.arange(len(courses) + 1)),
    )


def _raking_walls(job: Job, rows: np.ndarray) -> np.ndarray:
    """The wall that each of *rows* stands on and that rakes with the ground, -1 where there is none."""
    wall = job.support[rows]
    return np.where((wall >= 0) & (job.features.of_role("form")[wall] == DRAPE), wall, -1)


def _heights(job: Job, wall: np.ndarray) -> np.ndarray:
    """Heights of walls above the ground, 0 where there is none [m]."""
    height, there = np.zeros(len(wall)), np.flatnonzero(wall >= 0)
    if job.whole_ground is not None and len(there):
        height[there] = draped_heights(job.features, wall[there], job.whole_ground)
    return height


def _with_kinks(job: Job, lines: np.ndarray, walk: np.ndarray) -> np.ndarray:
    """Lines with a vertex where the walk they stand on begins, ends or rests."""
    rows = np.flatnonzero(walk >= 0)
    owner, kink = job.walks.kinks(walk[rows])
    owner = rows[owner]
    at = shapely.line_locate_point(lines[owner], shapely.points(kink))
    within = (at > SAME) & (at < shapely.length(lines[owner]) - SAME)
    owner, at = owner[within], at[within]
    if not len(owner):
        return lines
    xy, line = shapely.get_coordinates(lines, return_index=True)
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    first = np.flatnonzero(np.append(True, line[1:] != line[:-1]))
    step[first] = 0.0
    way = np.cumsum(step)
    way -= way[first][line]
    more = shapely.get_coordinates(shapely.line_interpolate_point(lines[owner], at))
    order = np.lexsort((np.concatenate([way, at]), np.concatenate([line, owner])))
    return shapely.linestrings(np.vstack([xy, more])[order], indices=np.concatenate([line, owner])[order])


def _feet(job: Job, rows: np.ndarray, course: np.ndarray, xy: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Levels that posts reach down to: treads and slopes, or level ground beside them."""
    foot = level.copy()
    walk = job.walks.of_feature(job.support[rows])[course]
    climbs = np.flatnonzero(walk >= 0)
    if not len(climbs):
        return foot
    footprint = job.features.geometry[job.walks.feature[walk[climbs]]]
    on = shapely.distance(footprint, shapely.points(xy[climbs])) <= SAME
    tread = job.walks.level_at(walk[climbs], xy[climbs])
    ground = job.surfaces.level_at(xy[climbs], level[climbs])
    foot[climbs] = np.where(on | np.isnan(ground), np.minimum(tread, level[climbs]), ground)
    return foot


def _not_twice(xy: np.ndarray, foot: np.ndarray, head: np.ndarray) -> np.ndarray:
    """Posts but for those that stand within another, as where two rails meet end to end."""
    point = shapely.points(xy)
    one, other = shapely.STRtree(point).query(point, predicate="dwithin", distance=POST / 5)
    within = (foot[one] <= foot[other] + SAME) & (head[one] >= head[other] - SAME)
    back = (foot[other] <= foot[one] + SAME) & (head[other] >= head[one] - SAME)
    gone = within & (one != other) & (~back | (one < other))
    kept = np.ones(len(xy), dtype=bool)
    kept[other[gone]] = False
    return np.flatnonzero(kept)


def _some(courses: Courses, chosen: np.ndarray) -> Courses:
    owner = courses.owner
    kept = np.isin(owner, chosen)
    return Courses(
        xy=courses.xy[kept],
        level=courses.level[kept],
        start=np.searchsorted(owner[kept], np.append(chosen, chosen[-1] + 1 if len(chosen) else 0)),
    )
