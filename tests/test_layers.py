"""What a layer may say of itself."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from siteaxo.errors import CrsError, LayerError, LevelError, SiteaxoError
from siteaxo.source.layers import Layer, in_words, known_keys

GROUND = {"name": "ground", "role": "ground", "source": "ground.shp"}


def layer(**changes):
    return Layer(**{**GROUND, **changes})


def test_fields_are_what_texts_name():
    made = layer(id="nr", base="below", top="fin_lvl", height=0.4, width="w", material="mat")
    assert dict(made.field_uses()) == {"id": "nr", "top": "fin_lvl", "width": "w", "material": "mat"}
    assert made.fields == ("nr", "mat", "fin_lvl", "w")


def test_one_field_may_serve_twice():
    made = layer(base="lvl", top="lvl")
    assert list(made.field_uses()) == [("base", "lvl"), ("top", "lvl")]
    assert made.fields == ("lvl",)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("base", "foot_lvl", "field foot_lvl"),
        ("base", 3.5, "number"),
        ("base", "below", ""),
        ("base", None, ""),
    ],
)
def test_where_a_level_comes_from_in_words(key, value, words):
    assert in_words(layer(**{key: value}), key) == words


def test_numbers_of_numpy_are_numbers():
    assert layer(base=np.float64(1.5), top=np.int64(4)).top == 4


@pytest.mark.parametrize(
    ("changes", "error", "wanted"),
    [
        ({"name": ""}, LayerError, "name must be a text"),
        ({"name": 7}, LayerError, "name must be a text"),
        ({"role": "teracce"}, LayerError, "Did you mean 'terrace'"),
        ({"source": None}, LayerError, "path of a file or a GeoDataFrame"),
        ({"source": ""}, LayerError, "path of a file or a GeoDataFrame"),
        ({"source": 5}, LayerError, "not int"),
        ({"source": pd.DataFrame()}, LayerError, "not DataFrame"),
        ({"table": 3}, LayerError, "the name of a table"),
        ({"id": 3}, LayerError, "the name of a field"),
        ({"material": ""}, LayerError, "the name of a field"),
        ({"top": "below"}, LevelError, "only the base can be 'below'"),
        ({"top": float("nan")}, LevelError, "finite number or the name of a field"),
        ({"top": float("inf")}, LevelError, "finite number"),
        ({"base": True}, LevelError, "finite number"),
        ({"base": [1]}, LevelError, "finite number"),
        ({"height": ""}, LevelError, "finite number"),
        ({"height": -0.1}, LevelError, "height must not be -0.1"),
        ({"width": 0}, LevelError, "width must not be 0"),
        ({"diameter": -2}, LevelError, "diameter must not be -2"),
        ({"clear_stem": -1}, LevelError, "clear_stem must not be -1"),
        ({"base": 3, "top": 2.5}, LevelError, "top 2.5 lies below base 3"),
        ({"unit": "yd"}, LevelError, "m, ft, ft-us"),
        ({"crs": "EPSG:1"}, CrsError, "no known coordinate reference system"),
    ],
)
def test_what_a_layer_must_not_say(changes, error, wanted):
    with pytest.raises(error, match=wanted) as caught:
        layer(**changes)
    assert isinstance(caught.value, SiteaxoError)
    if "name" not in changes:
        assert "'ground'" in str(caught.value)


def test_a_frame_may_be_the_source():
    frame = gpd.GeoDataFrame(geometry=[shapely.Point(0, 0)])
    assert layer(source=frame).source is frame


def test_height_zero_is_a_height():
    assert layer(height=0).height == 0


def test_keys_of_the_site_file():
    assert known_keys()[:3] == ("name", "role", "source")
    assert {"table", "crs", "id", "base", "top", "height", "unit", "clear_stem"} < set(known_keys())


def test_a_layer_stays_as_it_is():
    with pytest.raises(AttributeError):
        layer().name = "other"
