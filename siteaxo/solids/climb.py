"""
Closed solids of tracks whose stations have levels: flights of steps, ramps, cheek walls.

Such a solid stands on its base. Between two stations its top is level or slopes; at a
station it may jump upward, which is a riser.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from ..ragged import ragged
from .faces import PART_CODE, Faces, join
from .rings import SAME, assemble
from .tracks import Tracks

FLAT: Final = 1e-9  # levels nearer than this are equal [m]
BEND: Final = 1e-7  # a flank that turns by less is straight [rad]
WARP: Final = 1e-7  # four corners farther from one plane make two triangles [m]


@dataclass(frozen=True, kw_only=True)
class Climb:
    """
    Tracks with levels.

    Parameters
    ----------
    tracks : Tracks
        The plan.
    base : ndarray, shape (k,)
        Level each stands on [m].
    before, after : ndarray, shape (s,)
        Levels of the top just before and just after each station; *before* is the base
        at the first, *after* is not looked at at the last [m].
    level_part : str
        Part that level tops are.
    """

    tracks: Tracks
    base: np.ndarray
    before: np.ndarray
    after: np.ndarray
    level_part: str = "top"

    @cached_property
    def index(self) -> np.ndarray:
        """Stations that something comes after."""
        return np.flatnonzero(~self.tracks.last)

    @cached_property
    def slopes(self) -> np.ndarray:
        """Whether the top slopes after each station, shape (s,)."""
        slopes = np.zeros(len(self.before), dtype=bool)
        slopes[self.index] = np.abs(self.before[self.index + 1] - self.after[self.index]) > FLAT
        return slopes

    def faces(self, solid: np.ndarray) -> Faces:
        """
        Return all faces: level tops, slopes, risers, flanks, ends, soffits.

        Parameters
        ----------
        solid : ndarray of int, shape (k,)
            The solid of each track.
        """
        numbered = join(
            [self._levels(), self._slopes(), self._risers(), self._flank(0), self._flank(1), self._soffits()]
        )
        return replace(numbered, solid=np.asarray(solid, dtype=np.int64)[numbered.solid])

    def _corner(self, station: np.ndarray, place: np.ndarray, level: np.ndarray) -> np.ndarray:
        """Points of stations, *place* from the right, at levels, shape (n, 3)."""
        return np.column_stack([self.tracks.point[self.tracks.point_start[station] + place], level])

    def _levels(self) -> Faces:
        """Level tops, each from riser to riser or from slope to slope."""
        track, last = self.tracks.track, self.tracks.last
        flat = ~self.slopes & ~last
        joins = np.zeros(len(flat), dtype=bool)  # goes on from the stretch before
        joins[1:] = flat[1:] & flat[:-1] & (np.abs(self.after[1:] - self.before[1:]) <= FLAT)
        rows = np.flatnonzero(flat)
        if not len(rows):
            return join([])
        face = np.cumsum(~joins[rows]) - 1
        far = self.tracks.across[track[rows]] - 1
        level = self.after[rows]
        first = np.flatnonzero(~joins[rows])
        final = np.append(first[1:] - 1, len(rows) - 1)
        size = len(self.tracks.point)  # keeps the four runs of each ring apart
        right = [(rows + k, np.zeros_like(rows), level, face, rows + k) for k in (0, 1)]
        left = [(rows + k, far, level, face, 4 * size - rows - k) for k in (0, 1)]
        count = far[first] + 1
        owner, place = ragged(count)
        lower = (rows[first[owner]], place, level[first[owner]], owner, 5 * size - place)
        upper = (rows[final[owner]] + 1, place, level[first[owner]], owner, 2 * size + place)
        inner = (place > 0) & (place < count[owner] - 1)
        ends = [tuple(column[inner] for column in run) for run in (lower, upper)]
        station, across, at, which, order = (
            np.concatenate(parts) for parts in zip(*right, *left, *ends, strict=True)
        )
        begin = track[rows[first]]
        return assemble(
            self._corner(station, across, at),
            face=which,
            place=order,
            solid=begin,
            part=np.full(len(begin), PART_CODE[self.level_part]),
        )

    def _slopes(self) -> Faces:
        """Sloping tops between neighbouring lines uphill; two triangles where they are warped."""
        rows = np.flatnonzero(self.slopes)
        owner, place = ragged(self.tracks.across[self.tracks.track[rows]] - 1)
        here = rows[owner]
        low, high = self.after[here], self.before[here + 1]
        corners = np.stack(
            [
                self._corner(here, place, low),
                self._corner(here + 1, place, high),
                self._corner(here + 1, place + 1, high),
                self._corner(here, place + 1, low),
            ],
            axis=1,
        )
        plane = np.abs(warp(corners)) <= WARP
        triangles = np.concatenate([corners[~plane][:, [0, 1, 2]], corners[~plane][:, [0, 2, 3]]])
        solid = self.tracks.track[here]
        return join(
            [
                polygons(corners[plane], solid[plane], "slope"),
                polygons(triangles, np.tile(solid[~plane], 2), "slope"),
            ]
        )

    def _risers(self) -> Faces:
        """Upright faces that look downhill, and at the upper end uphill."""
        tracks = self.tracks
        jump = np.flatnonzero((self.after > self.before + FLAT) & ~tracks.last)
        back = tracks.start[1:] - 1
        found = []
        for rows, low, high, part in (
            (jump, self.before[jump], self.after[jump], "riser"),
            (back, self.base, self.before[back], "side"),
        ):
            owner, place = ragged(tracks.across[tracks.track[rows]] - 1)
            here = rows[owner]
            one, other = (place + 1, place) if part == "riser" else (place, place + 1)
            corners = np.stack(
                [
                    self._corner(here, one, low[owner]),
                    self._corner(here, other, low[owner]),
                    self._corner(here, other, high[owner]),
                    self._corner(here, one, high[owner]),
                ],
                axis=1,
            )
            found.append(polygons(corners, tracks.track[here], part))
        return join(found)

    def _flank(self, side: int) -> Faces:
        """Upright faces along the right (0) or left (1) flank, one for each straight stretch."""
        tracks = self.tracks
        track, rows = tracks.track, self.index
        across = side * (tracks.across[track] - 1)
        bends = self._bends(side)
        begins = bends.copy()
        begins[tracks.start[:-1]] = True
        piece = np.cumsum(begins[rows]) - 1
        first = np.flatnonzero(begins[rows])
        final = np.append(first[1:] - 1, len(rows) - 1)
        size = 4 * len(bends)
        stop, go = rows[final] + 1, rows[first]
        base = self.base[track]
        numbers = np.arange(len(first))
        runs = [
            (go, base[go], numbers, np.full(len(go), -2)),
            (stop, base[stop], numbers, np.full(len(go), -1)),
            (rows + 1, self.before[rows + 1], piece, size - 2 * (rows + 1) + 1),
            (rows, self.after[rows], piece, size - 2 * rows),
            *self._stacked(side, go, numbers, 2 * size),
        ]
        station, level, face, order = (np.concatenate(parts) for parts in zip(*runs, strict=True))
        point = self._flank_points(side)
        real = (np.abs(point[go] - point[stop]) > SAME).any(axis=1)[face]
        station, level, face, order = (column[real] for column in (station, level, face, order))
        return assemble(
            self._corner(station, across[station], level),
            face=face,
            place=-order if side else order,
            solid=track[go],
            part=np.full(len(go), PART_CODE["side"]),
        )

    def _stacked(
        self, side: int, go: np.ndarray, numbers: np.ndarray, size: int
    ) -> list[tuple[np.ndarray, ...]]:
        """All levels that meet on the upright edge where a straight stretch begins, downward."""
        group = self._places(side)
        owner, place = ragged(go - np.searchsorted(group, group[go]) + 1)  # the group up to this one
        station = go[owner] - place
        first = self.tracks.start[self.tracks.track[station]] == station
        low = np.where(first, self.base[self.tracks.track[station]], self.before[station])
        return [
            (station, self.after[station], numbers[owner], size + 2 * place),
            (station, low, numbers[owner], size + 2 * place + 1),
        ]

    def _places(self, side: int) -> np.ndarray:
        """Number that stations share whose flank does not move on between them."""
        track = self.tracks.track
        point = self._flank_points(side)
        moves = np.append(True, (np.abs(np.diff(point, axis=0)) > SAME).any(axis=1))
        moves[1:] |= track[1:] != track[:-1]
        return np.cumsum(moves) - 1

    def _flank_points(self, side: int) -> np.ndarray:
        across = side * (self.tracks.across[self.tracks.track] - 1)
        return self.tracks.point[self.tracks.point_start[:-1] + across]

    def _bends(self, side: int) -> np.ndarray:
        """Whether a flank changes direction at each station; True at ends and where it stands still."""
        point = self._flank_points(side)
        step = np.diff(point, axis=0)
        length = np.hypot(*step.T)
        into, out = step[:-1], step[1:]
        cross = np.abs(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0])
        along = (into * out).sum(axis=1)
        bends = np.ones(len(point), dtype=bool)
        still = (length[:-1] <= SAME) | (length[1:] <= SAME)
        bends[1:-1] = still | (along <= 0) | (cross > BEND * length[:-1] * length[1:])
        bends[self.tracks.start[:-1]] = bends[self.tracks.start[1:] - 1] = True
        return bends

    def _soffits(self) -> Faces:
        """Undersides, with a corner wherever the outline bends."""
        tracks = self.tracks
        size = 2 * len(tracks.point)
        runs = []
        for side in (0, 1):
            rows = np.flatnonzero(self._bends(side))
            across = side * (tracks.across[tracks.track[rows]] - 1)
            order = 4 * size - rows if side == 0 else rows
            runs.append((rows, across, tracks.track[rows], order))
        owner, place = ragged(tracks.across)
        inner = (place > 0) & (place < tracks.across[owner] - 1)
        owner, place = owner[inner], place[inner]
        runs.append((tracks.start[1:][owner] - 1, place, owner, 2 * size - place))
        runs.append((tracks.start[:-1][owner], place, owner, 5 * size + place))
        station, across, track, order = (np.concatenate(parts) for parts in zip(*runs, strict=True))
        return assemble(
            self._corner(station, across, self.base[track]),
            face=track,
            place=order,
            solid=np.arange(len(tracks)),
            part=np.full(len(tracks), PART_CODE["soffit"]),
        )


def polygons(corners: np.ndarray, solid: np.ndarray, part: str) -> Faces:
    """
    Faces of equal corner count, without those that have no extent.

    Parameters
    ----------
    corners : ndarray, shape (f, c, 3)
        Corners, anticlockwise from outside; corners may coincide [m].
    solid : ndarray of int, shape (f,)
        The solid of each.
    part : str
        One of PARTS.

    Returns
    -------
    Faces
    """
    count, sides = corners.shape[:2]
    return assemble(
        corners.reshape(-1, 3),
        face=np.repeat(np.arange(count), sides),
        place=np.tile(np.arange(sides), count),
        solid=solid,
        part=np.full(count, PART_CODE[part]),
    )


def warp(corners: np.ndarray) -> np.ndarray:
    """Distance of the fourth corner from the plane of the other three, shape (f,) [m]."""
    a, b, c = (corners[:, k] - corners[:, 3] for k in range(3))
    normal = np.cross(b - a, c - a)
    length = np.sqrt((normal**2).sum(axis=1))
    return (a * normal).sum(axis=1) / np.maximum(length, 1e-12)
