"""What a site may say of itself."""

import dataclasses

import numpy as np
import pytest

from siteaxo.errors import LayerError, LevelError, SheetError, SiteFileError, ViewError
from siteaxo.source.layers import Layer
from siteaxo.source.site import VIEW_OPTIONS, SheetSettings, SiteData, ViewSettings

GROUND = Layer(name="ground", role="ground", source="ground.shp", top=1)
WALLS = Layer(name="walls", role="wall", source="walls.shp", height=1)


def test_a_list_of_layers_is_enough():
    site = SiteData(layers=[GROUND, WALLS])
    assert site.layers == (GROUND, WALLS)
    assert (site.plane_crs, site.base_line, site.unit, site.drawn_in_place) == ("auto", "auto", "m", "lowest")
    assert (site.view.kind, dict(site.view.options)) == ("planometric", {})
    assert (site.sheet.size, site.sheet.scale) == ("A3", 200)


def test_layers_by_name():
    site = SiteData(layers=(layer for layer in (GROUND, WALLS)))
    assert site.layer("walls") is WALLS
    with pytest.raises(LayerError, match="Did you mean 'walls'"):
        site.layer("wall")


@pytest.mark.parametrize(
    ("unit", "level", "metres"),
    [("m", 12.5, 12.5), ("ft", 10, 3.048), ("m", "lowest", None), ("ft-us", 3937, 1200)],
)
def test_the_level_drawn_in_place_in_metres(unit, level, metres):
    found = SiteData(layers=[GROUND], unit=unit, drawn_in_place=level).drawn_in_place_m
    assert found is None if metres is None else found == pytest.approx(metres, rel=1e-15)


@pytest.mark.parametrize(
    ("changes", "error", "wanted"),
    [
        ({"layers": []}, LayerError, "at least one layer"),
        ({"layers": [GROUND, GROUND]}, LayerError, "Two layers are called 'ground'"),
        ({"layers": ["ground.shp"]}, LayerError, "must be Layer objects, not str"),
        ({"layers": 3}, LayerError, "must be a list of Layer objects, not int"),
        ({"name": " "}, SiteFileError, "name must be a text"),
        ({"unit": "feet"}, LevelError, "Unknown unit 'feet'"),
        ({"base_line": "north"}, SiteFileError, "base_line"),
        ({"base_line": float("nan")}, SiteFileError, "base_line"),
        ({"drawn_in_place": "ground"}, LevelError, "drawn_in_place"),
        ({"drawn_in_place": True}, LevelError, "drawn_in_place"),
    ],
)
def test_what_a_site_must_not_say(changes, error, wanted):
    with pytest.raises(error, match=wanted):
        SiteData(**{"layers": [GROUND], **changes})


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("planometric", {"turn": 30, "height_factor": 2 / 3}),
        ("isometric", {"unit_axes": False}),
        ("trimetric", {"tilt": 20}),
    ],
)
def test_views(kind, options):
    assert dict(ViewSettings(kind=kind, options=options).options) == options


@pytest.mark.parametrize(
    ("kind", "options", "wanted"),
    [
        ("planimetric", {}, "Did you mean 'planometric'"),
        ("planometric", {"tun": 30}, "Did you mean 'turn'"),
        ("dimetric", {"turn": 30}, "option of the dimetric view"),
        ("planometric", {"turn": float("inf")}, "turn must be finite"),
        ("planometric", {"turn": "sixty"}, "turn must be a number"),
    ],
)
def test_views_that_are_not_known(kind, options, wanted):
    with pytest.raises(ViewError, match=wanted):
        ViewSettings(kind=kind, options=options)


def test_settings_stay_as_they_are():
    options = {"turn": 30.0}
    view = ViewSettings(options=options)
    options["turn"] = 45.0
    assert view.options["turn"] == 30.0
    with pytest.raises(TypeError):
        view.options["turn"] = 45.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        view.kind = "isometric"


def test_the_options_are_those_of_the_views_themselves():
    import inspect

    from siteaxo.view import projection

    for kind, options in VIEW_OPTIONS.items():
        assert set(inspect.signature(getattr(projection, kind)).parameters) == set(options)


@pytest.mark.parametrize("scale", [200, 2.5, "fit", np.float64(50)])
def test_scales(scale):
    assert SheetSettings(scale=scale).scale == scale


@pytest.mark.parametrize(
    "changes",
    [
        {"scale": 0},
        {"scale": -200},
        {"scale": "1:200"},
        {"scale": float("inf")},
        {"scale": True},
        {"size": ""},
        {"size": 3},
        {"title": 3},
        {"orientation": "upright"},
    ],
)
def test_sheets_that_cannot_be(changes):
    with pytest.raises(SheetError, match=next(iter(changes))):
        SheetSettings(**changes)
