"""Edges with a drop, and what guards them. IBC §1015: more than 30 in within 36 in of an edge."""

import numpy as np
import pytest
import shapely
from solidity import features

from siteaxo.solids import limits
from siteaxo.solids.drops import look_for_drops
from siteaxo.solids.standing import settle
from siteaxo.solids.survey import Survey, surface_of
from siteaxo.solids.widths import with_widths

LOW = {"role": "terrace", "id": "low", "geometry": shapely.box(-10, -10, 20, 0), "base": -1.0, "top": 0.0}


def high(top=1.0):
    return {"role": "terrace", "id": "high", "geometry": shapely.box(0, 0, 10, 6), "base": -1.0, "top": top}


def told(*rows, ground=None):
    table = settle(with_widths(features(*rows))).features
    return [(f.source_id, f.value) for f in look_for_drops(table, ground)]


def test_the_limits_are_inches():
    assert pytest.approx(0.762) == limits.DROP_MOST
    assert pytest.approx(0.9144) == limits.DROP_REACH
    assert pytest.approx(1.0668) == limits.GUARD_HEIGHT


def test_a_drop_of_one_metre():
    (finding,) = look_for_drops(settle(features(LOW, high())).features)
    assert (finding.code, finding.source_id, finding.value) == ("drop-unguarded", "high", "1.000 m")
    assert "some 10.0 m of its edges" in finding.message  # its south side; beyond the others is nothing
    assert "check local codes" in finding.message


@pytest.mark.parametrize(("top", "found"), [(0.762, False), (0.77, True)])
def test_thirty_inches(top, found):
    assert bool(told(LOW, high(top))) is found


def rail(height=1.05, y=0.1, **more):
    line = shapely.LineString([(0, y), (10, y)])
    return {"role": "rail", "geometry": line, "width": 0.05, "height": height, "id": "R", **more}


def test_a_rail_guards_it():
    assert told(LOW, high(), rail()) == []
    assert told(LOW, high(), rail(y=0.85)) == []  # within 36 in of the edge
    assert told(LOW, high(), rail(y=1.2)) == [("high", "1.000 m")]
    assert told(LOW, high(), rail(height=0.4)) == [("high", "1.000 m")]


def test_a_wall_from_below_guards_it():
    wall = {"role": "wall", "geometry": shapely.box(0, -0.3, 10, 0), "base": 0.0, "top": 2.1, "id": "W"}
    assert told(LOW, high(), wall) == []


def test_half_a_rail_guards_half():
    half = {**rail(), "geometry": shapely.LineString([(0, 0.1), (5, 0.1)])}
    (finding,) = look_for_drops(settle(with_widths(features(LOW, high(), half))).features)
    length = float(finding.message.split("some ")[1].split(" m")[0])
    assert length == pytest.approx(5 - 0.9144, abs=0.3)  # soundings are 0.25 m apart


def ledge(width):
    """A terrace halfway up along the edge."""
    shape = shapely.box(0, -width, 10, 0)
    return {"role": "terrace", "id": "ledge", "geometry": shape, "base": -1.0, "top": 0.5}


def test_a_step_halfway_breaks_the_drop():
    step = {
        "role": "terrace",
        "id": "step",
        "geometry": shapely.box(0, -1.5, 10, 0),
        "base": -1.0,
        "top": 0.5,
    }
    assert told(LOW, high(), step) == []


def test_a_ledge_narrower_than_the_reach_does_not():
    ledge = {
        "role": "terrace",
        "id": "ledge",
        "geometry": shapely.box(0, -0.4, 10, 0),
        "base": -1.0,
        "top": 0.5,
    }
    assert told(LOW, high(), ledge) == [("high", "1.000 m")]


def test_paving_on_top_is_what_one_stands_on():
    paving = {"role": "paving", "id": "P", "geometry": shapely.box(0, 0, 10, 6)}
    assert told(LOW, high(), paving) == [("P", "1.000 m")]


def test_under_a_low_deck_nobody_stands():
    deck = {"role": "deck", "id": "D", "geometry": shapely.box(0, -1, 10, 6), "base": 2.0, "top": 2.2}
    found = dict(told(LOW, high(), deck))
    assert "high" not in found
    assert found["D"] == "2.200 m"


def test_ground_below():
    spots = np.array([[x, y, -2.0] for x in (-20.0, 30.0) for y in (-20.0, 30.0)])
    ground = surface_of(Survey(spots=spots)).tin
    assert told(high(), ground=ground) == [("high", "3.000 m")]
    assert told(high(-1.0), ground=ground) == [("high", "1.000 m")]
    assert told(high(-1.0), ground=ground.with_levels(np.full(4, -1.5))) == []


def test_nothing_to_walk_on():
    assert told({"role": "structure", "geometry": shapely.box(0, 0, 4, 4), "base": 0.0, "top": 9.0}) == []
