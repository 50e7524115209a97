"""Faces of one solid united to what hides, against the library's union of the same faces."""

import numpy as np
import pytest
import scenes
import shapely

from siteaxo.view.page import onto_page
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.silhouettes import silhouettes
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
