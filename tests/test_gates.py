"""Geometries: finite, single, of a kind the role can use, valid."""

import time

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import GeometryError
from siteaxo.limits import Limits
from siteaxo.source.gates import (
    check_finite,
    drop_empty,
    explode,
    single_parts,
    usable_kinds,
)
from siteaxo.source.layers import Layer
from siteaxo.source.mending import valid_parts
from siteaxo.source.reading import read_layer

BOX = shapely.box(0, 0, 4, 3)
LINE = shapely.LineString([(0, 0), (3, 0)])
POINT = shapely.Point(1, 1)
BOW_TIE = shapely.Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])


def raw(*geometry, role="terrace"):
    frame = gpd.GeoDataFrame(geometry=list(geometry), crs="EPSG:27700")
    frame.index = [f"f{i}" for i in range(len(frame))]
    return read_layer(Layer(name="beds", role=role, source=frame, height=1))


def test_missing_and_empty_geometries_are_set_aside():
    kept = drop_empty(raw(BOX, None, shapely.Polygon()))
    assert kept.source_id.tolist() == ["f0"]
    assert [(f.code, f.source_id) for f in kept.findings] == [("no-geometry", "f1"), ("no-geometry", "f2")]


def test_a_layer_of_nothing_but_empty_geometries():
    with pytest.raises(GeometryError, match=r"'beds': none of its features can be used\. It has no geometry"):
        drop_empty(raw(None, shapely.Polygon()))


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_coordinates_that_are_not_finite(value):
    with np.errstate(invalid="ignore"):
        bad = shapely.Polygon([(0, 0), (4, value), (4, 4)])
    with pytest.raises(GeometryError, match=r"'beds': 1 feature has .* not finite numbers \(ids f1\)"):
        check_finite(raw(BOX, bad), np.array([BOX, bad]))


def test_several_parts_become_features_that_share_their_id():
    two = shapely.MultiPolygon([BOX, shapely.box(10, 0, 11, 1)])
    parts = single_parts(raw(BOX, two, shapely.MultiPolygon([BOX])))
    assert parts.source_id.tolist() == ["f0", "f1", "f1", "f2"]
    assert shapely.area(parts.geometry).tolist() == [12, 12, 1, 12]
    assert [(f.severity, f.code, f.source_id, f.value) for f in parts.findings] == [
        ("info", "split", "f1", "2")
    ]


def test_a_multipoint_tree_is_as_many_trees():
    parts = single_parts(raw(shapely.MultiPoint([(0, 0), (5, 5), (9, 9)]), role="tree"))
    assert len(usable_kinds(parts)) == len(parts)
    assert shapely.get_x(parts.geometry).tolist() == [0, 5, 9]
    assert [f.code for f in parts.findings] == ["split"]


def test_collections_are_taken_apart_to_the_last():
    nested = shapely.GeometryCollection(
        [POINT, shapely.GeometryCollection([shapely.MultiPoint([(2, 2), (3, 3)])])]
    )
    parts, rows = explode(np.array([BOX, nested], dtype=object))
    assert [part.geom_type for part in parts] == ["Polygon", "Point", "Point", "Point"]
    assert rows.tolist() == [0, 1, 1, 1]


def test_closed_rings_are_lines():
    parts, _ = explode(np.array([shapely.LinearRing([(0, 0), (1, 0), (1, 1)])], dtype=object))
    assert parts[0].geom_type == "LineString"
    assert parts[0].is_closed


def test_z_is_dropped_and_noted():
    parts = single_parts(raw(shapely.force_3d(BOX, 7.0), BOX))
    assert not shapely.has_z(parts.geometry).any()
    assert [(f.severity, f.code) for f in parts.findings] == [("info", "z-unused")]


@pytest.mark.parametrize(
    ("role", "geometry"),
    [("tree", POINT), ("wall", LINE), ("wall", BOX), ("people", BOX), ("note", POINT), ("deck", BOX)],
)
def test_kinds_that_roles_can_use(role, geometry):
    assert usable_kinds(raw(geometry, role=role)).findings == ()


@pytest.mark.parametrize(
    ("role", "geometry", "said"),
    [
        ("terrace", POINT, "are points .* role 'terrace' needs polygons"),
        ("terrace", LINE, "are lines .* role 'terrace' needs polygons"),
        ("wall", POINT, "are points .* needs polygons or lines"),
        ("tree", BOX, "are polygons .* needs points"),
    ],
)
def test_kinds_that_they_cannot(role, geometry, said):
    with pytest.raises(GeometryError, match=rf"Layer 'beds': 1 features {said}"):
        usable_kinds(raw(geometry, role=role))


