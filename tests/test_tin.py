"""A surface of triangles: levels on it, lines in it, pieces of it."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.exact import GRID
from siteaxo.solids.survey import Survey, surface_of
from siteaxo.solids.tin import Tin, join_tins


def plane(x, y):
    return 3 + 0.25 * x - 0.5 * y


@pytest.fixture(scope="module")
def sloping():
    """Random points on one plane, 100 by 100 m."""
    xy = np.random.default_rng(3).uniform(0, 100, (300, 2))
    xy = np.concatenate([xy, [[0, 0], [100, 0], [100, 100], [0, 100]]])
    return surface_of(Survey(spots=np.column_stack([xy, plane(*xy.T)]))).tin


def test_levels_on_a_plane(sloping):
    xy = np.random.default_rng(5).uniform(0, 100, (500, 2))
    assert np.abs(sloping.level_at(xy) - plane(*xy.T)).max() < 1e-6
    assert sloping.slope == pytest.approx(np.full(len(sloping), np.hypot(0.25, 0.5)), abs=1e-5)
    assert sloping.plan_area.sum() == pytest.approx(1e4, abs=1e-4)
    assert sloping.area.sum() == pytest.approx(1e4 * np.sqrt(1 + 0.25**2 + 0.5**2), rel=1e-6)


def test_levels_off_the_surface(sloping):
    assert np.isnan(sloping.level_at([[150, 50]])).all()
    assert sloping.level_at([[150, 50]], beyond=True)[0] == pytest.approx(plane(100, 50), abs=1e-6)


def test_levels_under_footprints(sloping):
    shapes = np.array([shapely.box(10, 20, 30, 40), shapely.Point(50, 50), shapely.box(200, 0, 210, 10)])
    low, mean, high = sloping.levels_under(shapes)
    assert low[:2] == pytest.approx([plane(10, 40), plane(50, 50)], abs=1e-6)
    assert mean[:2] == pytest.approx([plane(20, 30), plane(50, 50)], abs=1e-6)
    assert high[:2] == pytest.approx([plane(30, 20), plane(50, 50)], abs=1e-6)
    assert np.isnan([low[2], mean[2], high[2]]).all()


def test_a_pit_within_a_footprint_is_its_lowest_level():
    spots = np.array([[0.0, 0, 5], [10, 0, 5], [10, 10, 5], [0, 10, 5], [5, 5, 1]])
    tin = surface_of(Survey(spots=spots)).tin
    low, mean, high = tin.levels_under(np.array([shapely.box(0, 0, 10, 10)]))
    assert (low[0], high[0]) == (pytest.approx(1.0), pytest.approx(5.0))
    assert mean[0] == pytest.approx(5 - 4 / 3)  # an upside-down pyramid 4 m deep


def test_lines_become_edges_and_leave_the_surface_alone(sloping):
    ring = shapely.LinearRing([(20.3, 20.1), (71.7, 33.2), (44.4, 81.9)])
    cut = sloping.with_lines(np.array([ring]))
    assert cut.plan_area.sum() == pytest.approx(sloping.plan_area.sum(), abs=1e-6)
    assert np.abs(cut.xyz[:, 2] - plane(*cut.xyz[:, :2].T)).max() < 1e-6
    edges = shapely.linestrings(cut.xyz[cut.edge][:, :, :2])
    along = edges[shapely.covered_by(edges, shapely.buffer(ring, 1e-6))]
    assert shapely.length(along).sum() == pytest.approx(ring.length, abs=1e-5)


def test_no_gaps_are_left_where_a_line_was_laid_in(sloping):
    cut = sloping.with_lines(np.array([shapely.LineString([(5, 5), (95, 60)])]))
    assert len(cut.border) == len(sloping.border)
    rim = shapely.linestrings(cut.xyz[cut.border][:, :, :2])
    assert shapely.length(rim).sum() == pytest.approx(400, abs=1e-4)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (512_345.25, 4_123_456.5)])
def test_within_and_outside_make_the_whole(sloping, shift):
    tin = Tin(xyz=sloping.xyz + np.append(shift, 0), triangle=sloping.triangle)
    hole = shapely.Point(50 + shift[0], 50 + shift[1]).buffer(6)
    area = shapely.box(20 + shift[0], 30 + shift[1], 90 + shift[0], 70 + shift[1]).difference(hole)
    inside, outside = tin.within(area), tin.within(area, outside=True)
    assert inside.plan_area.sum() == pytest.approx(area.area, abs=1e-5)
    assert inside.plan_area.sum() + outside.plan_area.sum() == pytest.approx(1e4, abs=1e-4)
    assert np.abs(inside.xyz[:, 2] - plane(*(inside.xyz[:, :2] - shift).T)).max() < 1e-6
    whole = join_tins([inside, outside])
    assert len(whole.border) == len(tin.border)


def test_what_lies_off_the_surface_cuts_nothing(sloping):
    far = sloping.with_lines(np.array([shapely.LineString([(200, 200), (300, 250)])]))
    assert len(far) == len(sloping)


def test_a_needle_between_two_triangles_that_are_cut_stays_whole():
    xyz = np.array([[0.0, 0, 0], [8, 0, 0], [3, GRID, 0], [4, 5, 0], [4, -5, 0]])
    needle = Tin(xyz=xyz, triangle=np.array([[0, 1, 2], [0, 2, 3], [2, 1, 3], [0, 4, 1]]))
    lines = shapely.linestrings([[(2, 1), (5, 1)], [(2, -1), (5, -1)]])
    cut = needle.with_lines(lines)
    assert len(cut) > len(needle)
    assert cut.plan_area.sum() == pytest.approx(needle.plan_area.sum(), abs=1e-12)
    ends = cut.triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2).tolist()
    assert len({tuple(pair) for pair in ends}) == len(ends)  # no side has two triangles on one side


@pytest.mark.parametrize("seed", range(5))
def test_cut_again_and_again_a_surface_covers_what_it_covered(seed):
    random = np.random.default_rng(seed)
    tin = Tin(
        xyz=np.array([[0.0, 0, 0], [9, 0, 1], [9, 9, 2], [0, 9, 0]]),
        triangle=np.array([[0, 1, 2], [0, 2, 3]]),
    )
    for _ in range(4):
        tin = tin.with_lines(shapely.linestrings(random.uniform(-1, 10, (6, 2, 2)).round(1)))
        ends = tin.triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2).tolist()
        assert len({tuple(pair) for pair in ends}) == len(ends)
        assert tin.plan_area.sum() == pytest.approx(81, abs=1e-9)
        assert shapely.coverage_union_all(tin.polygon).area == pytest.approx(81, abs=1e-6)


def test_the_outline_of_triangles_with_a_corner_on_a_side():
    """Two triangles meet a third halfway along its side: 2 × 1 / 2 above, as much below."""
    xyz = np.array([[0, 0, 0], [2, 0, 0], [1, 1, 0], [1, -1, 0], [1, 0, 0]], dtype=float)
    tin = Tin(xyz=xyz, triangle=np.array([[0, 1, 2], [0, 3, 4], [4, 3, 1]]))
    assert tin.outline.area == pytest.approx(2.0, abs=1e-12)
    assert tin.outline.geom_type == "Polygon"
