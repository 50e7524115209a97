"""
Occluders of very many corners, reduced to what lies near the face that they hide.

Each is cut into chips once; for every face that it hides the chips near that face are put
together again, so that a thousand walls behind one winding edge are not each compared with
all of it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.chips import chips

MANY: Final = 1024  # corners of an occluder that is reduced
CHIP: Final = 256  # corners of a chip
FEW: Final = 8  # more chips than these are not put together
MARGIN: Final = 1e-3  # how far beyond a face chips are kept [m]
SAME: Final = 1e-12  # chips put together have their area but for this share [-]


def near_regions(region: np.ndarray, box: np.ndarray) -> np.ndarray:
    """
    Reduce regions of very many corners to what lies near boxes.

    Parameters
    ----------
    region : ndarray of Polygon or MultiPolygon, shape (n,)
        What hides; one object may stand in many rows.
    box : ndarray, shape (n, 4)
        Left, bottom, right, top of what is hidden [m].

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (n,)
        The same within each box; outside it anything between nothing and the region.

    Examples
    --------
    >>> wheel = shapely.Point(0, 0).buffer(10.0, quad_segs=1000)
    >>> near = near_regions(np.array([wheel]), np.array([[9.0, -0.1, 11.0, 0.1]]))[0]
    >>> there = shapely.symmetric_difference(near, wheel).intersection(shapely.box(9.0, -0.1, 11.0, 0.1))
    >>> int(shapely.get_num_coordinates(near)) < 1000, there.area < 1e-12
    (True, True)
    """
    large = np.flatnonzero(shapely.get_num_coordinates(region) > MANY)
    if not len(large):
        return region
    _, first, which = np.unique(
        [id(shape) for shape in region[large]], return_index=True, return_inverse=True
    )
    parts, owner = chips(region[large[first]], most=CHIP)
    wide = box[large] + np.array([-MARGIN, -MARGIN, MARGIN, MARGIN])
    row, part = shapely.STRtree(parts).query(shapely.box(*wide.T))
    own = owner[part] == which[row]
    row, part = row[own], part[own]
    order = np.argsort(row, kind="stable")
    row, part = row[order], part[order]
    count = np.bincount(row, minlength=len(large))
    few = np.flatnonzero((count > 0) & (count <= FEW))
    reduced = region.copy()
    for many in np.unique(count[few]):
        rows = few[count[few] == many]
        start = np.searchsorted(row, rows)
        some = parts[part[start[:, None] + np.arange(many)]]
        whole, sure = _together(some)
        reduced[large[rows[sure]]] = whole[sure]
    return reduced


def _together(parts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows of neighbouring parts put together, and where that can be believed."""
    try:
        whole = parts[:, 0] if parts.shape[1] == 1 else shapely.union_all(parts, axis=1)
    except shapely.errors.GEOSException:
        return parts[:, 0], np.zeros(len(parts), dtype=bool)
    area = shapely.area(parts).sum(axis=1)
    return whole, (np.abs(shapely.area(whole) - area) <= SAME * area) & shapely.is_valid(whole)
