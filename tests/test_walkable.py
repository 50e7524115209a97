"""Where people can stand: away from drops, water and walls, with room above their heads."""

import courtyard
import geopandas as gpd
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.craft.walkable import walkable

GROUND_FLOOR = 10.0
TAKEN = [
    courtyard.POND,
    courtyard.PLANTER,
    courtyard.WALL,
    courtyard.HOUSE,
    courtyard.LOW_ROOF,
    courtyard.DECK,
    courtyard.BENCH,
]


@pytest.fixture(scope="module")
def stack():
    return courtyard.court().stack().stack


def on_plane(ground):
    return shapely.transform(ground.polygon, lambda xy: xy + ground.origin)


def test_what_is_left_is_the_court_less_all_that_is_taken(stack):
    ground = walkable(stack, clearance=0.3)
    low = np.abs(ground.plane[:, 2] - GROUND_FLOOR) < 0.02
    found = shapely.union_all(on_plane(ground)[low])
    court = shapely.difference(courtyard.box(0, 24, 0, 20), shapely.union_all(TAKEN))
    expected = shapely.buffer(court, -0.3)
    assert shapely.symmetric_difference(found, expected).area < 0.3  # arcs, and slits closed
    upper = on_plane(ground)[~low]
    assert (
        shapely.symmetric_difference(shapely.union_all(upper), shapely.buffer(courtyard.DECK, -0.3)).area
        < 0.05
    )
    assert ground.plane[~low, 2] == pytest.approx(11.0)


@pytest.mark.parametrize("clearance", [0.0, 0.5])
def test_clearance(stack, clearance):
    ground = walkable(stack, clearance=clearance)
    low = on_plane(ground)[ground.plane[:, 2] < 10.5]
    for taken in TAKEN:
        if clearance:
            assert (
                shapely.distance(low, taken).min() >= clearance - 0.012
            )  # corners are rounded about the joints
        assert shapely.area(shapely.intersection(low, taken)).max() < 1e-2


def test_headroom_decides_which_roofs_can_be_walked_under(stack):
    # The undersides are 1.9 m and 2.4 m above the court, that of the deck 0.9 m.
    for headroom, low, high, deck in ((2.1, 0, 1, 0), (1.8, 1, 1, 0), (0.8, 1, 1, 1), (2.5, 0, 0, 0)):
        ground = walkable(stack, headroom=headroom)
        court = on_plane(ground)[ground.plane[:, 2] < 10.5]
        for roof, free in ((courtyard.LOW_ROOF, low), (courtyard.HIGH_ROOF, high), (courtyard.DECK, deck)):
            under = shapely.area(shapely.intersection(court, shapely.buffer(roof, -0.5))).sum()
            assert (under > 0) == bool(free)


def test_people_step_between_flush_surfaces_but_not_over_drops(stack):
    ground = walkable(stack, clearance=0.3)
    roles = np.array([stack.features.layers[k].role.name for k in stack.features.layer[ground.feature]])
    lawn = shapely.union_all(on_plane(ground)[roles == "lawn"])
    paved = shapely.union_all(on_plane(ground)[roles == "terrace"])
    assert shapely.distance(lawn, paved) < 0.01
    assert paved.bounds[0] == pytest.approx(courtyard.EAST + 0.3, abs=2e-3)


def test_level_room_and_place(stack):
    ground = walkable(stack, clearance=0.3)
    points = np.array([[17.0, 15.0], [12.0, 18.0], [4.0, 4.0], [1.0, 7.5]]) + np.array(
        [courtyard.EAST, courtyard.NORTH]
    )
    local = points - ground.origin
    piece = ground.at(local)
    assert (piece >= 0).tolist() == [True, True, False, True]
    assert ground.level(piece[[0, 1, 3]], local[[0, 1, 3]]) == pytest.approx([11.0, 10.0, 10.0])
    # nearest edges: 3 m to the side of the deck; the wall and the low roof; 1 m to the west edge
    assert ground.room(piece[[0, 3]], local[[0, 3]]) == pytest.approx([3.0, 1.0], abs=5e-3)


def test_nothing_to_walk_on():
    site = courtyard.siteaxo.Site(
        layers=[courtyard.layer("house", "structure", courtyard.HOUSE, base=0.0, top=3.0)],
        plane_crs=courtyard.CRS,
    )
    ground = walkable(site.stack().stack)
    assert len(ground) == 0
    assert ground.at(np.zeros((2, 2))).tolist() == [-1, -1]


def test_trees_and_steep_ground():
    tall = courtyard.layer(
        "tall",
        "tree",
        courtyard.here(shapely.Point(5, 5)),
        base="below",
        height=8.0,
        diameter=4.0,
        clear_stem=2.5,
    )
    low = courtyard.layer(
        "low",
        "tree",
        courtyard.here(shapely.Point(15, 5)),
        base="below",
        height=5.0,
        diameter=4.0,
        clear_stem=0.5,
    )
    court = courtyard.layer("court", "terrace", courtyard.box(0, 20, 0, 10), base=0.0, top=1.0)
    stack = courtyard.siteaxo.Site(layers=[court, tall, low], plane_crs=courtyard.CRS).stack().stack
    free = shapely.union_all(on_plane(walkable(stack, clearance=0.3)))
    for x, y, there in (
        (5, 5, False),
        (5.6, 5, True),
        (6.5, 5, True),
        (15, 5, False),
        (16.5, 5, False),
        (18, 5, True),
    ):
        assert free.intersects(courtyard.here(shapely.Point(x, y))) == there


def test_ground_of_narrow_triangles_is_walked_on_like_one_piece():
    """A slope of spot levels 0.5 m apart, 20 m × 10 m, less 0.3 m along its edges."""
    x, y = (grid.ravel() for grid in np.meshgrid(np.arange(41) * 0.5, np.arange(21) * 0.5))
    spots = [courtyard.here(shapely.Point(*at)) for at in zip(x, y, strict=True)]
    table = gpd.GeoDataFrame({"level": x / 20}, geometry=spots, crs=courtyard.CRS)
    spot = siteaxo.Layer(name="spots", role="spot level", source=table, top="level")
    stack = siteaxo.Site(layers=[spot], plane_crs=courtyard.CRS).stack().stack
    ground = walkable(stack, clearance=0.3)
    assert len(ground) > 1000
    assert shapely.area(ground.polygon).sum() == pytest.approx(19.4 * 9.4, abs=0.05)
    middle = np.array([[courtyard.EAST + 10, courtyard.NORTH + 5]]) - ground.origin
    assert ground.room(ground.at(middle), middle) == pytest.approx(5, abs=0.01)
