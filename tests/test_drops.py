"""Edges with a drop, and what guards them. IBC §1015: more than 30 in within 36 in of an edge."""

import numpy as np
import pytest
import shapely
from solidity import stacked

from siteaxo.measure.cautions import cautions
from siteaxo.solids import limits
from siteaxo.solids.drops import look_for_drops, sound_drops

LOW = {"role": "terrace", "id": "low", "geometry": shapely.box(-10, -10, 20, 0), "base": -1.0, "top": 0.0}


def high(top=1.0):
    return {"role": "terrace", "id": "high", "geometry": shapely.box(0, 0, 10, 6), "base": -1.0, "top": top}


def told(*rows):
    return [(f.source_id, f.value) for f in look_for_drops(stacked(*rows))]


def test_the_limits_are_inches():
    assert pytest.approx(0.762) == limits.DROP_MOST
    assert pytest.approx(0.9144) == limits.DROP_REACH
    assert pytest.approx(1.0668) == limits.GUARD_HEIGHT


def test_a_drop_of_one_metre():
    (finding,) = look_for_drops(stacked(LOW, high()))
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


ON_THE_EDGE, INSIDE, WIDE = (-0.2, 0.2), (0.0, 0.4), (-1.0, 1.0)


def edge_wall(upstand, across=ON_THE_EDGE, **more):
    """A retaining wall along the south edge of a terrace 3 m up."""
    shape = shapely.box(0, across[0], 10, across[1])
    return {"role": "wall", "geometry": shape, "base": 0.0, "top": 3.0 + upstand, "id": "W", **more}


@pytest.mark.parametrize("across", [ON_THE_EDGE, INSIDE, WIDE])
@pytest.mark.parametrize(
    ("upstand", "code"),
    [(0.0, "drop"), (0.1, "drop"), (0.45, "drop"), (0.8, "drop"), (1.0, "guard-low"), (1.1, None)],
)
def test_a_low_wall_along_an_edge_hides_no_drop(across, upstand, code):
    """
    By hand: 3 m down to the lower terrace along y = 0, from x = 0.125 to 9.875 in 40 soundings; no
    guard below 0.9 m, a low one below 42 in = 1.0668 m. Findings tell what has no guard.
    """
    stack = stacked(LOW, high(3.0), edge_wall(upstand, across))
    found = cautions(stack)
    assert found["code"].tolist() == ([code] if code else [])
    for row in found.itertuples():
        assert (row.source_id, row.level) == ("high", pytest.approx(3.0))
        assert row.value == pytest.approx(3.0)
        assert sorted(row.geometry.bounds) == pytest.approx([0.0, 0.0, 0.125, 9.875])
        assert (f"rises by {upstand:.2f}" in row.message) is (upstand > 0)
    assert [f.source_id for f in look_for_drops(stack)] == (["high"] if code == "drop" else [])


def test_a_seat_or_low_planter_on_the_edge_hides_no_drop():
    for role in ("seat", "planter"):
        assert told(LOW, high(3.0), edge_wall(0.45, INSIDE, role=role, base=3.0)) == [("high", "3.000 m")]


@pytest.mark.parametrize("y", [-0.95, 0.95])
def test_a_rail_on_a_broad_wall_guards_it(y):
    """On either side of a flush wall 2 m wide, farther than 36 in from the edge in its middle."""
    assert told(LOW, high(3.0), edge_wall(0.0, WIDE), rail(1.2, y, base=3.0)) == []


def test_what_is_broad_and_planted_keeps_people_from_the_edge():
    """A planter 1.2 m wide: more than 36 in lie between what is walked on and the drop."""
    planter = edge_wall(0.45, (0.0, 1.2), role="planter", base=3.0)
    assert told(LOW, high(3.0), planter) == []


def test_low_walls_where_nothing_drops_are_not_told():
    level = {**high(3.0), "id": "level", "geometry": shapely.box(0, -6, 10, 0)}
    assert told(high(3.0), level, edge_wall(0.45)) == []
    amid = {"role": "planter", "geometry": shapely.box(4, 2, 6, 4), "base": 3.0, "top": 3.45}
    assert told(high(3.0), amid) == []
    flight = {"role": "steps", "geometry": shapely.box(0, -3, 10, 0), "base": 2.1, "top": 3.0, "id": "S"}
    assert "high" not in dict(told(LOW, high(3.0), flight))


def test_half_a_rail_guards_half():
    half = {**rail(), "geometry": shapely.LineString([(0, 0.1), (5, 0.1)])}
    (finding,) = look_for_drops(stacked(LOW, high(), half))
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


