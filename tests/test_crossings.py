"""Crossings of outlines, against the library's points of intersection and point-in-polygon."""

import numpy as np
import pytest
import shapely

from siteaxo.view import crossings
from siteaxo.view.crossings import Outlines, meeting_of
from siteaxo.view.rings import rings_of


def triangles(seed: int, count: int = 400) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    shapes = shapely.polygons(rng.uniform(0, 10, (2 * count, 3, 2)))
    good = shapely.area(shapes) > 0.5
    good = good[:count] & good[count:]
    return shapes[:count][good], shapes[count:][good]


def compared(first: np.ndarray, second: np.ndarray):
    one, two = (Outlines.of(rings_of(shapes), len(shapes)) for shapes in (first, second))
    return one, two, meeting_of(one, two)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("chunk", [40, 1 << 15])
def test_every_crossing_is_found(seed, chunk, monkeypatch):
    monkeypatch.setattr(crossings, "CHUNK", chunk)
    first, second = triangles(seed)
    one, two, found = compared(first, second)
    assert found.plain.all()
    points = shapely.intersection(shapely.boundary(first), shapely.boundary(second))
    assert np.bincount(one.row[found.at.one], minlength=len(first)).tolist() == (
        shapely.get_num_coordinates(points).tolist()
    )
    here = one.xy[found.at.one] + found.at.t[:, None] * one.step[found.at.one]
    there = two.xy[found.at.two] + found.at.u[:, None] * two.step[found.at.two]
    assert here == pytest.approx(there, abs=1e-9)
    assert shapely.distance(shapely.points(here), points[one.row[found.at.one]]).max() < 1e-9


def test_corners_inside_and_ways_out():
    first, second = triangles(5)
    one, two, found = compared(first, second)
    assert found.inside_one.tolist() == shapely.contains_xy(second[one.row], *one.xy.T).tolist()
    assert found.inside_two.tolist() == shapely.contains_xy(first[two.row], *two.xy.T).tolist()
    beyond = one.xy[found.at.one] + (found.at.t + 1e-7)[:, None] * one.step[found.at.one]
    assert found.at.out.tolist() == (~shapely.contains_xy(second[one.row[found.at.one]], *beyond.T)).tolist()


@pytest.mark.parametrize("swap", [False, True])
def test_most_sides_of_one_lie_beyond_the_other(swap):
    rng = np.random.default_rng(4)
    angle, reach = np.arange(40) * np.pi / 20, rng.uniform(2, 10, (300, 40))
    stars = shapely.polygons(np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=2))
    left, bottom = rng.uniform(-9, 8, (2, 300))
    small = shapely.box(left, bottom, left + 1.0, bottom + 1.0)
    first, second = (small, stars) if swap else (stars, small)
    one, two, found = compared(first, second)
    assert found.plain.all()
    assert found.inside_one.tolist() == shapely.contains_xy(second[one.row], *one.xy.T).tolist()
    assert found.inside_two.tolist() == shapely.contains_xy(first[two.row], *two.xy.T).tolist()
    points = shapely.intersection(shapely.boundary(first), shapely.boundary(second))
    assert np.bincount(one.row[found.at.one], minlength=300).tolist() == (
        shapely.get_num_coordinates(points).tolist()
    )


@pytest.mark.parametrize("shift", [0.0, 1e-6])
def test_a_corner_on_a_side_is_not_plain(shift):
    square, wedge = shapely.box(0, 0, 4, 4), shapely.Polygon([(4 + shift, 2), (8, 0), (8, 4)])
    assert not compared(np.array([square]), np.array([wedge]))[2].plain.any()


def test_a_square_half_over_another():
    one, _, found = compared(np.array([shapely.box(0, 0, 4, 4)]), np.array([shapely.box(2, 1, 6, 3)]))
    points = one.xy[found.at.one] + found.at.t[:, None] * one.step[found.at.one]
    assert sorted(points.tolist()) == [[4.0, 1.0], [4.0, 3.0]]
    assert not found.inside_one.any()
    assert found.inside_two.sum() == 2
