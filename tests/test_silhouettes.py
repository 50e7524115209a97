"""Faces of one solid united to what hides, against the library's union of the same faces."""

import numpy as np
import pytest
import scenes
import shapely

from siteaxo.view.page import onto_page
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.silhouettes import _covered, silhouettes
from siteaxo.view.tolerance import Tolerance

ORIGIN = np.zeros(3)
VIEWS = {"planometric": planometric(30), "isometric": isometric(), "flat": planometric(30, height_factor=0)}


@pytest.mark.parametrize("view", VIEWS.values(), ids=list(VIEWS))
@pytest.mark.parametrize("kind", ["terrain", "planted", "decks"])
def test_every_solid_has_the_union_of_its_faces(kind, view):
    scene = getattr(scenes, kind)(np.random.default_rng(11))
    page = onto_page(scene.faces, view, ORIGIN, Tolerance())
    solids = np.unique(page.faces.solid)
    shape = silhouettes(page, solids).polygons()
    for solid, found in zip(solids, shape, strict=True):
        union = shapely.union_all(page.polygon[page.faces.solid == solid], grid_size=2.0**-30)
        assert found.is_valid
        assert found.symmetric_difference(union).area < 1e-6


def squares(columns, *, shift=0.0):
    """A row of unit squares, *shift* off one another's sides."""
    left = np.arange(columns) * (1.0 - shift)
    return shapely.box(left, 0, left + 1, 1)


def test_many_faces_side_by_side_become_one():
    part = np.repeat([0, 1], 20)
    owner, polygon = _covered(part, np.zeros(40, dtype=np.int64), np.concatenate([squares(20), squares(20)]))
    assert owner.tolist() == [0, 0]  # tops and sides each
    assert [shape.equals(shapely.box(0, 0, 20, 1)) for shape in polygon] == [True, True]


@pytest.mark.parametrize("shift", [0.25, 1.0])
def test_faces_that_overlap_or_lie_twice_stay_as_they_are(shift):
    faces = squares(20, shift=shift)
    owner, polygon = _covered(np.zeros(20), np.zeros(20, dtype=np.int64), faces)
    assert len(owner) == 20
    assert (polygon == faces).all()


def test_few_faces_are_not_tried():
    owner, _ = _covered(np.zeros(3), np.zeros(3, dtype=np.int64), squares(3))
    assert len(owner) == 3
