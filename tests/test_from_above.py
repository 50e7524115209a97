"""People as they are seen from straight above."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.cutouts import outline_faces
from siteaxo.craft.figures import NAMES
from siteaxo.craft.from_above import SHOULDERS, plan_faces, plans
from siteaxo.craft.people import People
from siteaxo.solids.faces import newell


@pytest.fixture
def two():
    return People(
        xyz=np.array([[0.0, 0.0, 3.0], [10.0, 0.0, 5.0]]),
        figure=np.array([NAMES.index("standing"), NAMES.index("standing")]),
        height=np.array([1.8, 1.6]),
        mirrored=np.array([False, True]),
        feature=np.zeros(2, dtype=np.int64),
        name=np.array(["a", "b"], dtype=object),
    )


@pytest.mark.parametrize("name", NAMES)
def test_pieces_do_not_overlap_and_are_of_human_size(name):
    shapes = np.array([piece for _, piece in plans()[name]], dtype=object)
    assert shapely.is_valid(shapes).all()
    assert shapely.union_all(shapes).area == pytest.approx(shapely.area(shapes).sum(), rel=1e-3)
    left, bottom, right, top = shapely.total_bounds(shapes)
    # shoulders are about a quarter of a height wide; a bicycle is as long as a rider is high (from memory)
    assert 0.25 <= right - left <= 0.75
    assert 0.1 <= top - bottom <= 1.0


def test_figures_lie_level_at_their_shoulders_each_turned_its_own_way(two):
    faces = plan_faces(two, seed=1).faces
    for person in range(2):
        own = faces.xyz[faces.solid[faces.vertex_face] == person]
        assert np.ptp(own[:, 2]) == 0
        assert own[0, 2] == pytest.approx(two.xyz[person, 2] + SHOULDERS * two.height[person])
        assert np.hypot(*(own[:, :2] - two.xyz[person, :2]).T).max() < 0.2 * two.height[person]
    _, normal = newell(faces, faces.xyz)
    assert (normal[:, 2] > 0).all()
    long_axis = [
        np.linalg.svd(faces.xyz[faces.solid[faces.vertex_face] == p][:, :2] - two.xyz[p, :2])[2][0]
        for p in (0, 1)
    ]
    assert abs(long_axis[0] @ long_axis[1]) < 0.999
    assert np.array_equal(plan_faces(two, seed=1).faces.xyz, faces.xyz)
    assert not np.array_equal(plan_faces(two, seed=2).faces.xyz, faces.xyz)


def test_outlines_that_cast_shadows_have_few_corners(two):
    faces = outline_faces(two, np.array([1.0, 0.0]))
    assert np.bincount(faces.solid[faces.vertex_face]).max() <= 60
