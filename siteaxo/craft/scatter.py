"""
Points strewn over polygons and along lines, never nearer to one another than is said.

Candidates fall evenly over the triangles of a polygon, holes and all. Each has a place
in a queue; whoever is first in the queue among those still waiting within the spacing
stays, and those too near to it go. That is throwing darts one by one, worked out for
all of them at once.

References
----------
R. L. Cook, "Stochastic sampling in computer graphics", ACM Transactions on Graphics 5
(1986), for Poisson discs by dart throwing; M. Luby, "A simple parallel algorithm for
the maximal independent set problem", SIAM J. Computing 15 (1986) (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..checks import finite
from ..errors import GeometryError
from .near import near_points
from .repeatable import numbers, numbers_for

ROUNDS: Final = 24  # times that candidates are thrown
CROWDED: Final = 4.0  # candidates to a square of the spacing's side, each round
FEW: Final = 0.005  # a round that adds no more than this share is the last one
MOST: Final = 200_000  # candidates to a round


@dataclass(frozen=True, kw_only=True)
class Scattered:
    """
    Points and where they fell.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        The points [m].
    owner : ndarray of int, shape (n,)
        The polygon or line of each.
    """

    xy: np.ndarray
    owner: np.ndarray

    def __len__(self) -> int:
        return len(self.owner)

    def take(self, rows: np.ndarray) -> Scattered:
        """Some of the points."""
        return Scattered(xy=self.xy[rows], owner=self.owner[rows])


def scatter(
    areas: ArrayLike,
    *,
    spacing: float,
    key: tuple[object, ...],
    wanted: ArrayLike | None = None,
    keep_off: np.ndarray | None = None,
    names: np.ndarray | None = None,
) -> Scattered:
    """
    Strew points over polygons.

    Parameters
    ----------
    areas : array_like of Polygon or MultiPolygon, shape (n,)
        Where points may lie, holes left out [m].
    spacing : float
        Least distance between any two points, of one polygon or of two [m].
    key : tuple
        What the chance numbers are drawn from.
    wanted : array_like of int, shape (n,), optional
        How many points each polygon is to have; fewer where they do not fit. As many as
        fit when left out.
    keep_off : ndarray, shape (k, 2), optional
        Points that keep the spacing too [m].
    names : ndarray of object, shape (n,), optional
        Names of the polygons. Each draws chance numbers of its own, so that a change to
        one leaves alone the points of others that are not near to it.

    Returns
    -------
    Scattered
        In the order in which the points were thrown.

    Raises
    ------
    GeometryError
        If the spacing is not above 0.
    """
    if finite(spacing, "spacing", GeometryError) <= 0:
        raise GeometryError(f"spacing must be above 0, not {spacing!r}.", field="spacing", value=spacing)
    polygons = np.asarray(areas, dtype=object)
    want = np.full(len(polygons), np.iinfo(np.int64).max) if wanted is None else np.asarray(wanted, np.int64)
    triangles = _triangles(polygons)
    area = np.bincount(triangles.owner, triangles.area, len(polygons))
    full = np.ceil(CROWDED * area / spacing**2) + 4
    found = Scattered(xy=np.zeros((0, 2)), owner=np.zeros(0, dtype=np.int64))
    taken = np.zeros((0, 2)) if keep_off is None else np.asarray(keep_off, dtype=float).reshape(-1, 2)
    for turn in range(ROUNDS):
        short = want - np.bincount(found.owner, minlength=len(polygons))
        throw = np.where(area > 0, np.minimum(full, 3.0 * short + 4), 0.0) * (short > 0)
        throw = np.floor(throw * min(1.0, MOST / max(throw.sum(), 1.0)))
        if not throw.any():
            break
        thrown = _thrown(triangles, throw.astype(np.int64), (*key, turn), names)
        stay = thrown.take(first_come(thrown.xy, spacing, keep_off=np.concatenate([taken, found.xy])))
        stay = stay.take(_first_of_each(stay.owner, short))
        found = Scattered(
            xy=np.concatenate([found.xy, stay.xy]), owner=np.concatenate([found.owner, stay.owner])
        )
        if wanted is None and len(stay) <= FEW * len(found):
            break
    return found


def strew_along(
    lines: ArrayLike,
    *,
    spacing: float,
    wanted: ArrayLike,
    reach: ArrayLike,
    key: tuple[object, ...],
) -> Scattered:
    """
    Strew points along lines, loosely evenly, to either side.

    Parameters
    ----------
    lines : array_like of LineString, shape (n,)
        Such as the centre lines of paths [m].
    spacing : float
        Least distance along a line between two of its points [m].
    wanted : array_like of int, shape (n,)
        How many points each line is to have; fewer where they do not fit.
    reach : array_like of float, shape (n,)
        How far to the side points may lie [m].
    key : tuple
        What the chance numbers are drawn from.

    Returns
    -------
    Scattered
    """
    line = np.asarray(lines, dtype=object)
    length = shapely.length(line)
    count = np.minimum(np.asarray(wanted, dtype=np.int64), np.floor(length / spacing).astype(np.int64))
    count = np.maximum(count, 0)
    owner = np.repeat(np.arange(len(line)), count)
    chance = numbers(2 * len(owner), *key).reshape(-1, 2)
    slot = length / np.maximum(count, 1)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    along = place * slot[owner] + spacing / 2 + chance[:, 0] * (slot - spacing)[owner]
    aside = (2 * chance[:, 1] - 1) * np.broadcast_to(np.asarray(reach, dtype=float), len(line))[owner]
    here = shapely.get_coordinates(shapely.line_interpolate_point(line[owner], along))
    step = directions(line[owner], along)
    return Scattered(xy=here + aside[:, None] * np.column_stack([-step[:, 1], step[:, 0]]), owner=owner)


def directions(lines: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Unit direction of each line at a distance from its start, shape (n, 2)."""
    near = 1e-3
    length = shapely.length(lines)
    begin, end = np.maximum(along - near, 0.0), np.minimum(along + near, length)
    ends = [shapely.get_coordinates(shapely.line_interpolate_point(lines, at)) for at in (begin, end)]
    step = ends[1] - ends[0]
    return step / np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]


