"""Sloping terraces and surfaces, whatever gives them their levels."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box
from solidity import areas, open_edges, solid_of, volume

import siteaxo
from siteaxo.errors import LevelError

CRS = "EPSG:25832"
ORIGIN = np.array([420000.0, 5310000.0, 0.0])


def frame(*shapes, **columns):
    def moved(xyz):
        return xyz + ORIGIN[: xyz.shape[1]]

    geometry = [shapely.transform(one, moved, include_z=bool(shapely.has_z(one))) for one in shapes]
    return gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS)


def layer(role, source, name="", **keys):
    return siteaxo.Layer(name=name or role, role=role, source=source, **keys)


def stacked(*layers):
    return siteaxo.Site(name="Tilt", layers=list(layers), plane_crs=CRS).stack()


def top_of(model, row):
    """The top of a feature: its level at points of the test's own plane."""
    features = model.stack.features
    from siteaxo.solids.planes import levels_at

    return lambda x, y: levels_at(features, np.array([row]), np.array([[x, y]]) + ORIGIN[:2])[0]


SIDES = {"top": 2.0, "low": 1.4, "fall_bearing": 180.0}


def test_a_level_for_each_side_and_the_way_it_falls():
    """Six metres deep, it falls by 0.6 to the south: 1 in 10."""
    model = stacked(layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES))
    features, top = model.stack.features, top_of(model, 0)
    assert [top(5, 6), top(5, 0), top(0, 3)] == pytest.approx([2.0, 1.4, 1.7], abs=1e-6)
    assert features.top[0] == pytest.approx(2.0)
    assert features.top_from[0] == "number and level of its low side, falling 1:10"
    solid = solid_of(model.stack, 0)
    assert areas(solid, "top") == pytest.approx([60 * np.sqrt(1.01)], rel=1e-9)
    assert open_edges(solid) == 0
    assert volume(solid) == pytest.approx(60 * 1.7, rel=1e-9)


def test_the_low_side_may_lie_on_the_base():
    """A wedge: its sides are triangles, and one of them is nothing."""
    sides = {"top": 1.0, "low": 0.0, "fall_bearing": 270.0}
    solid = solid_of(stacked(layer("terrace", frame(box(0, 0, 8, 5)), base=0, **sides)).stack, 0)
    assert sorted(areas(solid, "side")) == pytest.approx([4, 4, 5])
    assert open_edges(solid) == 0
    assert volume(solid) == pytest.approx(20)


def test_bearings_are_those_of_the_layer_s_own_north():
    """Grid north of the zone, a degree off the plane's: the sides along the fall stay level across."""
    site = siteaxo.Site(name="Tilt", layers=[layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES)])
    faces = solid_of(site.stack().stack, 0)
    level = np.unique(np.round(faces.xyz[:, 2], 4))
    assert level.tolist() == pytest.approx([0, 1.4, 2.0])


def test_own_z_at_every_vertex():
    shape = Polygon([(0, 0, 1.0), (10, 0, 2.0), (10, 4, 2.4), (0, 4, 1.4)])
    model = stacked(layer("terrace", frame(shape), base=0, top_z="each"))
    top = top_of(model, 0)
    assert [top(0, 0), top(10, 0), top(10, 4), top(0, 4)] == pytest.approx([1.0, 2.0, 2.4, 1.4], abs=1e-6)
    assert model.stack.features.top_from[0].startswith("its own Z, falling 1:")
    assert len(model.findings) == 0


def test_levels_that_do_not_lie_in_a_plane_are_told():
    """One corner is 0.4 too high, which is 0.1 off the best plane."""
    shape = Polygon([(0, 0, 1.0), (4, 0, 1.0), (4, 4, 1.0), (0, 4, 1.4)])
    model = stacked(layer("paving", frame(shape, ref=["P1"]), id="ref", base=0.5, top_z="each"))
    (found,) = model.findings[model.findings["code"] == "levels-not-planar"].itertuples()
    assert (found.layer, found.source_id, found.value) == ("paving", "P1", "0.100 m")
    assert found.geometry.area == pytest.approx(16)


def test_finished_levels_on_it():
    marks = frame(Point(1, 1), Point(9, 1), Point(1, 3), z=[1.0, 1.8, 1.2])
    model = stacked(
        layer("terrace", frame(box(0, 0, 10, 4)), base=0, top="finished levels"),
        layer("finished level", marks, name="levels", top="z"),
    )
    top = top_of(model, 0)
    assert [top(0, 0), top(10, 4)] == pytest.approx([1.0 - 0.1 - 0.1, 1.8 + 0.1 + 0.3])
    assert model.stack.features.top_from[0] == "finished levels 0, 1, 2, falling 1:7.07"
    assert len(model.stack.features) == 1


