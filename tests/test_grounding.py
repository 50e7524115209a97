"""What stands on sloping ground, follows it, and is let into it; through whole stacks."""

import numpy as np
import pytest
import shapely
from solidity import areas, features, open_edges, volume, warps

from siteaxo.solids.faces import PART_CODE, take
from siteaxo.solids.rail import MIDDLE, POST
from siteaxo.solids.stack import stack_features


def slope(*rows, rise=0.1, size=40.0):
    """Features on ground that rises evenly to the north from level 0."""
    spots = [(x, y) for x in (0.0, size) for y in (0.0, size)]
    ground = [{"role": "spot level", "geometry": shapely.Point(p), "top": rise * p[1]} for p in spots]
    return features(*rows, *ground)


def solids_of(stack, source_id, layer):
    table = stack.features
    names = np.array([key.name for key in table.layers], dtype=object)[table.layer]
    row = np.flatnonzero((table.source_id == source_id) & (names == layer))
    chosen = np.flatnonzero(np.isin(stack.solid_feature, row))
    return take(stack.scene.faces, np.flatnonzero(np.isin(stack.scene.faces.solid, chosen))), row[0]


def box(x, y, w, d, role="structure", **more):
    return {"role": role, "id": "A", "geometry": shapely.box(x, y, x + w, y + d), **more}


def test_a_building_stands_at_the_lowest_level_under_it():
    stack = stack_features(slope(box(10, 20, 6, 8, height=5.0)))
    faces, row = solids_of(stack, "A", "structure")
    table = stack.features
    assert (table.base[row], table.top[row]) == pytest.approx((2.0, 7.0))
    assert table.base_from[row] == "ground beneath it"
    assert volume(faces) == pytest.approx(6 * 8 * 5)
    ground, _ = solids_of(stack, "survey", "ground")
    # a wedge 40 by 40 by 4 less the building's footprint up to its mean ground level 2.4
    assert volume(ground) == pytest.approx(40 * 40 * 2 - 48 * 2.4, abs=1e-4)
    assert open_edges(ground) == 0
    assert warps(ground) < 1e-6


def test_a_tree_stands_at_its_own_place():
    tree = {"role": "tree", "id": "T", "geometry": shapely.Point(7, 13), "height": 6.0}
    stack = stack_features(slope(tree))
    assert stack.features.base[0] == pytest.approx(1.3)
    assert stack.features.top[0] == pytest.approx(7.3)


def test_a_path_follows_the_ground():
    path = {"role": "path", "id": "P", "geometry": shapely.LineString([(5, 5), (5, 35)]), "width": 2.0}
    stack = stack_features(slope(path))
    faces, row = solids_of(stack, "P", "path")
    assert (stack.features.base[row], stack.features.top[row]) == pytest.approx((0.5, 3.5))
    assert faces.two_sided.all()
    assert areas(faces).sum() == pytest.approx(60 * np.hypot(1, 0.1), abs=1e-6)
    assert np.abs(faces.xyz[:, 2] - faces.xyz[:, 1] * 0.1).max() < 1e-6


def test_a_slab_of_even_thickness_follows_the_ground():
    stack = stack_features(slope(box(10, 10, 8, 6, role="paving", height=0.2)))
    faces, _ = solids_of(stack, "A", "paving")
    assert volume(faces) == pytest.approx(8 * 6 * 0.2, abs=1e-6)
    assert open_edges(faces) == 0


def test_lawn_on_a_terrace_stays_level():
    terrace = box(10, 10, 12, 12, role="terrace", top=3.0)
    lawn = {**box(12, 12, 6, 6, role="lawn"), "id": "L"}
    stack = stack_features(slope(terrace, lawn))
    faces, row = solids_of(stack, "L", "lawn")
    assert stack.features.base_from[row] == "top of layer 'terrace', feature A"
    assert set(faces.xyz[:, 2]) == {3.0}


def test_what_stands_on_a_path_stands_on_the_ground_beneath():
    path = {"role": "path", "id": "P", "geometry": shapely.box(0, 10, 40, 14)}
    seat = {**box(6, 11, 2, 1, role="seat", height=0.45), "id": "S"}
    stack = stack_features(slope(path, seat))
    _, row = solids_of(stack, "S", "seat")
    assert stack.features.base[row] == pytest.approx(1.1)


def test_a_planter_on_a_deck_above_the_ground_stands_on_the_deck():
    deck = box(10, 10, 8, 8, role="deck", base=4.0, top=4.2)
    planter = {**box(11, 11, 2, 2, role="planter", height=0.5), "id": "P"}
    stack = stack_features(slope(deck, planter))
    _, row = solids_of(stack, "P", "planter")
    assert stack.features.base[row] == pytest.approx(4.2)
    ground, _ = solids_of(stack, "survey", "ground")
    assert volume(ground) == pytest.approx(3200, abs=1e-4)  # the deck stands clear of it


