"""
Footprints of a stacked site with their levels, as a GeoDataFrame.
"""

from __future__ import annotations

from typing import Any

import geopandas
import numpy as np

from ..solids.stack import Stack


def footprints_of(stack: Stack, crs: Any) -> geopandas.GeoDataFrame:
    """
    Footprints with all levels settled.

    Parameters
    ----------
    stack : Stack
        The solids.
    crs
        CRS of the local plane.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each single-part feature: layer, source_id, role, base, top, height [m], base_from,
        top_from and material.
    """
    features = stack.features
    names = np.array([key.name for key in features.layers], dtype=object)
    roles = np.array([key.role.name for key in features.layers], dtype=object)
    columns = {
        "layer": names[features.layer],
        "source_id": features.source_id,
        "role": roles[features.layer],
        **{
            name: getattr(features, name)
            for name in ("base", "top", "height", "base_from", "top_from", "material")
        },
    }
    return geopandas.GeoDataFrame(columns, geometry=features.geometry, crs=crs)