def first_come(xy: np.ndarray, spacing: float, *, keep_off: np.ndarray | None = None) -> np.ndarray:
    """
    Thin out points that are too near: of two, the one that comes first stays.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Points in the order of their right [m].
    spacing : float
        Least distance [m].
    keep_off : ndarray, shape (k, 2), optional
        Points that have the right before all others [m].

    Returns
    -------
    ndarray of int
        Rows that stay, ascending.

    Examples
    --------
    >>> first_come(np.array([[0.0, 0], [1, 0], [2, 0]]), 1.5).tolist()
    [0, 2]
    """
    open_ = np.ones(len(xy), dtype=bool)
    if keep_off is not None:
        for row, _ in near_points(xy, keep_off, spacing):
            open_[row] = False
    free = np.flatnonzero(open_)
    pairs = [np.zeros((2, 0), dtype=np.int64)]
    for row, other in near_points(xy[free], xy[free], spacing):
        later = other < row
        pairs.append(np.stack([row[later], other[later]]))
    return free[_greedy(len(free), *np.concatenate(pairs, axis=1))]


def _greedy(count: int, later: np.ndarray, earlier: np.ndarray) -> np.ndarray:
    """Rows that stay when each gives way to all earlier ones that stay and are paired with it."""
    waiting, stays = np.ones(count, dtype=bool), np.zeros(count, dtype=bool)
    while waiting.any():
        live = waiting[later] & waiting[earlier]
        later, earlier = later[live], earlier[live]
        held = np.zeros(count, dtype=bool)
        held[later] = True
        chosen = waiting & ~held
        stays |= chosen
        waiting &= ~chosen
        waiting[later[chosen[earlier]]] = False
    return np.flatnonzero(stays)


@dataclass(frozen=True, kw_only=True)
class _Triangles:
    """Triangles of polygons, sorted by their owner."""

    corner: np.ndarray
    area: np.ndarray
    owner: np.ndarray


def _triangles(polygons: np.ndarray) -> _Triangles:
    parts, owner = shapely.get_parts(polygons, return_index=True)
    areal = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    parts, owner = parts[areal & ~shapely.is_empty(parts)], owner[areal & ~shapely.is_empty(parts)]
    cut, part = shapely.get_parts(shapely.constrained_delaunay_triangles(parts), return_index=True)
    corner = shapely.get_coordinates(cut).reshape(-1, 4, 2)[:, :3]
    return _Triangles(corner=corner, area=shapely.area(cut), owner=owner[part])


def _thrown(
    triangles: _Triangles, count: np.ndarray, key: tuple[object, ...], names: np.ndarray | None
) -> Scattered:
    """Points spread evenly over the triangles of each owner, in a queue that mixes the owners."""
    owner = np.repeat(np.arange(len(count)), count)
    if names is None:
        chance = numbers(4 * len(owner), *key).reshape(-1, 4)
    else:
        chance = numbers_for(4 * count, names, *key).reshape(-1, 4)
    heap = np.concatenate([[0.0], np.cumsum(triangles.area)])
    first = np.searchsorted(triangles.owner, np.arange(len(count) + 1))
    low, high = heap[first[owner]], heap[first[owner + 1]]
    pick = np.searchsorted(heap, low + chance[:, 0] * (high - low), side="right") - 1
    pick = np.clip(pick, first[owner], first[owner + 1] - 1)
    a, b, c = (triangles.corner[pick, k] for k in range(3))
    root, share = np.sqrt(chance[:, 1])[:, None], chance[:, 2][:, None]
    xy = (1 - root) * a + root * (1 - share) * b + root * share * c
    queue = np.argsort(chance[:, 3], kind="stable")
    return Scattered(xy=xy[queue], owner=owner[queue])


def _first_of_each(owner: np.ndarray, most: np.ndarray) -> np.ndarray:
    """Rows of the first points of each owner, at the most so many, ascending."""
    order = np.argsort(owner, kind="stable")
    start = np.searchsorted(owner[order], owner[order])
    return np.sort(order[np.arange(len(owner)) - start < most[owner[order]]])
