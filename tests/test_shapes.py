"""Words for shapes, and the keys of what is built, as layers take them."""

from __future__ import annotations

import geopandas
import numpy as np
import pytest
from shapely import Point, box

from siteaxo.errors import FieldError, LayerError, LevelError
from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.site import SiteData

CRS = "EPSG:25832"


def trees(**columns):
    count = len(next(iter(columns.values())))
    points = [Point(500_000 + 5 * k, 5_700_000) for k in range(count)]
    return geopandas.GeoDataFrame({**columns, "h": [5.0] * count}, geometry=points, crs=CRS)


def roofs(**columns):
    count = len(next(iter(columns.values())))
    shapes = [box(500_000 + 20 * k, 5_700_000, 500_010 + 20 * k, 5_700_006) for k in range(count)]
    return geopandas.GeoDataFrame(columns, geometry=shapes, crs=CRS)


def gathered(**layer):
    return gather(SiteData(layers=[Layer(**{"name": "some", "base": 0.0, **layer})]))


def test_one_word_for_all():
    found = gathered(role="tree", source=trees(k=[1, 2]), height="h", shape="conical")
    assert found.features.shape.tolist() == ["conical", "conical"]


def test_words_in_a_field():
    source = trees(form=["Round ", "columnar", None, ""])
    found = gathered(role="tree", source=source, height="h", shape="form")
    assert found.features.shape.tolist() == ["round", "columnar", "", ""]


def test_an_unknown_word_is_a_finding():
    source = trees(form=["round", "weeping"])
    found = gathered(role="tree", source=source, height="h", shape="form")
    assert found.features.shape.tolist() == ["round", ""]
    noted = [finding for finding in found.findings if finding.code == "shape-unknown"]
    assert [(finding.source_id, finding.field, finding.value) for finding in noted] == [
        ("1", "form", "weeping")
    ]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("conicl", r"no field 'conicl' \(for shape\)\. It has: .*one of round, conical, .*mean 'conical'\?$"),
        ("fom", r"Did you mean 'form'\?$"),
        ("zzzzzz", r"one of round, conical, columnar, spreading, palm, shrub\.$"),
    ],
)
def test_a_shape_that_is_neither_word_nor_field_tells_both(said, words):
    with pytest.raises(FieldError, match=words):
        gathered(role="tree", source=trees(form=["palm"], k=[3]), height="h", shape=said)


def test_a_base_that_is_neither_word_nor_field_tells_the_nearest_word():
    with pytest.raises(FieldError, match=r"\(for base\)\. .*Did you mean 'below'\?$"):
        gathered(role="tree", source=trees(k=[3]), height="h", base="belwo")


def test_without_a_shape_there_is_none():
    assert gathered(role="tree", source=trees(k=[1]), height="h").features.shape.tolist() == [""]


def test_a_role_without_shapes_takes_none():
    with pytest.raises(LayerError, match="role 'deck' comes in one shape only"):
        Layer(name="decks", role="deck", source="decks.shp", shape="hip")


def test_pitch_is_in_degrees_whatever_the_unit():
    """Sizes are in feet, the pitch is not: 0.3048 m a foot (85 FR 62698)."""
    found = gathered(role="roof", source=roofs(p=[35.0]), pitch="p", parapet=1.0, unit="ft", shape="gable")
    assert found.features.pitch.tolist() == [35.0]
    assert found.features.parapet.tolist() == [0.3048]


def test_a_pitch_stands_in_for_a_top():
    """Without a pitch a roof needs a top or a height."""
    found = gathered(role="roof", source=roofs(p=[35.0]), pitch="p")
    assert found.features.top.tolist() == [0.0]
    with pytest.raises(LevelError, match="says nothing about how high"):
        gathered(role="roof", source=roofs(p=[35.0]))


@pytest.mark.parametrize("pitch", [0, -5, 85, 90])
def test_impossible_pitches_are_refused(pitch):
    with pytest.raises(LevelError, match="pitch must"):
        Layer(name="roofs", role="roof", source="roofs.shp", pitch=pitch)


@pytest.mark.parametrize("key", ["cheek", "landing", "posts", "beams", "rim", "drop", "parapet"])
def test_none_of_it_is_written_as_zero(key):
    assert getattr(Layer(name="a", role="deck", source="a.shp", **{key: 0}), key) == 0
    with pytest.raises(LevelError, match=f"{key} must not be -1"):
        Layer(name="a", role="deck", source="a.shp", **{key: -1})


def test_a_riser_is_above_zero():
    with pytest.raises(LevelError, match="riser must not be 0"):
        Layer(name="a", role="steps", source="a.shp", riser=0)


def test_sizes_that_are_not_given_are_missing():
    features = gathered(role="tree", source=trees(k=[1]), height="h").features
    keys = ("riser", "cheek", "landing", "posts", "beams", "rim", "drop", "parapet", "pitch")
    assert all(np.isnan(getattr(features, key)).all() for key in keys)
