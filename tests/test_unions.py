"""Unions run by run, against the library's union of the same polygons."""

import numpy as np
import pytest
import shapely

from siteaxo.view import unions
from siteaxo.view.unions import united


def runs(*parts):
    row = np.repeat(np.arange(len(parts)), [len(run) for run in parts])
    return united(np.array([part for run in parts for part in run], dtype=object), row, len(parts))


def fan(corners, *, at=(0.0, 0.0)):
    """Triangles around a middle, as facets of a round crown seen from above."""
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    rim = np.column_stack([np.cos(angle), np.sin(angle)])
    ends = np.stack([np.zeros_like(rim), rim, np.roll(rim, -1, axis=0)], axis=1)
    return shapely.polygons(ends + np.array(at))


def ridges(columns, *, fold):
    """Cells of a hilly ground seen obliquely, every second row folded over the one before; no undersides."""
    x, up = np.meshgrid(np.arange(columns + 1.0), np.arange(columns + 1.0))
    up = up - fold * (np.arange(columns + 1) % 2)[:, None] * (1 + np.sin(x))
    at = np.dstack([x, up])
    corners = np.stack([at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]], axis=2).reshape(-1, 4, 2)
    cells = shapely.polygons(corners)
    return cells[shapely.is_valid(cells) & shapely.is_ccw(shapely.get_exterior_ring(cells))]


@pytest.fixture
def not_on_grid(monkeypatch):
    """Fail where a union is left to the grid."""

    def refuse(polygon, row, count):
        assert count == 0
        return np.empty(0, dtype=object)

    monkeypatch.setattr(unions, "united_on_grid", refuse)


@pytest.mark.parametrize("fold", [0.0, 0.3, 0.8, 1.7])
def test_ground_folded_over_itself_is_the_union_of_its_facets(fold, not_on_grid):
    cells = ridges(9, fold=fold)
    (found,) = runs(cells)
    assert found.is_valid
    assert found.symmetric_difference(shapely.union_all(cells)).area < 1e-9


def test_a_middle_where_many_facets_meet_is_told_by_another_point(not_on_grid):
    """The inner point of a round crown lies where all its facets meet."""
    (crown,) = runs(fan(16))
    assert crown.area == pytest.approx(16 / 2 * np.sin(2 * np.pi / 16))  # of a regular polygon
    assert shapely.get_num_coordinates(crown) == 17


def test_parts_side_by_side_become_one_and_parts_apart_stay_two(not_on_grid):
    beside, apart = runs(
        [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 3, 1)],
        [shapely.box(0, 0, 1, 1), shapely.box(5, 0, 6, 1), shapely.box(6, 0, 7, 2)],
    )
    assert beside.equals(shapely.box(0, 0, 3, 1))
    assert shapely.get_num_geometries(apart) == 2
    assert apart.area == pytest.approx(4.0)


def test_parts_of_several_pieces_are_joined_piece_by_piece():
    pieces = shapely.union(shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1))
    (whole,) = runs([pieces, shapely.box(1, 0, 2, 1)])
    assert whole.equals(shapely.box(0, 0, 3, 1))


def test_holes_stay():
    ring = shapely.difference(shapely.box(0, 0, 4, 4), shapely.box(1, 1, 3, 3))
    (found,) = runs([ring, shapely.box(4, 0, 5, 4)])
    assert found.equals(shapely.box(0, 0, 5, 4).difference(shapely.box(1, 1, 3, 3)))


def test_parts_that_overlap_are_counted_once(not_on_grid):
    """Two squares of 2 m that share a quarter cover 2 × 4 − 1 = 7 m²."""
    once, plain = runs(
        [shapely.box(0, 0, 2, 2), shapely.box(1, 1, 3, 3)], [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)]
    )
    assert once.area == pytest.approx(7.0)
    assert plain.area == pytest.approx(2.0)


@pytest.mark.parametrize("times", [2, 3])
def test_what_lies_twice_at_one_place_is_united_too(times):
    (found,) = runs([shapely.box(0, 0, 1, 1)] * times)
    assert found.equals(shapely.box(0, 0, 1, 1))


def test_a_corner_on_a_side_but_for_rounding_leaves_no_slit():
    third = 0.1 + 0.2  # not quite 0.3
    left = shapely.Polygon([(0, 0), (0.3, 0.9), (0, 1)])
    right = shapely.Polygon([(0, 0), (1, 0), (0.3, 0.9), (third / 3, third)])
    (found,) = runs([left, right])
    assert found.geom_type == "Polygon"
    assert not found.interiors


def test_runs_that_overlap_one_another_stay_apart():
    one, other = runs(fan(8), fan(8, at=(0.3, 0.2)))
    assert one.area == pytest.approx(other.area)
    assert one.centroid.distance(other.centroid) == pytest.approx(np.hypot(0.3, 0.2))


def test_random_boxes_have_the_area_of_the_library_s_union():
    rng = np.random.default_rng(4)
    low = np.round(rng.uniform(0, 4, (40, 2)), 1)
    boxes = shapely.box(*low.T, *(low + np.round(rng.uniform(0.2, 2, (40, 2)), 1)).T)
    (found,) = runs(boxes)
    assert found.symmetric_difference(shapely.union_all(boxes)).area < 1e-6


def test_runs_of_different_length_keep_their_places():
    row = [shapely.box(k, 0, k + 1, 1) for k in range(6)]
    whole = runs(row, row[:1])
    assert shapely.is_valid(whole).all()
    assert shapely.area(whole).tolist() == pytest.approx([6.0, 1.0])


def test_nothing_is_united_to_nothing():
    assert len(united(np.empty(0, dtype=object), np.zeros(0, dtype=int), 0)) == 0


def test_very_many_that_hardly_meet_are_united_heap_by_heap():
    """Pairs of squares that overlap by half, alone, or a hair apart: the library's union of all of them."""
    x, y = (9.0 * axis.ravel() for axis in np.meshgrid(np.arange(20.0), np.arange(20.0)))
    squares = shapely.box(x, y, x + 2, y + 2)
    pairs = shapely.box(x[::3] + 1, y[::3], x[::3] + 3, y[::3] + 2)
    hair = shapely.box(x[1::3] + 2 + 2e-8, y[1::3], x[1::3] + 3, y[1::3] + 2)
    run = np.concatenate([squares, pairs, hair])
    few = np.array([shapely.box(0, 0, 1, 1)] * 2)
    row = np.repeat([0, 2], [len(run), len(few)])
    many, none, pair = unions.united_on_grid(np.concatenate([run, few]), row, 3)
    whole = shapely.union_all(run, grid_size=2**-24)
    assert len(run) >= unions.LOOSE
    assert many.is_valid
    assert many.symmetric_difference(whole).area < 1e-9
    assert many.geom_type == "MultiPolygon"
    assert none.is_empty
    assert pair.equals(few[0])
    apart = unions.united_on_grid(squares, np.zeros(len(squares), dtype=int), 1)[0]
    assert shapely.get_num_geometries(apart) == 400
    assert apart.area == 1600.0
