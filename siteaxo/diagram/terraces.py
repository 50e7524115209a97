"""
Which ground or terrace every feature of a site belongs to.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.faces import normals, per_face
from ..solids.stack import Stack
from ..source.features import Features
from ..source.roles import ROLES

STANDS: Final = 0.05  # a base this far above or below a terrace stands on it [m]
SHARE: Final = 0.25  # of a footprint that lies on the terrace it stands on, at least [-]
UPRIGHT: Final = 1e-6  # faces whose normals rise by no more are upright [-]


def roles_of(features: Features) -> np.ndarray:
    """Role of each feature, shape (n,) of object."""
    return np.array([key.role.name for key in features.layers], dtype=object)[features.layer]


def levels_of(stack: Stack) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the levels that features are ordered by.

    Parameters
    ----------
    stack : Stack
        The site.

    Returns
    -------
    level : ndarray, shape (n,)
        Top of each feature, and the lowest point of the top of ground that is a surface [m].
    uneven : ndarray of bool, shape (n,)
        Ground that is a surface.
    """
    level, faces = stack.features.top.copy(), stack.scene.faces
    up = np.flatnonzero(normals(faces)[:, 2] > UPRIGHT)
    row = stack.solid_feature[faces.solid[up]]
    low = np.full(len(level), np.inf)
    np.minimum.at(low, row, per_face(faces.xyz[:, 2], faces.vertex_start, np.minimum)[up])
    uneven = (roles_of(stack.features) == "ground") & (stack.terrain is not None) & np.isfinite(low)
    level[uneven] = low[uneven]
    return level, uneven


def terraces_of(stack: Stack) -> np.ndarray:
    """
    Find the ground or terrace that every feature belongs to.

    What stands on something goes with it; what has levels of its own belongs to the terrace
    under a good part of it whose top lies next below its base.

    Parameters
    ----------
    stack : Stack
        The site.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows of ground and terraces; -1 where there is none.
    """
    features, home = stack.features, np.full(len(stack.features), -1, dtype=np.int64)
    bearing = np.flatnonzero(np.isin(roles_of(features), ("ground", "terrace")))
    bearing = bearing[shapely.get_dimensions(features.geometry[bearing]) == 2]
    home[bearing] = bearing
    follow = np.where(home >= 0, -1, stack.support)
    for _ in range(len(ROLES)):  # down to what bears it
        moving = np.flatnonzero((home < 0) & (follow >= 0))
        if not len(moving):
            break
        below = follow[moving]
        home[moving] = home[below]
        follow[moving] = np.where(home[below] < 0, follow[below], -1)
    left = np.flatnonzero(home < 0)
    home[left] = _under(features, left, bearing, levels_of(stack)[0])
    return home


def _under(features: Features, rows: np.ndarray, bearing: np.ndarray, tops: np.ndarray) -> np.ndarray:
    """The terrace under each of some rows, the nearest one where none is under it."""
    found = np.full(len(rows), -1, dtype=np.int64)
    if not len(bearing) or not len(rows):
        return found
    shapes, grounds = features.geometry[rows], features.geometry[bearing]
    row, ground = shapely.STRtree(grounds).query(shapes, predicate="intersects")
    size = np.maximum(shapely.area(shapes), shapely.length(shapes) * 1e-3)[row]
    common = shapely.intersection(shapes[row], grounds[ground])
    share = np.maximum(shapely.area(common), shapely.length(common) * 1e-3) / np.where(size > 0, size, 1.0)
    share = np.where(shapely.get_dimensions(shapes[row]) == 0, 1.0, share)
    laid = (features.of_role("theme") == "surfaces") & (features.of_role("form") == "prism")
    level = np.where(laid, features.top, features.base)[rows[row]]  # a pool belongs to what it is let into
    gap = np.nan_to_num(level - tops[bearing[ground]], nan=0.0)
    below = (gap < -STANDS) & ~laid[rows[row]]
    order = np.lexsort((np.abs(gap), below, share < SHARE))[::-1]  # the best is written last
    found[row[order]] = bearing[ground[order]]
    lost = np.flatnonzero(found < 0)
    if len(lost):
        found[lost] = bearing[shapely.STRtree(grounds).nearest(shapes[lost])]
    return found
