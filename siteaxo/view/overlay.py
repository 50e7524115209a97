"""
Overlays of polygons that are balanced before they are believed.

Pairs in general position are done in numpy (see :mod:`.clipping`), all others by the
library underneath. It is silently wrong now and then where edges coincide: a difference
comes back unchanged, empty, or larger than it was. So every difference is measured
against its own intersection, part by part: what is left and what was taken away must
add up to what there was, and no hole may lie outside its shell. Suspects are redone with
coordinates snapped to the page grid. A failure raised inside an array call loses the
whole call, so it is narrowed down by halves and retried on the grid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from ..errors import GeometryError
from .clipping import difference
from .convex import area_within
from .shapes import Shapes
from .tolerance import GRID

BALANCE = 1e-9  # areas must add up to this share of the polygon [-]

Overlay = Callable[..., np.ndarray]


@dataclass
class Redone:
    """How many overlays were checked, redone on the grid, and still off by how much."""

    checked: int = 0
    redone: int = 0
    worst: float = 0.0

    def add(self, checked: int, redone: int, worst: float) -> None:
        """Count one array call."""
        self.checked += checked
        self.redone += redone
        self.worst = max(self.worst, worst)


def careful(overlay: Overlay, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """
    Overlay arrays of polygons; calls that fail are narrowed down and redone on the grid.

    Parameters
    ----------
    overlay : function
        ``shapely.difference`` or another overlay that takes a ``grid_size``.
    first, second : ndarray of Polygon, shape (n,)
        Its operands.

    Returns
    -------
    ndarray of geometry, shape (n,)

    Raises
    ------
    GeometryError
        If an overlay fails on the grid and with operands mended, too.
    """
    try:
        return overlay(first, second)
    except shapely.errors.GEOSException:
        pass
    if len(first) > 1:
        half = len(first) // 2
        parts = [careful(overlay, first[k], second[k]) for k in (slice(half), slice(half, None))]
        return np.concatenate(parts)
    try:
        return overlay(first, second, grid_size=GRID)
    except shapely.errors.GEOSException:
        pass
    try:
        return overlay(*map(_mended, (first, second)), grid_size=GRID)
    except shapely.errors.GEOSException as error:
        place = shapely.centroid(first[0])
        raise GeometryError(
            f"Two faces near page point ({place.x:.3f}, {place.y:.3f}) cannot be overlaid: {error}. "
            "Check the features there for self-intersections.",
            value=f"{place.x:.3f}, {place.y:.3f}",
        ) from error


def _mended(polygons: np.ndarray) -> np.ndarray:
    """Polygons without the folds, no wider than the last bits, that earlier overlays left in them."""
    return shapely.make_valid(polygons, method="structure", keep_collapsed=False)


def _on_grid(overlay: Overlay, first: np.ndarray, second: np.ndarray, plain: np.ndarray) -> np.ndarray:
    """Redo suspects with coordinates snapped to the grid; where that fails, the plain result stays."""
    try:
        return overlay(first, second, grid_size=GRID)
    except shapely.errors.GEOSException:
        if len(first) == 1:
            return plain
    half = len(first) // 2
    parts = [_on_grid(overlay, first[k], second[k], plain[k]) for k in (slice(half), slice(half, None))]
    return np.concatenate(parts)


def polygonal(geometries: np.ndarray) -> np.ndarray:
    """Drop the points and lines that overlays leave beside polygons."""
    kind = shapely.get_type_id(geometries)
    mixed = np.flatnonzero(kind == shapely.GeometryType.GEOMETRYCOLLECTION)
    low = np.flatnonzero((kind < shapely.GeometryType.POLYGON) | (kind == 4) | (kind == 5))
    if not len(mixed) and not len(low):
        return geometries
    cleaned = geometries.copy()
    cleaned[low] = shapely.Polygon()
    parts, owner = shapely.get_parts(geometries[mixed], return_index=True)
    flat = shapely.get_dimensions(parts) == 2
    parts, owner = shapely.get_parts(parts[flat], return_index=True), owner[flat]
    merged = np.full(len(mixed), shapely.Polygon(), dtype=object)
    if len(parts[0]):
        shapely.multipolygons(parts[0], indices=owner[parts[1]], out=merged)
    cleaned[mixed] = merged
    return cleaned


def checked_difference(
    first: np.ndarray, second: np.ndarray, tally: Redone | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Subtract polygons one from one, with the area taken away measured by itself.

    Parameters
    ----------
    first, second : ndarray of Polygon, shape (n,)
        What is reduced, and by what.
    tally : Redone, optional
        Where to count.

    Returns
    -------
    rest : ndarray of Polygon or MultiPolygon, shape (n,)
    taken : ndarray, shape (n,)
        Area of the overlap, from an intersection of its own [m²].
    """
    rest, taken = subtracted(Shapes.of(first), Shapes.of(second), tally)
    return rest.polygons(), taken


