"""Polygons kept as rings while they are cut, and put together only where they are asked for."""

import numpy as np
import pytest
import shapely
from scenes import KINDS, VIEWS

from siteaxo.view.overlay import Redone, checked_difference, subtracted
from siteaxo.view.page import onto_page
from siteaxo.view.shapes import Shapes
from siteaxo.view.tolerance import Tolerance

FRAME = shapely.box(0, 0, 4, 4) - shapely.box(1, 1, 3, 3)
MANY = np.array(
    [
        shapely.box(0, 0, 2, 1),
        FRAME,
        shapely.Polygon(),
        shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(5, 0, 7, 3)]),
    ]
)


def bare(shapes):
    """The same, its polygons forgotten."""
    return Shapes.made_of(shapes.rings, shapes.area)


def test_areas_corners_and_boxes():
    shapes = Shapes.of(MANY)
    assert len(shapes) == 4
    assert shapes.area.tolist() == [2, 12, 0, 7]
    assert shapes.corners.tolist() == [4, 8, 0, 8]
    np.testing.assert_array_equal(shapes.box, shapely.bounds(MANY))


def test_taken_joined_and_put():
    shapes = bare(Shapes.of(MANY))
    rows = np.array([3, 1, 1, 2, 0])
    some = Shapes.joined([shapes.take(rows), Shapes.of(MANY[:1])])
    wanted = np.concatenate([MANY[rows], MANY[:1]])
    assert shapely.equals(some.polygons(), wanted).all()
    np.testing.assert_array_equal(some.box, shapely.bounds(wanted))
    changed = some.put(np.array([0, 3]), Shapes.of(MANY[[1, 3]]))
    wanted[[0, 3]] = MANY[[1, 3]]
    assert shapely.equals(changed.polygons(np.array([3, 0, 1])), wanted[[3, 0, 1]]).all()
    assert changed.area.tolist() == shapely.area(wanted).tolist()
    assert some.put(np.zeros(0, dtype=int), shapes.take(np.zeros(0, dtype=int))) is some


def test_polygons_are_put_together_once():
    shapes = bare(Shapes.of(MANY))
    first = shapes.polygons(np.array([1]))
    assert shapes.polygons()[1] is first[0]
    given = Shapes.of(MANY)
    assert given.take(np.array([3])).polygons()[0] is MANY[3]


@pytest.mark.parametrize("kind", ["angled", "sunken", "tilted", "terrain", "planted"])
@pytest.mark.parametrize("view", ["planometric 60", "isometric", "from below"])
def test_faces_as_shapes(kind, view):
    page = onto_page(KINDS[kind](np.random.default_rng(4)).faces, VIEWS[view], np.zeros(3), Tolerance())
    assert shapely.equals(bare(page.shapes).polygons(), page.polygon).all()
    assert np.bincount(page.shapes.rings.row, page.shapes.rings.areas) == pytest.approx(page.area)
    np.testing.assert_array_equal(page.shapes.box, page.box)


def test_cut_again_and_again_as_rings_or_as_polygons():
    rng = np.random.default_rng(5)
    low = rng.uniform(0, 6, (200, 4, 2))
    turned = [shapely.affinity.rotate(shapely.box(*xy, *(xy + 3)), 7 * k) for k, xy in enumerate(low[:, 0])]
    polygons = np.array(turned, dtype=object)
    rest, tally = Shapes.of(polygons), Redone()
    for k in (1, 2, 3):
        cut = shapely.box(*low[:, k].T, *(low[:, k] + rng.uniform(1, 4, (200, 2))).T)
        rest, gone = subtracted(rest, Shapes.of(cut), tally)
        polygons, taken = checked_difference(polygons, cut)
        assert gone == pytest.approx(taken, abs=1e-12)
        assert rest.area == pytest.approx(shapely.area(polygons), abs=1e-12)
    assert tally.checked == 600
    assert shapely.area(shapely.symmetric_difference(rest.polygons(), polygons)).max() < 1e-9
