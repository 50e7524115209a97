"""Triangles too thin or too small to be drawn, made one with their neighbours."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from siteaxo.solids.needles import _heights, without_needles, without_short_sides
from siteaxo.solids.tin import Tin


def tin(points, triangles):
    return Tin(xyz=np.array(points, dtype=float), triangle=np.array(triangles))


def test_a_needle_shares_its_long_side_with_its_neighbour():
    """A point 1 mm off the diagonal of a square becomes a corner of both halves."""
    points = [[0, 0, 0], [10, 0, 0], [10, 10, 1], [0, 10, 1], [5.0005, 4.9995, 0.5]]
    found = without_needles(tin(points, [[0, 4, 2], [0, 1, 4], [1, 2, 4], [0, 2, 3]]))
    assert _heights(found.xyz[:, :2], found.triangle)[0].min() > 4
    assert found.plan_area.sum() == pytest.approx(100)
    assert len(found) == 4


def test_a_needle_on_the_border_is_left_out():
    points = [[0, 0, 0], [10, 0, 0], [5, 0.001, 0], [5, 8, 0]]
    found = without_needles(tin(points, [[0, 1, 2], [1, 3, 2], [3, 0, 2]]))
    assert len(found) == 2
    assert found.plan_area.sum() == pytest.approx(40 - 0.005)


def fan(radius):
    """A square with eight points around its middle, at a small radius."""
    angle = np.arange(8) * np.pi / 4
    ring = np.column_stack([5 + radius * np.cos(angle), 5 + radius * np.sin(angle)])
    xy = np.vstack([[[0, 0], [10, 0], [10, 10], [0, 10]], ring])
    parts = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(xy)))
    corner = shapely.get_coordinates(shapely.orient_polygons(parts)).reshape(-1, 4, 2)[:, :3]
    number = np.array([[np.abs(xy - point).sum(axis=1).argmin() for point in three] for three in corner])
    return Tin(xyz=np.column_stack([xy, xy[:, 1] / 10]), triangle=number)


def test_points_near_to_one_another_become_one():
    found = without_short_sides(fan(0.005))
    assert len(np.unique(found.triangle)) == 5
    assert found.plan_area.sum() == pytest.approx(100)
    assert (found.plan_area > 1).all()


def test_points_farther_apart_stay_and_so_do_those_on_outlines():
    assert len(np.unique(without_short_sides(fan(0.5)).triangle)) == 12
    outline = np.array([shapely.box(5 - 0.005, 4, 6, 6)], dtype=object)
    kept = without_short_sides(fan(0.005), outlines=outline)
    assert len(np.unique(kept.triangle)) > 5 - 1
    assert 8 in kept.triangle  # the point at (4.995, 5), the fifth of the ring


def test_the_border_stays():
    points = [[0, 0, 0], [10, 0, 0], [10, 0.004, 0], [5, 8, 0]]
    found = without_short_sides(tin(points, [[0, 1, 2], [0, 2, 3]]))
    assert len(found) == 2


def test_nothing_is_nothing():
    none = Tin(xyz=np.zeros((0, 3)), triangle=np.zeros((0, 3), dtype=int))
    assert len(without_short_sides(none)) == len(without_needles(none)) == 0
