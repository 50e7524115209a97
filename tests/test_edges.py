"""Edges of solids and the faces that meet there."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from siteaxo.solids import edges as edges_module
from siteaxo.solids.edges import GRID, edges_of
from siteaxo.solids.faces import PART_CODE, from_quads, join, take
from siteaxo.solids.prism import prisms


def box(x=0.0, y=0.0, solid=0, height=3.0, shape=None):
    footprint = np.array([shapely.box(x, y, x + 4, y + 2) if shape is None else shape])
    return prisms(footprint, np.zeros(1), np.full(1, height), solid=np.array([solid]))


def strip(angle):
    """Two upright quads of one solid that meet at an angle [degrees]."""
    turn = np.radians(angle)
    plan = np.array([[0, 0], [1, 0], [1 + np.cos(turn), np.sin(turn)]])
    corners = [[(*p, 0), (*q, 0), (*q, 2), (*p, 2)] for p, q in pairwise(plan)]
    return np.array(corners, dtype=float)


def shared(edges):
    return np.flatnonzero(np.diff(edges.member_start) == 2)


def test_a_box_has_twelve_edges():
    edges = edges_of(box())
    assert len(edges) == 12
    length = np.linalg.norm(edges.end - edges.start, axis=1)
    assert np.sort(length).tolist() == [2] * 4 + [3] * 4 + [4] * 4
    assert len(shared(edges)) == 12
    assert not edges.smooth.any()


def test_members_lie_along_their_edge():
    faces = box()
    edges = edges_of(faces)
    for edge in range(len(edges)):
        for member in range(edges.member_start[edge], edges.member_start[edge + 1]):
            face = edges.face[member]
            ring = faces.xyz[faces.vertex_start[face] : faces.vertex_start[face + 1]].tolist()
            ends = [edges.start[edge].tolist(), edges.end[edge].tolist()]
            first, second = ends if edges.forward[member] else ends[::-1]
            assert ring[(ring.index(first) + 1) % 4] == second


def test_every_side_of_every_ring_is_a_member():
    court = shapely.box(0, 0, 9, 9).difference(shapely.box(3, 3, 5, 5))
    faces = join([box(), box(1, 1, 1), box(solid=2, shape=court)])
    assert len(edges_of(faces).face) == len(faces.xyz)


def test_edges_of_different_solids_stay_apart():
    edges = edges_of(join([box(solid=0), box(solid=1)]))
    assert len(edges) == 24
    assert np.bincount(edges.solid).tolist() == [12, 12]


def test_order_of_faces_does_not_matter():
    faces = join([box(), box(7, 1, 1)])
    order = np.random.default_rng(0).permutation(len(faces))
    one, other = edges_of(faces), edges_of(take(faces, order))

    def names(edges):
        pairs = np.sort(np.stack([edges.start, edges.end], axis=1).round(6), axis=1).reshape(-1, 6)
        return sorted(map(tuple, pairs.tolist()))

    assert names(one) == names(other)
    assert sorted(np.diff(one.member_start)) == sorted(np.diff(other.member_start))


def test_corners_equal_on_the_grid_are_one():
    first, second = strip(90)
    second[[0, 3]] += GRID / 4
    assert len(shared(edges_of(from_quads(np.stack([first, second]), solid=np.zeros(2, int), part=1)))) == 1
    second[[0, 3]] += 4 * GRID
    assert len(shared(edges_of(from_quads(np.stack([first, second]), solid=np.zeros(2, int), part=1)))) == 0


def test_sides_of_no_length_are_left_out():
    quad = np.array([[[0, 0, 0], [1, 0, 0], [1, 0, 0], [0, 1, 0.0]]])
    assert len(edges_of(from_quads(quad, solid=np.array([0]), part=0))) == 3


def test_no_faces_no_edges():
    edges = edges_of(join([]))
    assert len(edges) == 0
    assert edges.member_start.tolist() == [0]


@pytest.mark.parametrize(("angle", "smooth"), [(0, True), (7.5, True), (15, True), (16, False), (-30, False)])
def test_facets_of_a_curve_are_smooth(angle, smooth):
    """Sides that meet at 15 degrees or less, as those of a circle of 24 chords, are facets of one curve."""
    edges = edges_of(from_quads(strip(angle), solid=np.zeros(2, int), part=PART_CODE["side"]))
    assert edges.smooth[shared(edges)].tolist() == [smooth]


@pytest.mark.parametrize(
    ("part", "angle", "smooth"),
    [("slope", 7.5, False), ("slope", 0, True), ("crown", 60, True), ("riser", 10, False)],
)
def test_only_sides_and_crowns_curve(part, angle, smooth):
    edges = edges_of(from_quads(strip(angle), solid=np.zeros(2, int), part=PART_CODE[part]))
    assert edges.smooth[shared(edges)].tolist() == [smooth]


def test_a_round_wall_is_smooth_between_its_facets():
    circle = shapely.Point(0, 0).buffer(3, quad_segs=12)
    edges = edges_of(box(shape=circle))
    upright = np.abs(edges.end - edges.start)[:, 2] > 0
    assert upright.sum() == 48
    assert edges.smooth[upright].all()
    assert not edges.smooth[~upright].any()


def test_many_edges_do_not_collide():
    """Keys are hashed; every box of a large grid must still have its own twelve edges."""
    x, y = (v.ravel() for v in np.meshgrid(np.arange(100) * 5.0, np.arange(100) * 3.0))
    footprints = shapely.box(x, y, x + 4, y + 2)
    faces = prisms(footprints, np.zeros(10_000), np.full(10_000, 3.0), solid=np.arange(10_000))
    edges = edges_of(faces)
    assert len(edges) == 120_000
    assert (np.diff(edges.member_start) == 2).all()
    assert (np.bincount(edges.solid) == 12).all()


def test_edges_of_many_solids_are_found_some_at_a_time(monkeypatch):
    """In batches of a few faces or all at once: the same edges with the same faces."""
    rng = np.random.default_rng(7)
    corner = rng.uniform(0, 50, (40, 2))
    faces = prisms(
        shapely.box(*corner.T, *(corner + rng.uniform(1, 9, (40, 2))).T),
        np.zeros(40),
        rng.uniform(1, 9, 40),
        solid=np.arange(40),
    )

    def told(edges):
        members = [set(edges.face[a:b].tolist()) for a, b in pairwise(edges.member_start)]
        ends = np.concatenate([edges.start, edges.end], axis=1).tolist()
        return sorted(
            zip(edges.solid.tolist(), ends, map(sorted, members), edges.smooth.tolist(), strict=True)
        )

    whole = told(edges_of(faces))
    monkeypatch.setattr(edges_module, "BATCH", 100)
    assert told(edges_of(faces)) == whole
    assert len(whole) == 40 * 12
