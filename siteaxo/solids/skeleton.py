"""
Roof planes over any footprint: its sides move inward at equal speed and leave planes behind.

The moving outline (the wavefront) is advanced from event to event: a side shrinks to
nothing, or a re-entrant corner runs into a side. At each event coinciding corners become
one, corners are let into the sides they touch, sides that lie upon one another become a
ridge, and the rest is traced into outlines again. A side may stay where it is: its plane
is then upright, a gable.

References
----------
O. Aichholzer, F. Aurenhammer, D. Alberts, B. Gärtner (1995), "A novel type of skeleton
for polygons", for the straight skeleton.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from .borders import rings_of, without_straight

SNAPS: Final = (1e-5, 1e-4, 1e-3)  # corners of the wavefront nearer than this are one, by turns [m]
PARALLEL: Final = 1e-9  # sine of the angle below which neighbours are parallel [-]
EVENTS_PER_SIDE: Final = 12  # more than this many, and the outline is given up


@dataclass(frozen=True, kw_only=True)
class Skeleton:
    """
    Roof planes in plan, with the time at which the wavefront passes.

    Parameters
    ----------
    node : ndarray, shape (n, 3)
        Plan position [m] and time, which is the distance from the eaves [m].
    rings : list of list of int
        Nodes of each plane, anticlockwise from outside.
    side : list of int
        The side of the footprint that each plane rises from.
    """

    node: np.ndarray
    rings: list[list[int]]
    side: list[int]

    @property
    def reach(self) -> float:
        """Time at the highest ridge [m]."""
        return float(self.node[:, 2].max())


def skeleton_of(footprint: shapely.Polygon, still: np.ndarray | None = None) -> Skeleton | None:
    """
    Find the roof planes over a footprint.

    Parameters
    ----------
    footprint : Polygon
        Valid, shell anticlockwise, holes clockwise [m].
    still : ndarray of bool, shape (sides,), optional
        Sides that stay where they are, in the order of the rings.

    Returns
    -------
    Skeleton or None
        None where the outline is too intricate to be resolved.

    Examples
    --------
    >>> hip = skeleton_of(shapely.box(0, 0, 10, 6))
    >>> hip.reach, len(hip.rings)
    (3.0, 4)
    """
    for snap in SNAPS:
        front = _Front.of(footprint, still, snap)
        for _ in range(EVENTS_PER_SIDE * len(front.normal)):
            if not front.loops or not front.advance():
                break
        if not front.loops:
            return front.skeleton()
    return None


@dataclass(kw_only=True)
class _Front:
    """The wavefront, and the planes it has swept over."""

    normal: np.ndarray
    speed: np.ndarray
    node: list[tuple[float, float, float]]
    loops: list[list[tuple[int, int]]]  # (side, node it starts at)
    snap: float
    time: float = 0.0
    swept: dict[int, Counter[tuple[int, int]]] = field(default_factory=lambda: defaultdict(Counter))

    @classmethod
    def of(cls, footprint: shapely.Polygon, still: np.ndarray | None, snap: float) -> _Front:
        xy, owner = shapely.get_coordinates(
            shapely.get_rings(shapely.remove_repeated_points(footprint)), return_index=True
        )
        last = np.append(owner[1:] != owner[:-1], True)
        along = np.diff(xy, axis=0)[~last[:-1]]
        normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
        owner = owner[~last]
        loops = [[(int(row), int(row)) for row in np.flatnonzero(owner == ring)] for ring in np.unique(owner)]
        return cls(
            normal=normal,
            speed=np.ones(len(normal)) if still is None else 1.0 - np.asarray(still, dtype=float),
            node=[(float(x), float(y), 0.0) for x, y in xy[~last]],
            loops=loops,
            snap=snap,
        )

    def advance(self) -> bool:
        """Go to the next event; False when there is none although something is left."""
        side, start, end, behind = self._segments()
        point = np.array([self.node[k][:2] for k in start])
        move = self._velocities(side[behind], side)
        step = _next_event(point, move, end, behind, self.normal[side], self.speed[side], self.snap)
        if not np.isfinite(step):
            return False
        moved = point + step * move
        self.time += step
        corner = self._clustered(moved)
        chains = _let_in(np.array([self.node[k][:2] for k in corner]), corner, end, self.snap)
        links: list[tuple[int, int, int]] = []
        for k, chain in enumerate(chains):
            self._sweep(int(side[k]), int(start[k]), int(start[end[k]]), chain)
            links += [(int(side[k]), a, b) for a, b in pairwise(chain)]
        self.loops = self._traced(_without_ridges(links))
        return True

    def _segments(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Side and start node of each segment, and the segments after and before it."""
        side: list[int] = []
        start: list[int] = []
        end: list[int] = []
        behind: list[int] = []
        for loop in self.loops:
            first, count = len(side), len(loop)
            side += [s for s, _ in loop]
            start += [k for _, k in loop]
            end += [first + (i + 1) % count for i in range(count)]
            behind += [first + (i - 1) % count for i in range(count)]
        return np.array(side), np.array(start), np.array(end), np.array(behind)

    def _velocities(self, one: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Velocity of corners between two moving sides each, shape (n, 2)."""
        a, b, u, v = self.normal[one], self.normal[other], self.speed[one], self.speed[other]
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        mean = (a + b) / np.maximum(1 + (a * b).sum(axis=1), 1e-12)[:, None] * u[:, None]
        safe = np.where(np.abs(cross) > PARALLEL, cross, 1.0)
        solved = np.column_stack([u * b[:, 1] - v * a[:, 1], a[:, 0] * v - b[:, 0] * u]) / safe[:, None]
        return np.where(((u == v) | (np.abs(cross) <= PARALLEL))[:, None], mean, solved)

    def _clustered(self, moved: np.ndarray) -> list[int]:
        """New nodes for moved corners; corners that meet share one."""
        name = np.arange(len(moved))
        near = np.hypot(*(moved[:, None] - moved[None]).transpose(2, 0, 1)) <= self.snap
        for k in range(len(moved)):
            name[k] = name[np.argmax(near[k])]
        number = {}
        for k in np.unique(name):
            number[k] = len(self.node)
            self.node.append((float(moved[k, 0]), float(moved[k, 1]), self.time))
        return [number[k] for k in name]

    def _sweep(self, side: int, a: int, b: int, chain: list[int]) -> None:
        """Add the piece between a segment and where it has moved to; common borders cancel."""
        ring = [a, b, *chain[::-1]]
        border = self.swept[side]
        for one, other in zip(ring, [*ring[1:], ring[0]], strict=True):
            if one == other:
                continue
            if border[other, one]:
                border[other, one] -= 1
            else:
                border[one, other] += 1

    def _traced(self, links: list[tuple[int, int, int]]) -> list[list[tuple[int, int]]]:
        """Join links into loops; where several meet, the interior stays on the left."""
        leaving = defaultdict(list)
        for number, (_, a, _) in enumerate(links):
            leaving[a].append(number)
        following = {}
        for number, (_, a, b) in enumerate(links):
            back = self._angle(b, a)
            following[number] = min(
                leaving[b], key=lambda out: (back - self._angle(*links[out][1:])) % (2 * np.pi) or 2 * np.pi
            )
        loops, left = [], set(following)
        while left:
            loop, at = [], min(left)
            while at in left:
                left.remove(at)
                loop.append(links[at][:2])
                at = following[at]
            loops.append(loop)
        return loops

    def _angle(self, a: int, b: int) -> float:
        (x0, y0, _), (x1, y1, _) = self.node[a], self.node[b]
        return float(np.arctan2(y1 - y0, x1 - x0))

    def skeleton(self) -> Skeleton:
        """The planes, without corners that only lie on a straight edge between two of them."""
        rings, side = [], []
        for number, border in self.swept.items():
            for ring in rings_of(border):
                rings.append(ring)
                side.append(number)
        node = np.array(self.node)
        used = Counter(k for ring in rings for k in ring)
        bare = {k for k, count in used.items() if count == 2 and node[k, 2] > 0}
        return Skeleton(node=node, rings=[without_straight(ring, node, bare) for ring in rings], side=side)


def _next_event(
    point: np.ndarray,
    move: np.ndarray,
    end: np.ndarray,
    behind: np.ndarray,
    normal: np.ndarray,
    speed: np.ndarray,
    snap: float,
) -> float:
    """Time until the next side vanishes or corner hits a side."""
    tangent = np.column_stack([normal[:, 1], -normal[:, 0]])
    length = ((point[end] - point) * tangent).sum(axis=1)
    growth = ((move[end] - move) * tangent).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        vanish = np.where(growth < -1e-12, np.maximum(length, 0.0) / -growth, np.inf)
        t0, t1 = tangent[behind], tangent
        reentrant = np.flatnonzero(t0[:, 0] * t1[:, 1] - t0[:, 1] * t1[:, 0] < -PARALLEL)
        gap = ((point[reentrant, None] - point[None]) * normal[None]).sum(axis=2)
        closing = (move[reentrant, None] * normal[None]).sum(axis=2) - speed
        hit = np.where((gap > -snap) & (closing < -1e-12), np.maximum(gap, 0.0) / -closing, np.inf)
    rows = np.arange(len(point))
    own = (rows[None] == reentrant[:, None]) | (rows[None] == behind[reentrant][:, None])
    hit[own] = np.inf
    time = np.where(np.isfinite(hit), hit, 0.0)
    at = point[reentrant, None] + time[..., None] * move[reentrant, None]
    begin = point[None] + time[..., None] * move[None]
    finish = point[end][None] + time[..., None] * move[end][None]
    within = ((at - begin) * tangent).sum(axis=2) >= -snap
    within &= ((finish - at) * tangent).sum(axis=2) >= -snap
    return float(min(vanish.min(initial=np.inf), hit[within].min(initial=np.inf)))


def _let_in(point: np.ndarray, corner: list[int], end: np.ndarray, snap: float) -> list[list[int]]:
    """Nodes along each moved segment: its ends, and the corners of others that touch it."""
    a, b = point, point[end]
    along = b - a
    length = np.hypot(*along.T)
    unit = along / np.where(length > 0, length, 1.0)[:, None]
    away = point[None] - a[:, None]
    place = (away * unit[:, None]).sum(axis=2)
    aside = np.abs(away[..., 0] * unit[:, None, 1] - away[..., 1] * unit[:, None, 0])
    on = (aside <= snap) & (place > snap) & (place < length[:, None] - snap)
    chains = []
    for k in range(len(corner)):
        inner = sorted({(round(float(place[k, j]), 9), corner[j]) for j in np.flatnonzero(on[k])})
        nodes = [corner[k], *(number for _, number in inner), corner[end[k]]]
        chains.append([n for i, n in enumerate(nodes) if i == 0 or n != nodes[i - 1]])
    return chains


def _without_ridges(links: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Take out links that lie upon one another in opposite directions."""
    waiting: dict[tuple[int, int], list[int]] = defaultdict(list)
    gone: set[int] = set()
    for number, (_, a, b) in enumerate(links):
        if waiting[b, a]:
            gone |= {number, waiting[b, a].pop()}
        else:
            waiting[a, b].append(number)
    return [link for number, link in enumerate(links) if number not in gone]