def spots(level):
    """Ground at one level."""
    places = [shapely.Point(x, y) for x in (-20.0, 30.0) for y in (-20.0, 30.0)]
    return [{"role": "spot level", "geometry": place, "top": level} for place in places]


def test_ground_below():
    assert told(high(), *spots(-2.0)) == [("high", "3.000 m")]
    assert told(high(-0.5), *spots(-2.0)) == [("high", "1.500 m")]
    assert told(high(-0.5), *spots(-1.2)) == []


def test_a_court_dug_into_the_ground():
    """The ground that was there before it was dug fills no drop."""
    court = {"role": "terrace", "id": "court", "geometry": shapely.box(0, 0, 9, 9), "base": -3.0, "top": -2.0}
    deck = {"role": "deck", "id": "deck", "geometry": shapely.box(9, 0, 12, 9), "base": -0.1, "top": 0.05}
    assert told(*spots(0.0), court, deck) == [("deck", "2.050 m")]


def test_nothing_to_walk_on():
    assert told({"role": "structure", "geometry": shapely.box(0, 0, 4, 4), "base": 0.0, "top": 9.0}) == []


FLOOR = {**LOW, "geometry": shapely.box(-20, -20, 40, 40)}
HEAD = {"role": "terrace", "id": "head", "base": 0.0, "top": 1.8}


def sides(*rows, head):
    """Feature, deepest drop, and how far east of the middle line the sides with a drop lie."""
    stack = stacked(FLOOR, {**HEAD, "geometry": shapely.box(-9, head, 9, head + 9)}, *rows)
    found = sound_drops(stack)
    found = found.take(~found.guarded(limits.GUARD_LEAST))
    name = stack.features.source_id[found.row]
    climbs = name == "climbs"
    return {
        round(float(x), 3): (pytest.approx(found.drop[own].max()), int(own.sum()))
        for x in np.unique(found.xy[climbs, 0])
        for own in [climbs & (found.xy[:, 0] == x)]
    }


def climbs(role, run, width=1.5, **more):
    line = shapely.LineString([(0, 0), (0, run)])
    return {"role": role, "id": "climbs", "geometry": line, "width": width, "base": 0.0, "top": 1.8, **more}


def beside(role, run, x, **more):
    return {"role": role, "geometry": shapely.LineString([(x, 0), (x, run)]), "width": 0.05, **more}


def test_both_open_sides_of_a_ramp():
    """
    It rises 1 in 10. Soundings are 0.25 m apart, the last 17.875 m up its way, 1.7875 m above the
    ground; the first over 0.762 m is that at 7.625 m, so there are 42 of them.
    """
    found = sides(climbs("ramp", 18.0), head=18)
    assert found == {-0.75: (1.7875, 42), 0.75: (1.7875, 42)}


def test_both_open_sides_of_a_flight():
    """
    Twelve risers of 0.15 m, eleven treads of 0.35 m; the last is 1.65 m up. From the sixth on, 1.75 m
    up its way, treads are at 0.9 m or more: 8.7 of 16 pieces of 0.2406 m, those with their middle beyond.
    """
    found = sides(climbs("steps", 3.85, riser=0.15), head=3.85)
    assert found == {-0.75: (1.65, 9), 0.75: (1.65, 9)}


@pytest.mark.parametrize(("role", "run"), [("ramp", 18.0), ("steps", 3.85)])
def test_what_guards_the_side_of_a_climb(role, run):
    climb = climbs(role, run)
    left, right = (beside("rail", run, x, height=1.05) for x in (-0.7, 0.7))
    assert sides(climb, left, right, head=run) == {}
    assert list(sides(climb, left, head=run)) == [0.75]
    assert list(sides(climb, left, {**right, "height": 0.5}, head=run)) == [0.75]
    wall = {"role": "wall", "geometry": shapely.box(0.75, 0, 0.95, run), "base": 0.0, "top": 2.8}
    assert list(sides(climb, wall, head=run)) == [-0.75]
    low = {**wall, "top": 1.0}  # the ground's rail, say: a level guard is too low further up
    assert list(sides(climb, low, head=run)) == [-0.75, 0.75]


def test_a_climb_between_terraces_has_no_open_side():
    flanks = [
        {"role": "terrace", "geometry": shapely.box(x, 0, x + 5, 3.85), "base": 0.0, "top": 1.8}
        for x in (-5.75, 0.75)
    ]
    assert sides(climbs("steps", 3.85), *flanks, head=3.85) == {}


def test_a_low_climb_has_no_drop():
    assert sides(climbs("steps", 1.4, top=0.75), head=1.4) == {}


