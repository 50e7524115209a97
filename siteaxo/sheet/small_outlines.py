"""
Outlines of what is seen of faces, for small pictures: facets joined, specks and slits left out.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..craft.specks import SPECK_MM
from ..view.unions import united

SPECK: Final = 4e-3  # smaller outlines are slits between facets [m²]
SLIT: Final = 0.01  # slits and needles up to twice as wide are left out [m]


def small_outlines(polygon: np.ndarray, surface: np.ndarray, scale: float, *, line_mm: float) -> np.ndarray:
    """
    Find the outlines of what is seen of faces, facets of one curved surface joined.

    Specks are left out, and slits and needles of joined surfaces that are narrower than two lines.

    Parameters
    ----------
    polygon : ndarray of Polygon or MultiPolygon, shape (k,)
        What is seen of each face [m on the page].
    surface : ndarray of int, shape (k,)
        The surface each belongs to.
    scale : float
        Millimetres on the sheet to the metre on the page.
    line_mm : float
        How wide lines are [mm].

    Returns
    -------
    ndarray of LineString
        [m on the page]

    Examples
    --------
    >>> facets = shapely.box([0, 2, 9], 0, [2, 5, 9.9], 4)
    >>> lines = small_outlines(facets, np.array([3, 3, 7]), 5.0, line_mm=0.1)
    >>> sorted(shapely.length(lines).round(1).tolist())
    [9.8, 18.0]
    """
    number, count = np.unique(surface, return_inverse=True, return_counts=True)[1:]
    rows, alone = np.flatnonzero(count[number] > 1), count[number] == 1
    order = rows[np.argsort(number[rows], kind="stable")]
    surfaces, place = np.unique(number[order], return_inverse=True)
    joined = _closed(united(polygon[order], place, len(surfaces)))
    parts, owner = shapely.get_parts(np.concatenate([polygon[alone], joined]), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    length = shapely.length(rings)
    slit = np.where(owner[part] < alone.sum(), SLIT, max(SLIT, line_mm / scale))
    broad = shapely.area(shapely.polygons(rings)) >= np.maximum(SPECK, slit * length)
    kept = rings[broad & (length * scale >= 2 * SPECK_MM)]
    xy, owner = shapely.get_coordinates(kept, return_index=True)
    return shapely.linestrings(xy, indices=owner) if len(kept) else kept


def _closed(areas: np.ndarray) -> np.ndarray:
    """Areas without the slits and needles that rounding leaves between facets."""
    for reach in (SLIT, -2 * SLIT, SLIT):
        areas = shapely.buffer(areas, reach, join_style="mitre")
    return np.asarray(areas, dtype=object)
