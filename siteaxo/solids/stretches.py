"""
Centre lines whose own levels bend, parted into stretches that each rise evenly.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..source.features import Features
from ..source.own_z import OWN_SURFACE
from .planes import planes_through

OFF: Final = 0.005  # levels that leave one plane by no more do not bend [m]


def in_stretches(features: Features) -> Features:
    """
    Part lines that give a surface its levels at every vertex, where these bend.

    Parameters
    ----------
    features : Features
        As read, in the local plane.

    Returns
    -------
    Features
        Each line that no one plane fits is a row for every stretch between two of its
        vertices, one after another; they share its id. All else is as it was.
    """
    given = ~shapely.is_missing(features.geometry_z) & (features.top_from == OWN_SURFACE)
    line = given & features.of_role("slopes").astype(bool) & (shapely.get_dimensions(features.geometry) == 1)
    rows = np.flatnonzero(line)
    if not len(rows):
        return features
    xyz, owner = shapely.get_coordinates(features.geometry_z[rows], include_z=True, return_index=True)
    bent = rows[planes_through(xyz, owner, len(rows)).off > OFF]
    if not len(bent):
        return features
    xyz, owner = shapely.get_coordinates(features.geometry_z[bent], include_z=True, return_index=True)
    first = np.flatnonzero(owner[1:] == owner[:-1])
    first = first[np.hypot(*(xyz[first + 1] - xyz[first])[:, :2].T) > 0]
    stretch = shapely.linestrings(np.stack([xyz[first], xyz[first + 1]], axis=1))
    kept = np.setdiff1d(np.arange(len(features)), bent)
    row = np.concatenate([kept, bent[owner[first]]])
    spatial = np.concatenate([features.geometry_z[kept], stretch])
    order = np.argsort(row, kind="stable")
    flat = np.concatenate([features.geometry[kept], shapely.force_2d(stretch)])
    return features.take(row[order]).with_columns(geometry=flat[order], geometry_z=spatial[order])
