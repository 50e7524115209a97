"""Levels in cm read as metres, and ids that several features have."""

import geopandas
import pandas as pd
import pytest
import shapely
from sites_review import CRS, layer

import siteaxo


def codes(*layers):
    found = siteaxo.Site(layers=list(layers)).stack().findings
    return found["code"].tolist()


@pytest.mark.parametrize(("factor", "told"), [(1.0, False), (100.0, True), (1000.0, True)])
def test_terraces_in_cm_are_noticed(factor, told):
    """12.4 and 13.9 m on a court 36 m from corner to corner; a hundred times that is a cliff."""
    levels = [12.4 * factor, 13.9 * factor]
    yards = layer("yards", "terrace", [shapely.box(0, 0, 30, 10), shapely.box(0, 10, 30, 20)], top=levels)
    assert ("looks-like-cm" in codes(yards)) == told


def test_a_steep_site_is_not_taken_for_cm():
    """Terraces that climb 18 m within 30 m, as on a cliff."""
    boxes = [shapely.box(0, 3 * k, 20, 3 * k + 3) for k in range(10)]
    assert "looks-like-cm" not in codes(layer("cliff", "terrace", boxes, top=[2.0 * k for k in range(10)]))


def test_what_stands_on_a_site_may_be_as_high_as_it_likes():
    yard = layer("yard", "terrace", [shapely.box(0, 0, 9, 9)], top=1.0)
    tower = layer("tower", "structure", [shapely.box(2, 2, 6, 6)], base="below", height=60.0)
    assert "looks-like-cm" not in codes(yard, tower)


def houses(ids, field):
    rows = geopandas.GeoDataFrame(
        {"ref": ids}, geometry=[shapely.box(9 * k, 0, 9 * k + 6, 6) for k in range(len(ids))], crs=CRS
    )
    given = {"id": "ref"} if field else {}
    return siteaxo.Layer(name="houses", role="structure", source=rows, base=0.0, height=3.0, **given)


def test_ids_of_several_features_are_told_once():
    found = siteaxo.Site(layers=[houses(["A", "B", "A", "C", "C"], True)]).stack().findings
    (told,) = found[found["code"] == "repeated-id"].itertuples()
    assert (told.layer, told.field, told.value) == ("houses", "ref", "2 ids")
    assert "(A, C)" in told.message


def test_an_index_that_repeats_itself_is_told():
    """As it comes from two tables put under one another."""
    one = houses(["A"], False)
    both = pd.concat([one.source, one.source.translate(20, 0).to_frame("geometry").set_geometry("geometry")])
    site = siteaxo.Layer(name="houses", role="structure", source=both, base=0.0, height=3.0)
    assert codes(site) == ["repeated-id"]


def test_ids_of_their_own_are_not_told():
    assert codes(houses(["A", "B", "C"], True)) == []
