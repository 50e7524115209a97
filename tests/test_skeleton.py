"""Straight skeletons: every point of a plane is as far from its side as the wavefront has come."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from siteaxo.solids.borders import rings_of, without_straight
from siteaxo.solids.skeleton import skeleton_of


def star(rng, corners):
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    radius = rng.uniform(2, 8, corners)
    return Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))


def blocks(rng):
    shape = shapely.union_all([box(x, y, x + w, y + h) for x, y, w, h in rng.integers(1, 8, (4, 4))])
    return shapely.affinity.rotate(shape, rng.uniform(0, 90), origin=(0, 0))


def sides(outline):
    """Start and inward normal of every side, in the order of the rings."""
    start, normal = [], []
    for ring in (outline.exterior, *outline.interiors):
        xy = np.array(ring.coords)
        step = np.diff(xy, axis=0)
        start.append(xy[:-1])
        normal.append(np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None])
    return np.vstack(start), np.vstack(normal)


def check(outline, slack=1e-4):
    outline = shapely.orient_polygons(outline)
    found = skeleton_of(outline)
    start, normal = sides(outline)
    planes = [Polygon(found.node[ring][:, :2]) for ring in found.rings]
    assert shapely.union_all(planes).area == pytest.approx(outline.area, abs=slack)
    assert sum(plane.area for plane in planes) == pytest.approx(outline.area, abs=slack)
    for ring, side in zip(found.rings, found.side, strict=True):
        node = found.node[ring]
        away = (node[:, :2] - start[side]) @ normal[side]
        assert away == pytest.approx(node[:, 2], abs=slack)
    return found


def test_every_side_of_a_convex_outline_is_nearest_in_its_plane():
    """In convex outlines the time is the distance from the boundary."""
    rng = np.random.default_rng(1)
    for _ in range(30):
        outline = shapely.convex_hull(star(rng, 12))
        found = check(outline)
        distance = shapely.distance(shapely.boundary(outline), shapely.points(found.node[:, :2]))
        assert distance == pytest.approx(found.node[:, 2], abs=1e-6)


def test_stars():
    rng = np.random.default_rng(2)
    outlines = [star(rng, int(rng.integers(5, 14))) for _ in range(120)]
    valid = [outline for outline in outlines if outline.is_valid]
    assert len(valid) > 60
    for outline in valid:
        check(outline)


def test_blocks():
    rng = np.random.default_rng(3)
    outlines = [blocks(rng) for _ in range(150)]
    single = [outline for outline in outlines if outline.geom_type == "Polygon"]
    assert len(single) > 60
    for outline in single:
        check(outline)


def test_courtyards():
    for hole in (box(4, 4, 8, 8), box(3, 4, 8, 9.5), Polygon([(3, 3), (8, 4), (5, 9)])):
        check(box(0, 0, 12, 13) - hole)


def test_a_side_that_stays_becomes_a_gable():
    """The ends of 10 × 6 m stay: their planes are upright triangles, the ridge is 10 m long."""
    found = skeleton_of(box(0, 0, 10, 6), np.array([True, False, True, False]))
    assert found.reach == 3.0
    upright = [found.node[ring] for ring, side in zip(found.rings, found.side, strict=True) if side in (0, 2)]
    assert all(len(np.unique(node[:, 0])) == 1 for node in upright)
    ridge = found.node[found.node[:, 2] == 3.0]
    assert np.ptp(ridge[:, 0]) == 10


def test_rings_are_traced_and_parted_where_they_meet():
    from collections import Counter

    border = Counter({(0, 1): 1, (1, 2): 1, (2, 0): 1, (2, 3): 1, (3, 4): 1, (4, 2): 1})
    assert sorted(sorted(ring) for ring in rings_of(border)) == [[0, 1, 2], [2, 3, 4]]


def test_straight_nodes_are_left_out_only_where_bare():
    node = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [2, 2, 0]])
    assert without_straight([0, 1, 2, 3], node, {1}) == [0, 2, 3]
    assert without_straight([0, 1, 2, 3], node, set()) == [0, 1, 2, 3]
    assert without_straight([0, 1, 2, 3], node, {3}) == [0, 1, 2, 3]
