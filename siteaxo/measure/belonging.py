"""
Which terrace each feature of a site belongs to.
"""

from __future__ import annotations

import numpy as np
import shapely

from ..solids.stack import Stack


def terrace_of(stack: Stack) -> np.ndarray:
    """
    Terrace, or else piece of ground, that each feature belongs to.

    It is the one that what it stands on stands on at last; of a feature whose base is
    stated, the one that most of its footprint lies on. Terraces and ground belong to
    themselves.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows of the features; -1 where there is none.
    """
    features = stack.features
    earth = features.of_role("theme") == "ground"
    found = np.where(earth, np.arange(len(features)), -1)
    lies = _mostly_on(features.geometry, earth, features.top)
    found = np.where(earth, found, lies)
    at = np.where(earth, -1, stack.support)
    while (at >= 0).any():  # a handful of storeys
        there = np.flatnonzero(at >= 0)
        found[there] = np.where(found[at[there]] >= 0, found[at[there]], found[there])
        at[there] = np.where(earth[at[there]], -1, stack.support[at[there]])
    return found


def _mostly_on(geometry: np.ndarray, earth: np.ndarray, top: np.ndarray) -> np.ndarray:
    """The piece of earth that carries most of each footprint, of equals the highest; -1 for none."""
    rows = np.flatnonzero(earth & ~shapely.is_empty(geometry))
    item, other = shapely.STRtree(geometry[rows]).query(geometry, predicate="intersects")
    under = rows[other]
    common = shapely.intersection(geometry[item], geometry[under])
    size = np.where(shapely.get_dimensions(geometry[item]) == 2, shapely.area(common), 1.0)
    fits = size > 0
    item, under, size = item[fits], under[fits], size[fits]
    order = np.lexsort((top[under], np.round(size, 6), item))
    found = np.full(len(geometry), -1)
    found[item[order]] = under[order]  # the last one written stays
    return found
