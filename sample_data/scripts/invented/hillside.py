"""A hillside by its contours, and what is to be built on it."""

import geopandas
import numpy as np
import shapely
from contourpy import contour_generator

from .places import placed

features = placed("EPSG:27700", 431_000, 372_000)


def contours(step: float = 0.5) -> geopandas.GeoDataFrame:
    """Contours over 60 by 60 metres; column level."""
    across = np.linspace(0, 60, 61)
    x, y = np.meshgrid(across, across)
    hill = 52 + 0.12 * y + 3.2 * np.exp(-(((x - 26) / 16) ** 2) - ((y - 40) / 18) ** 2)
    lines = contour_generator(x, y, hill)
    found = [(level, line) for level in np.arange(50, 70, step) for line in lines.lines(level)]
    return features([shapely.LineString(line) for _, line in found], level=[level for level, _ in found])


def boundary() -> geopandas.GeoDataFrame:
    """The site."""
    return features([shapely.box(1, 1, 59, 59)])


def terrace() -> geopandas.GeoDataFrame:
    """A terrace in the slope."""
    return features([shapely.box(28, 8, 46, 20)])


def hut() -> geopandas.GeoDataFrame:
    """A hut on the terrace."""
    return features([shapely.box(35, 11, 42, 16)])


def path() -> geopandas.GeoDataFrame:
    """The centre line of a path up the hill."""
    return features([shapely.LineString([(4, 4), (16, 14), (20, 26), (38, 28), (52, 44)])])


def trees() -> geopandas.GeoDataFrame:
    """Trees along the crest."""
    return features(shapely.points(np.random.default_rng(4).uniform([4, 42], [56, 57], (14, 2))))
