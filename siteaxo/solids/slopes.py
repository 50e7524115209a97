"""
What stands on flights and ramps is brought down from their top to where it stands.
"""

from __future__ import annotations

import numpy as np
import shapely

from ..source.features import Features
from .walks import Walks


def lowered(features: Features, support: np.ndarray, walks: Walks) -> Features:
    """
    Set what stands on a flight or ramp at the lowest level under its footprint.

    Parameters
    ----------
    features : Features
        Settled as if flights and ramps were level at their top.
    support : ndarray of int, shape (n,)
        What each stands on, -1 for nothing.
    walks : Walks
        Flights and ramps.

    Returns
    -------
    Features
        With lower bases and tops, passed on to what stands on these features in turn.
    """
    walk = np.where(support >= 0, walks.of_feature(support), -1)
    rows = np.flatnonzero(walk >= 0)
    if not len(rows):
        return features
    xy, owner = shapely.get_coordinates(features.geometry[rows], return_index=True)
    level = np.full(len(rows), np.inf)
    np.minimum.at(level, owner, walks.level_at(walk[rows][owner], xy))
    down = np.zeros(len(features))
    down[rows] = features.base[rows] - np.where(np.isfinite(level), level, features.base[rows])
    for order in np.unique(features.order):  # a support always comes before what it carries
        carried = np.flatnonzero((features.order == order) & (support >= 0))
        down[carried] += down[support[carried]]
    return features.with_columns(base=features.base - down, top=features.top - down)
