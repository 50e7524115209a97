"""Canopies: slabs, posts and pergolas."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, box
from solidity import areas, open_edges, solid_of, stacked, volume

from siteaxo.solids.canopy import BEAM, INSET, POST
from siteaxo.solids.faces import PART_CODE

GROUND = {"role": "ground", "geometry": box(-10, -10, 20, 20), "base": -1, "top": 0}
SLAB = box(0, 0, 6, 4)


def canopy(geometry=SLAB, **more):
    return {"role": "canopy", "geometry": geometry, "base": 2.5, "top": 2.8, **more}


def posts_of(faces):
    """Foot, head and place of every post."""
    found = []
    for solid in np.unique(faces.solid):
        xyz = faces.xyz[faces.solid[faces.vertex_face] == solid]
        if np.ptp(xyz[:, :2], axis=0).max() < 2 * POST:
            found.append([*xyz[:, :2].mean(axis=0), xyz[:, 2].min(), xyz[:, 2].max()])
    return np.array(found)


def test_by_itself_a_canopy_floats():
    faces = solid_of(stacked(GROUND, canopy()), 1)
    assert volume(faces) == pytest.approx(24 * 0.3)
    assert faces.xyz[:, 2].min() == 2.5


def test_posts_stand_around_its_edge():
    """5.6 × 3.6 m between the posts: at most 3 m apart, so two bays on every side."""
    faces = solid_of(stacked(GROUND, canopy(posts=3.0)), 1)
    posts = posts_of(faces)
    assert len(posts) == 8
    assert {tuple(p) for p in posts[:, :2].round(9).tolist()} == {
        *((x, y) for x in (INSET, 3.0, 6 - INSET) for y in (INSET, 4 - INSET)),
        *((x, 2.0) for x in (INSET, 6 - INSET)),
    }
    assert posts[:, 2] == pytest.approx(0)
    assert posts[:, 3] == pytest.approx(2.5)
    assert open_edges(faces) == 0
    assert volume(faces) == pytest.approx(24 * 0.3 + 8 * POST**2 * 2.5, abs=1e-9)


def test_posts_stand_on_what_is_beneath_each():
    deck = {"role": "deck", "geometry": box(-1, -1, 2, 5), "base": 0, "top": 0.45}
    posts = posts_of(solid_of(stacked(GROUND, deck, canopy(posts=6.0)), 2))
    assert len(posts) == 4
    assert posts[posts[:, 0] < 2, 2] == pytest.approx(0.45)
    assert posts[posts[:, 0] > 2, 2] == pytest.approx(0)


def test_no_post_where_there_is_no_room():
    block = {"role": "structure", "geometry": box(-1, -1, 7, 5), "base": 0, "top": 2.4}
    assert len(posts_of(solid_of(stacked(GROUND, block, canopy(posts=6.0)), 2))) == 0


def test_a_pergola_is_beams_on_two_bearers():
    """Over 6 × 4 m: beams 4 m long, no more than 0.6 m apart over 5.6 m, on two bearers 6 m long."""
    faces = solid_of(stacked(GROUND, canopy(beams=0.6)), 1)
    top = areas(faces, "top")
    beams, bearers = np.isclose(top, 4 * BEAM), np.isclose(top, 6 * BEAM)
    assert (beams.sum(), bearers.sum(), len(top)) == (10, 2, 12)
    assert volume(faces) == pytest.approx((10 * 4 + 2 * 6) * BEAM * 0.15, abs=1e-9)
    above = faces.part == PART_CODE["top"]
    level = faces.xyz[faces.vertex_start[:-1][above], 2]
    assert level[beams] == pytest.approx(2.8)
    assert level[bearers] == pytest.approx(2.65)
    assert open_edges(faces) == 0


@pytest.mark.parametrize("turn", [0, 25, 90])
def test_beams_lie_across_and_within_the_outline(turn):
    outline = shapely.affinity.rotate(Polygon([(0, 0), (6, 0), (6, 4), (1, 4)]), turn, origin=(0, 0))
    faces = solid_of(stacked(GROUND, canopy(outline, beams=0.8)), 1)
    near = shapely.buffer(outline, 1e-6)
    assert shapely.contains(near, shapely.points(faces.xyz[:, :2])).all()
    assert open_edges(faces) == 0


def test_a_pergola_stands_on_posts():
    faces = solid_of(stacked(GROUND, canopy(beams=0.6, posts=3.0)), 1)
    assert len(posts_of(faces)) == 8
