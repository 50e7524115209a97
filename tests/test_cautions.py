"""
Cautions, each from one step beyond its limit.

2010 ADA Standards §403.3, §405.2, §405.6, §405.7, §504.2; International Building Code §1015 and,
from memory, §1011.5.4; 2010 ADA Standards §307.4 from memory; 2R + T, short flights and drainage:
common practice.
"""

import numpy as np
import pytest
import shapely
from solidity import stacked

from siteaxo.errors import LevelError
from siteaxo.measure.cautions import COLUMNS, cautions
from siteaxo.measure.noted import DEFER
from siteaxo.measure.thresholds import CautionLimits

INCH = 0.0254
LOW = {"role": "terrace", "id": "low", "geometry": shapely.box(-20, -20, 40, 0), "base": -1.0, "top": 0.0}


def high(top, y=0.0):
    box = shapely.box(-20, y, 40, y + 20)
    return {"role": "terrace", "id": "high", "geometry": box, "base": -1.0, "top": top}


def told(*rows, **options):
    """Codes with what was measured."""
    found = cautions(stacked(*rows), **options)
    return [(row.code, pytest.approx(row.value, abs=1e-3)) for row in found.itertuples()]


def codes(*rows, **options):
    return sorted(set(cautions(stacked(*rows), **options)["code"]))


def ramp(rise, run, **more):
    line = shapely.LineString([(5, 0), (5, run)])
    return {"role": "ramp", "geometry": line, "width": 1.5, "base": 0.0, "top": rise, **more}


def flight(rise, run, **more):
    return {
        "role": "steps",
        "geometry": shapely.box(4, 0, 6, run),
        "base": 0.0,
        "top": rise,
        "id": "S",
        **more,
    }


def test_limits_are_inches():
    limits = CautionLimits()
    assert limits.ramp_rise_most == pytest.approx(30 * INCH) == pytest.approx(0.762)
    assert limits.landing_least == pytest.approx(60 * INCH) == pytest.approx(1.524)
    assert (limits.riser_least, limits.riser_most) == pytest.approx((4 * INCH, 7 * INCH))
    assert limits.tread_least == pytest.approx(11 * INCH)
    assert limits.drop_most == pytest.approx(30 * INCH)
    assert (1 / limits.walk_slope_most, 1 / limits.cross_slope_most) == pytest.approx((20, 48))
    with pytest.raises(LevelError, match="tread_least"):
        CautionLimits(tread_least=-1)


def test_a_ramp_of_one_in_twelve_is_not_steep():
    assert codes(LOW, high(0.5, 6.0), ramp(0.5, 6.0)) == []
    found = cautions(stacked(LOW, high(0.6, 6.0), ramp(0.6, 6.0)))
    assert found["code"].tolist() == ["ramp-steep"]
    row = found.iloc[0]
    assert (row["figure"], row["rule"]) == ("1:10.0", "2010 ADA Standards §405.2")
    assert row.geometry.distance(shapely.Point(5, 3)) < 1e-6
    assert row["level"] == pytest.approx(0.3)


def test_a_run_that_rises_too_high():
    assert ("ramp-run-high", pytest.approx(0.9)) in told(LOW, high(0.9, 14.4), ramp(0.9, 14.4))
    assert "ramp-run-high" not in codes(LOW, high(0.75, 14.4), ramp(0.75, 14.4))


def test_landings():
    short = told(LOW, high(0.9, 14.4), ramp(0.9, 14.4, landing=1.0))
    assert ("landing-short", pytest.approx(1.0)) in short
    assert "landing-short" not in codes(LOW, high(0.9, 14.4), ramp(0.9, 14.4, landing=1.6))
    # At its head only 0.9 m are level before the next terrace rises.
    ledge = {**high(0.5, 6.0), "geometry": shapely.box(-20, 6, 40, 6.9), "id": "ledge"}
    wall = {**high(1.4, 6.9), "id": "next"}
    found = cautions(stacked(LOW, ledge, wall, ramp(0.5, 6.0)))
    own = found[found["code"] == "landing-short"]
    assert own["value"].tolist() == [pytest.approx(0.9, abs=0.25)]
    assert own.iloc[0].geometry.equals(shapely.Point(5, 6))