def test_finished_levels_along_its_edges():
    """The lower edge at 1.0, the upper one at 1.6, given by their own Z."""
    edges = frame(LineString([(0, 0, 1.0), (10, 0, 1.0)]), LineString([(0, 4, 1.6), (10, 4, 1.6)]))
    model = stacked(
        layer("terrace", frame(box(0, 0, 10, 4)), base=0, top="finished levels"),
        layer("finished level", edges, name="edges"),
    )
    top = top_of(model, 0)
    assert [top(3, 0), top(7, 4), top(5, 2)] == pytest.approx([1.0, 1.6, 1.3], abs=1e-6)


def test_one_finished_level_makes_a_level_terrace_and_none_is_refused():
    layers = [
        layer("terrace", frame(box(0, 0, 4, 4), box(4, 0, 8, 4)), base=0, top="finished levels"),
        layer("finished level", frame(Point(2, 2), z=[0.7]), name="levels", top="z"),
    ]
    model = stacked(*layers)
    assert model.stack.features.top.tolist() == [0.7]
    (found,) = model.findings[model.findings["code"] == "no-level"].itertuples()
    assert (found.severity, found.layer, found.source_id) == ("error", "terrace", "1")
    far = layer("finished level", frame(Point(20, 2), z=[0.7]), name="levels", top="z")
    with pytest.raises(LevelError, match="'terrace' takes its top from finished levels, but none lies"):
        stacked(layers[0], far)


def test_what_stands_on_a_slope_stands_at_its_lowest_level():
    hut = layer("structure", frame(box(2, 2, 4, 5)), base="below", height=2.5)
    tree = layer("tree", frame(Point(8, 3)), height=4.0)
    features = stacked(layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES), hut, tree).stack.features
    assert features.base.tolist() == pytest.approx([0, 1.6, 1.7])
    assert features.top[1:] == pytest.approx([4.1, 5.7])


def test_surfaces_follow_the_slope_they_lie_on_and_water_does_not():
    terrace = layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES)
    lawn = layer("lawn", frame(box(1, 1, 5, 5)), base="below", height=0.05)
    paving = layer("paving", frame(box(6, 1, 7, 5)))
    pool = layer("water", frame(box(8, 2, 9, 4)), base="below", drop=0.2)
    model = stacked(terrace, lawn, paving, pool)
    assert [top_of(model, 1)(2, 1), top_of(model, 1)(2, 5)] == pytest.approx([1.55, 1.95])
    slab = solid_of(model.stack, 1)
    assert areas(slab, "top") == pytest.approx([16 * np.sqrt(1.01)])
    assert volume(slab) == pytest.approx(16 * 0.05)
    assert open_edges(slab) == 0
    sheet = solid_of(model.stack, 2)
    assert areas(sheet).tolist() == pytest.approx([4 * np.sqrt(1.01)])
    assert sheet.two_sided.all()
    # the pool lies level, 0.2 below the lowest ground around it
    assert model.stack.features.top[3] == pytest.approx(1.6 - 0.2)
    assert len(model.stack.features.geometry[0].interiors) == 1
    assert "buried" not in list(model.findings["code"])


def test_a_court_half_in_and_half_out_of_a_slope():
    """Level at 1.7, in ground from 1.4 to 2.0: it cuts the slope open and stands out of its low half."""
    court = layer("paving", frame(box(2, 1, 6, 5)), base=0.0, top=1.7)
    model = stacked(layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES), court)
    assert model.stack.features.geometry[0].area == pytest.approx(60 - 16)


def test_steps_between_slopes_arrive_at_the_level_of_their_edge():
    """The upper terrace falls to 1.4 where the flight arrives: its last riser is the terrace's own."""
    yard = layer("terrace", frame(box(0, -6, 10, 0)), name="yard", base=-0.5, top=0.8)
    flight = layer("steps", frame(box(4, -1.2, 6, 0)), base=0.8, top=1.4)
    model = stacked(yard, layer("terrace", frame(box(0, 0, 10, 6)), base=-0.5, **SIDES), flight)
    assert model.stack.walks.flights.risers.tolist() == [4]
    assert areas(solid_of(model.stack, 2), "tread").sum() == pytest.approx(2 * 1.2)
    walls = model.retaining_walls
    assert walls["climbed"].tolist() == pytest.approx([2.0], abs=0.1)


