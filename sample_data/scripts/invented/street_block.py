"""Footprints of a street block, as open data has them: degrees, heights as texts, gaps in the fields."""

import geopandas
import numpy as np
import shapely

import siteaxo


def footprints() -> geopandas.GeoDataFrame:
    """Buildings round a yard, and three in it; columns height, levels (storeys) and floor_h."""
    chance = np.random.default_rng(11)
    shapes, storeys, heights = [], [], []
    for side in range(4):
        for number in range(7):
            deep, floors = 11 + chance.uniform(-1, 2), int(chance.integers(3, 7))
            house = shapely.box(11.5 * number - 40, 30 - deep, 11.5 * (number + 1) - 40, 30)
            shapes.append(shapely.affinity.rotate(house, 90 * side, origin=(0, 0)))
            storeys.append(floors)
            heights.append(f"{3.1 * floors + 1.2:.1f} m" if chance.random() < 0.6 else None)
    for x, y in ((-18, -12), (6, -6), (-4, 9)):
        shapes.append(shapely.box(x, y, x + 9, y + 6))
        storeys.append(1)
        heights.append(None)
    plane = siteaxo.LocalPlane.centred_on(11.58, 50.93)
    columns = {"levels": storeys, "height": heights, "floor_h": 3.2}
    frame = geopandas.GeoDataFrame(columns, geometry=shapes, crs=plane.crs)
    return frame[~frame.overlaps(frame.union_all())].to_crs("EPSG:4326")