def test_risers_and_treads():
    usual = (LOW, high(0.9, 1.65), flight(0.9, 1.65, riser=0.15))
    assert [code for code in codes(*usual) if code != "drop"] == []
    steep = told(LOW, high(0.8, 1.5), flight(0.8, 1.5, riser=0.2))
    assert ("riser-unusual", pytest.approx(0.2)) in steep
    slight = told(LOW, high(0.36, 1.5), flight(0.36, 1.5, riser=0.09))
    assert ("riser-unusual", pytest.approx(0.09)) in slight
    narrow = told(LOW, high(0.6, 0.75), flight(0.6, 0.75, riser=0.15))
    assert ("tread-short", pytest.approx(0.25)) in narrow


def test_two_risers_and_a_tread():
    # 2 × 0.15 + 0.6 is 0.9 m; 22 to 30 in are the range of handbooks.
    found = told(LOW, high(0.6, 1.8), flight(0.6, 1.8, riser=0.15))
    assert ("stride", pytest.approx(0.9)) in found
    assert "stride" not in dict(told(LOW, high(0.6, 1.2), flight(0.6, 1.2, riser=0.15)))


def test_a_single_step_is_easily_overlooked():
    assert ("few-risers", pytest.approx(1)) in told(LOW, high(0.15, 0.5), flight(0.15, 0.5, riser=0.15))


def test_the_last_riser_differs():
    even = (LOW, high(0.9, 1.65), flight(0.9, 1.65, riser=0.15))
    assert "risers-differ" not in codes(*even)
    off = (LOW, high(0.87, 1.65), flight(0.9, 1.65, riser=0.15))
    found = cautions(stacked(*off))
    own = found[found["code"] == "risers-differ"].iloc[0]
    assert (own["figure"], own["layer"]) == ("0.030 m", "steps")
    assert "last riser" in own["message"]


def test_a_drop_and_where_it_is():
    # The upper terrace ends 1 m above the lower along 60 m.
    found = cautions(stacked(LOW, high(1.0)))
    assert found["code"].tolist() == ["drop"]
    row = found.iloc[0]
    assert (row["source_id"], row["rule"]) == ("high", "International Building Code §1015")
    assert row["value"] == pytest.approx(1.0)
    assert row.geometry.length == pytest.approx(60, abs=0.5)
    assert np.allclose(shapely.get_coordinates(row.geometry)[:, 1], 0)
    assert codes(LOW, high(0.75)) == []
    assert codes(LOW, high(0.75), limits=CautionLimits(drop_most=0.6)) == ["drop"]


def test_a_guard_that_is_low():
    rail = {"role": "rail", "geometry": shapely.LineString([(-20, 0.1), (40, 0.1)]), "width": 0.05}
    for height, expected in ((0.8, ["drop"]), (1.0, ["guard-low"]), (42 * INCH, [])):
        assert codes(LOW, high(1.0), {**rail, "height": height}) == expected
    lower = CautionLimits(guard_least=0.95)
    assert codes(LOW, high(1.0), {**rail, "height": 1.0}, limits=lower) == []


def test_a_guard_that_is_low_along_a_short_stretch_is_passed_over():
    """A wall 1.1 m high with a lower part: the places where nothing higher stands within 36 in count."""
    for width, expected in ((2 * 36 * INCH + 0.3, []), (2 * 36 * INCH + 1.5, ["guard-low"])):
        parts = [(-20.0, 0.0, 1.1), (0.0, width, 1.0), (width, 40.0, 1.1)]
        guard = [
            {"role": "wall", "geometry": shapely.box(west, -0.3, east, 0), "base": 0.0, "top": 1.0 + height}
            for west, east, height in parts
        ]
        assert codes(LOW, high(1.0), *guard) == expected
        always = CautionLimits(guard_low_length_least=0.0)
        assert codes(LOW, high(1.0), *guard, limits=always) == ["guard-low"]


def test_two_stretches_of_one_edge():
    guard = {
        "role": "wall",
        "geometry": shapely.box(0, -0.3, 10, 0),
        "base": 0.0,
        "top": 2.1,
    }
    found = cautions(stacked(LOW, high(1.0), guard))
    assert found["code"].tolist() == ["drop", "drop"]
    assert found["number"].tolist() == [1, 1]
    ends = sorted(found.bounds[["minx", "maxx"]].to_numpy().ravel().tolist())
    assert ends == pytest.approx([-20, 0, 10, 40], abs=1.2)


