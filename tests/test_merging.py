"""Front faces merged to silhouettes, against the library's union of the same faces."""

import numpy as np
import pytest
import scenes
import shapely

from siteaxo.solids.prism import prisms
from siteaxo.view.merging import merged
from siteaxo.view.page import onto_page
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.tolerance import Tolerance

ORIGIN = np.zeros(3)
VIEWS = {"planometric": planometric(30), "isometric": isometric(), "flat": planometric(30, height_factor=0)}


def front(faces, view):
    """Page faces, their rows by solid, and the solid of each."""
    page = onto_page(faces, view, ORIGIN, Tolerance())
    rows = np.argsort(page.faces.solid, kind="stable")
    owner = np.unique(page.faces.solid[rows], return_inverse=True)[1]
    return page, rows, owner


@pytest.mark.parametrize("view", VIEWS.values(), ids=list(VIEWS))
@pytest.mark.parametrize("kind", ["boxes", "angled", "decks", "planted", "terrain"])
def test_silhouettes_are_the_union_of_the_faces(kind, view):
    scene = getattr(scenes, kind)(np.random.default_rng(11))
    page, rows, owner = front(scene.faces, view)
    count = int(owner.max()) + 1
    shapes, sure = merged(page, rows, owner, count)
    shape = shapes.polygons()
    assert sure.any() or kind == "terrain"
    for k in np.flatnonzero(sure):
        union = shapely.union_all(page.polygon[rows[owner == k]], grid_size=2.0**-30)
        assert shape[k].symmetric_difference(union).area < 1e-6
        assert shape[k].area == pytest.approx(union.area, abs=1e-7)
        assert shape[k].is_valid


def test_a_box_in_plan_oblique_has_a_hexagon_for_silhouette():
    """Its area is that of the top and of the two sides seen: 4 × 3 and 2 × (4 cos 30° + 3 sin 30°)."""
    faces = prisms(np.array([shapely.box(0, 0, 4, 3)]), np.zeros(1), np.array([2.0]), solid=np.array([0]))
    page, rows, owner = front(faces, planometric(30))
    shapes, sure = merged(page, rows, owner, 1)
    shape = shapes.polygons()
    assert sure.tolist() == [True]
    assert shapely.get_num_coordinates(shape[0]) == 7
    assert shape[0].area == pytest.approx(12 + 2 * (4 * np.sqrt(3) / 2 + 3 / 2), abs=1e-6)


def test_a_courtyard_stays_open():
    frame = shapely.box(0, 0, 20, 20).difference(shapely.box(5, 5, 15, 15))
    faces = prisms(np.array([frame]), np.zeros(1), np.array([1.0]), solid=np.array([0]))
    page, rows, owner = front(faces, planometric(30))
    shapes, sure = merged(page, rows, owner, 1)
    shape = shapes.polygons()
    union = shapely.union_all(page.polygon)
    assert sure.tolist() == [True]
    assert len(shape[0].interiors) == len(union.interiors) == 1
    assert shape[0].area == pytest.approx(union.area, abs=1e-9)


def test_faces_that_meet_in_a_corner_only_are_not_answered():
    squares = np.array([shapely.box(0, 0, 2, 2), shapely.box(2, 2, 4, 4)])
    faces = prisms(squares, np.zeros(2), np.ones(2), solid=np.zeros(2, dtype=np.int64))
    page, rows, owner = front(faces, VIEWS["flat"])
    assert not merged(page, rows, owner, 1)[1].any()
