"""Areas within convex polygons, against the library underneath."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from siteaxo.view.convex import area_within
from siteaxo.view.rings import rings_of
from siteaxo.view.shapes import Shapes


def _quads(rng: np.random.Generator, count: int) -> np.ndarray:
    """Quadrilaterals with corners on a circle, and triangles with their corners there."""
    angle = np.sort(rng.uniform(0.0, 2 * np.pi, (count, 4)), axis=1)
    corner = np.stack([np.cos(angle), np.sin(angle)], axis=2) * rng.uniform(0.5, 2.0, (count, 1, 1))
    corner += rng.uniform(-1.0, 1.0, (count, 1, 2))
    shapes = shapely.polygons(corner)
    shapes[::5] = shapely.polygons(corner[::5, :3])
    return shapes


def _others(rng: np.random.Generator, count: int) -> np.ndarray:
    """Stars, some with a hole, some in two parts."""
    angle = np.arange(10) * np.pi / 5
    reach = rng.uniform(0.4, 1.6, (count, 10))
    shapes = shapely.polygons(np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=2))
    shapes[::3] = shapely.difference(shapes[::3], shapely.box(-0.1, -0.1, 0.1, 0.2))
    shapes[1::3] = shapely.difference(shapes[1::3], shapely.box(-0.1, -3.0, 0.1, 3.0))
    return shapes


@pytest.mark.parametrize("seed", range(3))
def test_areas_are_those_of_the_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    frames, shapes = _quads(rng, 400), _others(rng, 400)
    wanted = shapely.area(shapely.intersection(shapes, frames))
    assert (wanted > 0.1).sum() > 100
    np.testing.assert_allclose(
        area_within(Shapes.of(shapes), Shapes.of(frames)), wanted, rtol=1e-12, atol=1e-14
    )


def test_shared_sides_and_corners() -> None:
    frame = shapely.box(0, 0, 2, 1)
    around = [
        shapely.box(0, 1, 2, 3),  # along a whole side, from outside
        shapely.box(2, 1, 3, 3),  # at a corner
        shapely.Polygon(
            [(0, 1), (0, 3), (2, 3), (2, 1), (3, 1), (3, 0), (1, 0), (2, 1)]
        ),  # beside and over it
        shapely.box(0, 0, 2, 1),
        shapely.Polygon(),
    ]
    found = area_within(Shapes.of(np.array(around)), Shapes.of(np.array([frame] * len(around))))
    assert found.tolist() == [0.0, 0.0, 0.5, 2.0, 0.0]


def test_frames_that_are_not_convex_are_not_answered() -> None:
    shapes = [
        shapely.Polygon([(0, 0), (1, 0), (0, 1)]),
        shapely.Polygon([(0, 0), (0, 1), (1, 0)]),  # clockwise
        shapely.Polygon([(0, 0), (2, 0), (0.5, 0.5), (0, 2)]),  # an arrowhead
        shapely.Polygon([(0, 0), (1, 0), (2, 0), (0, 1)]),  # a corner that is none
        shapely.box(0, 0, 4, 4) - shapely.box(1, 1, 2, 2),
        shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)]),
        shapely.box(0, 0, 1, 1).buffer(1.0),
        shapely.Polygon(),
    ]
    around = Shapes.of(np.full(len(shapes), shapely.box(-9, -9, 9, 9)))
    assert area_within(around, Shapes.of(np.array(shapes)))[:2].tolist() == [0.5, 0.5]
    assert np.isnan(area_within(around, Shapes.of(np.array(shapes)))[2:]).all()


def test_an_outline_that_goes_round_twice_is_not_convex() -> None:
    star = np.array([[np.cos(turn), np.sin(turn)] for turn in np.arange(5) * 0.8 * np.pi])
    loop = np.array([[np.cos(turn), np.sin(turn)] for turn in np.arange(5) * 0.4 * np.pi])
    rings = [rings_of(shapely.polygons([xy])) for xy in (star, loop)]
    assert [ring.convex.tolist() for ring in rings] == [[False], [True]]
