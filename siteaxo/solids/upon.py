"""
Surfaces that lie on structures or in them, and do not carry them.

The rule
    A lawn, a path, paving, water or a deck that lies wholly within the footprint of a structure, which
    reaches beyond it, carries that structure only where nothing else holds most of it: a house does not
    stand on its own roof terrace, nor on the lawn that is laid over its roof. A deck that reaches
    beyond a hut carries it, and so does a terrace or a slab as large as the house.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..source.features import Features
from .cutting import MOSTLY, STRAY, share_of

SURFACES: Final = ("lawn", "paving", "path", "water", "deck")
"""Roles of what is laid over structures as well as under them."""


def lies_upon(
    features: Features,
    geometry: np.ndarray,
    row: np.ndarray,
    below: np.ndarray,
    share: np.ndarray,
    *,
    grounded: bool = False,
) -> np.ndarray:
    """
    Tell surfaces that lie on or in structures from what may carry these.

    Parameters
    ----------
    features : Features
        The features.
    geometry : ndarray of object, shape (n,)
        Their footprints.
    row, below : ndarray of int, shape (p,)
        Pairs of a feature and one whose footprint meets its own.
    share : ndarray, shape (p,)
        Share of the first that lies on the second [-].
    grounded : bool
        Whether ground that is none of these holds all of them.

    Returns
    -------
    ndarray of bool, shape (p,)
        Pairs in which the second does not carry the first.
    """
    role = features.of_role("name")
    upon = (role[row] == "structure") & np.isin(role[below], SURFACES) & (share < 1 - STRAY)
    some = np.flatnonzero(upon)
    upon[some] = share_of(geometry[below[some]], geometry[row[some]]) > 1 - STRAY
    held = np.full(len(features), grounded)
    held[row[~upon & (share > MOSTLY)]] = True
    return np.asarray(upon & held[row])
