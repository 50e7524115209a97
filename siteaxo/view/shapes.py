"""
Many polygons as rings, put together to polygons only where they are asked for.

What is cut again and again in numpy need not be taken apart again each time, nor put
together in between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from ..ragged import spread
from .order import starts
from .rings import Rings, polygons_of, rings_of


@dataclass(frozen=True, kw_only=True)
class Shapes:
    """
    Polygons as rings.

    Parameters
    ----------
    table : Rings
        Rings of these shapes, and perhaps of others.
    first, count : ndarray of int, shape (n,)
        Where the rings of each start in the table, and how many they are; none if it is empty.
    area : ndarray, shape (n,)
        Their areas [m²].
    polygon : ndarray of Polygon, MultiPolygon or None, shape (n,)
        The same as polygons, None where not put together yet.

    Examples
    --------
    >>> frame = shapely.box(0, 0, 4, 4) - shapely.box(1, 1, 3, 3)
    >>> shapes = Shapes.of(np.array([frame, shapely.box(0, 0, 2, 1)])).take(np.array([1, 0, 1]))
    >>> shapes.area.tolist(), shapes.corners.tolist(), shapes.polygons()[1] == frame
    ([2.0, 12.0, 2.0], [4, 8, 4], True)
    """

    table: Rings
    first: np.ndarray
    count: np.ndarray
    area: np.ndarray
    polygon: np.ndarray

    @classmethod
    def of(cls, polygons: np.ndarray) -> Shapes:
        """Take polygons apart."""
        rings = rings_of(polygons)
        area = np.bincount(rings.row, rings.areas, minlength=len(polygons))
        return cls.made_of(rings, area, polygons)

    @classmethod
    def made_of(cls, rings: Rings, area: np.ndarray, polygon: np.ndarray | None = None) -> Shapes:
        """Shapes of rings sorted by row."""
        start = starts(rings.row, len(area))
        none = np.full(len(area), None, dtype=object) if polygon is None else polygon
        return cls(table=rings, first=start[:-1], count=np.diff(start), area=area, polygon=none)

    @classmethod
    def joined(cls, tables: Sequence[Shapes]) -> Shapes:
        """Several tables one after another."""
        shift = np.cumsum([0] + [len(shapes.table) for shapes in tables])
        return cls(
            table=Rings.joined([shapes.table for shapes in tables]),
            first=np.concatenate([s.first + by for s, by in zip(tables, shift, strict=False)]),
            count=np.concatenate([shapes.count for shapes in tables]),
            area=np.concatenate([shapes.area for shapes in tables]),
            polygon=np.concatenate([shapes.polygon for shapes in tables]),
        )

    def __len__(self) -> int:
        return len(self.area)

    @property
    def rings(self) -> Rings:
        """Their own rings only, sorted by row."""
        rings = self.table.take(spread(self.first, self.count))
        return replace(rings, row=np.repeat(np.arange(len(self)), self.count))

    @cached_property
    def corners(self) -> np.ndarray:
        """How many corners each has, shape (n,)."""
        return self.table.start[self.first + self.count] - self.table.start[self.first]

    @cached_property
    def box(self) -> np.ndarray:
        """Left, bottom, right, top of each, shape (n, 4); not a number where it is empty [m]."""
        box = np.full((len(self), 4), np.nan)
        one, more = np.flatnonzero(self.count == 1), np.flatnonzero(self.count > 1)
        box[one] = self.table.box[:, self.first[one]].T
        if len(more):
            ring, start = spread(self.first[more], self.count[more]), np.cumsum(self.count[more])
            for k, how in enumerate((np.minimum, np.minimum, np.maximum, np.maximum)):
                box[more, k] = how.reduceat(self.table.box[k, ring], start - self.count[more])
        return box

    def take(self, rows: np.ndarray) -> Shapes:
        """Some of the shapes, in the order given; any may come more than once."""
        columns = {name: getattr(self, name)[rows] for name in ("first", "count", "area", "polygon")}
        return Shapes(table=self.table, **columns)

    def put(self, rows: np.ndarray, others: Shapes) -> Shapes:
        """The same, with others in the place of some."""
        if not len(rows):
            return self
        place = np.arange(len(self))
        place[rows] = len(self) + np.arange(len(rows))
        return Shapes.joined([self, others]).take(place)

    def polygons(self, rows: np.ndarray | None = None) -> np.ndarray:
        """All or some of them as polygons, put together once; shape (n,) or (r,)."""
        rows = np.arange(len(self)) if rows is None else rows
        missing = rows[shapely.is_missing(self.polygon[rows])]
        if len(missing):
            self.polygon[missing] = polygons_of(self.take(missing).rings, len(missing))[0]
        return self.polygon[rows]
