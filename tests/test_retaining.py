"""Retaining walls that come out of differences of level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import box
from solidity import stacked

from siteaxo.solids.retaining import walls_between


def terrace(shape, top, base=-1.0):
    return {"role": "terrace", "geometry": shape, "base": base, "top": top}


def steps(shape, base, top):
    return {"role": "steps", "geometry": shape, "base": base, "top": top}


def pairs(walls):
    return list(zip(walls.upper.tolist(), walls.lower.tolist(), strict=True))


def test_two_neighbours():
    """10 m long and 1.2 m high: 12 m²."""
    walls = walls_between(stacked(terrace(box(0, 0, 10, 5), 0.0), terrace(box(0, 5, 10, 9), 1.2)))
    assert pairs(walls) == [(1, 0)]
    assert walls.length == pytest.approx([10])
    assert walls.height == pytest.approx([1.2])
    assert walls.area == pytest.approx([12])
    assert walls.climbed == pytest.approx([0])
    assert shapely.equals(walls.line[0], shapely.LineString([(0, 5), (10, 5)]))


def test_partial_borders_and_a_corner():
    """The upper terrace is 4 m wide and set back behind a third: 4 m against one, 3 m against the other."""
    rows = [
        terrace(box(0, 0, 10, 5), 0.0),
        terrace(box(3, 5, 7, 8), 1.0),
        terrace(box(7, 5, 10, 8), 0.4),
    ]
    walls = walls_between(stacked(*rows))
    assert pairs(walls) == [(1, 0), (1, 2), (2, 0)]
    assert walls.length == pytest.approx([4, 3, 3])
    assert walls.height == pytest.approx([1.0, 0.6, 0.4])


def test_a_terrace_within_another_has_a_wall_all_around():
    walls = walls_between(stacked(terrace(box(0, 0, 10, 10), 0.0), terrace(box(3, 3, 7, 6), 0.8)))
    assert walls.length == pytest.approx([14])
    assert walls.area == pytest.approx([14 * 0.8])


def test_so_has_a_sunken_court():
    walls = walls_between(stacked(terrace(box(0, 0, 10, 10), 0.0), terrace(box(3, 3, 7, 6), -0.9)))
    assert pairs(walls) == [(0, 1)]
    assert walls.area == pytest.approx([14 * 0.9])


def test_where_terraces_overlap_the_higher_counts():
    """They overlap by 1 m: the wall stands at the edge of the higher."""
    walls = walls_between(stacked(terrace(box(0, 0, 10, 6), 0.0), terrace(box(0, 5, 10, 9), 1.2)))
    assert walls.length == pytest.approx([10])
    assert np.unique(shapely.get_coordinates(walls.line)[:, 1]) == pytest.approx([5])


def test_equal_levels_need_no_wall():
    walls = walls_between(stacked(terrace(box(0, 0, 10, 5), 0.5), terrace(box(0, 5, 10, 9), 0.5)))
    assert len(walls) == 0


def test_terraces_that_meet_in_a_point_need_none():
    walls = walls_between(stacked(terrace(box(0, 0, 5, 5), 0.0), terrace(box(5, 5, 9, 9), 1.0)))
    assert len(walls) == 0


def test_flights_that_arrive_are_told_apart():
    """3 m of 10 m are climbed; a flight that passes along the wall's foot does not count."""
    rows = [
        terrace(box(0, 0, 10, 5), 0.0),
        terrace(box(0, 5, 10, 9), 1.2),
        steps(box(2, 2.55, 5, 5), 0.0, 1.2),
    ]
    assert walls_between(stacked(*rows)).climbed == pytest.approx([3], abs=1e-6)


def test_borders_that_are_only_nearly_the_same():
    """A survey and a turn put the corners of shared borders a fraction of a micrometre apart."""
    rng = np.random.default_rng(6)
    rough = [
        shapely.affinity.rotate(shape, 33, origin=(0, 0))
        for shape in (box(0, 0, 10, 5), box(0, 5, 4, 9), box(4, 5, 10, 9))
    ]
    rough = [shapely.Polygon(np.array(s.exterior.coords)[:-1] + rng.normal(0, 1e-7, (4, 2))) for s in rough]
    walls = walls_between(stacked(*(terrace(s, top) for s, top in zip(rough, (0, 1, 0.5), strict=True))))
    assert pairs(walls) == [(1, 0), (1, 2), (2, 0)]
    assert walls.length == pytest.approx([4, 4, 6], abs=1e-3)
    assert walls.area == pytest.approx([4, 2, 3], abs=1e-3)


def test_between_slopes_the_height_varies():
    """
    The one rises from 0 to 1.0 along their border of 10 m, the other lies at 0.4.

    For 4 m it is held up by the other, by 0.4 at most: 0.8 m². For 6 m it holds it up, by 0.6
    at most: 1.8 m².
    """
    stack = stacked(terrace(box(0, 0, 10, 5), 1.0), terrace(box(0, 5, 10, 9), 0.4))
    level = stack.features
    tilted = level.with_columns(
        slope_x=np.array([0.1, 0.0]), high_x=np.array([10.0, 0.0]), high_y=np.array([0.0, 0.0])
    )
    walls = walls_between(replace(stack, features=tilted))
    assert pairs(walls) == [(0, 1), (1, 0)]
    assert walls.length == pytest.approx([6, 4])
    assert walls.height == pytest.approx([0.6, 0.4])
    assert walls.area == pytest.approx([1.8, 0.8])
    assert shapely.equals(walls.line[1], shapely.LineString([(0, 5), (4, 5)]))


def test_several_walls_along_one_border():
    """Of 10 m, 4 m have a wall 0.3 m thick and 3 m one 0.4 m thick; with one of them alone most is bare."""
    terraces = [terrace(box(0, 0, 10, 5), 0.0), terrace(box(0, 5, 10, 9), 1.2)]
    parts = [(box(0, 4.7, 4, 5), 1.4), (box(4, 4.6, 7, 5), 1.3)]
    drawn = [{"role": "wall", "geometry": shape, "base": 0.0, "top": top} for shape, top in parts]
    walls = walls_between(stacked(*terraces, *drawn))
    assert (walls.wall.tolist(), walls.thickness.tolist()) == ([2], pytest.approx([0.3]))
    assert walls.coping == pytest.approx([0.2])
    for one in drawn:
        assert walls_between(stacked(*terraces, one)).wall.tolist() == [-1]


def test_a_wall_that_is_drawn_gives_its_thickness_and_how_far_it_stands_above():
    """0.3 m wide along 8 of 10 m, and 0.25 m above the upper terrace."""
    wall = {"role": "wall", "geometry": box(0, 4.7, 8, 5), "base": -1, "top": 1.45}
    walls = walls_between(stacked(terrace(box(0, 0, 10, 5), 0.0), terrace(box(0, 5, 10, 9), 1.2), wall))
    assert walls.wall.tolist() == [2]
    assert walls.thickness == pytest.approx([0.3])
    assert walls.coping == pytest.approx([0.25])


def test_a_wall_along_less_than_half_of_it_is_another_one():
    wall = {"role": "wall", "geometry": box(0, 4.7, 4, 5), "base": -1, "top": 1.45}
    walls = walls_between(stacked(terrace(box(0, 0, 10, 5), 0.0), terrace(box(0, 5, 10, 9), 1.2), wall))
    assert walls.wall.tolist() == [-1]
    assert np.isnan([walls.thickness[0], walls.coping[0]]).all()
