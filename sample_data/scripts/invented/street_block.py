"""Footprints of a street block, as open data has them: degrees, heights as texts, gaps in the fields."""

from itertools import pairwise

import geopandas
import numpy as np
import shapely

import siteaxo

HALF = 33.0  # of the block's width [m]
DEEP = 13.0  # of a house, at most [m]


def footprints() -> geopandas.GeoDataFrame:
    """Houses round a yard, and three sheds in it; columns height, levels (storeys) and floor_h."""
    chance = np.random.default_rng(11)
    houses = []
    for side in range(4):
        reach = HALF if side % 2 == 0 else HALF - DEEP  # two rows take the corners
        bounds = np.linspace(-reach, reach, 7 if side % 2 == 0 else 5)
        for left, right in pairwise(bounds):
            back = 0.0 if HALF in (-left, right) else chance.uniform(0, 2)  # houses at corners are deep
            house = shapely.box(left, HALF - DEEP + back, right, HALF)
            houses.append(shapely.affinity.rotate(house, 90 * side, origin=(0, 0)))
    storeys = chance.integers(3, 7, len(houses)).tolist()
    heights = [f"{3.1 * n + 1.2:.1f} m" if chance.random() < 0.6 else None for n in storeys]
    sheds = [shapely.box(x, y, x + 9, y + 6) for x, y in ((-15, -14), (6, -8), (-7, 9))]
    columns = {"levels": [*storeys, 1, 1, 1], "height": [*heights, None, None, None], "floor_h": 3.2}
    plane = siteaxo.LocalPlane.centred_on(11.58, 50.93)
    return geopandas.GeoDataFrame(columns, geometry=[*houses, *sheds], crs=plane.crs).to_crs("EPSG:4326")
