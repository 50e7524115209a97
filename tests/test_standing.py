"""What stands on what, and what is cut open by what lies lower."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box
from solidity import features

from siteaxo.errors import LevelError
from siteaxo.solids.standing import settle

GROUND = {"role": "ground", "geometry": box(0, 0, 10, 10), "base": -1, "top": 0}


def settled(*rows):
    return settle(features(*rows))


def codes(found):
    return [finding.code for finding in found.findings]


def test_a_sunken_court_opens_the_ground():
    """10 × 10 m less 4 × 4 m; the court keeps its own floor."""
    court = {"role": "terrace", "geometry": box(3, 3, 7, 7), "base": -1.5, "top": -1.2}
    found = settled(GROUND, court)
    assert found.features.geometry[0].area == pytest.approx(84)
    assert found.features.geometry[1].area == pytest.approx(16)
    assert found.sunken.tolist() == [False, True]
    assert codes(found) == []


def test_a_raised_terrace_opens_nothing():
    found = settled(GROUND, {"role": "terrace", "geometry": box(3, 3, 7, 7), "base": 0, "top": 0.5})
    assert found.features.geometry[0].area == pytest.approx(100)
    assert not found.sunken.any()


@pytest.mark.parametrize(("left", "cut"), [(-3.9, True), (-4.1, False)])
def test_a_lower_surface_that_lies_mostly_outside_is_a_neighbour(left, cut):
    """8 m long: more than half of it must lie within."""
    court = {"role": "terrace", "geometry": box(left, 3, left + 8, 7), "base": -1.5, "top": -1}
    found = settled(GROUND, court)
    assert found.sunken[1] == cut
    assert found.features.geometry[0].area == pytest.approx(100 - (4 * (left + 8) if cut else 0))


def test_sides_that_nearly_coincide_leave_no_slivers():
    """The court reaches the edge of the ground but for a nanometre."""
    court = {"role": "terrace", "geometry": box(1e-9, 3, 7, 7), "base": -1.5, "top": -1}
    ground = settled(GROUND, court).features.geometry[0]
    assert ground.area == pytest.approx(100 - 28, abs=1e-6)
    assert ground.geom_type == "Polygon"
    assert len(ground.interiors) == 0


def test_neighbours_that_are_cut_out_leave_no_fin_between_them():
    """Two courts share a side of 2 m; the corners of one lie a hair beside the side of the other."""
    one = box(0, 0, 2, 2)
    other = shapely.Polygon([(2 + 1e-10, -1), (5, -1), (5, 3), (2 - 1e-10, 3)])
    courts = [
        {"role": "paving", "id": name, "geometry": shape, "base": 0.0, "top": 0.5}
        for name, shape in (("one", one), ("other", other))
    ]
    ground = {"role": "terrace", "id": "ground", "geometry": box(-5, -5, 9, 9), "base": 0.0, "top": 2.0}
    table = settled(ground, *courts).features
    (left,) = table.geometry[table.source_id == "ground"]
    (hole,) = left.interiors
    assert hole.length == pytest.approx(2 * (2 + 2) + 2 * (3 + 4) - 2 * 2, abs=1e-6)


def test_what_is_wholly_cut_away_is_a_finding():
    """The lawn is a tenth of a micrometre wider than the court that takes its place."""
    lawn = {"role": "lawn", "geometry": box(3, 3, 7.0000001, 7), "base": 0.0, "top": 0.0}
    court = {"role": "terrace", "geometry": box(3, 3, 7, 7), "base": -1.5, "top": -1}
    found = settled(GROUND, lawn, court)
    assert codes(found) == ["cut-away"]
    assert found.findings[0].value == "0.000 m"
    assert found.features.geometry[1].is_empty


def test_features_without_a_base_stand_on_the_highest_thing_that_carries_them():
    deck = {"role": "deck", "geometry": box(2, 2, 8, 8), "base": 0, "top": 0.45}
    planter = {"role": "planter", "geometry": box(3, 3, 4, 4), "height": 0.5}
    tree = {"role": "tree", "geometry": Point(5, 5), "height": 4.0}
    seat = {"role": "seat", "geometry": box(0.5, 0.5, 1, 1), "height": 0.45}
    found = settled(GROUND, deck, planter, tree, seat)
    assert found.support.tolist() == [-1, -1, 1, 1, 0]
    assert found.features.base.tolist() == [-1, 0, 0.45, 0.45, 0]
    assert found.features.top.tolist() == [0, 0.45, 0.95, 4.45, 0.45]
    assert found.features.base_from[2] == "top of layer 'deck', feature 1"
    assert found.features.top_from[2] == "height above base"
    assert codes(found) == []


def test_a_deck_raises_all_that_stands_on_it_in_turn():
    """A planter on a deck, on a terrace that all take their level from below."""
    rows = [
        GROUND,
        {"role": "deck", "geometry": box(2, 2, 8, 8), "height": 0.4},
        {"role": "planter", "geometry": box(3, 3, 4, 4), "height": 0.5},
        {"role": "tree", "geometry": Point(3.5, 3.5), "height": 3.0},
    ]
    found = settled(*rows)
    assert found.features.base.tolist() == pytest.approx([-1, 0, 0.4, 0.9])


def test_what_is_on_a_court_stands_on_its_floor():
    court = {"role": "terrace", "geometry": box(3, 3, 7, 7), "base": -1.5, "top": -1.2}
    found = settled(GROUND, court, {"role": "tree", "geometry": Point(5, 5), "height": 4.0})
    assert found.features.base[2] == -1.2


def test_a_pool_with_a_water_level_only_is_a_sheet_in_a_hole():
    found = settled(GROUND, {"role": "water", "geometry": box(3, 3, 7, 7), "top": -0.3, "height": np.nan})
    assert found.features.base[1] == found.features.top[1] == -0.3
    assert found.features.base_from[1] == "its own top"
    assert found.sunken[1]
    assert found.features.geometry[0].area == pytest.approx(84)


def test_water_lies_a_drop_below_what_it_is_let_into():
    """0.25 m below paving at 0.5 m, both opened; what stands in the water stands on its level."""
    terrace = {"role": "terrace", "geometry": box(1, 1, 9, 9), "base": 0, "top": 0.5}
    paving = {"role": "paving", "geometry": box(2, 2, 8, 8)}
    pool = {"role": "water", "geometry": box(3, 3, 7, 7), "drop": 0.25}
    found = settled(GROUND, terrace, paving, pool)
    assert found.features.top[3] == found.features.base[3] == 0.25
    assert found.features.base_from[3] == "top of layer 'terrace', feature 1, less its drop"
    assert shapely.area(found.features.geometry).tolist() == pytest.approx([100, 48, 20, 16])
    assert found.sunken.tolist() == [False, False, False, True]


def test_a_sunken_lawn_carries_its_trees():
    lawn = {"role": "lawn", "geometry": box(3, 3, 7, 7), "drop": 0.4}
    found = settled(GROUND, lawn, {"role": "tree", "geometry": Point(5, 5), "height": 4.0})
    assert found.features.base[2] == pytest.approx(-0.4)
    assert found.support[2] == 1


def test_water_with_a_depth_keeps_it_below_its_drop():
    pool = {"role": "water", "geometry": box(3, 3, 7, 7), "drop": 0.25, "height": 0.6}
    found = settled(GROUND, pool)
    assert (found.features.base[1], found.features.top[1]) == pytest.approx((-0.85, -0.25))


def test_straddling_two_levels_is_a_finding():
    """60 % on the ground, 40 % on the deck: it stands on the ground."""
    deck = {"role": "deck", "geometry": box(5, 0, 10, 10), "base": 0, "top": 0.45}
    seat = {"role": "seat", "geometry": box(4.4, 4, 5.4, 5), "height": 0.45}
    found = settled(GROUND, deck, seat)
    assert found.support[2] == 0
    assert codes(found) == ["straddles"]
    assert (found.findings[0].source_id, found.findings[0].value) == ("2", "0.000 m")


@pytest.mark.parametrize("off", [-0.006, 0.0, 0.004])
def test_a_rail_along_the_edge_of_a_terrace_stands_on_the_higher_side(off):
    """Drawn on the line between two levels, or a few mm beside it; elsewhere most of it decides."""
    high = {"role": "terrace", "geometry": box(5, 0, 10, 10), "base": 0, "top": 1.4}
    rail = {"role": "rail", "geometry": box(4.975 + off, 2, 5.025 + off, 8), "height": 1.1}
    below = {"role": "rail", "geometry": box(4.945, 2, 4.995, 8), "height": 1.1}
    found = settled(GROUND, high, rail, below)
    assert found.features.base[2:].tolist() == [1.4, 0.0]
    assert codes(found) == []


def test_an_area_for_people_may_reach_under_what_stands_in_it():
    planter = {"role": "planter", "geometry": box(2, 2, 4, 4), "height": 0.5}
    found = settled(GROUND, planter, {"role": "people", "geometry": box(1, 1, 9, 9)})
    assert found.features.base[2] == 0
    assert codes(found) == []


def test_where_nothing_carries_half_of_it_the_widest_support_counts():
    decks = [
        {"role": "deck", "geometry": box(x, 0, x + 3, 3), "base": 0, "top": top}
        for x, top in ((0, 0.3), (5, 0.6))
    ]
    bench = {"role": "seat", "geometry": box(1.5, 1, 6, 2), "height": 0.45}  # 1.5 m on one, 1 m on the other
    found = settled(*decks, bench)
    assert found.support[2] == 0


def test_nothing_below_is_a_finding():
    found = settled(GROUND, {"role": "tree", "geometry": Point(20, 20), "height": 4.0})
    assert found.features.base[1] == -1
    assert codes(found) == ["nothing-below"]
    assert found.findings[0].value == "-1.000 m"


def test_upside_down_is_refused():
    deck = {"role": "deck", "geometry": box(2, 2, 8, 8), "base": 0, "top": 2.0}
    planter = {"role": "planter", "geometry": box(3, 3, 4, 4), "top": 1.5}
    with pytest.raises(LevelError, match=r"layer 'planter', feature 2: base 2\.000 m .*top 1\.500 m"):
        settled(GROUND, deck, planter)


def test_a_site_without_levels_is_refused():
    with pytest.raises(LevelError, match="No feature states a level"):
        settled({"role": "deck", "geometry": box(2, 2, 8, 8), "height": 0.4})


def test_no_features_are_no_error():
    none = features(GROUND).take(np.zeros(0, dtype=int))
    assert len(settle(none).features) == 0


def test_ground_without_a_base_starts_at_the_lowest_level():
    found = settled(
        {**GROUND, "base": np.nan}, {"role": "terrace", "geometry": box(2, 2, 3, 3), "base": -2, "top": 1}
    )
    assert found.features.base[0] == -2
    assert found.features.base_from[0] == "lowest level of the site"


def test_flights_open_the_terrace_they_climb_through():
    terrace = {"role": "terrace", "geometry": box(0, 5, 10, 10), "base": 0, "top": 1.2}
    flight = {"role": "steps", "geometry": box(4, 4, 6, 7), "base": 0, "top": 1.2}
    found = settled(GROUND, terrace, flight)
    assert found.features.geometry[1].area == pytest.approx(50 - 4)
    assert found.features.geometry[0].area == pytest.approx(100)
    assert not found.sunken.any()


def test_a_flight_beside_a_terrace_opens_nothing():
    terrace = {"role": "terrace", "geometry": box(0, 5, 10, 10), "base": 0, "top": 1.2}
    flight = {"role": "steps", "geometry": box(4, 3, 6, 5), "base": 0, "top": 1.2}
    assert settled(GROUND, terrace, flight).features.geometry[1].area == pytest.approx(50)


def test_inputs_stay_as_they_are():
    table = features(GROUND, {"role": "water", "geometry": box(3, 3, 7, 7), "drop": 0.2})
    before = table.geometry.copy(), table.base.copy()
    settle(table)
    assert (table.geometry == before[0]).all()
    assert np.array_equal(table.base, before[1], equal_nan=True)


def test_lines_are_none_of_its_business():
    """Lines that were given no width stand at their level and open nothing."""
    found = settled(GROUND, {"role": "people", "geometry": LineString([(1, 1), (2, 2)])})
    assert found.features.base[1] == 0
