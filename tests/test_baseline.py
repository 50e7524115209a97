"""The longest straight side of a site."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from siteaxo.source.baseline import longest_side_bearing


def bearing(*polygons):
    return longest_side_bearing(np.array(polygons, dtype=object))


@pytest.mark.parametrize("turn", [0, 1, 30, 45, 60, 89, 90, 91, 135, 179])
def test_bearing_of_a_turned_rectangle(turn):
    # 20 m along a bearing of 90 - turn, 10 m across it
    turned = affinity.rotate(shapely.box(0, 0, 20, 10), turn, origin=(0, 0))
    expected = (90 - turn) % 180 or 180
    assert bearing(turned) == pytest.approx(expected, abs=1e-9)


def test_a_side_in_several_pieces_is_one_side():
    # Along the bottom 4 × 3 m in one line; the single longest piece is the left side, 10 m.
    outline = [(0, 0), (3, 0), (6, 0), (9, 0), (12, 0), (12, 2), (5, 10), (0, 10)]
    assert bearing(shapely.Polygon(outline)) == pytest.approx(90)


def test_a_ring_may_start_in_the_middle_of_its_longest_side():
    outline = [(6, 0), (12, 0), (12, 7), (0, 7), (0, 0)]
    assert bearing(shapely.Polygon(outline)) == pytest.approx(90)
    assert bearing(affinity.rotate(shapely.Polygon(outline), 40)) == pytest.approx(50)


def test_a_curve_is_not_a_straight_side():
    # A circle of 2000 sides turns by 0.18 degrees at each; beside it a 3 m square at 20 degrees.
    circle = shapely.Point(0, 0).buffer(100, quad_segs=500)
    square = affinity.rotate(shapely.box(300, 0, 303, 2), 20)
    assert bearing(circle, square) == pytest.approx(70)


def test_a_bend_of_one_degree_parts_two_sides():
    # 10 m east, then 9 m one degree to the left: the first is the longest of all.
    end = (10 + 9 * np.cos(np.radians(1)), 9 * np.sin(np.radians(1)))
    outline = [(0, 0), (10, 0), end, (14, 4), (7, 5), (2, 3)]
    assert bearing(shapely.Polygon(outline)) == pytest.approx(90, abs=1e-9)


def test_of_equal_sides_the_one_that_needs_least_turning():
    square = affinity.rotate(shapely.box(0, 0, 10, 10), 10)
    assert bearing(square) == pytest.approx(80)  # not 170
    assert bearing(shapely.box(0, 0, 10, 10)) == 90.0


def test_the_order_of_polygons_does_not_matter():
    shapes = [affinity.rotate(shapely.box(0, 0, 10, 10), turn) for turn in (10, 25, 33)]
    assert bearing(*shapes) == pytest.approx(bearing(*reversed(shapes)), abs=1e-12)


def test_repeated_vertices_are_passed_over():
    outline = [(0, 0), (0, 0), (8, 0), (8, 0), (8, 3), (0, 3)]
    assert bearing(shapely.Polygon(outline)) == pytest.approx(90)


def test_holes_do_not_count():
    hole = [(1, 1), (1, 9), (2, 9), (2, 1)]
    shell = [(0, 0), (9.5, 0), (9.5, 4), (6, 10), (0, 7.5)]
    assert bearing(shapely.Polygon(shell, [hole[::-1]])) == pytest.approx(90)


def test_east_where_there_is_nothing():
    assert longest_side_bearing(np.array([], dtype=object)) == 90.0