def test_a_low_side_above_the_top_is_refused():
    with pytest.raises(LevelError, match="above its top, 2"):
        stacked(layer("terrace", frame(box(0, 0, 9, 9)), base=0, top=2.0, low=2.5, fall_bearing=0))


@pytest.mark.parametrize(
    ("keys", "role", "message"),
    [
        ({"top": 1.0, "low": 0.5}, "terrace", "Give fall_bearing too"),
        ({"top": 1.0, "low": 0.5, "fall_bearing": 10}, "wall", "low is for the top of ground, terrace"),
        ({"top": "finished levels"}, "roof", "top = 'finished levels' is for the top of ground"),
        ({"height": 1.0, "low": 0.5, "fall_bearing": 10}, "deck", "Give top too"),
    ],
)
def test_what_a_layer_refuses(keys, role, message):
    with pytest.raises(LevelError, match=message):
        siteaxo.Layer(name="a", role=role, source="a.shp", **keys)


def test_a_path_along_a_line_with_its_own_z():
    """It climbs 0.5 on 10 m and is level across."""
    line = LineString([(0, 0, 1.0), (10, 0, 1.5)])
    model = stacked(
        layer("terrace", frame(box(-5, -5, 15, 5)), base=0, top=1.0),
        layer("path", frame(line), top_z="each", width=2.0),
    )
    top = top_of(model, 1)
    assert [top(0, 1), top(10, -1), top(5, 0)] == pytest.approx([1.0, 1.5, 1.25], abs=1e-6)
    assert model.stack.features.top_from[1] == "its own Z, falling 1:20"


def test_hedges_and_rails_rake_with_the_slope():
    """On 1 in 10 the hedge is 0.8 m high all along; the bar of the rail runs parallel to the ground."""
    terrace = layer("terrace", frame(box(0, 0, 10, 6)), base=0, **SIDES)
    hedge = layer("hedge", frame(box(1, 1, 1.5, 5)), base="below", height=0.8)
    rail = layer("rail", frame(LineString([(9, 0), (9, 6)])), height=1.1)
    model = stacked(terrace, hedge, rail)
    solid = solid_of(model.stack, 1)
    assert volume(solid) == pytest.approx(0.5 * 4 * 0.8)
    assert [top_of(model, 1)(1, 1), top_of(model, 1)(1, 5)] == pytest.approx([1.5 + 0.8, 1.9 + 0.8])
    bars = solid_of(model.stack, 2)
    y = bars.xyz[:, 1] - ORIGIN[1]
    low, high = (bars.xyz[np.abs(y - end) < 1e-6] for end in (0, 6))
    assert [low[:, 2].max(), high[:, 2].max()] == pytest.approx([1.4 + 1.1, 2.0 + 1.1])


def test_a_rail_over_ground_follows_it():
    spots = frame(Point(0, 0), Point(10, 0), Point(10, 10), Point(0, 10), z=[0.0, 0.0, 2.0, 2.0])
    rail = layer("rail", frame(LineString([(5, 1), (5, 9)])), height=1.0)
    model = stacked(layer("spot level", spots, top="z"), rail)
    row = int(np.flatnonzero(model.stack.features.of_role("name") == "rail")[0])
    bars = solid_of(model.stack, row)
    y = bars.xyz[:, 1] - ORIGIN[1]
    assert bars.xyz[np.isclose(y, 9), 2].max() == pytest.approx(9 * 0.2 + 1.0)
    assert bars.xyz[np.isclose(y, 1), 2].max() == pytest.approx(1 * 0.2 + 1.0)


def codes_of(model):
    return [(row.severity, row.code, row.layer, row.value) for row in model.findings.itertuples()]


def test_finished_levels_that_lie_on_nothing_are_told():
    yard = layer("terrace", frame(box(0, 0, 4, 4)), base=0, top=1.0)
    marks = layer("finished level", frame(Point(2, 2), z=[0.7]), name="levels", top="z")
    assert codes_of(stacked(yard, marks)) == [("warning", "finished-level-unused", "levels", "")]
    flat = layer("terrace", frame(box(0, 0, 4, 4)), base=0, top="finished levels")
    with pytest.raises(LevelError, match="but none lies"):
        stacked(flat)


