"""
Banks: the ground graded at an even slope from a footprint to where it meets the ground.

Outside a footprint at level z, the graded ground lies nowhere above z + d/n and nowhere
below z − d/n, where d is the distance to the footprint and n the run for one of rise; where
the footprint slopes, or has parts that do, z is the level of its nearest place. The distance
is taken from outlines at even offsets, triangulated like contours: exact beside straight
sides, and within half a percent around corners. A bank ends at the edge of another terrace, upright there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from ..errors import GeometryError
from .contours import contours
from .exact import GRID, on_grid
from .linked import linked
from .mesh import Mesh
from .survey import Survey, surface_of
from .tin import Tin

OFFSETS: Final = 8  # outlines around a footprint
ROUND: Final = 8  # segments to a quarter turn around corners
STEP: Final = 0.5  # where parts meet, outlines have points at least so close to one another [m]
FLAT: Final = 1e-6  # ground moved by less is not moved [m]
UPRIGHT: Final = 1e-3  # a face at which a bank ends leans by so much [m]


@dataclass(frozen=True, kw_only=True)
class Top:
    """
    The top of a footprint: planes, or level.

    Parameters
    ----------
    parts : ndarray of Polygon, shape (p,)
        The parts of the footprint, each with a plane of its own, in plan [m].
    level : ndarray, shape (p,)
        Level where each is highest [m].
    slope, high : ndarray, shape (p, 2)
        Its rise per metre east and north [-], and where it reaches the level [m].
    """

    parts: np.ndarray
    level: np.ndarray
    slope: np.ndarray
    high: np.ndarray

    @cached_property
    def footprint(self) -> shapely.Geometry:
        """All parts as one."""
        return self.parts[0] if len(self.parts) == 1 else shapely.union_all(self.parts, grid_size=GRID)

    def nearest(self, xy: np.ndarray) -> np.ndarray:
        """Levels of the place on the footprint that is nearest to points, shape (n,) [m]."""
        if not self.slope.any() and np.ptp(self.level) == 0:
            return np.full(len(xy), self.level[0])
        point = shapely.points(xy)
        part = np.asarray(shapely.STRtree(self.parts).nearest(point))
        lines = shapely.shortest_line(self.parts[part], point)
        near = shapely.get_coordinates(shapely.get_point(lines, 0))
        return self.level[part] + ((near - self.high[part]) * self.slope[part]).sum(axis=1)


@dataclass(frozen=True, kw_only=True)
class Banks:
    """
    Ground with banks.

    Parameters
    ----------
    tin : Tin
        At the levels of the footprints within them, with banks up and down to the ground.
    bank : ndarray of int, shape (s,)
        The footprint of each bank that ends at the edge of other terraces.
    end : ndarray of MultiLineString with Z, shape (s,)
        Where it ends there, at the levels of the bank [m].
    left_out : ndarray of int, shape (f,)
        The footprints whose banks could not be made; there the ground is as it was.
    """

    tin: Tin
    bank: np.ndarray
    end: np.ndarray
    left_out: np.ndarray


def with_banks(
    tin: Tin,
    footprints: np.ndarray,
    level: np.ndarray,
    run: np.ndarray,
    *,
    slope: np.ndarray | None = None,
    high: np.ndarray | None = None,
    others: np.ndarray | None = None,
    group: np.ndarray | None = None,
) -> Banks:
    """
    Grade the ground around footprints, one after another.

    Parameters
    ----------
    tin : Tin
        The ground.
    footprints : ndarray of Polygon, shape (n,)
        What lies level or slopes; where banks meet, the later one counts [m].
    level : ndarray, shape (n,)
        Levels [m].
    run : ndarray, shape (n,)
        Run of the banks for one of rise [-].
    slope, high : ndarray, shape (n, 2), optional
        Rise of each per metre east and north [-], and where it reaches its level [m]; all
        lie level when left out.
    others : ndarray of Polygon, shape (m,), optional
        Other terraces, onto which no bank spreads; no bank spreads onto a footprint either,
        and what a bank's own footprint covers is its own [m].
    group : ndarray of int, shape (n,), optional
        Footprints of one group are the parts of one, with one bank around them; the run is
        that of the first, and the first stands for all in what is returned.

    Returns
    -------
    Banks
    """
    slope = np.zeros((len(footprints), 2)) if slope is None else slope
    high = np.zeros((len(footprints), 2)) if high is None else high
    every = footprints if others is None else np.concatenate([footprints, others])
    whole = np.arange(len(footprints)) if group is None else np.asarray(group)
    firsts = np.sort(np.unique(whole, return_index=True)[1])
    ends, left_out = [], []
    for first in firsts:  # each changes the ground for the next
        own = np.flatnonzero(whole == whole[first])
        top = Top(parts=footprints[own], level=np.asarray(level)[own], slope=slope[own], high=high[own])
        try:
            tin, end = _with_bank(tin, top, float(run[first]), every)
        except (GeometryError, shapely.GEOSException):  # all else is drawn
            end = shapely.MultiLineString()
            left_out.append(int(first))
        ends.append(end)
    stopped = [k for k, end in enumerate(ends) if not end.is_empty]
    return Banks(
        tin=tin,
        bank=firsts[stopped],
        end=np.array(ends, dtype=object)[stopped],
        left_out=np.array(left_out, dtype=np.int64),
    )


def _with_bank(tin: Tin, top: Top, run: float, others: np.ndarray) -> tuple[Tin, shapely.Geometry]:
    footprint = top.footprint
    corner = top.nearest(shapely.get_coordinates(footprint))
    reach = run * float(np.abs(tin.xyz[:, 2, None] - [corner.min(), corner.max()]).max(initial=0.0))
    taken = _taken(footprint, reach, others)
    distance = _distances(footprint, reach, None if len(top.parts) == 1 else STEP)
    outlines = shapely.linestrings(distance.xyz[distance.edge][:, :, :2])
    near = tin.take(tin.meeting(shapely.total_bounds(outlines)))
    near = near.take(_within_reach(near, footprint, run, corner, reach / OFFSETS))
    cut = near.with_lines(np.concatenate([outlines, [shapely.boundary(taken)], shapely.boundary(top.parts)]))
    away = distance.level_at(cut.xyz[:, :2]) / run
    far, level = np.isnan(away), top.nearest(cut.xyz[:, :2])
    above = np.where(far, -1.0, cut.xyz[:, 2] - level - away)
    below = np.where(far, -1.0, level - away - cut.xyz[:, 2])
    for over in (above, below):
        over[np.abs(over) <= FLAT] = 0.0
    folds = [contours(cut.with_levels(over), np.zeros(1)).line for over in (above, below)]
    folded = cut.with_lines(np.concatenate(folds))
    away = distance.level_at(folded.xyz[:, :2]) / run
    old, level = folded.xyz[:, 2], top.nearest(folded.xyz[:, :2])
    graded = np.where(np.isnan(away), old, np.clip(old, level - away, level + away))
    free = ~_lies_in(folded, taken)
    reached = _reached(folded, np.abs(graded - old) > FLAT, footprint, free)
    moved = folded.with_levels(graded).take(reached)
    return _graded(tin, moved, footprint, taken), _end(near, moved, footprint, taken)


def _within_reach(
    tin: Tin, footprint: shapely.Geometry, run: float, level: np.ndarray, slack: float
) -> np.ndarray:
    """Triangles that some place on a footprint is high or low enough to move; others stay what they are."""
    z = tin.xyz[tin.triangle, 2]
    rise = np.maximum(z.max(axis=1) - level.min(), level.max() - z.min(axis=1))
    shapely.prepare(footprint)
    return np.flatnonzero(shapely.dwithin(footprint, tin.polygon, run * rise + slack + UPRIGHT))


def _taken(footprint: shapely.Polygon, reach: float, others: np.ndarray) -> shapely.Geometry:
    """What other terraces within reach take up, but for what lies in the footprint itself."""
    near = others[shapely.dwithin(others, footprint, reach + UPRIGHT)]
    return shapely.difference(shapely.union_all(near, grid_size=GRID), footprint, grid_size=GRID)


def _graded(tin: Tin, moved: Tin, footprint: shapely.Polygon, taken: shapely.Geometry) -> Tin:
    """The ground with a piece of it at other levels; all else keeps its triangles."""
    sloping = moved.take(np.flatnonzero(~_lies_in(moved, footprint)))
    edges = shapely.linestrings(sloping.xyz[sloping.edge][:, :, :2])
    behind = shapely.boundary(shapely.buffer(taken, -UPRIGHT, join_style="mitre"))
    cut = tin.with_lines(np.append(edges, [shapely.boundary(footprint), shapely.boundary(taken), behind]))
    level = moved.level_at(cut.xyz[:, :2])
    return cut.with_levels(np.where(np.isnan(level), cut.xyz[:, 2], level))


def _end(tin: Tin, moved: Tin, footprint: shapely.Polygon, taken: shapely.Geometry) -> shapely.Geometry:
    """Where the bank ends along other terraces, apart from the edge of its own footprint."""
    ends_at = moved.xyz[moved.border]
    side, centre = shapely.linestrings(ends_at), ends_at.mean(axis=1)
    middle = shapely.points(centre[:, :2])
    ends = shapely.dwithin(shapely.boundary(taken), middle, UPRIGHT)
    ends &= np.abs(centre[:, 2] - tin.level_at(centre[:, :2], beyond=True)) > UPRIGHT
    ends &= ~shapely.dwithin(shapely.boundary(footprint), middle, UPRIGHT)
    return shapely.multilinestrings(side[ends])


def _lies_in(tin: Tin, footprint: shapely.Geometry) -> np.ndarray:
    """Which triangles lie within a footprint, shape (t,)."""
    shapely.prepare(footprint)
    return shapely.contains_xy(footprint, tin.centroid[:, :2])


def _distances(footprint: shapely.Geometry, reach: float, step: float | None) -> Tin:
    """Distance to a footprint as a surface, zero within it, with points so close along its outlines."""
    offsets = np.linspace(0.0, max(reach, 1e-3), OFFSETS + 1)
    areas = shapely.buffer(footprint, offsets, quad_segs=ROUND)
    rings, offset = shapely.get_rings(areas, return_index=True)
    rings = rings if step is None else shapely.segmentize(rings, step)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    lines = shapely.linestrings(np.column_stack([on_grid(xy), offsets[offset][ring]]), indices=ring)
    return surface_of(Survey(contours=lines), area=areas[-1], round_off=False).tin


def _reached(tin: Tin, moved: np.ndarray, footprint: shapely.Polygon, free: np.ndarray) -> np.ndarray:
    """The triangles of moved ground that hangs together with the footprint, where it is free to move."""
    mesh = Mesh.of(tin.xyz[:, :2], tin.triangle)
    own = _lies_in(tin, footprint)
    part = (moved[tin.triangle].any(axis=1) & free) | own
    one, slot = np.nonzero((mesh.beside >= 0) & part[:, None] & part[np.maximum(mesh.beside, 0)])
    piece = linked(len(tin), one, mesh.beside[one, slot])
    return np.flatnonzero(part & np.isin(piece, piece[own]))
