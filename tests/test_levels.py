"""Base, top and height: what settles a feature, and what cannot be settled."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import FieldError, LevelError
from siteaxo.source.layers import Layer
from siteaxo.source.levels import levels_of, sizes_of
from siteaxo.source.reading import read_layer

NAN = np.nan


def raw(role="terrace", *, columns=None, **options):
    columns = columns or {"nr": [1]}
    n = len(next(iter(columns.values())))
    frame = gpd.GeoDataFrame(columns, geometry=[shapely.box(0, 0, 1, 1)] * n, crs="EPSG:27700")
    frame.index = [f"f{i}" for i in range(n)]
    return read_layer(Layer(name="beds", role=role, source=frame, **options))


def settle(role="terrace", *, columns=None, unit="m", **options):
    return levels_of(raw(role, columns=columns, **options), unit=unit)


def one(levels):
    return tuple(
        getattr(levels, key)[0] for key in ("base", "top", "height", "below", "base_from", "top_from")
    )


ABOVE = "height above base (number)"


@pytest.mark.parametrize(
    ("role", "options", "expected"),
    [
        # any two settle the third
        ("terrace", {"base": 2, "top": 5}, (2, 5, 3, False, "number", "number")),
        ("terrace", {"base": 2, "height": 3}, (2, 5, 3, False, "number", "base plus height (number)")),
        ("deck", {"top": 5, "height": 3}, (2, 5, 3, False, "top less height (number)", "number")),
        # one with what lies below
        ("deck", {"base": "below", "top": 5}, (NAN, 5, NAN, True, "below", "number")),
        ("deck", {"base": "below", "height": 3}, (NAN, NAN, 3, True, "below", ABOVE)),
        ("deck", {"height": 3}, (NAN, NAN, 3, True, "below", ABOVE)),
        ("terrace", {"base": "below", "height": 3}, (NAN, NAN, 3, True, "below", ABOVE)),
        # one with the lowest level of the site
        ("terrace", {"top": 5}, (NAN, 5, NAN, False, "lowest", "number")),
        ("ground", {"height": 3}, (NAN, NAN, 3, False, "lowest", ABOVE)),
        # flat roles need no height
        ("lawn", {}, (NAN, NAN, 0, True, "below", "")),
        ("lawn", {"top": 5}, (NAN, 5, NAN, True, "below", "number")),
        ("paving", {"base": 2}, (2, 2, 0, False, "number", "base plus height (flat)")),
        ("paving", {"base": 2, "height": 0.1}, (2, 2.1, 0.1, False, "number", "base plus height (number)")),
    ],
)
def test_what_settles_a_feature(role, options, expected):
    kept, levels = settle(role, **options)
    found = one(levels)
    assert found[:3] == pytest.approx(expected[:3], abs=1e-12, nan_ok=True)
    assert found[3:] == expected[3:]
    assert kept.findings == ()


def test_levels_from_fields_say_so():
    _, levels = settle(columns={"foot": [2.0], "fin": ["5,5"]}, base="foot", top="fin")
    assert one(levels) == (2, 5.5, 3.5, False, "field foot", "field fin")


def test_each_feature_is_settled_by_what_it_has():
    columns = {"foot": [1.0, NAN, 3.0, NAN], "fin": [2.0, 5.0, NAN, 9.0], "ht": [NAN, 1.0, 4.0, NAN]}
    kept, levels = settle(columns=columns, base="foot", top="fin", height="ht")
    assert levels.base == pytest.approx([1, 4, 3, NAN], nan_ok=True)
    assert levels.top == pytest.approx([2, 5, 7, 9])
    assert levels.height == pytest.approx([1, 1, 4, NAN], nan_ok=True)
    assert levels.base_from.tolist() == ["field foot", "top less height (field ht)", "field foot", "lowest"]
    assert levels.top_from.tolist() == ["field fin", "field fin", "base plus height (field ht)", "field fin"]
    assert {f.code for f in kept.findings} == {"missing-level"}
    assert len(kept.findings) == 5


@pytest.mark.parametrize(
    ("unit", "own", "metres"),
    [
        ("m", None, 10.0),
        ("ft", None, 3.048),
        ("m", "ft", 3.048),
        ("ft", "m", 10.0),
        ("m", "ft-us", 12000 / 3937),
    ],
)
def test_the_layers_unit_goes_before_the_sites(unit, own, metres):
    _, levels = settle(base=0, top=10, unit=unit) if own is None else levels_of(raw(base=0, top=10, unit=own))
    assert levels.top[0] == pytest.approx(metres, rel=1e-15)


def test_numbers_and_fields_have_the_same_unit():
    site = raw(columns={"fin": [10.0]}, base=5, top="fin", unit="ft")
    assert levels_of(site)[1].height[0] == pytest.approx(1.524, rel=1e-15)


def test_three_that_disagree_are_a_finding_and_base_and_top_are_kept():
    columns = {"foot": [1.0, 1.0], "fin": [3.0, 3.0], "ht": [2.0005, 2.5]}
    kept, levels = settle(columns=columns, base="foot", top="fin", height="ht")
    assert levels.height.tolist() == [2, 2]  # half a millimetre is no disagreement
    (finding,) = kept.findings
    assert (finding.severity, finding.code, finding.source_id) == ("warning", "levels-disagree", "f1")
    assert (finding.field, finding.value) == ("ht", "2.5 m")


def test_top_below_base_names_features_fields_and_levels():
    columns = {"foot": [1.0, 3.0], "fin": [3.0, 1.0]}
    with pytest.raises(LevelError) as caught:
        settle(columns=columns, base="foot", top="fin")
    for part in ("'beds'", "1 feature has", "f1", "'foot' and 'fin'", "base 3 m, top 1 m", "Swap"):
        assert part in str(caught.value)


@pytest.mark.parametrize("known", [{}, {"base": 3}, {"top": 3}, {"base": "below"}])
def test_a_negative_height_says_what_to_do_about_a_height(known):
    with pytest.raises(LevelError, match="1 feature has a height below zero") as caught:
        settle("deck", columns={"ht": [1.0, -2.0]}, height="ht", **known)
    for part in ("f1", "'ht'", "height -2 m", "without its sign", "`drop`"):
        assert part in str(caught.value)
    assert "Swap" not in str(caught.value)
    assert caught.value.field == "'ht'"


def test_where_base_and_top_are_given_the_height_beside_them_is_not_blamed():
    columns = {"foot": [3.0], "fin": [1.0], "ht": [-2.0]}
    with pytest.raises(LevelError, match=r"its top below its base .* Swap the two fields"):
        settle(columns=columns, base="foot", top="fin", height="ht")


def test_a_hair_below_is_level():
    kept, levels = settle(columns={"foot": [3.0], "fin": [2.9995]}, base="foot", top="fin")
    assert one(levels)[:3] == (3, 3, 0)
    assert kept.findings == ()


@pytest.mark.parametrize("role", ["ground", "terrace", "planter", "tree", "wall", "steps", "canopy"])
def test_a_layer_that_says_nothing_about_height(role):
    with pytest.raises(LevelError, match=rf"'beds' says nothing .* role '{role}' needs it"):
        settle(role, base=1)


def test_features_without_a_level_are_set_aside():
    kept, levels = settle("tree", columns={"ht": [8.0, NAN, -9999.0, 6.0]}, height="ht")
    assert kept.source_id.tolist() == ["f0", "f3"]
    assert levels.height.tolist() == [8, 6]
    assert [(f.severity, f.code, f.source_id) for f in kept.findings] == [
        ("warning", "missing-level", "f1"),
        ("warning", "sentinel-level", "f2"),
        ("error", "no-level", "f1"),
        ("error", "no-level", "f2"),
    ]


def test_a_layer_in_which_no_feature_has_a_level():
    with pytest.raises(LevelError, match=r"none of its 2 features has a level \(nothing usable in ht\)"):
        settle("tree", columns={"ht": [NAN, -9999.0]}, height="ht")


def test_texts_that_are_no_levels():
    with pytest.raises(LevelError, match=r"'beds': field 'fin' has texts .* \(ids f1; values 'see plan'\)"):
        settle(columns={"fin": ["3.5", "see plan"]}, top="fin")


def test_sizes_in_the_layers_unit():
    site = raw("tree", columns={"crown": ["10", "5 m"]}, height=20, diameter="crown", clear_stem=6, unit="ft")
    _, sizes = sizes_of(site)
    assert sizes["diameter"] == pytest.approx([3.048, 5])
    assert sizes["clear_stem"] == pytest.approx([1.8288, 1.8288])
    assert np.isnan(sizes["width"]).all()


def test_sizes_of_no_use_are_missing_and_reported():
    kept, sizes = sizes_of(raw("tree", columns={"crown": [4.0, 0.0, -3.0, NAN]}, height=8, diameter="crown"))
    assert sizes["diameter"] == pytest.approx([4, NAN, NAN, NAN], nan_ok=True)
    assert [(f.code, f.source_id) for f in kept.findings] == [
        ("missing-size", "f3"),
        ("size-unusable", "f1"),
        ("size-unusable", "f2"),
    ]


def test_texts_that_are_no_sizes():
    with pytest.raises(FieldError, match="field 'crown'"):
        sizes_of(raw("tree", columns={"crown": ["broad"]}, height=8, diameter="crown"))


def test_an_empty_field_of_something_optional_asks_for_nothing():
    columns = {"run": [2.0, NAN], "fall": [90.0, NAN], "low": [1.0, NAN], "lip": [NAN, 0.1]}
    site = raw(columns=columns, top=2.0, bank="run", low="low", fall_bearing="fall", drop="lip")
    kept, sizes = sizes_of(site)
    assert kept.findings == site.findings
    assert sizes["bank"] == pytest.approx([2, NAN], nan_ok=True)
    assert sizes["fall_bearing"] == pytest.approx([90, NAN], nan_ok=True)


def test_half_of_a_slope_is_reported():
    columns = {"fall": [90.0, NAN, NAN], "low": [NAN, 1.0, NAN]}
    kept, _ = sizes_of(raw(columns=columns, top=2.0, low="low", fall_bearing="fall"))
    assert [(f.code, f.source_id, f.field) for f in kept.findings] == [
        ("missing-level", "f0", "low"),
        ("missing-size", "f1", "fall"),
    ]


@pytest.mark.parametrize(
    ("role", "key", "given", "kept"),
    [
        ("steps", "riser", [1e-6, 0.15], [NAN, 0.15]),
        ("canopy", "beams", [1e-6, 0.0, 0.5], [NAN, 0.0, 0.5]),
        ("ramp", "width", [1e7, 2.0], [NAN, 2.0]),
    ],
)
def test_sizes_beyond_what_is_built_are_missing_and_reported(role, key, given, kept):
    read, sizes = sizes_of(raw(role, columns={"own": given}, height=1, **{key: "own"}))
    assert sizes[key] == pytest.approx(kept, nan_ok=True)
    assert [(f.code, f.source_id, f.field) for f in read.findings] == [("size-unusable", "f0", "own")]
