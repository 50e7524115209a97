"""Levels far from all others, and heights far beyond what is usual."""

from __future__ import annotations

import pytest
from shapely import Point, box
from solidity import stacked

from siteaxo.solids.notes import field_in
from siteaxo.solids.outliers import look_for_outliers


def terrace(number, top):
    return {"role": "terrace", "geometry": box(10 * number, 0, 10 * number + 10, 10), "base": -1, "top": top}


def found(*rows):
    return [(f.code, f.source_id, f.value) for f in look_for_outliers(stacked(*rows).features)]


def test_a_level_with_a_slip_of_the_decimal_point():
    """101.5 m written as 1015."""
    rows = [terrace(0, 101.0), terrace(1, 101.5), terrace(2, 1015.0)]
    assert found(*rows) == [("level-implausible", "2", "1015.000 m")]
    (finding,) = look_for_outliers(stacked(*rows).features)
    assert "lies 913.5 m from the middle" in finding.message
    assert finding.severity == "warning"


def test_levels_on_a_hill_are_what_they_are():
    assert found(*[terrace(k, 12.0 * k) for k in range(8)]) == []
    assert found(terrace(0, 0.0), terrace(1, 900.0)) == []  # of two none is the middle


@pytest.mark.parametrize(
    ("role", "high", "low"), [("structure", 900.0, 60.0), ("seat", 4.5, 0.45), ("hedge", 18.0, 2.0)]
)
def test_heights(role, high, low):
    ground = terrace(0, 0.0)
    tall = {"role": role, "geometry": box(1, 1, 4, 4), "base": 0, "top": high}
    assert found(ground, tall) == [("height-implausible", "1", f"{high:.3f} m")]
    assert found(ground, {**tall, "top": low}) == []


@pytest.mark.parametrize("role", ["structure", "wall", "planter", "seat", "hedge"])
def test_what_should_rise_and_does_not(role):
    ground = terrace(0, 0.0)
    flat = {"role": role, "geometry": box(1, 1, 4, 4), "base": 0, "height": 0.0}
    assert found(ground, flat) == [("no-height", "1", "0.000 m")]
    assert found(ground, {**flat, "height": 0.05}) == []


def test_a_flight_between_equal_levels_and_a_deck_flush_with_the_ground():
    flight = {"role": "steps", "geometry": box(1, 1, 4, 4), "base": 0.0, "top": 0.0}
    deck = {"role": "deck", "geometry": box(5, 1, 8, 4), "base": 0.0, "top": 0.0}
    assert found(terrace(0, 0.0), flight, deck) == [("no-height", "1", "0.000 m")]


def test_features_far_from_the_site():
    """Two huts 30 and 40 km east of four terraces."""
    terraces = [terrace(k, 0.0) for k in range(4)]
    huts = [
        {"role": "structure", "geometry": box(x, 3, x + 4, 7), "base": 0.0, "height": 3.0}
        for x in (30_000.0, 40_000.0)
    ]
    (finding,) = (f for f in look_for_outliers(stacked(*terraces, *huts).features) if f.code == "far-off")
    # Centres at 5, 15, 25, 35, 30 002 and 40 002 m: the middle lies at 30 m.
    assert finding.value == "39972 m"
    assert "up to 40.0 km from the middle of the site" in finding.message
    wide = [terrace(60 * k, 0.0) for k in range(12)]  # a way of 6.6 km is no slip
    assert found(*wide) == []


def test_trees():
    assert found(terrace(0, 0.0), {"role": "tree", "geometry": Point(3, 3), "base": 0, "height": 9.0}) == []


@pytest.mark.parametrize(
    ("source", "field"),
    [
        ("field fin_lvl", "fin_lvl"),
        ("field finished level and level of its low side, falling 1:40", "finished level"),
        ("height above base (field h)", "h"),
        ("greatest of its own Z", ""),
        ("top of layer 'field 7', feature 3", ""),
        ("number", ""),
    ],
)
def test_the_field_that_a_level_comes_from(source, field):
    assert field_in(source) == field
