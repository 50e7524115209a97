"""Segments are paired with the pieces of a face whose boxes they meet, whether there are few or very many."""

import numpy as np
import pytest
import shapely
from shapes import Builder

from siteaxo.view import pieces as room
from siteaxo.view.page import onto_page
from siteaxo.view.pieces import near_pieces, pieces_of
from siteaxo.view.projection import planometric
from siteaxo.view.tolerance import Tolerance


@pytest.fixture(scope="module")
def pieces():
    """Of round plates, one of them of hundreds of pieces, and a box."""
    site = Builder()
    for x, corners in ((0, 8), (30, 100), (60, 5)):
        site.prism(shapely.Point(x, 0).buffer(12, quad_segs=corners), 0, 1)
    site.prism(shapely.box(70, 0, 75, 4), 0, 3)
    return pieces_of(onto_page(site.scene().faces, planometric(30), np.zeros(3), Tolerance()))


@pytest.mark.parametrize("many", [0, 16, 256, 10_000])
def test_pairs_are_those_of_all_boxes_tried_one_by_one(pieces, many, monkeypatch):
    monkeypatch.setattr(room, "MANY", many)
    rng = np.random.default_rng(2)
    left, bottom, right, top = pieces.box
    at = rng.uniform([left.min(), bottom.min()], [right.max(), top.max()], (300, 1, 2))
    xy = at + rng.normal(0, 3, (300, 2, 2))
    face = rng.choice(pieces.face, 300)  # more often a face of many pieces
    low, high = xy.min(axis=1) - 0.01, xy.max(axis=1) + 0.01
    meets = (low[:, :1] <= right) & (high[:, :1] >= left) & (low[:, 1:] <= top) & (high[:, 1:] >= bottom)
    wanted = np.argwhere(meets & (face[:, None] == pieces.face))
    row, piece = near_pieces(pieces, face, xy, 0.01)
    found = np.column_stack([row, piece])
    assert np.diff(pieces.start).max() > 256
    assert len(wanted) > 100
    assert found[np.lexsort(found.T[::-1])].tolist() == wanted.tolist()