@pytest.mark.parametrize(("clear", "expected"), [(2.0, True), (2.04, False), (1.0, True), (0.6, False)])
def test_headroom(clear, expected):
    # 80 in is 2.032 m; what hangs lower than 27 in, 0.686 m, is a table.
    paving = {"role": "paving", "geometry": shapely.box(0, -10, 10, 0)}
    canopy = {"role": "canopy", "geometry": shapely.box(2, -6, 6, -2), "base": clear, "top": clear + 0.2}
    found = cautions(stacked(LOW, paving, canopy))
    own = found[found["code"] == "headroom"]
    assert len(own) == expected
    if expected:
        assert own.iloc[0]["value"] == pytest.approx(clear)
        assert own.iloc[0]["layer"] == "canopy"
        assert "paving" in own.iloc[0]["message"]  # and not the terrace that it lies on
        assert "over 16.0 m²" in own.iloc[0]["message"]


def test_headroom_over_a_flight_is_least_at_its_head():
    canopy = {"role": "canopy", "geometry": shapely.box(4, 0, 6, 1.65), "base": 2.6, "top": 2.8}
    found = dict(told(LOW, high(0.9, 1.65), flight(0.9, 1.65, riser=0.15), canopy))
    assert found["headroom"] == pytest.approx(2.6 - 0.75, abs=0.02)  # over the last tread


def test_steps_all_round_meet_what_lies_around_and_within_them():
    ring = shapely.box(4, -12, 8, -8) - shapely.box(5, -11, 7, -9)
    steps = {"role": "steps", "geometry": ring, "base": 0.0, "top": 0.45}
    plinth = {"role": "structure", "geometry": shapely.box(5, -11, 7, -9), "base": 0.0, "top": 0.45}
    assert "risers-differ" not in codes(LOW, steps, plinth)
    sunk = {**steps, "base": 0.1}
    assert ("risers-differ", pytest.approx(0.1)) in told(LOW, sunk, plinth)


def test_what_fills_the_room_beneath_is_no_headroom():
    hut = {"role": "structure", "geometry": shapely.box(2, -6, 6, -2), "base": 0.0, "top": 1.8}
    roof = {"role": "roof", "geometry": shapely.box(2, -6, 6, -2), "base": 1.8, "top": 2.0}
    assert "headroom" not in codes(LOW, hut, roof)


def test_headroom_over_sloping_ground_is_taken_where_the_ground_lies():
    """A hut that stands in a slope leaves only the oversail of its roof to walk under."""
    hut = {"role": "structure", "geometry": shapely.box(28, 4, 32, 8), "base": 5.8, "top": 8.2}
    eaves = {"role": "roof", "geometry": shapely.box(27, 4, 33, 8), "base": 8.2, "top": 8.4}
    deck = {"role": "deck", "geometry": shapely.box(40, 4, 44, 8), "base": 10.0, "top": 10.2}
    found = cautions(stacked(*slope(0.2, 0.0), hut, eaves, deck))
    own = found[found["code"] == "headroom"].set_index("layer")
    # Ground at x is 0.2 x: 6.6 under the eastern eaves, 8.8 under the lower end of the deck.
    assert own.loc["roof", "value"] == pytest.approx(8.2 - 0.2 * 33)
    assert "over 8.0 m²" in own.loc["roof", "message"]  # two strips of 1 m by 4 m
    assert own.loc["deck", "value"] == pytest.approx(10.0 - 0.2 * 44)


def test_crowns_over_lawn_are_left_alone():
    tree = {"role": "tree", "geometry": shapely.Point(5, -5), "height": 5, "diameter": 3, "clear_stem": 1.5}
    lawn = {"role": "lawn", "geometry": shapely.box(0, -10, 10, 0)}
    path = {"role": "path", "geometry": shapely.box(0, -10, 10, 0)}
    assert "headroom" not in codes(LOW, lawn, tree)
    assert ("headroom", pytest.approx(1.5)) in told(LOW, path, tree)


def slope(east, north):
    """Ground that rises evenly."""
    spots = [
        {"role": "spot level", "geometry": shapely.Point(x, y), "top": east * x + north * y, "base": 0}
        for x in (0, 30, 60)
        for y in (0, 30, 60)
    ]
    return [*spots, {"role": "ground", "geometry": shapely.box(0, 0, 60, 60)}]


