"""
Polygons as flat arrays of rings, and back.

Overlays that are done in numpy see polygons as closed outlines with the inside to the
left: outer rings run anticlockwise, holes clockwise, and which ring is whose hole need
not be known until polygons are made again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from ..ragged import spread
from .order import in_order

ROUNDING = 1e-12  # turns smaller than this are none [-]
EMPTY_AREA = 1e-12  # rings with less inside are not told apart from nothing [m²]


@dataclass(frozen=True, kw_only=True)
class Rings:
    """
    Rings of polygons, the inside to the left.

    Parameters
    ----------
    xy : ndarray, shape (v, 2)
        Corners; rings are not closed [m].
    start : ndarray of int, shape (r + 1,)
        Where each ring starts in *xy*.
    row : ndarray of int, shape (r,)
        The polygon each ring belongs to, not descending.
    """

    xy: np.ndarray
    start: np.ndarray
    row: np.ndarray

    @classmethod
    def joined(cls, tables: Sequence[Rings]) -> Rings:
        """Several tables one after another."""
        count = np.concatenate([table.count for table in tables])
        return cls(
            xy=np.concatenate([table.xy for table in tables]),
            start=np.concatenate([[0], np.cumsum(count)]),
            row=np.concatenate([table.row for table in tables]),
        )

    def __len__(self) -> int:
        return len(self.row)

    @cached_property
    def count(self) -> np.ndarray:
        """Corners of each ring, shape (r,)."""
        return np.diff(self.start)

    @cached_property
    def following(self) -> np.ndarray:
        """The corner after each one on its ring, shape (v,)."""
        after = np.arange(1, len(self.xy) + 1)
        after[self.start[1:] - 1] = self.start[:-1]
        return after

    @cached_property
    def areas(self) -> np.ndarray:
        """Signed areas, holes below zero, shape (r,) [m²]."""
        if not len(self):
            return np.zeros(0)
        first = np.repeat(self.start[:-1], self.count)
        x, y = np.ascontiguousarray((self.xy - self.xy.take(first, axis=0)).T)
        after = self.following
        return np.add.reduceat(x * y[after] - y * x[after], self.start[:-1]) / 2

    @cached_property
    def box(self) -> np.ndarray:
        """Left, bottom, right, top of each ring, shape (4, r) [m]."""
        if not len(self):
            return np.zeros((4, 0))
        x, y = np.ascontiguousarray(self.xy.T)
        sides = ((np.minimum, x), (np.minimum, y), (np.maximum, x), (np.maximum, y))
        return np.array([how.reduceat(column, self.start[:-1]) for how, column in sides])

    @cached_property
    def convex(self) -> np.ndarray:
        """Whether rings turn left at every corner and go round once, shape (r,)."""
        after = self.following
        right, up = np.ascontiguousarray((self.xy.take(after, axis=0) - self.xy).T)
        along = np.abs(right) + np.abs(up)
        rises = (up > 0) | ((up == 0) & (right > 0))
        ring = np.repeat(np.arange(len(self)), self.count)
        left = right * up[after] - up * right[after] > ROUNDING * along * along[after]
        rounds = np.bincount(ring[~rises & rises[after]], minlength=len(self))
        return (rounds == 1) & (np.bincount(ring[~left], minlength=len(self)) == 0)

    def turned(self, chosen: np.ndarray) -> Rings:
        """The same, some of the rings running the other way."""
        order = np.arange(len(self.xy))
        corner = spread(self.start[chosen], self.count[chosen])
        order[corner] = (
            np.repeat(self.start[chosen] + self.start[chosen + 1] - 1, self.count[chosen]) - corner
        )
        return replace(self, xy=self.xy.take(order, axis=0))

    def inside_left(self, outer: np.ndarray) -> Rings:
        """The same, those rings turned that have their inside to the right, being outer ones or holes."""
        wrong = np.flatnonzero((self.areas > 0) != outer)
        return self.turned(wrong) if len(wrong) else self

    def take(self, chosen: np.ndarray) -> Rings:
        """Some of the rings, in the order given."""
        count = self.count[chosen]
        return Rings(
            xy=self.xy.take(spread(self.start[chosen], count), axis=0),
            start=np.concatenate([[0], np.cumsum(count)]),
            row=self.row[chosen],
        )


def rings_of(polygons: np.ndarray) -> Rings:
    """
    Take polygons apart into rings.

    Parameters
    ----------
    polygons : ndarray of Polygon or MultiPolygon, shape (n,)
        Empty ones have no rings.

    Returns
    -------
    Rings

    Examples
    --------
    >>> rings_of(np.array([shapely.box(0, 0, 2, 1)])).areas.tolist()
    [2.0]
    """
    plain = shapely.get_type_id(polygons) == shapely.GeometryType.POLYGON
    plain &= shapely.get_num_interior_rings(polygons) == 0
    count = shapely.get_num_coordinates(polygons)
    rest = np.flatnonzero(~plain)
    parts, owner = shapely.get_parts(polygons[rest], return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    row = np.concatenate([np.flatnonzero(plain & (count > 0)), rest[owner[part]]])
    order = np.argsort(row, kind="stable")
    outer = np.ones(len(row), dtype=bool)
    outer[len(row) - len(part) :] = np.diff(part, prepend=-1) > 0
    size = np.concatenate([count[plain & (count > 0)], shapely.get_num_coordinates(rings)])
    return _opened(shapely.get_coordinates(polygons), size[order], row[order], outer[order])


def _opened(xy: np.ndarray, count: np.ndarray, row: np.ndarray, outer: np.ndarray) -> Rings:
    """Rings without their last corners, turned where their inside lies to the right."""
    start = np.concatenate([[0], np.cumsum(count - 1)])
    corner = np.arange(start[-1]) + np.repeat(np.arange(len(count)), count - 1)
    return Rings(xy=xy.take(corner, axis=0), start=start, row=row).inside_left(outer)


def cycles(following: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Cycles of a permutation.

    Parameters
    ----------
    following : ndarray of int, shape (n,)
        What comes after each item.

    Returns
    -------
    name, turn : ndarray of int, shape (n,)
        The least item of the cycle that each is in, and how many steps it is from there.

    Examples
    --------
    >>> [column.tolist() for column in cycles(np.array([2, 1, 3, 0]))]
    [[0, 1, 0, 0], [0, 0, 1, 2]]
    """
    name, here = np.arange(len(following)), following.copy()
    away = np.flatnonzero(here != name)
    while len(away):
        name[away] = np.minimum(name[away], here[away])
        here[away] = following[here[away]]
        away = away[here[away] != away]
    turn = np.zeros(len(following), dtype=np.int64)
    first = np.flatnonzero(name == np.arange(len(name)))
    here, step = following[first], 1
    while len(first):
        going = here != first
        first, here = first[going], here[going]
        turn[here] = step
        here, step = following[here], step + 1
    return name, turn