def test_single_features_of_another_kind_are_set_aside():
    parts = usable_kinds(raw(BOX, LINE, BOX, POINT))
    assert parts.source_id.tolist() == ["f0", "f2"]
    assert [(f.severity, f.code, f.source_id, f.value) for f in parts.findings] == [
        ("error", "wrong-kind", "f1", "line"),
        ("error", "wrong-kind", "f3", "point"),
    ]


def test_a_bow_tie_becomes_its_two_halves():
    parts = valid_parts(raw(BOX, BOW_TIE))
    assert parts.source_id.tolist() == ["f0", "f1", "f1"]
    assert shapely.is_valid(parts.geometry).all()
    # two triangles of base 4 and height 2; by the shoelace the loops cancel out to nothing
    assert shapely.area(parts.geometry).tolist() == [12, 4, 4]
    (finding,) = parts.findings
    assert (finding.severity, finding.code, finding.source_id) == ("warning", "made-valid", "f1")
    assert finding.value == "+8 m²"
    assert "0 m² became 8 m²" in finding.message


def test_an_outline_that_encloses_nothing_is_set_aside():
    needle = shapely.Polygon([(0, 0), (5, 0), (9, 0)])
    parts = valid_parts(raw(BOX, needle))
    assert parts.source_id.tolist() == ["f0"]
    assert [f.code for f in parts.findings] == ["no-extent"]


def test_a_line_without_length_is_set_aside():
    parts = valid_parts(raw(LINE, shapely.LineString([(1, 1), (1, 1)]), role="wall"))
    assert parts.source_id.tolist() == ["f0"]
    assert [f.code for f in parts.findings] == ["no-extent"]


def test_a_line_may_cross_itself():
    crossing = shapely.LineString([(0, 0), (4, 4), (4, 0), (0, 4)])
    parts = valid_parts(raw(crossing, role="wall"))
    assert parts.geometry[0].equals(crossing)
    assert parts.findings == ()


def test_a_hole_outside_its_shell_is_repaired():
    odd = shapely.Polygon(BOX.exterior, [[(10, 0), (11, 0), (11, 1), (10, 1)]])
    parts = valid_parts(raw(odd))
    assert shapely.is_valid(parts.geometry).all()
    assert [f.code for f in parts.findings] == ["made-valid"]


def test_shells_run_anticlockwise_and_holes_clockwise():
    holed = shapely.Polygon([(0, 0), (0, 9), (9, 9), (9, 0)], [[(1, 1), (2, 1), (2, 2), (1, 2)]])
    assert not holed.exterior.is_ccw
    (part,) = valid_parts(raw(holed)).geometry
    assert part.exterior.is_ccw
    assert not part.interiors[0].is_ccw
    assert part.area == 80


def test_a_ring_drawn_twice_is_judged_by_what_it_covers():
    twice = shapely.Polygon([*BOX.exterior.coords[:-1], *BOX.exterior.coords])
    parts = valid_parts(raw(twice))
    assert shapely.area(parts.geometry).tolist() == [12]
    (finding,) = parts.findings
    assert "24 m² became 12 m², without what it covered twice" in finding.message


def test_a_tangle_is_set_aside_and_not_mended_for_ever():
    rng = np.random.default_rng(5)
    tangle = shapely.Polygon(rng.random((20_000, 2)))
    start = time.perf_counter()
    parts = valid_parts(raw(BOX, tangle, BOW_TIE))
    assert time.perf_counter() - start < 5
    assert parts.source_id.tolist() == ["f0", "f2", "f2"]
    assert [(f.code, f.severity, f.source_id) for f in parts.findings] == [
        ("too-tangled", "error", "f1"),
        ("made-valid", "warning", "f2"),
    ]
    small = shapely.Polygon(rng.random((100, 2)))
    assert [f.code for f in valid_parts(raw(small)).findings] == ["made-valid"]
    assert [f.code for f in valid_parts(raw(small), limits=Limits(crossings=100)).findings] == ["too-tangled"]


def test_two_side_lines_are_told_as_parts_only_where_a_width_makes_them_two_flights():
    sides = shapely.MultiLineString([[(0, 0), (4, 0)], [(0, 2), (4, 2)]])
    frame = gpd.GeoDataFrame({"wide": [np.nan, 1.2]}, geometry=[sides, sides], crs="EPSG:27700")
    frame.index = ["pair", "two"]
    layer = Layer(name="flights", role="steps", source=frame, base=0, top=1, width="wide")
    assert [(f.code, f.source_id) for f in single_parts(read_layer(layer)).findings] == [("split", "two")]
