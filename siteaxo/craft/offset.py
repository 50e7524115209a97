"""
Areas grown and shrunk by a length, quickly where they have very many holes.

The library's own way takes time that grows with the square of the number of holes. What a
terrace is seen of between hundreds of people has as many.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from ..view.overlay import careful

MANY: Final = 20
"""An area of more holes is moved ring by ring."""
NEEDLE: Final = 1e-12
"""A ring narrower than this has no width at all but that of rounding, and no mitres [m]."""
ONE: Final = 1e-9
"""Corners of an outline that are nearer than this are one: between them it would turn any way [m]."""


def offset(areas: np.ndarray, by: float, **how: Any) -> np.ndarray:
    """
    Grow areas, or shrink them; parts and holes without any width are nothing, and left out.

    Parameters
    ----------
    areas : ndarray of Polygon or MultiPolygon, shape (n,)
        The areas [m].
    by : float
        How far their outlines move outward; below zero they shrink [m].
    **how
        Further options of :func:`shapely.buffer`.

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (n,)

    Examples
    --------
    >>> yard = shapely.box(0, 0, 10, 10) - shapely.box(4, 4, 6, 6)
    >>> offset(np.array([yard]), 0.5, join_style="mitre")[0].area
    120.0
    """
    areas = shapely.remove_repeated_points(_without_needles(areas), ONE)
    part, row = shapely.get_parts(areas, return_index=True)
    holes = np.bincount(row, shapely.get_num_interior_rings(part), len(areas))
    moved = np.empty(len(areas), dtype=object)
    few = holes <= MANY
    moved[few] = _moved(areas[few], by, **how)
    for many in np.flatnonzero(~few):
        moved[many] = _by_rings(areas[many], by, **how)
    return moved


def _without_needles(areas: np.ndarray) -> np.ndarray:
    """The same areas without the rings whose two long sides are one line but for rounding."""
    part, row = shapely.get_parts(areas, return_index=True)
    ring, owner = shapely.get_rings(part, return_index=True)
    thin = shapely.area(shapely.polygons(ring)) <= NEEDLE * shapely.length(ring)
    if not thin.any():
        return areas
    outer = np.diff(owner, prepend=-1) > 0
    mended = areas.copy()
    for one in np.unique(row[owner[thin]]):  # seldom more than one
        parts = []
        for k in np.flatnonzero((row[owner] == one) & outer & ~thin):
            holes = ring[(owner == owner[k]) & ~outer & ~thin]
            parts.append(shapely.Polygon(ring[k], list(holes)))
        mended[one] = shapely.MultiPolygon(parts)
    return mended


def _by_rings(area: shapely.Geometry, by: float, **how: Any) -> shapely.Geometry:
    """An area whose outlines move out and whose holes, as areas of their own, move in."""
    part = shapely.get_parts(area)
    ring, owner = shapely.get_rings(part, return_index=True)
    outer = np.diff(owner, prepend=-1) > 0
    moved = _moved(shapely.polygons(ring), np.where(outer, by, -by), **how)
    hole, place = moved[~outer], owner[~outer]
    opened = np.full(len(part), shapely.MultiPolygon(), dtype=object)
    rows, place = np.unique(place, return_inverse=True)
    opened[rows] = shapely.union_all(shapely.geometrycollections(hole, indices=place)[:, None], axis=1)
    return shapely.union_all(careful(shapely.difference, moved[outer], opened))


def _moved(areas: np.ndarray, by: float | np.ndarray, **how: Any) -> np.ndarray:
    """Areas by the library, untied where mitres of narrow notches make its outlines cross themselves."""
    moved = np.asarray(shapely.buffer(areas, by, **how), dtype=object)
    tied = np.flatnonzero(~shapely.is_valid(moved))
    moved[tied] = shapely.make_valid(moved[tied], method="structure", keep_collapsed=False)
    return moved
