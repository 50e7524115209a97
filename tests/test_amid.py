import geopandas
import numpy as np
import pytest
import shapely
from sites_review import CRS, layer

import siteaxo
from siteaxo.craft.amid import amid_crowns, beside
from siteaxo.craft.style import Style

LEFT, RIGHT = shapely.box(0, 0, 2, 4), shapely.box(2, 0, 4, 4)


def table(rows):
    return geopandas.GeoDataFrame([dict(zip(("role", "part", "geometry"), row, strict=True)) for row in rows])


def test_both_sides_of_a_line_are_found():
    ends = np.array([[[2.0, 1.0], [2.0, 3.0]], [[0.0, 3.0], [0.0, 1.0]], [[9.0, 9.0], [9.0, 9.0]]])
    sides = beside(ends, np.array([LEFT, RIGHT]))
    assert [dict(zip(*side, strict=True)) for side in sides] == [{0: 0, 1: 0}, {0: 1}]


@pytest.mark.parametrize(
    ("role", "part", "line", "amid"),
    [
        ("tree", "crown", [(2, 1), (2, 3)], True),
        ("tree", "crown", [(0, 1), (0, 3)], False),  # against nothing
        ("tree", "side", [(2, 1), (2, 3)], False),  # a crown beside a trunk
        ("roof", "crown", [(2, 1), (2, 3)], False),  # against something else
    ],
)
def test_a_line_amid_crowns_has_them_on_either_side(role, part, line, amid):
    faces = table([("tree", "crown", LEFT), (role, part, RIGHT)])
    lines = table([("tree", "", shapely.LineString(line)), ("wall", "", shapely.LineString(line))])
    assert amid_crowns(lines, faces).tolist() == [amid, False]


def test_nothing_is_no_trouble():
    faces = table([("tree", "crown", LEFT)])
    lines = table([("tree", "", shapely.LineString([(2, 1), (2, 3)]))])
    assert amid_crowns(lines, faces.iloc[:0]).tolist() == [False]
    assert amid_crowns(lines.iloc[:0], faces).shape == (0,)


@pytest.fixture(scope="module")
def pair():
    """Two round crowns that grow into one another, and one that stands behind them."""
    ground = layer("ground", "ground", [shapely.box(0, 0, 16, 16)], base=-1.0, top=0.0)
    stems = shapely.points([(6.0, 6.0), (8.5, 6.5), (7.0, 11.0)]).tolist()
    trees = layer("trees", "tree", stems, height=6.0, diameter=4.0, clear_stem=1.5)
    site = siteaxo.Site(name="Pair", layers=[ground, trees], plane_crs=CRS, base_line=90.0)
    return site.stack().draw(siteaxo.planometric(turn=0), scale=100, planting="texture")


def test_the_outline_of_a_clump_is_heavier_than_what_lies_within(pair):
    """Crowns in one clump part at the width of an edge, whether they hide or meet one another."""
    lines = pair.edges[(pair.edges["role"] == "tree") & (pair.edges["drawn"] == 1)]
    amid = amid_crowns(lines, pair.faces)
    inner, outer = lines[amid], lines[~amid & (lines["kind"] == "profile")]
    assert {"profile", "edge"} <= set(inner["kind"])
    edge, profile = Style().weights.widths(["edge", "profile"], roles=["tree"] * 2, scale=100)
    assert set(inner["line_mm"]) == {edge}
    assert outer.loc[outer["line_mm"] == profile].length.sum() > 0.8 * outer.length.sum()


def test_foliage_lies_under_the_outlines_it_ends_at_and_over_the_shade(pair):
    planting = pair.extra["planting"]
    places = planting.groupby("kind")["draw_order"].agg(["min", "max"])
    assert places.loc["shade", "max"] < places.loc["foliage", "min"]
    assert places.loc["foliage", "max"] < 0
