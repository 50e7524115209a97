"""The Faces table: flat arrays of rings and vertices."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.faces import (
    PART_CODE,
    PARTS,
    Faces,
    from_quads,
    join,
    newell,
    normals,
    per_face,
    spread,
    take,
)
from siteaxo.solids.prism import prisms


def mixed():
    """A triangle, a square with a triangular hole, and a quad."""
    rings = [
        [[0, 0, 0], [1, 0, 0], [0, 1, 0]],
        [[0, 0, 1], [4, 0, 1], [4, 4, 1], [0, 4, 1]],
        [[1, 1, 1], [1, 2, 1], [2, 1, 1]],
        [[5, 0, 0], [6, 0, 0], [6, 0, 2], [5, 0, 2]],
    ]
    return Faces(
        xyz=np.array([point for ring in rings for point in ring], dtype=float),
        ring_start=np.array([0, 3, 7, 10, 14]),
        face_start=np.array([0, 1, 3, 4]),
        solid=np.array([7, 7, 9]),
        part=np.array([0, 0, 1], dtype=np.int8),
        two_sided=np.array([False, True, False]),
    )


def same(one, other):
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in vars(one))


def test_parts_have_codes():
    assert [PARTS[PART_CODE[name]] for name in PARTS] == list(PARTS)


def test_owners_of_rings_and_vertices():
    faces = mixed()
    assert len(faces) == 3
    assert faces.ring_face.tolist() == [0, 1, 1, 2]
    assert faces.vertex_face.tolist() == [0] * 3 + [1] * 7 + [2] * 4
    assert faces.vertex_start.tolist() == [0, 3, 10, 14]


def test_next_vertex_closes_each_ring():
    assert mixed().next_vertex.tolist() == [1, 2, 0, 4, 5, 6, 3, 8, 9, 7, 11, 12, 13, 10]


def test_next_vertex_is_a_cycle_on_every_ring():
    faces = mixed()
    reached = np.zeros(len(faces.xyz), dtype=int)
    np.add.at(reached, faces.next_vertex, 1)
    assert (reached == 1).all()


def test_per_face():
    faces = mixed()
    high = per_face(faces.xyz, faces.vertex_start, np.maximum)
    assert high.tolist() == [[1, 1, 0], [4, 4, 1], [6, 0, 2]]
    ones = np.ones(14, dtype=int)
    assert per_face(ones, faces.vertex_start, np.add).tolist() == [3, 7, 4]
    assert per_face(np.zeros((0, 2)), np.array([0]), np.add).shape == (0, 2)


@pytest.mark.parametrize("chosen", [[0, 1, 2], [2, 0], [1], [1, 1, 0], []])
def test_take(chosen):
    faces = mixed()
    some = take(faces, np.array(chosen, dtype=int))
    assert len(some) == len(chosen)
    assert some.solid.tolist() == faces.solid[chosen].tolist()
    assert some.two_sided.tolist() == faces.two_sided[chosen].tolist()
    for row, face in enumerate(chosen):
        part = some.xyz[some.vertex_start[row] : some.vertex_start[row + 1]]
        whole = faces.xyz[faces.vertex_start[face] : faces.vertex_start[face + 1]]
        assert np.array_equal(part, whole)
        assert some.face_start[row + 1] - some.face_start[row] == 1 + (face == 1)


def test_taking_all_changes_nothing():
    assert same(take(mixed(), np.arange(3)), mixed())


def test_join_then_take_gives_back_each_table():
    quad = from_quads(np.arange(24.0).reshape(2, 4, 3), solid=np.array([1, 2]), part=3, two_sided=True)
    both = join([mixed(), quad])
    assert len(both) == 5
    assert same(take(both, np.arange(3)), mixed())
    assert same(take(both, np.arange(3, 5)), quad)


def test_join_of_nothing():
    empty = join([])
    assert len(empty) == 0
    assert empty.next_vertex.tolist() == []
    assert same(join([empty, mixed()]), mixed())
    assert same(join([mixed(), empty]), mixed())


@pytest.mark.parametrize(
    ("start", "count", "wanted"),
    [([5, 0], [2, 3], [5, 6, 0, 1, 2]), ([3, 9, 4], [0, 1, 0], [9]), ([], [], []), ([2], [0], [])],
)
def test_spread(start, count, wanted):
    assert spread(np.array(start, dtype=int), np.array(count, dtype=int)).tolist() == wanted


def test_tables_cannot_be_changed():
    with pytest.raises(AttributeError):
        mixed().solid = np.zeros(3)


def test_newell_normals_of_faces_with_holes():
    """Twice the vector area: 2 × ½ up; 2 × (16 − ½) up; 2 × 2 to the south."""
    faces = mixed()
    mean, normal = newell(faces, faces.xyz)
    assert normal == pytest.approx(np.array([[0, 0, 1], [0, 0, 31], [0, -4, 0]]), abs=1e-12)
    assert mean[2].tolist() == [5.5, 0, 1]
    assert normals(faces).tolist() == [[0, 0, 1], [0, 0, 1], [0, -1, 0]]


def test_newell_normals_of_concave_faces():
    """The vector area does not depend on convexity: shoelace of the plan by shapely."""
    star = np.array([[0, 0], [4, 1], [8, 0], [5, 3], [6, 8], [3, 4], [-2, 5]], dtype=float)
    faces = prisms(np.array([shapely.Polygon(star)]), np.array([0.0]), np.array([0.0]), solid=np.array([0]))
    assert newell(faces, faces.xyz)[1][0, 2] == pytest.approx(2 * shapely.Polygon(star).area, abs=1e-12)


def test_faces_without_area_have_no_normal():
    line = from_quads(np.array([[[0, 0, 0], [1, 0, 0], [2, 0, 0.0]]]), solid=np.array([0]), part=0)
    assert normals(line).tolist() == [[0, 0, 0]]