def test_a_terrace_is_let_into_the_slope():
    stack = stack_features(slope(box(10, 10, 10, 10, role="terrace", base=0.0, top=1.5)))
    ground, _ = solids_of(stack, "survey", "ground")
    assert volume(ground) == pytest.approx(3200 - 100 * 1.5, abs=1e-4)
    top = ground.part == PART_CODE["slope"]
    assert areas(take(ground, np.flatnonzero(top))).sum() == pytest.approx(1500 * np.hypot(1, 0.1), abs=1e-4)
    assert stack.terrain.surveyed.plan_area.sum() == pytest.approx(1600)


def test_banks_lift_what_stands_beside():
    # ground level at 1; a terrace at 3 with banks of 1 in 2: a tree 1 m from its side stands at 2.5
    terrace = {**box(15, 15, 10, 10, role="terrace", base=0.0, top=3.0)}
    tree = {"role": "tree", "id": "T", "geometry": shapely.Point(26, 20), "height": 6.0}
    table = slope(terrace, tree, rise=0.0)
    table = table.with_columns(bank=np.where(table.of_role("name") == "terrace", 2.0, np.nan))
    stack = stack_features(table)
    assert stack.features.base[1] == pytest.approx(2.5, abs=1e-6)
    ground, _ = solids_of(stack, "survey", "ground")
    assert open_edges(ground) == 0
    assert stack.terrain.tin.level_at([[26, 20]])[0] == pytest.approx(2.5, abs=1e-6)
    assert stack.terrain.surveyed.level_at([[26, 20]])[0] == 0.0


def test_water_is_level_and_lies_in_the_ground():
    pond = {**box(10, 10, 6, 6, role="water"), "id": "W"}
    stack = stack_features(slope(pond))
    faces, _ = solids_of(stack, "W", "water")
    assert faces.xyz[:, 2] == pytest.approx(1.0, abs=1e-9)
    ground, _ = solids_of(stack, "survey", "ground")
    assert volume(ground) == pytest.approx(3200 - 36 * 1.3, abs=1e-4)


def test_a_pool_in_a_terrace_opens_the_ground_too():
    # under the terrace the ground rises from 1.0 to 3.0 m, through the pool from 1.8 to 2.2 m
    terrace = {"role": "terrace", "id": "T", "geometry": shapely.box(10, 10, 30, 30), "base": 0.0, "top": 2.5}
    pool = {"role": "water", "id": "W", "geometry": shapely.box(18, 18, 22, 22), "base": 1.9, "top": 2.3}
    stack = stack_features(slope(terrace, pool))
    ground, _ = solids_of(stack, "survey", "ground")
    above = np.flatnonzero(ground.part == PART_CODE["slope"])
    assert areas(take(ground, above)).sum() == pytest.approx((40**2 - 20**2) * np.hypot(1, 0.1), abs=1e-4)


def test_what_stands_above_the_ground_leaves_it_whole():
    deck = {"role": "deck", "id": "D", "geometry": shapely.box(18, 18, 22, 22), "base": 1.9, "top": 2.3}
    stack = stack_features(slope(deck))
    ground, _ = solids_of(stack, "survey", "ground")
    above = np.flatnonzero(ground.part == PART_CODE["slope"])
    assert areas(take(ground, above)).sum() == pytest.approx(40**2 * np.hypot(1, 0.1), abs=1e-4)


def test_hedges_and_walls_rise_with_the_ground_and_are_as_high_all_along():
    hedge = {"role": "hedge", "id": "H", "geometry": shapely.LineString([(5, 5), (5, 35)]), "width": 0.8}
    wall = {"role": "wall", "id": "W", "geometry": shapely.LineString([(20, 5), (20, 25)]), "width": 0.4}
    stack = stack_features(slope({**hedge, "height": 1.2}, {**wall, "height": 0.5}))
    for name, layer, width, length, height in (("H", "hedge", 0.8, 30, 1.2), ("W", "wall", 0.4, 20, 0.5)):
        faces, row = solids_of(stack, name, layer)
        over = faces.xyz[:, 2] - 0.1 * faces.xyz[:, 1]
        assert np.minimum(np.abs(over), np.abs(over - height)).max() < 1e-6
        assert volume(faces) == pytest.approx(width * length * height, abs=1e-5)  # points lie on a grid
        assert open_edges(faces) == 0
        assert stack.features.top[row] == pytest.approx(0.1 * (5 + length) + height)
    ground, _ = solids_of(stack, "survey", "ground")
    assert volume(ground) == pytest.approx(40 * 40 * 2, abs=1e-4)  # nothing of it is dug away


