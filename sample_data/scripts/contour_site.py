"""A site on a slope, from contours alone: ground, a terrace cut into it, a path, and trees."""

import sys
from pathlib import Path

import geopandas
import numpy as np
import shapely

import siteaxo

CRS = "EPSG:27700"
CORNER = np.array([431_000.0, 372_000.0])


def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Level of an invented hillside [m]."""
    return 52 + 0.12 * y + 3.2 * np.exp(-(((x - 26) / 16) ** 2) - ((y - 40) / 18) ** 2)


def contours(step: float = 0.5) -> geopandas.GeoDataFrame:
    """Contours of it over 60 by 60 metres."""
    from contourpy import contour_generator

    across = np.linspace(0, 60, 61)
    x, y = np.meshgrid(across, across)
    lines = contour_generator(x, y, hill(x, y))
    levels, shapes = [], []
    for level in np.arange(50, 70, step):
        for line in lines.lines(level):
            levels.append(level)
            shapes.append(shapely.LineString(line + CORNER))
    return geopandas.GeoDataFrame({"level": levels}, geometry=shapes, crs=CRS)


def frame(*shapes: shapely.Geometry, **columns: list) -> geopandas.GeoDataFrame:
    """Features at their place on the map."""
    moved = shapely.transform(np.array(shapes, dtype=object), lambda xy: xy + CORNER)
    return geopandas.GeoDataFrame(columns, geometry=moved, crs=CRS)


def main(out: Path) -> None:
    """Draw the hillside with its contours."""
    path = shapely.LineString([(4, 4), (16, 14), (20, 26), (38, 28), (52, 44)])
    chance = np.random.default_rng(4)
    trees = shapely.points(chance.uniform([4, 42], [56, 57], (14, 2)))
    layers = [
        siteaxo.Layer(name="ground", role="ground", source=frame(shapely.box(1, 1, 59, 59)), top="survey"),
        siteaxo.Layer(name="contours", role="contour", source=contours(), top="level"),
        siteaxo.Layer(
            name="terrace", role="terrace", source=frame(shapely.box(28, 8, 46, 20)), top=54.2, bank=2.0
        ),
        siteaxo.Layer(name="path", role="path", source=frame(path), width=2.0),
        siteaxo.Layer(
            name="hut", role="structure", source=frame(shapely.box(35, 11, 42, 16)), base="below", height=3.2
        ),
        siteaxo.Layer(name="trees", role="tree", source=frame(*trees), height=7.0, diameter=4.5),
    ]
    site = siteaxo.Site(name="Hillside", layers=layers, contour_interval=0.5, base_line=90)
    diagram = site.stack().draw(siteaxo.planometric(turn=30), scale=250, planting="texture")
    diagram.figure(sheet="A2", scale=250).savefig(out / "contour_site.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
