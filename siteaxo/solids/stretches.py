"""
Centre lines whose own levels bend, parted into stretches that each rise evenly.

A stretch lies level across. Where the line turns, the surface lies level from the square end
of one stretch to that of the next, around the inner corner, so that nothing steps there and
the outer corner is a mitre; each stretch is then as steep as its inner side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..source.features import Features
from ..source.own_z import OWN_SURFACE
from .courses import Courses
from .planes import planes_through
from .widths import SHARP, width_of

OFF: Final = 0.005  # levels that leave one plane by no more do not bend [m]
LEAST: Final = 0.005  # corners narrower than this, and stretches shorter, are not made [m]


def in_stretches(features: Features) -> Features:
    """
    Part lines that give a surface its levels at every vertex, where these bend.

    Parameters
    ----------
    features : Features
        As read, in the local plane.

    Returns
    -------
    Features
        Each line that no one plane fits, level across it, is a row for every stretch between
        two of its vertices and for every corner between two stretches, one after another, as
        polygons; they share its id, and corners have no width. A line too tight for that, whose
        inner corners reach past one another, is one row for each stretch, still a line. All else
        is as it was.
    """
    given = ~shapely.is_missing(features.geometry_z) & (features.top_from == OWN_SURFACE)
    line = given & features.of_role("slopes").astype(bool) & (shapely.get_dimensions(features.geometry) == 1)
    rows = np.flatnonzero(line)
    if not len(rows):
        return features
    rows = rows[_bent(features.geometry_z[rows], width_of(features, rows))]
    if not len(rows):
        return features
    courses = _courses(features.geometry_z[rows])
    wide = features.width.copy()
    wide[rows] = width_of(features, rows)
    features = features.with_columns(width=wide)
    plan = _Plan.of(courses, wide[rows])
    piece, owner, place = plan.pieces()
    kept = np.setdiff1d(np.arange(len(features)), rows)
    row = np.concatenate([kept, rows[owner]])
    order = np.lexsort((np.concatenate([np.zeros(len(kept)), place]), row))
    spatial = np.concatenate([features.geometry_z[kept], piece])[order]
    flat = np.concatenate([features.geometry[kept], shapely.force_2d(piece)])[order]
    corner = np.concatenate([np.zeros(len(kept), dtype=bool), place % 1 > 0])[order]
    parted = features.take(row[order])
    width = np.where(corner, np.nan, parted.width)
    return parted.with_columns(geometry=flat, geometry_z=spatial, width=width)


def _bent(line: np.ndarray, width: np.ndarray) -> np.ndarray:
    """Which lines leave their best plane, or lie in one that is not level across them, shape (n,)."""
    xyz, owner = shapely.get_coordinates(line, include_z=True, return_index=True)
    fit = planes_through(xyz, owner, len(line))
    first = np.flatnonzero(owner[1:] == owner[:-1])
    step = (xyz[first + 1] - xyz[first])[:, :2]
    way, slope = np.maximum(np.hypot(*step.T), 1e-12), fit.slope[owner[first]]
    across = np.abs(slope[:, 0] * step[:, 1] - slope[:, 1] * step[:, 0]) / way
    leans = np.zeros(len(line))
    np.maximum.at(leans, owner[first], across)
    return (fit.off > OFF) | (leans * width > OFF)


def _courses(line: np.ndarray) -> Courses:
    """Lines with Z, without vertices that repeat the one before."""
    xyz, owner = shapely.get_coordinates(line, include_z=True, return_index=True)
    apart = np.append(True, (np.diff(owner) > 0) | (np.hypot(*np.diff(xyz[:, :2], axis=0).T) > 0))
    xyz, owner = xyz[apart], owner[apart]
    start = np.searchsorted(owner, np.arange(len(line) + 1))
    return Courses(xy=xyz[:, :2], level=xyz[:, 2], start=start)


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """
    Where stretches and corners of lines lie.

    Parameters
    ----------
    courses : Courses
        n lines with v vertices.
    first : ndarray of int, shape (s,)
        The vertex at which each stretch begins.
    corner : ndarray, shape (s, 4, 2)
        Its corners: right and left of its foot, left and right of its head [m].
    turn : ndarray, shape (v,)
        How far the line turns at each vertex, anticlockwise; 0 at open ends [radians].
    mitre : ndarray, shape (v, 2)
        From each vertex to the point of the mitre on its left [m].
    fits : ndarray of bool, shape (n,)
        Whether there is room for all corners of a line.
    """

    courses: Courses
    first: np.ndarray
    corner: np.ndarray
    turn: np.ndarray
    mitre: np.ndarray
    fits: np.ndarray

    @classmethod
    def of(cls, courses: Courses, width: np.ndarray) -> _Plan:
        """Set out lines of given widths, shape (n,) [m]."""
        owner, xy = courses.owner, courses.xy
        into, out = courses.directions()
        turn = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
        bend, half = np.tan(np.minimum(np.abs(turn), np.radians(SHARP)) / 2), width[owner] / 2
        bend = np.where(2 * half * bend < LEAST, 0.0, bend)
        middle = (into + out) / np.maximum(1 + (into * out).sum(axis=1), 0.1)[:, None]
        mitre = np.column_stack([-middle[:, 1], middle[:, 0]]) * half[:, None]
        first = np.flatnonzero(owner[1:] == owner[:-1])
        step = xy[first + 1] - xy[first]
        length, back = np.hypot(*step.T), half * bend
        tight = length - back[first] - back[first + 1] < LEAST
        sharp = np.abs(turn) >= np.radians(SHARP)
        fits = np.bincount(owner[first], tight, len(courses)) + np.bincount(owner, sharp, len(courses)) == 0
        along = step / length[:, None]
        left = np.column_stack([-along[:, 1], along[:, 0]]) * half[first, None]
        foot, head = xy[first] + along * back[first, None], xy[first + 1] - along * back[first + 1, None]
        corner = np.stack([foot - left, foot + left, head + left, head - left], axis=1)
        for end, vertex in (((1, 0), first), ((2, 3), first + 1)):  # shared points are the same numbers
            for side, column in zip((1, -1), end, strict=True):
                inner = (bend[vertex] == 0) | (side * turn[vertex] > 0)
                corner[inner, column] = xy[vertex[inner]] + side * mitre[vertex[inner]]
        return cls(
            courses=courses,
            first=first,
            corner=corner,
            turn=np.where(bend > 0, turn, 0.0),
            mitre=mitre,
            fits=fits,
        )

    def pieces(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Stretches and corners with Z, the line each belongs to, and its place along."""
        courses, first = self.courses, self.first
        owner = courses.owner[first]
        fits = self.fits[owner]
        xyz = np.column_stack([courses.xy, courses.level])
        level = courses.level[np.stack([first, first, first + 1, first + 1], axis=1)]
        stretch = np.full(len(first), None, dtype=object)
        stretch[fits] = shapely.polygons(np.dstack([self.corner, level])[fits])
        lines = np.stack([xyz[first], xyz[first + 1]], axis=1)
        stretch[~fits] = shapely.linestrings(lines[~fits])
        before, after, vertex = self._corners()
        left = self.turn[vertex] > 0
        outer = courses.xy[vertex] - np.where(left, 1, -1)[:, None] * self.mitre[vertex]
        inner = self.corner[before, np.where(left, 2, 3)]
        one, other = self.corner[before, np.where(left, 3, 2)], self.corner[after, np.where(left, 0, 1)]
        kite = np.stack([inner, one, outer, other], axis=1)
        kite = np.dstack([kite, np.repeat(courses.level[vertex][:, None], 4, axis=1)])
        corner = shapely.orient_polygons(shapely.polygons(kite)) if len(kite) else np.zeros(0, dtype=object)
        place = np.concatenate([first.astype(float), before + 0.5])
        return np.concatenate([stretch, corner]), np.concatenate([owner, owner[before]]), place

    def _corners(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The stretches before and after each corner, and its vertex."""
        courses, first = self.courses, self.first
        owner = courses.owner[first]
        inside = np.flatnonzero(owner[1:] == owner[:-1])
        rings = np.flatnonzero(courses.closed)
        ends = np.searchsorted(owner, rings, side="right") - 1
        before = np.concatenate([inside, ends])
        after = np.concatenate([inside + 1, np.searchsorted(owner, rings)])
        vertex = first[before] + 1
        turns = (self.turn[vertex] != 0) & self.fits[owner[before]]
        return before[turns], after[turns], vertex[turns]