def subtracted(first: Shapes, second: Shapes, tally: Redone | None = None) -> tuple[Shapes, np.ndarray]:
    """The same as :func:`checked_difference` for polygons that may be rings only."""
    remains = difference(first, second)
    rest, taken, whole = remains.rest, remains.taken, first.area
    allowed, off = BALANCE * whole + GRID * GRID, np.abs(whole - rest.area - taken)
    plain = remains.sure & (off <= allowed) & (rest.area >= 0) & (taken >= -allowed)
    rows, redone = np.flatnonzero(~plain), 0
    if len(rows):
        left, taken[rows], off[rows], redone = _overlaid(first, second, rows)
        rest = rest.put(rows, Shapes.of(left))
    if tally is not None:
        share = off / np.maximum(whole, GRID)
        tally.add(len(first), redone, float(share.max(initial=0.0)))
    return rest, taken


def _overlaid(
    these: Shapes, those: Shapes, rows: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """Some differences by the library: what is left, area taken, how far out of balance, how many redone."""
    first, second = these.polygons(rows), those.polygons(rows)
    rest = polygonal(careful(shapely.difference, first, second))
    whole, left = shapely.area(first), shapely.area(rest)
    allowed = _allowed(first, whole)
    taken = area_within(those.take(rows), these.take(rows))
    doubtful = np.flatnonzero(~(np.abs(whole - left - taken) <= allowed))
    if len(doubtful):
        taken[doubtful] = shapely.area(careful(shapely.intersection, first[doubtful], second[doubtful]))
    off = np.abs(whole - left - taken)
    suspect = ~(off <= allowed) | (left < 0) | (taken < 0) | ~shapely.is_valid(rest)
    suspect |= _not_disjoint(first, second, taken <= allowed)
    suspect |= _not_covered(first, second, left <= allowed)
    again = np.flatnonzero(suspect)
    if len(again):
        rest[again] = polygonal(_on_grid(shapely.difference, first[again], second[again], rest[again]))
        common = np.full(len(again), None, dtype=object)
        common = _on_grid(shapely.intersection, first[again], second[again], common)
        there = ~shapely.is_missing(common)
        taken[again[there]] = shapely.area(common[there])
        off[again] = np.abs(whole[again] - shapely.area(rest[again]) - taken[again])
    return rest, taken, off, len(again)


def checked_intersection(first: np.ndarray, second: np.ndarray, tally: Redone | None = None) -> np.ndarray:
    """
    Intersect polygons one with one, with the checks of :func:`checked_difference`.

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (n,)
    """
    if not len(first):
        return np.empty(0, dtype=object)
    common = polygonal(careful(shapely.intersection, first, second))
    area = shapely.area(common)
    whole, other = shapely.area(first), shapely.area(second)
    allowed = _allowed(first, whole)
    suspect = ~((area >= 0) & (area <= np.minimum(whole, other) + allowed) & shapely.is_valid(common))
    suspect |= _not_disjoint(first, second, area <= allowed)
    again = np.flatnonzero(suspect)
    if len(again):
        redone = _on_grid(shapely.intersection, first[again], second[again], common[again])
        common[again] = polygonal(redone)
    if tally is not None:
        tally.add(len(first), len(again), 0.0)
    return common


def _allowed(polygon: np.ndarray, area: np.ndarray) -> np.ndarray:
    """How far areas may be out of balance [m²]."""
    return BALANCE * area + GRID * shapely.length(polygon) + GRID * GRID


def _not_disjoint(first: np.ndarray, second: np.ndarray, untouched: np.ndarray) -> np.ndarray:
    """Among pairs that seem untouched, those whose insides meet all the same."""
    rows = np.flatnonzero(untouched)
    rows = rows[shapely.intersects(first[rows], second[rows])]
    rows = rows[~shapely.touches(first[rows], second[rows])]
    meet = np.zeros(len(first), dtype=bool)
    meet[rows] = True
    return meet


def _not_covered(first: np.ndarray, second: np.ndarray, vanished: np.ndarray) -> np.ndarray:
    """Among polygons that seem to have vanished, those that were not covered."""
    rows = np.flatnonzero(vanished)
    bare = np.zeros(len(first), dtype=bool)
    bare[rows] = ~shapely.covers(second[rows], first[rows])
    return bare
