"""Constrained triangulations: every segment is an edge, the hull is filled, circles are empty."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from siteaxo.errors import GeometryError
from siteaxo.solids.exact import on_grid, turn
from siteaxo.solids.mesh import Mesh, among, edge_keys, in_circle
from siteaxo.solids.triangulation import enclosed, triangulated


def rings(count, corners, seed):
    """Nested rings of few and many corners as points and segments, with loose points among them."""
    rng = np.random.default_rng(seed)
    xy, segments = [], []
    for radius in np.linspace(10, 100, count):
        angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
        reach = radius * (1 + 0.02 * np.sin(5 * angle))
        start = sum(len(p) for p in xy)
        xy.append(on_grid(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])))
        segments.append(start + np.column_stack([np.arange(corners), np.roll(np.arange(corners), -1)]))
    lines = shapely.multilinestrings([shapely.linestrings(np.vstack([p, p[:1]])) for p in xy])
    loose = on_grid(rng.uniform(-110, 110, (4 * corners, 2)))
    loose = loose[shapely.distance(shapely.points(loose), lines) > 1e-3]
    return np.concatenate([*xy, loose]), np.concatenate(segments)


def no_crossings(xy, segments):
    lines = shapely.linestrings(xy[segments])
    one, other = shapely.STRtree(lines).query(lines, predicate="crosses")
    keep = np.ones(len(segments), dtype=bool)
    keep[np.maximum(one, other)] = False
    return segments[keep]


def edges(xy, corner):
    return np.unique(edge_keys(corner[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), len(xy)))


@pytest.mark.parametrize(("count", "corners"), [(4, 6), (9, 12), (12, 60), (30, 200)])
def test_segments_are_edges_and_the_hull_is_filled(count, corners):
    xy, segments = rings(count, corners, seed=count)
    segments = no_crossings(xy, segments)
    corner = triangulated(xy, segments)
    missing_at_first = ~among(edge_keys(segments, len(xy)), edges(xy, Mesh.delaunay(xy).corner))
    assert missing_at_first.any()  # there was something to insert
    assert among(edge_keys(segments, len(xy)), edges(xy, corner)).all()
    size = turn(*(xy[corner[:, k]] for k in range(3))) / 2
    assert size.min() > 0
    assert size.sum() == pytest.approx(shapely.convex_hull(shapely.multipoints(xy)).area, rel=1e-12)
    assert len(np.unique(corner)) == len(xy)


def test_each_other_edge_is_as_delaunay_as_the_segments_allow():
    xy, segments = rings(9, 25, seed=2)
    segments = no_crossings(xy, segments)
    mesh = Mesh.of(xy, triangulated(xy, segments))
    ends, triangle, slot = mesh.edges()
    free = mesh.beside[triangle, slot] >= 0
    free &= ~among(edge_keys(ends, len(xy)), np.unique(edge_keys(segments, len(xy))))
    quad, _ = mesh.quads(triangle[free], slot[free])
    assert free.sum() > 100
    assert not in_circle(xy, quad).any()


def test_one_long_segment_through_a_crowd():
    xy = on_grid(np.random.default_rng(8).uniform(0, 100, (3000, 2)))
    xy[:2] = [[-1, 50], [101, 50.25]]
    corner = triangulated(xy, np.array([[0, 1]]))
    assert 1 in edges(xy, corner)  # the key of points 0 and 1
    assert turn(*(xy[corner[:, k]] for k in range(3))).min() > 0


def test_a_lattice_with_a_segment_that_meets_no_point():
    y, x = np.indices((20, 20)).astype(float)
    xy = np.column_stack([x.ravel(), y.ravel()])
    corner = triangulated(xy, np.array([[1, 18 * 20 + 18]]))  # (1, 0) to (18, 18): 17 and 18 share no divisor
    assert 1 * 400 + 378 in edges(xy, corner)
    assert turn(*(xy[corner[:, k]] for k in range(3))).sum() / 2 == 19 * 19


def test_a_polygon_comes_out_as_the_geometry_engine_has_it():
    # Independent of ours: GEOS's constrained triangulation of polygons fills the same area
    # and has the same number of triangles.
    star = np.array([[10, 0], [3, 2], [0, 10], [-3, 2], [-10, 0], [-3, -2], [0, -10], [3, -2.0]])
    ring = np.column_stack([np.arange(8), np.roll(np.arange(8), -1)])
    corner = triangulated(star, ring)
    polygon = shapely.Polygon(star)
    inside = shapely.contains_xy(polygon, star[corner].mean(axis=1))
    reference = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    assert inside.sum() == len(reference) == 6
    assert shapely.area(shapely.polygons(star[corner[inside]])).sum() == pytest.approx(polygon.area)


def test_points_added_one_to_a_triangle():
    xy, segments = rings(5, 20, seed=6)
    segments = no_crossings(xy, segments)
    mesh = Mesh.of(xy, triangulated(xy, segments))
    chosen = np.arange(0, len(mesh.corner), 7)
    more = on_grid(xy[mesh.corner[chosen]].mean(axis=1))
    fixed = np.unique(edge_keys(segments, len(xy) + len(more)))
    larger = mesh.with_points(more, fixed)
    size = turn(*(larger.xy[larger.corner[:, k]] for k in range(3))) / 2
    assert len(larger.corner) == len(mesh.corner) + 2 * len(more)
    assert size.min() > 0
    assert size.sum() == pytest.approx(shapely.convex_hull(shapely.multipoints(xy)).area, rel=1e-12)
    assert among(fixed, edges(larger.xy, larger.corner)).all()


def test_what_makes_no_surface_and_what_crosses():
    with pytest.raises(GeometryError, match="one straight line"):
        triangulated(np.array([[0.0, 0], [1, 1], [2, 2]]), np.zeros((0, 2), dtype=int))
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    with pytest.raises(GeometryError, match="cross"):
        triangulated(square, np.array([[0, 2], [1, 3]]))


def area_of(xy, corner):
    u, v = xy[corner[:, 1]] - xy[corner[:, 0]], xy[corner[:, 2]] - xy[corner[:, 0]]
    return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2


def rings_of(*rings):
    """Points and segments of closed rings."""
    xy = np.concatenate([np.array(ring, dtype=float) for ring in rings])
    start = np.cumsum([0, *(len(ring) for ring in rings)])
    segments = [np.column_stack([np.arange(a, b), np.roll(np.arange(a, b), -1)]) for a, b in pairwise(start)]
    return xy, np.concatenate(segments)


def test_areas_are_triangulated_each_for_itself():
    outer = [(0, 0), (10, 0), (10, 10), (5, 10), (0, 10)]
    xy, segments = rings_of(outer, [(2, 2), (4, 2), (4, 4), (2, 4)])
    corner, area = enclosed(xy, segments)
    size = area_of(xy, corner)
    assert (size > 0).all()
    np.testing.assert_allclose(np.sort(np.bincount(area, size)), [4, 96])
    assert set(corner.ravel()) == set(range(9))  # also the corner that lies on a side


def test_a_line_that_ends_within_an_area_is_an_edge_of_its_triangles():
    xy, segments = rings_of([(0, 0), (10, 0), (10, 10), (0, 10)])
    xy = np.concatenate([xy, [(4.0, 5.0), (6.0, 7.0), (20.0, 20.0)]])
    segments = np.concatenate([segments, [(0, 4), (4, 5), (2, 6)]])  # the last one lies outside
    corner, area = enclosed(xy, segments)
    np.testing.assert_allclose(area_of(xy, corner).sum(), 100)
    assert len(np.unique(area)) == 1
    edges = {frozenset(pair) for one in corner for pair in zip(one, np.roll(one, 1), strict=True)}
    assert {frozenset((0, 4)), frozenset((4, 5))} <= edges
    assert 6 not in corner


def test_areas_that_touch_in_a_point_and_slits_are_filled():
    xy = np.array([(0.0, 0), (4, 0), (4, 4), (0, 4), (2, 2), (3, 3), (2, 3)])
    segments = np.array([(0, 1), (1, 2), (2, 3), (3, 0), (0, 4), (4, 5), (5, 6), (6, 4), (4, 3)])
    corner, area = enclosed(xy, segments)
    np.testing.assert_allclose(np.sort(np.bincount(area, area_of(xy, corner))), [0.5, 4, 11.5])