def test_slopes_along_and_across_a_path():
    path = {"role": "path", "geometry": shapely.box(20, 5, 22, 55)}  # it runs north
    assert codes(*slope(0.015, 0.045), path) == []
    assert told(*slope(0.01, 0.08), path) == [("walk-steep", pytest.approx(0.08))]
    assert told(*slope(0.04, 0.02), path) == [("cross-slope", pytest.approx(0.04))]


def test_paving_that_holds_water():
    paving = {"role": "paving", "geometry": shapely.box(20, 5, 30, 15)}
    assert codes(*slope(0.012, 0.0), paving) == []
    found = cautions(stacked(*slope(0.005, 0.005), paving))
    # Crossfalls of ½ % and ½ % give 0.71 % on the diagonal: *Concrete Construction*, Q&A.
    assert found["code"].tolist() == ["little-fall"]
    assert found.iloc[0]["figure"] == "0.7 %"
    assert found.iloc[0]["value"] == pytest.approx(0.0071, abs=5e-5)
    assert (
        "One feature of its layer, 100 m², falls by 0.7 % at most, as supplied; water would stand on it."
        in (found.iloc[0]["message"])
    )


@pytest.mark.parametrize(("side", "told_of"), [(0.2, []), (2.0, ["little-fall"])])
def test_specks_that_lie_level_are_passed_over(side, told_of):
    """A level square in paving of 100 m² that falls by 5 %: 0.04 m² is under one percent, 4 m² is not."""
    square = shapely.box(24, 8, 24 + side, 8 + side)
    level = [
        {"role": "spot level", "geometry": shapely.Point(xy), "top": 0.05 * (24 + side / 2), "base": 0}
        for xy in square.exterior.coords[:-1]
    ]
    paving = {"role": "paving", "geometry": shapely.box(20, 5, 30, 15)}
    assert codes(*slope(0.05, 0.0), *level, paving) == told_of


def test_every_caution_names_its_rule_and_defers():
    canopy = {"role": "canopy", "geometry": shapely.box(-6, -6, -2, -2), "base": 1.9, "top": 2.0}
    paving = {"role": "paving", "geometry": shapely.box(-10, -10, 0, 0)}
    found = cautions(stacked(LOW, high(1.6, 1.6), flight(1.6, 1.6, riser=0.2), canopy, paving))
    assert len(set(found["code"])) >= 4
    assert found["rule"].str.len().min() > 10
    assert found["message"].str.endswith(DEFER).all()
    assert found["number"].max() == found[["code", "layer"]].drop_duplicates().shape[0]
    words = " ".join([*found["message"], *found["subject"]]).lower()
    assert not any(word in words for word in ("comply", "complies", "compliant", "safe", "allowed"))


def test_a_site_without_any():
    found = cautions(stacked(LOW))
    assert len(found) == 0
    assert found.columns.tolist() == [*COLUMNS, "geometry"]


def test_each_open_side_of_a_ramp_is_one_caution():
    """It rises 1.8 m over 18 m; the last sounding of each side lies 0.125 m from its upper end."""
    ground = {**LOW, "geometry": shapely.box(-20, -20, 40, 18)}
    found = cautions(stacked(ground, high(1.8, y=18.0), ramp(1.8, 18.0, id="R")))
    found = found[(found["code"] == "drop") & (found["source_id"] == "R")]
    assert list(found["value"]) == pytest.approx([1.7875, 1.7875])
    assert sorted(found.geometry.centroid.x) == pytest.approx([4.25, 5.75])


def test_the_side_of_a_ramp_is_told_with_its_levels():
    """Rising 1 in 10 to the north: each end of the stretch carries a tenth of its way as its level."""
    ground = {**LOW, "geometry": shapely.box(-20, -20, 40, 18)}
    found = cautions(stacked(ground, high(1.8, y=18.0), ramp(1.8, 18.0, id="R")))
    sides = found[(found["code"] == "drop") & (found["source_id"] == "R")].geometry
    assert len(sides) == 2
    for line in sides:
        xyz = shapely.get_coordinates(line, include_z=True)
        assert xyz[:, 2] == pytest.approx(xyz[:, 1] / 10)
