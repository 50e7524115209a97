"""A small invented place with everything that people have to keep clear of, for tests."""

import geopandas as gpd
import numpy as np
import shapely

import siteaxo

CRS = "EPSG:25832"
EAST, NORTH = 500_000.0, 5_700_000.0


def here(geometry):
    """A geometry near zero, moved to where the place lies."""
    return shapely.transform(geometry, lambda xy: xy + np.array([EAST, NORTH]))


def box(x0, x1, y0, y1):
    return here(shapely.box(x0, y0, x1, y1))


def layer(name, role, *shapes, **fields):
    """A layer of features that share their fields."""
    frame = gpd.GeoDataFrame({"no": [str(k) for k in range(len(shapes))]}, geometry=list(shapes), crs=CRS)
    return siteaxo.Layer(name=name, role=role, source=frame, id="no", **fields)


POND = box(2, 6, 2, 6)
PLANTER = box(8, 10, 2, 6)
WALL = box(0, 12, 9, 9.4)
HOUSE = box(14, 20, 2, 8)
LOW_ROOF = box(2, 6, 12, 16)
HIGH_ROOF = box(8, 12, 12, 16)
DECK = box(14, 20, 12, 18)
BENCH = box(21, 21.45, 13, 17)
LAWN = box(21, 24, 1, 6)


def court(*, extra=()):
    """A level court of 24 × 20 m with a pond, a house, two roofs, a deck and a bench."""
    layers = [
        layer("court", "terrace", box(0, 24, 0, 20), base=9.0, top=10.0),
        layer("lawn", "lawn", LAWN, base="below"),
        layer("pond", "water", POND, base=9.2, top=9.8),
        layer("planter", "planter", PLANTER, base="below", height=0.5),
        layer("wall", "wall", WALL, base="below", height=2.6),
        layer("house", "structure", HOUSE, base="below", height=3.0),
        layer("low", "roof", LOW_ROOF, base=11.9, top=12.0),
        layer("high", "roof", HIGH_ROOF, base=12.4, top=12.6),
        layer("deck", "deck", DECK, base=10.9, top=11.0),
        layer("bench", "seat", BENCH, base="below", height=0.45),
        *extra,
    ]
    return siteaxo.Site(name="Court", layers=layers, plane_crs=CRS, base_line=90.0)
