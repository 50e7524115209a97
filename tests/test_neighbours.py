"""Lines between neighbours whose surfaces lie in one plane, wanted or not."""

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.errors import LayerError

ROW = geopandas.GeoDataFrame(
    {"number": ["1", "3"], "h": [6.0, 6.0]},
    geometry=[shapely.box(0, 0, 6, 9), shapely.box(6, 0, 12, 9)],
    crs="EPSG:25832",
)


def along_party_wall(neighbours, rows=ROW):
    """Drawn length on the shared roof edge, and on the upright below its front end [m]."""
    layer = siteaxo.Layer(
        name="row", role="structure", source=rows, id="number", base=0, height="h", neighbours=neighbours
    )
    model = siteaxo.Site(layers=[layer], base_line=90).stack()
    lines = shapely.union_all(model.draw(siteaxo.planometric(turn=30)).edges.geometry.values)
    wall = shapely.get_coordinates(shapely.intersection(*model.footprints.geometry.values[:2]))
    south, north = wall[np.argsort(wall[:, 1])] - model.origin[:2]
    view = siteaxo.planometric(turn=30).after_turning(model.squaring)
    ends = view.to_page(np.array([[*south, 0], [*south, 6], [*north, 6]]))[:, :2]
    edges = shapely.linestrings([ends[:2], ends[1:]])
    return [shapely.intersection(lines, edge.buffer(0.001)).length for edge in edges]


@pytest.mark.parametrize("neighbours", [None, "joined"])
def test_equal_neighbours_show_no_line_between_them(neighbours):
    assert along_party_wall(neighbours) == pytest.approx([0, 0], abs=0.02)


def test_equal_neighbours_that_are_wanted_apart_show_one():
    """The upright is 6 m high, the roof edge 9 m long."""
    assert along_party_wall("apart") == pytest.approx([6, 9], abs=0.05)


def test_parts_of_one_feature_are_never_apart():
    """A terrace that is given in two pieces under one id is one terrace."""
    assert along_party_wall("apart", ROW.assign(number="1")) == pytest.approx([0, 0], abs=0.02)


def test_an_unknown_word_names_the_known():
    with pytest.raises(LayerError, match="joined"):
        siteaxo.Layer(name="row", role="structure", source=ROW, neighbours="divided")
