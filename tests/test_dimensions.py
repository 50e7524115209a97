"""Figures of dimensions: above their line, or beside it where it is too short for them."""

import numpy as np
import pytest
import shapely
from courtyard import box, layer

import siteaxo


@pytest.mark.parametrize("turn", [0.0, 30.0, 60.0, 100.0])
@pytest.mark.parametrize("scale", [200, 2000])
def test_no_figure_lies_on_a_line_of_a_dimension(turn, scale):
    """A strip of 300 × 60 m, 11.4 m high: at 1:2000 its height is 5.7 mm, and the figure longer."""
    strip = layer("strip", "terrace", box(0, 300, 0, 60), base=0.0, top=11.4)
    site = siteaxo.Site(name="Strip", layers=[strip], plane_crs="EPSG:25832", base_line=90.0)
    drawing = site.stack().draw(siteaxo.planometric(turn=turn), scale=scale)
    figure = drawing.figure(sheet="A0", scale="fit" if scale == 200 else scale, dimensions=True, levels=False)
    table, scale = figure.drawing.extra["labels"], figure.drawing.scale
    texts = table[table["text"] != ""]
    assert sorted(texts["text"]) == ["11.40 m", "300.00 m", "60.00 m"]
    ends = shapely.get_coordinates(texts.geometry.array).reshape(-1, 2, 2)
    along = ends[:, 1] - ends[:, 0]
    up = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    high = texts["height_mm"].to_numpy(dtype=float)[:, None] * scale / 1000
    corners = np.stack([ends[:, 0], ends[:, 1], ends[:, 1] + high * up, ends[:, 0] + high * up], axis=1)
    figures = shapely.polygons(corners)
    lines = np.asarray(table.geometry[table["text"] == ""].array, dtype=object)
    assert not shapely.intersects(figures[:, None], lines).any()
    assert not np.triu(shapely.intersects(figures[:, None], figures), 1).any()
    assert (along[:, 0] > -1e-9).all()  # read from the bottom or from the right