def test_findings_and_cautions_name_the_same_places():
    """The sides of a ramp, the head it climbs to, and no other; each drop is as deep in both."""
    stack = stacked(FLOOR, {**HEAD, "geometry": shapely.box(-9, 18, 9, 27)}, climbs("ramp", 18.0))
    drop = [row for row in cautions(stack).itertuples() if row.code == "drop"]
    assert {row.source_id: f"{row.value:.3f} m" for row in drop} == {
        finding.source_id: finding.value for finding in look_for_drops(stack)
    }
    assert {row.source_id for row in drop} == {"head", "climbs"}
    rail = beside("rail", 18.0, 0.7, height=1.05)
    guarded = stacked(FLOOR, {**HEAD, "geometry": shapely.box(-9, 18, 9, 27)}, climbs("ramp", 18.0), rail)
    told_length = {finding.source_id: finding.message for finding in look_for_drops(guarded)}["climbs"]
    assert "some 10.5 m" in told_length  # one side of it: 42 soundings of 0.25 m


BROAD = (-4.0, 0.0)  # a wall 4 m wide that begins at the edge of the terrace


def test_a_broad_flush_wall_along_an_edge_hides_no_drop():
    """It is walked on: 3 m down from its far side at y = -4, in 40 soundings; nothing more beyond."""
    stack = stacked(LOW, high(3.0), edge_wall(0.0, BROAD))
    (finding,) = look_for_drops(stack)
    assert (finding.source_id, finding.value) == ("high", "3.000 m")
    assert "some 10.0 m of its edges" in finding.message
    found = sound_drops(stack)
    assert found.xy[:, 1] == pytest.approx(np.full(40, -4.0))
    assert found.drop == pytest.approx(np.full(40, 3.0))


@pytest.mark.parametrize("y", [0.1, -2.0, -3.9, -4.2])
def test_a_rail_anywhere_across_a_broad_wall_guards_it(y):
    guard = rail(1.2, y, base=3.0)
    assert told(LOW, high(3.0), edge_wall(0.0, BROAD), guard) == []


def test_a_parapet_on_the_far_side_of_a_broad_wall_guards_it():
    parapet = {**edge_wall(1.1, (-4.3, -4.0)), "id": "P"}
    assert told(LOW, high(3.0), edge_wall(0.0, BROAD), parapet) == []


@pytest.mark.parametrize(
    "wall",
    [
        edge_wall(0.45, BROAD),  # nobody walks over it to its far side
        edge_wall(-0.5, BROAD),  # a step down onto it
        {**edge_wall(0.0), "geometry": shapely.box(4, -8, 4.4, 0)},  # the end of a narrow wall, 8 m long
        {**edge_wall(0.0, BROAD), "base": 3.2, "top": 3.4},  # overhead
    ],
)
def test_what_is_no_way_to_the_drop_beyond_is_not_told(wall):
    full = [wall] if wall["geometry"].bounds[0] == 0 else [wall, rail(1.2, 0.1, base=3.0)]
    before = [edge_wall(1.2)] if wall["base"] > 3 else []
    assert told(LOW, high(3.0), *full, *before) == []


def test_a_broad_wall_between_two_terraces_of_one_level_has_no_drop():
    beyond = {**high(3.0), "id": "beyond", "geometry": shapely.box(0, -10, 10, -4)}
    low = {**LOW, "geometry": shapely.box(-30, -40, 40, -20)}
    assert told(low, high(3.0), beyond, edge_wall(0.0, BROAD)) == []


def test_a_wall_along_two_sides_of_a_terrace():
    """Broad on its south and west: 10 m and 6 m of edges, sounded to where the wall ends before them."""
    ell = shapely.union(shapely.box(-4, -4, 10, 0), shapely.box(-4, -4, 0, 6))
    low = {**LOW, "geometry": shapely.box(-20, -20, 20, 20).difference(shapely.box(0, 0, 10, 6))}
    ten = {**high(3.0), "geometry": shapely.box(0, 0, 10, 6)}
    rails = [  # along the sides that have no wall
        {**rail(1.2, 0, base=3.0), "geometry": shapely.LineString(line)}
        for line in ([(9.9, 0), (9.9, 6)], [(0, 5.9), (10, 5.9)])
    ]
    found = sound_drops(stacked(low, ten, {**edge_wall(0.0), "geometry": ell}, *rails))
    open_ = found.take(~found.guarded(limits.GUARD_LEAST))
    assert set(open_.xy.min(axis=1).round(6).tolist()) == {-4.0}
    assert len(open_.row) == pytest.approx((10 + 6) / 0.25, abs=12)  # but near the rails at both ends
