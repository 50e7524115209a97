"""
What of terraces, surfaces and ground lies bare: each place counts once, for what is seen there.
"""

from __future__ import annotations

import numpy as np
import shapely

from ..solids.cutting import LEVEL, united
from ..solids.grounding import DRAPE
from ..solids.pairs import on_pairs
from ..solids.planes import range_over
from ..solids.tin import Tin
from ..source.features import Features
from ..view.overlay import checked_difference


def uncovered(
    features: Features,
    rows: np.ndarray,
    shapes: np.ndarray | None = None,
    *,
    laid: bool = False,
    ground: Tin | None = None,
) -> np.ndarray:
    """
    Find what of some footprints none of the others covers.

    Parameters
    ----------
    features : Features
        With all levels settled.
    rows : ndarray of int, shape (m,)
        Areas that may lie over one another, in the order in which they are drawn.
    shapes : ndarray of object, shape (m,), optional
        Other footprints of them [m].
    laid : bool
        Only what is laid on another covers it: a lawn on a roof covers none below the house.
    ground : Tin, optional
        The ground that some of them are draped over.

    Returns
    -------
    ndarray of object, shape (m,)
        Where two lie over one another the higher covers the other, by their mean levels there;
        of two at one level the later, which is the one that is drawn.
    """
    shapes = features.geometry[rows] if shapes is None else shapes
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    one, other = one[one != other], other[one != other]
    common = on_pairs(shapely.intersection, shapes, one, other)
    there = shapely.area(common) > 0
    one, other, common = one[there], other[there], common[there]
    low, high = _levels(features, rows[one], common, ground)
    its_low, its_high = _levels(features, rows[other], common, ground)
    rise = (its_low + its_high - low - high) / 2
    covers = (rise > LEVEL) | ((np.abs(rise) <= LEVEL) & (other > one))
    if laid:
        covers &= np.minimum(features.base[rows[other]], its_low) <= high + LEVEL
    result = shapes.copy()
    under, lid = united(shapes[other[covers]], one[covers])
    result[under], _ = checked_difference(shapes[under], lid)
    return result


def _levels(
    features: Features, rows: np.ndarray, places: np.ndarray, ground: Tin | None
) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest level of tops over places, which of what is draped is the ground's there."""
    low, high = range_over(features, rows, places)
    drape = np.flatnonzero(features.of_role("form")[rows] == DRAPE)
    if ground is None or not len(drape):
        return low, high
    lowest, _, highest = ground.levels_under(places[drape])
    there = np.isfinite(lowest)
    low[drape[there]], high[drape[there]] = lowest[there], highest[there]
    return low, high
