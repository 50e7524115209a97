"""
What of terraces and ground lies bare: each place counts once, for what is seen there.
"""

from __future__ import annotations

import numpy as np
import shapely

from ..solids.cutting import LEVEL, united
from ..solids.pairs import on_pairs
from ..solids.planes import range_over
from ..source.features import Features
from ..view.overlay import checked_difference


def uncovered(features: Features, rows: np.ndarray, shapes: np.ndarray | None = None) -> np.ndarray:
    """
    Find what of some footprints none of the others covers.

    Parameters
    ----------
    features : Features
        With all levels settled.
    rows : ndarray of int, shape (m,)
        Areas that may lie over one another.
    shapes : ndarray of object, shape (m,), optional
        Other footprints of them [m].

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
    mine = sum(range_over(features, rows[one], common)) / 2
    its = sum(range_over(features, rows[other], common)) / 2
    covers = (its > mine + LEVEL) | ((np.abs(its - mine) <= LEVEL) & (other > one))
    result = shapes.copy()
    under, lid = united(shapes[other[covers]], one[covers])
    result[under], _ = checked_difference(shapes[under], lid)
    return result