def test_steep_slopes_are_told():
    """1 in 2 is a bank; 1 in 10 is steep for paving (1:20 in 2010 ADA Standards §403.3) alone."""
    keys = {"low": 0.0, "fall_bearing": 180.0, "base": -1.0}
    shape = frame(box(0, 0, 10, 10))
    assert codes_of(stacked(layer("terrace", shape, top=5.0, **keys)))[0][1:] == (
        "slope-steep",
        "terrace",
        "1:2.0",
    )
    assert codes_of(stacked(layer("paving", shape, top=1.0, **keys)))[0] == (
        "info",
        "path-steep",
        "paving",
        "1:10.0",
    )
    assert "path-steep" not in [
        code for _, code, _, _ in codes_of(stacked(layer("terrace", shape, top=1.0, **keys)))
    ]
    assert codes_of(stacked(layer("paving", shape, top=0.4, **keys))) == []


def test_a_path_whose_own_z_bends_is_a_plane_between_each_two_vertices():
    """
    It climbs 0.5 on 10 m, runs level for 6 m and falls 0.4 on 8 m, straight on and round a corner.

    Two metres wide, it is level around the corner: as far as the inner one, a metre from its middle.
    """
    line = LineString([(0, 0, 1.0), (10, 0, 1.5), (16, 0, 1.5), (16, 8, 1.1)])
    model = stacked(
        layer("terrace", frame(box(-5, -5, 25, 15)), base=0, top=1.0),
        layer("path", frame(line, ref=["W1"]), id="ref", top_z="each", width=2.0),
    )
    assert not (model.findings["code"] == "levels-not-planar").any()
    features = model.stack.features
    assert features.source_id[1:].tolist() == ["W1"] * 4
    up, level, corner, down = (top_of(model, row) for row in (1, 2, 3, 4))
    assert [up(0, 1), up(10, -1), level(10, 1), level(15, 0)] == pytest.approx([1, 1.5, 1.5, 1.5], abs=1e-6)
    assert [corner(15, 1), corner(17, -1)] == pytest.approx([1.5, 1.5], abs=1e-6)
    assert [down(15, 1), down(16, 4.5), down(17, 8)] == pytest.approx([1.5, 1.3, 1.1], abs=1e-6)
    # 10 and 6 − 1 m by 2 m, a corner of 2 m each way, 8 − 1 m by 2 m: side by side
    assert shapely.area(features.geometry[1:]) == pytest.approx([20, 10, 4, 14], abs=1e-6)
    plan = shapely.union_all(features.geometry[1:])
    assert shapely.area(plan) == pytest.approx(48, abs=1e-6)
    assert shapely.get_num_geometries(plan) == 1


def test_a_line_that_rises_evenly_round_a_corner_lies_level_across():
    """One plane passes through its three levels, but it would lean across both of its stretches."""
    line = LineString([(0, 0, 1.0), (10, 0, 1.5), (10, 10, 2.0)])
    keys = {"top_z": "each", "width": 2.0}
    model = stacked(
        layer("terrace", frame(box(-5, -5, 25, 15)), base=0, top=1.0), layer("path", frame(line), **keys)
    )
    features = model.stack.features
    # 0.5 on 10 − 1 m, on either side of a level corner
    slope = np.column_stack([features.slope_x, features.slope_y])[1:]
    assert slope == pytest.approx(np.array([[1 / 18, 0], [0, 0], [0, 1 / 18]]), abs=1e-9)


def test_a_line_too_tight_for_its_corners_keeps_its_stretches():
    """Its middle stretch is a metre long; at two metres of width its corners need two."""
    line = LineString([(0, 0, 1.0), (10, 0, 1.5), (10, 1, 1.5), (0, 1, 2.0)])
    model = stacked(
        layer("terrace", frame(box(-5, -5, 25, 15)), base=0, top=1.0),
        layer("path", frame(line), top_z="each", width=2.0),
    )
    assert len(model.stack.features) == 4
    assert [top_of(model, 1)(9, 1), top_of(model, 3)(9, 1)] == pytest.approx([1.45, 1.55], abs=1e-6)


def test_a_ring_of_a_path_has_a_corner_where_it_closes():
    """Ten by ten metres, falling 0.2 to the north and back: four stretches of 8 m, four corners of 2 m."""
    ring = LineString([(0, 0, 1.2), (10, 0, 1.2), (10, 10, 1.0), (0, 10, 1.1), (0, 0, 1.2)])
    model = stacked(
        layer("terrace", frame(box(-5, -5, 25, 15)), base=0, top=1.0),
        layer("path", frame(ring), top_z="each", width=2.0),
    )
    shapes = model.stack.features.geometry[1:]
    assert np.sort(shapely.area(shapes)) == pytest.approx([4] * 4 + [16] * 4, abs=1e-6)
    assert shapely.area(shapely.union_all(shapes)) == pytest.approx(12 * 12 - 8 * 8, abs=1e-6)
