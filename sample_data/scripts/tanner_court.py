"""An invented courtyard in two states, for the scripts beside this one."""

import geopandas
import numpy as np
import shapely

import siteaxo

CRS = "EPSG:25832"
CORNER = np.array([565_000.0, 5_934_000.0])


def frame(shapes: list, **columns: list) -> geopandas.GeoDataFrame:
    """Features at their place on the map."""
    moved = shapely.transform(shapes, lambda xy: xy + CORNER)
    return geopandas.GeoDataFrame(columns, geometry=moved, crs=CRS)


def courtyard(*, terrace: float, trees: list[tuple[float, float]], bench: bool) -> siteaxo.Site:
    """A terrace of some height above the court, trees, and perhaps a bench along its edge."""
    box = shapely.box
    named = [f"T{number}" for number in range(len(trees))]
    stems = frame(shapely.points(trees).tolist(), id=named)
    layers = [
        siteaxo.Layer(name="court", role="ground", source=frame([box(0, 0, 29, 21)]), base=11.4, top=12.0),
        siteaxo.Layer(name="terrace", role="terrace", source=frame([box(3, 12, 26, 19)]), top=12 + terrace),
        siteaxo.Layer(name="lawn", role="lawn", source=frame([box(3, 3, 16, 9)])),
        siteaxo.Layer(
            name="pavilion", role="structure", source=frame([box(20, 3, 27, 8)]), base="below", height=3.4
        ),
        siteaxo.Layer(name="trees", role="tree", source=stems, id="id", height=5.5, diameter=3.6),
    ]
    if bench:
        seat = frame([shapely.LineString([(5, 11.4), (24, 11.4)])])
        layers.append(siteaxo.Layer(name="bench", role="seat", source=seat, height=0.45))
    return siteaxo.Site(name="Tanner Court", layers=layers, base_line=90)


def as_it_is() -> siteaxo.Site:
    """The court today."""
    return courtyard(terrace=0.3, trees=[(6, 6), (12, 6), (22, 16)], bench=False)


def proposed() -> siteaxo.Site:
    """The court with a raised terrace, a bench before it, and trees moved onto it."""
    return courtyard(terrace=1.2, trees=[(6, 6), (12, 6), (7, 16), (22, 16)], bench=True)
