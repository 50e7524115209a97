"""Shapes brought to a place on the map."""

from collections.abc import Callable, Iterable
from typing import Any

import geopandas
import numpy as np
import shapely


def placed(crs: str, east: float, north: float) -> Callable[..., geopandas.GeoDataFrame]:
    """Return a function that makes features of shapes drawn about a corner."""

    def features(shapes: Iterable[shapely.Geometry], **columns: Any) -> geopandas.GeoDataFrame:
        moved = shapely.transform(np.array([*shapes], dtype=object), lambda xy: xy + np.array([east, north]))
        return geopandas.GeoDataFrame(columns, geometry=moved, crs=crs)

    return features
