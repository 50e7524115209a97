"""Retaining walls that come out of differences of level."""

from __future__ import annotations

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
