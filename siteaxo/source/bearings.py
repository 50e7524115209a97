"""
Bearings of a layer's own coordinate reference system, brought onto the local plane.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from .plane import LocalPlane

STEP: Final = 1.0  # in the layer's own units; degrees are stepped by so many hundred-thousandths [m]
DEGREES: Final = 1e-5


def bearings_on(plane: LocalPlane, crs: Any, geometry: np.ndarray, bearing: np.ndarray) -> np.ndarray:
    """
    Bearings on the local plane.

    Parameters
    ----------
    plane : LocalPlane
        The plane.
    crs : pyproj.CRS
        The layer's own; its bearings are from grid north, or from true north where its
        coordinates are degrees.
    geometry : ndarray of object, shape (n,)
        Where each bearing is taken, in that CRS.
    bearing : ndarray, shape (n,)
        Degrees clockwise; NaN where there is none.

    Returns
    -------
    ndarray, shape (n,)
        Degrees clockwise from the plane's grid north, 0 to 360.
    """
    turned = np.asarray(bearing, dtype=float).copy()
    rows = np.flatnonzero(np.isfinite(turned))
    if not len(rows):
        return turned
    here = shapely.get_coordinates(shapely.centroid(geometry[rows]))
    angle = np.radians(turned[rows])
    along = np.column_stack([np.sin(angle), np.cos(angle)]) * STEP
    if crs.is_geographic:
        along *= DEGREES
        along[:, 0] /= np.maximum(np.cos(np.radians(here[:, 1])), 1e-6)
    start, end = (
        shapely.get_coordinates(plane.to_plane(shapely.points(xy), crs)) for xy in (here, here + along)
    )
    way = end - start
    turned[rows] = np.degrees(np.arctan2(way[:, 0], way[:, 1])) % 360.0
    return turned
