"""
Plane geometry in exact rational numbers.

Floating-point coordinates are rational numbers, so which side of a line a point lies on,
where two lines cross and how far a point is from a side can be settled without rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

Ring = np.ndarray
Point = tuple[Fraction, Fraction]


def exact(ring: Ring) -> list[Point]:
    """A ring or line as exact points."""
    return [(Fraction(float(x)), Fraction(float(y))) for x, y in ring]


def areas(
    polygons: Sequence[Sequence[Ring]], owner: Callable[[tuple[bool, ...], float, float], int], count: int
) -> list[float]:
    """
    Share out the plane among owners and measure what each gets.

    The plane is cut into upright strips at every corner and crossing; within a strip no
    two sides cross, so each cell between two of them has one owner.

    Parameters
    ----------
    polygons : sequence of sequences of ndarray, shape (k, 2)
        Rings of each polygon, not closed; a place is inside where it is inside an odd
        number of them.
    owner : function
        Given which polygons hold a cell, and a point of it, who owns the cell; -1 for none.
    count : int
        Number of owners.

    Returns
    -------
    list of float
        Areas, each correct to rounding.
    """
    sides = []
    for number, rings in enumerate(polygons):
        for ring in rings:
            points = exact(ring)
            for p, q in zip(points, [*points[1:], points[0]], strict=True):
                if p[0] != q[0]:
                    sides.append((*sorted((p, q)), number))
    cuts = sorted({p[0] for side in sides for p in side[:2]} | set(_crossings(sides)))
    shares: list[list[float]] = [[] for _ in range(count)]
    for left, right in pairwise(cuts):
        middle = (left + right) / 2
        strip = sorted(
            (p[1] + (q[1] - p[1]) * (middle - p[0]) / (q[0] - p[0]), number)
            for p, q, number in sides
            if p[0] <= left and q[0] >= right
        )
        state = [False] * len(polygons)
        for (low, number), (high, _) in pairwise(strip):
            state[number] = not state[number]
            if high > low and any(state):
                whose = owner(tuple(state), float(middle), float((low + high) / 2))
                if whose >= 0:
                    shares[whose].append(float((right - left) * (high - low)))
    return [math.fsum(share) for share in shares]


def _crossings(sides: list[tuple[Point, Point, int]]) -> list[Fraction]:
    """Where sides cross, from left to right."""
    found = []
    for row, (p, q, _) in enumerate(sides):
        for r, s, _ in sides[row + 1 :]:
            if (
                r[0] >= q[0]
                or s[0] <= p[0]
                or max(p[1], q[1]) < min(r[1], s[1])
                or max(r[1], s[1]) < min(p[1], q[1])
            ):
                continue
            at = crossing((p, q), (r, s))
            if at is not None and 0 < at < 1:
                found.append(p[0] + at * (q[0] - p[0]))
    return found


def crossing(line: tuple[Point, Point], side: tuple[Point, Point]) -> Fraction | None:
    """Share of the way along *line* at which it meets *side*; None if it does not or they are parallel."""
    (px, py), (qx, qy) = line
    (rx, ry), (sx, sy) = side
    dx, dy, ex, ey = qx - px, qy - py, sx - rx, sy - ry
    turn = dx * ey - dy * ex
    if turn == 0:
        return None
    along_side = ((rx - px) * dy - (ry - py) * dx) / turn
    if not 0 <= along_side <= 1:
        return None
    return ((rx - px) * ey - (ry - py) * ex) / turn


def inside(point: Point, ring: list[Point]) -> bool:
    """Whether a point is inside a ring, by counting the sides to its right."""
    x, y = point
    odd = False
    for (px, py), (qx, qy) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (py > y) != (qy > y):
            odd ^= x < px + (y - py) * (qx - px) / (qy - py)
    return odd


def square_distance(point: Point, ring: list[Point]) -> Fraction:
    """Square of a point's distance from the nearest side of a ring."""
    best = None
    for (px, py), (qx, qy) in zip(ring, [*ring[1:], ring[0]], strict=True):
        dx, dy, vx, vy = qx - px, qy - py, point[0] - px, point[1] - py
        size = dx * dx + dy * dy
        share = min(max((vx * dx + vy * dy) / size, Fraction(0)), Fraction(1)) if size else Fraction(0)
        ex, ey = vx - share * dx, vy - share * dy
        square = ex * ex + ey * ey
        best = square if best is None or square < best else best
    return best
