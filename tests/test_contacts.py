"""Faces that touch: closed cases, and a random scene against every corner's distance from every plane."""

import numpy as np
import pytest
import scenes
import shapely

from siteaxo.solids.prism import prisms
from siteaxo.view.candidates import box_pairs
from siteaxo.view.contacts import MANY_CORNERS, many_cornered, touching_pairs
from siteaxo.view.page import onto_page
from siteaxo.view.projection import planometric
from siteaxo.view.tolerance import Tolerance

LIMITS = Tolerance()


def touching(footprints, base, top):
    """Names of solids that touch across, and the page."""
    count = len(footprints)
    faces = prisms(np.array(footprints), np.array(base, float), np.array(top, float), solid=np.arange(count))
    page = onto_page(faces, planometric(30), np.zeros(3), LIMITS)
    found = touching_pairs(page, *box_pairs(page), LIMITS)
    solid = page.faces.solid
    across = solid[found.face] != solid[found.plane]
    return set(
        zip(solid[found.face[across]].tolist(), solid[found.plane[across]].tolist(), strict=True)
    ), page


def test_a_box_on_a_slab_touches_its_top():
    both, _ = touching([shapely.box(0, 0, 9, 9), shapely.box(2, 2, 5, 5)], [0, 1], [1, 4])
    assert (1, 0) in both


@pytest.mark.parametrize("gap", [0.01, 2.0])
def test_a_box_above_a_slab_touches_nothing(gap):
    assert not touching([shapely.box(0, 0, 9, 9), shapely.box(2, 2, 5, 5)], [0, 1 + gap], [1, 5 + gap])[0]


def test_boxes_side_by_side_touch_both_ways():
    both, _ = touching([shapely.box(0, 0, 4, 4), shapely.box(4, 0, 8, 4)], [0, 0], [3, 3])
    assert both == {(0, 1), (1, 0)}


@pytest.mark.parametrize("kind", ["boxes", "decks", "duplicated", "tilted"])
def test_the_same_as_corner_by_corner(kind):
    """Corners are held against planes one by one, in depth; all that is left out lies far off on the site."""
    scene = getattr(scenes, kind)(np.random.default_rng(4))
    page = onto_page(scene.faces, planometric(30), np.zeros(3), LIMITS)
    first, second = box_pairs(page)
    found = touching_pairs(page, first, second, LIMITS)
    start, xyz = page.faces.vertex_start, page.faces.xyz
    expected = set()
    for a, b in np.concatenate([np.stack([first, second], 1), np.stack([second, first], 1)]).tolist():
        mine, its = slice(start[a], start[a + 1]), slice(start[b], start[b + 1])
        low, high = (how(xyz[mine], axis=0) for how in (np.min, np.max))
        apart = np.maximum(low, xyz[its].min(axis=0)) - np.minimum(high, xyz[its].max(axis=0))
        lead = page.depth_at(np.full(start[a + 1] - start[a], b), page.xy[mine]) - page.depth[mine]
        if (np.abs(lead) <= LIMITS.depth).sum() >= 2 and apart.max() <= 64 * LIMITS.depth:
            expected.add((a, b))
    assert set(zip(found.face.tolist(), found.plane.tolist(), strict=True)) == expected
    assert (np.diff(found.face) >= 0).all()
    assert len(expected) > 10


def test_faces_of_very_many_corners_are_no_faces_but_planes():
    round_one = shapely.Point(0, 0).buffer(5, quad_segs=MANY_CORNERS)
    both, page = touching([round_one, shapely.box(-1, -1, 1, 1)], [0, 1], [1, 3])
    assert many_cornered(page).sum() == 1
    assert (1, 0) in both