def laid_out(following: np.ndarray, row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Cycles of a permutation laid end to end, sorted by row and then by their least item.

    Returns
    -------
    order : ndarray of int, shape (n,)
        Items, those of each cycle one after another.
    start : ndarray of int, shape (c + 1,)
        Where each cycle starts among them.

    Examples
    --------
    >>> [column.tolist() for column in laid_out(np.array([2, 1, 3, 0]), np.array([7, 4, 7, 7]))]
    [[1, 0, 2, 3], [0, 1, 4]]
    """
    name, turn = cycles(following)
    least = np.flatnonzero(name == np.arange(len(name)))
    least = least[in_order(row[least])]
    start = np.concatenate([[0], np.cumsum(np.bincount(name, minlength=len(name))[least])])
    begin, order = np.empty((2, len(name)), dtype=np.int64)
    begin[least] = start[:-1]
    order[begin[name] + turn] = np.arange(len(name))
    return order, start


def linked(xy: np.ndarray, row: np.ndarray, following: np.ndarray) -> Rings:
    """Rings of points, shape (n, 2), of which each is followed by another; sorted by row."""
    order, start = laid_out(following, row)
    return Rings(xy=xy.take(order, axis=0), start=start, row=row[order[start[:-1]]])


def measured(rings: Rings, count: int) -> tuple[np.ndarray, np.ndarray]:
    """
    Areas of polygons given by their rings, and where it is plain what the polygons are.

    Returns
    -------
    area : ndarray, shape (count,)
        Their areas [m²].
    sure : ndarray of bool, shape (count,)
        False where it is not plain which ring is the hole of which, or a ring has no area.
    """
    signed = rings.areas
    outer = signed > 0
    bodies = np.bincount(rings.row[outer], minlength=count)
    holes = np.bincount(rings.row[~outer], minlength=count)
    sure = (holes == 0) | (bodies == 1)
    sure[rings.row[np.abs(signed) <= EMPTY_AREA]] = False
    return np.bincount(rings.row, signed, minlength=count), sure


def polygons_of(rings: Rings, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Put rings together to polygons.

    Parameters
    ----------
    rings : Rings
        Rings sorted by row.
    count : int
        Number of polygons.

    Returns
    -------
    polygons : ndarray of Polygon or MultiPolygon, shape (count,)
        Empty where a row has no rings.
    area, sure : ndarray, shape (count,)
        As :func:`measured`.
    """
    area, sure = measured(rings, count)
    outer = rings.areas > 0
    polygons = np.full(count, shapely.Polygon(), dtype=object)
    good = np.flatnonzero(sure[rings.row])
    if not outer[good].all():
        good = good[np.lexsort((~outer[good], rings.row[good]))]  # holes after what they are in
    if len(good):
        _assembled(rings.take(good), outer[good], polygons)
    return polygons, area, sure


def _assembled(rings: Rings, outer: np.ndarray, polygons: np.ndarray) -> None:
    """Make polygons of rings that come with their holes behind them, and enter them by row."""
    closed = np.concatenate([[0], np.cumsum(rings.count + 1)])
    corner = spread(rings.start[:-1], rings.count + 1)
    corner[closed[1:] - 1] = rings.start[:-1]
    first = np.flatnonzero(outer)
    made = shapely.from_ragged_array(
        shapely.GeometryType.POLYGON, rings.xy.take(corner, axis=0), (closed, np.append(first, len(rings)))
    )
    row = rings.row[first]
    several = np.bincount(row, minlength=len(polygons))[row] > 1
    polygons[row[~several]] = made[~several]
    if several.any():
        rows, place = np.unique(row[several], return_inverse=True)
        polygons[rows] = shapely.multipolygons(made[several], indices=place)
