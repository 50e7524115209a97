"""
Surfaces opened up where something lies lower within them.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .notes import note
from .planes import range_over
from .widths import CLIMBING

LEVEL: Final = 1e-3  # levels that differ by less are equal [m]
MOSTLY: Final = 0.5  # share of a footprint that must lie on a support [-]
NEARLY: Final = 1e-6  # sides nearer than this coincide [m]
STRAY: Final = 0.01  # share below which an overlap is a sliver [-]


def let_in(features: Features, geometry: np.ndarray, base: np.ndarray, top: np.ndarray) -> None:
    """Open surfaces up where flights and ramps climb through them from below."""
    climbs = np.isin(features.of_role("form"), CLIMBING) & np.isfinite(base) & is_area(geometry)
    rows = np.flatnonzero(climbs)
    surfaces = np.flatnonzero(features.of_role("cuts").astype(bool) & np.isfinite(top) & is_area(geometry))
    if not len(rows) or not len(surfaces):
        return
    inner, outer = shapely.STRtree(geometry[surfaces]).query(geometry[rows], predicate="intersects")
    inner, outer = rows[inner], surfaces[outer]
    lower = base[inner] < range_over(features, outer, geometry[inner], top)[1] - LEVEL
    inner, outer = inner[lower], outer[lower]
    through = share_of(geometry[inner], geometry[outer]) > STRAY
    _open_up(geometry, inner[through], outer[through])


def _open_up(geometry: np.ndarray, inner: np.ndarray, outer: np.ndarray) -> None:
    """Take the inner footprints out of the outer ones; sides that nearly coincide are made one."""
    rows, cutter = united(geometry[inner], outer, near=NEARLY)
    left = shapely.difference(shapely.snap(geometry[rows], cutter, NEARLY), cutter)
    parts, owner = shapely.get_parts(left, return_index=True)
    wide = shapely.area(parts) > NEARLY * shapely.length(parts)
    cleared = np.unique(owner[~wide])
    left[cleared] = shapely.Polygon()
    again = wide & np.isin(owner, cleared)
    kept, whole = united(parts[again], owner[again])
    left[kept] = whole
    geometry[rows] = left


def united(
    geometry: np.ndarray, owner: np.ndarray, *, grid: float | None = None, near: float | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Unite the geometries of each owner.

    Parameters
    ----------
    geometry : ndarray of object, shape (m,)
        Geometries [m].
    owner : ndarray of int, shape (m,)
        The owner of each.
    grid : float, optional
        Grid on which they are united [m].
    near : float, optional
        Corners of one nearer than this to a side of another lie on it, so that no slit stays open [m].

    Returns
    -------
    owners : ndarray of int, shape (n,)
        Each owner once, ascending.
    union : ndarray of object, shape (n,)

    Examples
    --------
    >>> boxes = shapely.box([0, 4, 1], [0, 0, 0], [2, 5, 3], [1, 1, 1])
    >>> owners, union = united(boxes, np.array([7, 8, 7]))
    >>> owners.tolist(), shapely.area(union).tolist()
    ([7, 8], [3.0, 1.0])
    """
    owners = np.unique(owner)
    if not len(owners):
        return owners, np.zeros(0, dtype=object)
    order = np.argsort(owner, kind="stable")
    number = np.searchsorted(owners, owner[order])
    together = shapely.geometrycollections(np.asarray(geometry, dtype=object)[order], indices=number)
    if near is not None:
        snapped = shapely.snap(together, together, near)
        together = np.where(shapely.is_valid(snapped), snapped, together)
    return owners, shapely.union_all(together[:, None], axis=1, grid_size=grid)


def cut_open(
    features: Features, geometry: np.ndarray, top: np.ndarray, findings: list[Finding]
) -> np.ndarray:
    """
    Open up surfaces where a smaller one lies lower within them.

    A surface is cut by one that lies mostly within it, is smaller, and has a lower top.
    Returns which features did the cutting.
    """
    rows = np.flatnonzero(features.of_role("cuts").astype(bool) & np.isfinite(top) & is_area(geometry))
    cutter = np.zeros(len(features), dtype=bool)
    if len(rows) < 2:
        return cutter
    inner, outer = shapely.STRtree(geometry[rows]).query(geometry[rows], predicate="intersects")
    inner, outer = rows[inner], rows[outer]
    area = shapely.area(geometry)
    smaller = area[inner] < area[outer]
    inner, outer = inner[smaller], outer[smaller]
    place = geometry[inner]
    lowest, highest = range_over(features, inner, place, top)[0], range_over(features, outer, place, top)[1]
    lower = (lowest < highest - LEVEL) & ~_parallel(features, inner, outer, place, top)
    inner, outer = inner[lower], outer[lower]
    shared = shapely.area(shapely.intersection(geometry[inner], geometry[outer]))
    within = shared > MOSTLY * area[inner]
    inner, outer = inner[within], outer[within]
    cutter[inner] = True
    _open_up(geometry, inner, outer)
    message = "It is wholly cut away by lower surfaces within it and is not drawn."
    gone = [int(row) for row in np.unique(outer) if geometry[row].is_empty]
    findings += [note(features, row, "cut-away", message, value=f"{top[row]:.3f} m") for row in gone]
    return cutter


def _parallel(
    features: Features, inner: np.ndarray, outer: np.ndarray, place: np.ndarray, top: np.ndarray
) -> np.ndarray:
    """Whether one top lies on another one all over, or above it."""
    alike = np.abs(features.slope_x[inner] - features.slope_x[outer]) < NEARLY
    alike &= np.abs(features.slope_y[inner] - features.slope_y[outer]) < NEARLY
    mine, its = range_over(features, inner, place, top)[0], range_over(features, outer, place, top)[0]
    return alike & (mine >= its - LEVEL)


def share_of(geometry: np.ndarray, support: np.ndarray) -> np.ndarray:
    """Share of each footprint that lies on a support; 1 for points on it."""
    area = shapely.area(geometry)
    common = shapely.area(shapely.intersection(geometry, support))
    return np.where(area > 0, common / np.where(area > 0, area, 1.0), 1.0)


def is_area(geometry: np.ndarray) -> np.ndarray:
    """Whether geometries are polygons with an extent."""
    return (shapely.get_dimensions(geometry) == 2) & ~shapely.is_empty(geometry)
