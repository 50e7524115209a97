"""
Ray casting in double precision over every face of a scene.

A page point is a line of sight through the site. Each face whose outline holds the
point is met where the line meets the face's plane; the nearest to the viewer is seen.
Faces turned away are not seen, unless they are two-sided. Of faces met at one place the
one of the highest rank is seen, then the last one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

SAME = 1e-7  # faces met this near to one another are met at one place [m]


@dataclass(frozen=True, kw_only=True)
class Hits:
    """
    What lines of sight meet.

    ``face`` is the face seen, -1 where there is none, shape (n,); ``depth`` is its
    distance toward the viewer [m]; ``next`` the next face behind that is not met at the
    same place, ``gap`` the distance to it [m] (infinite where there is none), ``aside``
    how far off on the page the planes of the two cross [m].
    """

    face: np.ndarray
    depth: np.ndarray
    next: np.ndarray
    gap: np.ndarray
    aside: np.ndarray


class Rays:
    """
    A scene ready for ray casting.

    Parameters
    ----------
    faces : object
        With ``xyz``, ``ring_start``, ``face_start``, ``solid``, ``two_sided``.
    rank : ndarray, shape (s,)
        Rank of each solid.
    matrix : ndarray, shape (3, 3)
        Rows page right, page up and depth.
    """

    def __init__(self, faces: object, rank: np.ndarray, matrix: np.ndarray) -> None:
        self.inverse = np.linalg.inv(matrix)
        self.handedness = np.sign(np.linalg.det(matrix))
        self.sight = self.inverse[:, 2]  # one unit of depth toward the viewer
        self.rings = [
            [faces.xyz[faces.ring_start[r] : faces.ring_start[r + 1]] for r in range(first, last)]
            for first, last in zip(faces.face_start[:-1], faces.face_start[1:], strict=True)
        ]
        self.page = [[ring @ matrix[:2].T for ring in rings] for rings in self.rings]
        self.order = np.lexsort((np.arange(len(self.rings)), rank[faces.solid])).argsort()
        planes = np.array([self._plane(rings) for rings in self.rings])
        self.normal, self.offset = planes[:, :3], planes[:, 3]
        self.facing = self.normal @ self.sight
        seen = (self.facing > 1e-9) | (faces.two_sided & (np.abs(self.facing) > 1e-9))
        self.seen = np.flatnonzero(seen)
        with np.errstate(divide="ignore", invalid="ignore"):
            self.slope = -(self.normal @ self.inverse[:, :2]) / self.facing[:, None]

    @staticmethod
    def _plane(rings: list[np.ndarray]) -> np.ndarray:
        normal = np.zeros(3)
        origin = rings[0][0]
        for ring in rings:
            local = ring - origin
            normal = normal + np.cross(local, np.roll(local, -1, axis=0)).sum(axis=0) / 2
        normal /= max(np.sqrt(normal @ normal), 1e-300)
        return np.append(normal, normal @ origin)

    @property
    def segments(self) -> np.ndarray:
        """Page ends of every side of every face, shape (k, 2, 2) [m]."""
        rings = [ring for rings in self.page for ring in rings]
        return np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])

    def depth(self, face: np.ndarray, points: np.ndarray) -> np.ndarray:
        """Depth at which lines of sight meet the planes of given faces, shape (n,) [m]."""
        there = points @ self.inverse[:, :2].T
        return (self.offset[face] - (there * self.normal[face]).sum(axis=1)) / self.facing[face]

    def point(self, face: np.ndarray, points: np.ndarray) -> np.ndarray:
        """Where lines of sight meet the planes of given faces, on the site, shape (n, 3) [m]."""
        return points @ self.inverse[:, :2].T + self.depth(face, points)[:, None] * self.sight

    def cast(self, points: np.ndarray) -> Hits:
        """Cast one line of sight through each page point, shape (n, 2) [m]."""
        depth = np.full((len(points), len(self.seen)), -np.inf)
        for column, face in enumerate(self.seen):
            rows = np.flatnonzero(within(self.page[face], points))
            depth[rows, column] = self.depth(np.full(len(rows), face), points[rows])
        best = depth.max(axis=1)
        here = np.isfinite(best)
        at = depth >= (best - SAME)[:, None]
        column = np.where(at & here[:, None], self.order[self.seen], -1).argmax(axis=1)
        face = np.where(here, self.seen[column], -1)
        behind = np.where(at, -np.inf, depth)
        second = behind.argmax(axis=1)
        with np.errstate(invalid="ignore"):
            gap = np.where(here, best - behind.max(axis=1), np.inf)
        lean = self.slope[self.seen[second]] - self.slope[np.maximum(face, 0)]
        with np.errstate(divide="ignore"):
            aside = gap / np.hypot(*lean.T)
        return Hits(face=face, depth=best, next=self.seen[second], gap=gap, aside=aside)


def within(rings: list[np.ndarray], points: np.ndarray) -> np.ndarray:
    """Whether points lie inside rings, by counting the sides to their right; shape (n,)."""
    result = np.zeros(len(points), dtype=bool)
    outer = rings[0]
    low, high = outer.min(axis=0), outer.max(axis=0)
    rows = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
    x, y = points[rows].T
    odd = np.zeros(len(rows), dtype=bool)
    for ring in rings:
        for (x0, y0), (x1, y1) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            if y0 != y1:
                spans = (y0 > y) != (y1 > y)
                odd ^= spans & (x < x0 + (y - y0) * ((x1 - x0) / (y1 - y0)))
    result[rows] = odd
    return result


def sample(segments: np.ndarray, count: int, rng: np.random.Generator, *, clear: float) -> np.ndarray:
    """
    Page points at least *clear* from every segment: half anywhere, half beside the segments.

    Returns about *count* points, shape (n, 2) [m].
    """
    low, high = segments.min(axis=(0, 1)), segments.max(axis=(0, 1))
    anywhere = rng.uniform(low - 0.5, high + 0.5, (count, 2))
    step = segments[:, 1] - segments[:, 0]
    length = np.hypot(*step.T)
    pick = rng.choice(len(segments), count, p=length / length.sum())
    across = np.column_stack([-step[pick, 1], step[pick, 0]]) / length[pick, None]
    side = rng.choice([-1.0, 1.0], count) * rng.uniform(clear, 20 * clear, count)
    beside = segments[pick, 0] + rng.random((count, 1)) * step[pick] + side[:, None] * across
    points = np.concatenate([anywhere, beside])
    near = near_segments(points, segments, clear)
    free = np.flatnonzero(~near)
    return points[rng.permutation(free)[:count]]


def near_segments(points: np.ndarray, segments: np.ndarray, distance: float) -> np.ndarray:
    """Whether points are within a distance of any segment, shape (n,)."""
    tree = shapely.STRtree(shapely.linestrings(segments))
    rows = tree.query(shapely.points(points), predicate="dwithin", distance=distance)[0]
    near = np.zeros(len(points), dtype=bool)
    near[rows] = True
    return near
