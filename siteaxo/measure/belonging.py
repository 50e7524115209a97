"""
Which terrace each feature of a site belongs to.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.stack import Stack

MOSTLY: Final = 0.5  # share of a footprint that must lie on a terrace, where ground goes on under it [-]


def terrace_of(stack: Stack) -> np.ndarray:
    """
    Terrace, or else piece of ground, that each feature belongs to.

    It is the one that what it stands on stands on at last; of a feature whose base is
    stated, the terrace that more than half of its footprint lies on, or else what most of
    it lies on. Terraces and ground belong to
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
    lies = _mostly_on(stack, earth)
    found = np.where(earth, found, lies)
    at = np.where(earth, -1, stack.support)
    while (at >= 0).any():  # a handful of storeys
        there = np.flatnonzero(at >= 0)
        found[there] = np.where(found[at[there]] >= 0, found[at[there]], found[there])
        at[there] = np.where(earth[at[there]], -1, stack.support[at[there]])
    return found


def _mostly_on(stack: Stack, earth: np.ndarray) -> np.ndarray:
    """The terrace that carries most of each footprint, or else the ground; -1 for none."""
    features = stack.features
    geometry, terrace = features.geometry, features.of_role("name") == "terrace"
    rows = np.flatnonzero(earth & ~shapely.is_empty(geometry))
    item, other = shapely.STRtree(geometry[rows]).query(geometry, predicate="intersects")
    under, flat = rows[other], shapely.get_dimensions(geometry[item]) == 2
    common = shapely.intersection(geometry[item], geometry[under])
    size, whole = np.where(flat, shapely.area(common), 1.0), np.where(flat, shapely.area(geometry[item]), 1.0)
    fits = size > 0
    item, under, size, mostly = item[fits], under[fits], size[fits], (size > MOSTLY * whole)[fits]
    order = np.lexsort((features.top[under], np.round(size, 6), mostly & terrace[under], item))
    found = np.full(len(geometry), -1)
    found[item[order]] = under[order]  # the last one written stays
    return found