def test_a_rail_along_a_wall_that_rakes_stands_on_it():
    """Ground rises 1 in 10 from y = 0: a wall of 0.5 m from y = 5 to 25, a rail of 1.1 m from 6 to 24."""
    wall = {"role": "wall", "id": "W", "geometry": shapely.LineString([(20, 5), (20, 25)]), "width": 0.4}
    along = {"role": "rail", "id": "R", "geometry": shapely.LineString([(20, 6), (20, 24)]), "height": 1.1}
    beside = {**along, "id": "B", "geometry": shapely.LineString([(21, 6), (21, 24)])}
    stack = stack_features(slope({**wall, "height": 0.5}, along, beside))
    for name, lift in (("R", 0.5), ("B", 0.0)):
        faces, row = solids_of(stack, name, "rail")
        over = faces.xyz[:, 2] - 0.1 * faces.xyz[:, 1]
        lean = 0.1 * 0.05 / 2  # posts are 0.05 m wide and cut level
        assert over.min() == pytest.approx(lift, abs=lean + 1e-6)
        assert over.max() == pytest.approx(lift + 1.1, abs=lean + 1e-6)
        assert stack.features.base[row] == pytest.approx(0.6 + lift)
        assert stack.features.top[row] == pytest.approx(1.7 + lift)
        assert stack.features.base_from[row].startswith("top of layer 'wall'") == (lift > 0)
    assert stack.features.source_id[stack.support[solids_of(stack, "R", "rail")[1]]] == "W"


def test_a_rail_on_an_even_slope_is_straight_from_end_to_end():
    """25 m across a slope of 1 in 20 that rises 0.75 m: top and middle bar are one piece each."""
    line = shapely.LineString([(5, 5), (25, 20)])
    stack = stack_features(slope({"role": "rail", "id": "R", "geometry": line, "height": 1.1}, rise=0.05))
    faces, _ = solids_of(stack, "R", "rail")
    tops = areas(faces, "top")
    assert tops[tops > 2 * POST**2] == pytest.approx(np.hypot(25, 0.75) * np.array([POST, MIDDLE]))
    assert faces.xyz[:, 2].max() == pytest.approx(0.05 * 20 + 1.1, abs=0.05 * POST)
    assert open_edges(faces) == 0


def test_a_rail_over_a_ridge_bends_on_it_alone():
    """Up 15 m and down 15 m at 1 in 10, the ridge at 2 m."""
    levels = [(x, y, 2.0 * (y == 20)) for x in (0, 40) for y in (0, 20, 40)]
    spots = [{"role": "spot level", "geometry": shapely.Point(x, y), "top": z} for x, y, z in levels]
    line = shapely.LineString([(10, 5), (10, 35)])
    stack = stack_features(features({"role": "rail", "id": "R", "geometry": line, "height": 1.1}, *spots))
    faces, _ = solids_of(stack, "R", "rail")
    tops = areas(faces, "top")
    pieces = np.hypot(15, 1.5) * np.repeat([POST, MIDDLE], 2)
    assert tops[tops > 2 * POST**2] == pytest.approx(pieces)
    assert faces.xyz[:, 2].max() == pytest.approx(2.0 + 1.1, abs=1e-6)


def test_a_wall_that_also_stands_on_a_terrace_is_level():
    terrace = box(10, 10, 12, 12, role="terrace", top=3.0)
    wall = {"role": "wall", "id": "W", "geometry": shapely.box(12, 4, 12.4, 14), "height": 1.0}
    stack = stack_features(slope(terrace, wall))
    faces, _ = solids_of(stack, "W", "wall")
    assert len(set(faces.xyz[:, 2].round(9))) == 2


@pytest.mark.parametrize("base", [1.0, None])
def test_banks_around_a_building_meet_its_floor(base):
    # the ground rises from 0 to 4; the floor is given, or else the lowest level under it
    house = box(10, 18, 6, 4, height=5.0, bank=2.0) | ({} if base is None else {"base": base})
    stack = stack_features(slope(house))
    floor = 1.8 if base is None else base
    xy = np.array([[13.0, 18.0], [13.0, 22.0], [13.0, 22.2]])
    beside = stack.terrain.tin.level_at(xy, beyond=True)
    assert beside == pytest.approx([floor, floor, floor + 0.2 / 2], abs=2e-3)


def test_ground_that_is_dug_away_says_nothing_about_flights():
    # a court at 2 whose banks fill the ground up, let into it a pit at 1 with a flight up to the court
    court = box(5, 5, 20, 20, role="terrace", top=2.0, bank=3.0, base=0.0)
    pit = {**box(10, 10, 6, 6, role="terrace", top=1.0, base=0.0), "id": "P"}
    flight = {**box(12, 10, 2, 1.5, role="steps", base=1.0, top=2.0), "id": "F"}
    stack = stack_features(slope(court, pit, flight))
    assert not {"direction-unclear", "run-unclear"} & {finding.code for finding in stack.findings}


@pytest.mark.parametrize("role", ["path", "lawn", "paving", "hedge", "wall"])
def test_what_lies_wholly_beside_the_ground_stands_on_nothing(role):
    """There is no level under it, so that nothing of its role lies on the ground."""
    more = {} if role in ("path", "lawn", "paving") else {"height": 1.0}
    stack = stack_features(slope(box(200, 200, 6, 8, role=role, **more)))
    row = stack.features.source_id.tolist().index("A")
    assert stack.features.of_role("form")[row] != "drape"
    assert np.isfinite(stack.features.top[row])
