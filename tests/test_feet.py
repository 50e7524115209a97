"""Levels in metres that look like feet are told, and never converted."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.site import SiteData


def layer(name, role, levels, *, crs="EPSG:27700", geometry=None, **options):
    shapes = [shapely.box(400000 + 10 * k, 300000, 400008 + 10 * k, 300008) for k in range(len(levels))]
    frame = gpd.GeoDataFrame({"lvl": levels}, geometry=geometry or shapes, crs=crs)
    return Layer(name=name, role=role, source=frame, **{"top": "lvl", **options})


def told(*layers, **site):
    findings = gather(SiteData(layers=layers, **site)).findings
    return [(f.layer, f.value) for f in findings if f.code == "looks-like-feet"]


def test_terraces_in_feet_among_terraces_in_metres():
    rest = layer("terraces", "terrace", [10.0, 12.0, 15.0, 18.0])
    feet = layer("old survey", "terrace", [36.0, 42.0, 51.0])
    assert told(rest, feet) == [("old survey", "36.00 to 51.00 m")]
    gathered = gather(SiteData(layers=[rest, feet]))
    assert gathered.features.top.max() == 51.0  # nothing is converted


@pytest.mark.parametrize(
    "levels",
    [
        [11.0, 14.0, 17.0],  # among the rest
        [20.0, 21.0],  # near the rest
        [90.0, 95.0],  # far off, in feet as well
    ],
)
def test_levels_that_do_not(levels):
    rest = layer("terraces", "terrace", [10.0, 12.0, 15.0, 18.0])
    assert told(rest, layer("others", "terrace", levels)) == []


def test_a_layer_that_says_feet_is_believed():
    rest = layer("terraces", "terrace", [10.0, 12.0, 15.0, 18.0])
    assert told(rest, layer("old survey", "terrace", [36.0, 42.0, 51.0], unit="ft")) == []


def test_buildings_may_rise_as_they_like():
    rest = layer("terraces", "terrace", [10.0, 12.0, 15.0, 18.0])
    assert told(rest, layer("towers", "structure", [45.0, 50.0])) == []


def test_rails_and_seats_of_feet():
    ground = layer("ground", "ground", [0.0])
    rails = layer("rails", "rail", [0, 0], top=None, base="below", height=3.5)
    seats = layer("seats", "seat", [0], top=None, base="below", height=1.5)
    fine = layer("low seats", "seat", [0], top=None, base="below", height=0.45)
    assert told(ground, rails, seats, fine) == [("rails", "3.50 m"), ("seats", "1.50 m")]


def test_storeys_of_feet():
    blocks = layer("blocks", "structure", [2, 3], top=None, base=0, storeys="lvl", storey_height=11)
    assert told(blocks) == [("blocks", "11.00 m")]
    blocks = layer("blocks", "structure", [2, 3], top=None, base=0, storeys="lvl", storey_height=3.3)
    assert told(blocks) == []


def test_coordinates_in_feet_without_a_unit_for_levels():
    # EPSG:2263: New York Long Island, US survey feet.
    shapes = [shapely.box(985000, 195000, 985100, 195100)]
    layers = {"geometry": shapes, "crs": "EPSG:2263"}
    assert told(layer("lots", "ground", [12.0], **layers)) == [("lots", "US survey foot")]
    for unit in ("m", "ft-us"):
        assert told(layer("lots", "ground", [12.0], unit=unit, **layers)) == []
    assert told(layer("lots", "ground", [12.0], **layers), unit="ft") == []


def test_nothing_to_compare_with():
    assert told(layer("terraces", "terrace", [36.0, np.nextafter(42.0, 43)])) == []
