"""
Which ground or terrace every feature of a site belongs to.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.cutting import MOSTLY, is_area, share_of
from ..solids.faces import PART_CODE, normals, per_face
from ..solids.stack import Stack
from ..source.features import Features
from ..source.roles import ROLES

STANDS: Final = 0.05  # a base this far above or below a terrace stands on it [m]
LANDS: Final = 0.2  # a bridge this far below a terrace leads onto it still, by a step; common practice [m]
TOUCH: Final = 0.05  # a bridge no farther from a terrace ends at it [m]
WHOLLY: Final = 0.99  # share of a deck on one terrace from which on it is no bridge [-]
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
    up = np.flatnonzero((normals(faces)[:, 2] > UPRIGHT) & (faces.part != PART_CODE["floor"]))
    row = stack.solid_feature[faces.solid[up]]
    low = np.full(len(level), np.inf)
    np.minimum.at(low, row, per_face(faces.xyz[:, 2], faces.vertex_start, np.minimum)[up])
    uneven = (roles_of(stack.features) == "ground") & (stack.terrain is not None) & np.isfinite(low)
    level[uneven] = low[uneven]
    return level, uneven


def terraces_of(stack: Stack, *, nearest: bool = True) -> np.ndarray:
    """
    Find the ground or terrace that every feature belongs to.

    - Ground and terraces belong to themselves.
    - A bridge belongs to the terrace it lands on: of those it touches the highest from which
      people can step onto it, which is the one whose level it shares if there is one. Bridges
      are decks with a base of their own, and decks that lie on their terrace in part only.
    - What stands on something goes with it, as a bench on a bridge. What has a base of its own
      stands on what has its top there, under most of it.
    - All else belongs to the terrace under a good part of it whose top lies next below its
      base, and a pool to what it is let into.

    Parameters
    ----------
    stack : Stack
        The site.
    nearest : bool
        What lies on no terrace belongs to the nearest one; to none when False.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows of ground and terraces; -1 where there is none.
    """
    features, home = stack.features, np.full(len(stack.features), -1, dtype=np.int64)
    bearing = np.flatnonzero(np.isin(roles_of(features), ("ground", "terrace")) & is_area(features.geometry))
    home[bearing] = bearing
    tops, carrier = levels_of(stack)[0], _carriers(stack)
    bridge, land = _landed(features, bearing, tops, carrier)
    home[bridge] = land
    roots = np.flatnonzero((home < 0) & (carrier < 0))
    home[roots] = _under(features, roots, bearing, tops)
    for _ in range(len(ROLES)):  # up from what bears it
        rest = np.flatnonzero((home < 0) & (carrier >= 0))
        home[rest] = home[carrier[rest]]
    lost = np.flatnonzero(home < 0)
    home[lost] = _under(features, lost, bearing, tops)
    lost = lost[home[lost] < 0] if nearest and len(bearing) else lost[:0]
    home[lost] = bearing[shapely.STRtree(features.geometry[bearing]).nearest(features.geometry[lost])]
    return home


def _carriers(stack: Stack) -> np.ndarray:
    """What each feature stands on, by its levels where its base is its own; -1 for nothing, shape (n,)."""
    features, carrier = stack.features, stack.support.copy()
    geometry, order = features.geometry, features.order
    stated = np.flatnonzero(
        (carrier < 0) & ~shapely.is_empty(geometry) & (features.of_role("form") != "none")
    )
    built = features.of_role("supports").astype(bool) & (features.of_role("theme") != "ground")
    under = np.flatnonzero(built & is_area(geometry))
    item, below = shapely.STRtree(geometry[under]).query(geometry[stated], predicate="intersects")
    item, below = stated[item], under[below]
    meets = (np.abs(features.base[item] - features.top[below]) <= STANDS) & (order[below] < order[item])
    item, below = item[meets], below[meets]
    share = share_of(geometry[item], geometry[below])
    rising = np.argsort(share, kind="stable")
    rising = rising[share[rising] > MOSTLY]
    carrier[item[rising]] = below[rising]  # the largest share is written last
    return carrier


def _landed(
    features: Features, bearing: np.ndarray, tops: np.ndarray, carrier: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Bridges, and the terrace that each lands on."""
    geometry = features.geometry
    decks = np.flatnonzero((roles_of(features) == "deck") & is_area(geometry))
    on_it = np.isin(carrier[decks], bearing)
    part = share_of(geometry[decks], geometry[np.where(on_it, carrier[decks], decks)]) < WHOLLY
    bridge = decks[(carrier[decks] < 0) | (on_it & part)]
    item, other = shapely.STRtree(geometry[bearing]).query(geometry[bridge], "dwithin", distance=TOUCH)
    row, terrace = bridge[item], bearing[other]
    reached = tops[terrace] <= features.top[row] + LANDS
    row, terrace = row[reached], terrace[reached]
    common = shapely.area(shapely.intersection(geometry[row], geometry[terrace]))
    last = np.lexsort((common, np.round(tops[terrace], 6), row))
    last = last[np.append(row[last][1:] != row[last][:-1], True)] if len(last) else last
    return row[last], terrace[last]


def _under(features: Features, rows: np.ndarray, bearing: np.ndarray, tops: np.ndarray) -> np.ndarray:
    """The terrace under each of some rows; -1 where there is none."""
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
    return found
