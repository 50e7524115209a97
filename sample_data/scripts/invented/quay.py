"""A quay on two levels, with copings along their edges."""

import geopandas
import shapely

from .places import placed

features = placed("EPSG:25832", 565_000, 5_934_000)


def harbour() -> geopandas.GeoDataFrame:
    """The water before it."""
    return features([shapely.box(0, -8, 40, 0)])


def terraces() -> geopandas.GeoDataFrame:
    """Its two levels; column level."""
    return features([shapely.box(0, 0, 40, 9), shapely.box(0, 9, 40, 15)], level=[2.2, 3.0])


def copings() -> geopandas.GeoDataFrame:
    """Centre lines of copings; column high: height above what they stand on."""
    ends = [((1, 8.6), (13, 8.6)), ((17, 8.6), (24, 8.6)), ((28, 8.6), (39, 8.6)), ((1, 14.6), (39, 14.6))]
    return features([shapely.LineString(line) for line in ends], high=[0.45, 0.45, 0.5, 1.1])
