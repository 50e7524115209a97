"""Polygons of very many corners in small parts, and occluders reduced to what lies near."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.chips import chips
from siteaxo.view.local import MANY, near_regions


def star(corners: int, seed: int, *, holed: bool = False) -> shapely.Polygon:
    """A ring that winds in and out at random, and a hole of the same shape a third as large."""
    rng = np.random.default_rng(seed)
    t = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    xy = rng.uniform(8.0, 12.0, corners)[:, None] * np.column_stack([np.cos(t), np.sin(t)])
    return shapely.Polygon(xy, [xy[::-1] / 3] if holed else None)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("most", [40, 256])
def test_chips_cover_their_polygon_once(seed, most):
    """Area against the shoelace sum of the whole; union against the whole by GEOS."""
    whole = np.array([star(900, seed), star(700, seed + 9, holed=True), shapely.box(0, 0, 1, 1)])
    parts, owner = chips(whole, most=most)
    assert shapely.get_num_coordinates(parts).max() <= most
    assert shapely.is_valid(parts).all()
    for k, polygon in enumerate(whole):
        mine = parts[owner == k]
        assert shapely.area(mine).sum() == pytest.approx(polygon.area, rel=1e-12)
        assert shapely.symmetric_difference(shapely.union_all(mine), polygon).area < 1e-9


def test_small_polygons_and_none_stay_as_they_are():
    boxes = np.array([shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)])
    parts, owner = chips(boxes)
    assert parts.tolist() == boxes.tolist()
    assert owner.tolist() == [0, 1]
    assert [len(table) for table in chips(np.empty(0, dtype=object))] == [0, 0]


def test_corners_that_all_lie_in_one_place_do_not_go_on_for_ever():
    t = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    speck = shapely.Polygon(1e6 + 1e-9 * np.column_stack([np.cos(t), np.sin(t)]))
    assert len(chips(np.array([speck]))[0]) < 2000


def test_halving_ends_where_no_part_can_be_small_enough():
    corner = np.random.default_rng(1).uniform(0, 1, (2, 50))
    parts, owner = chips(shapely.box(*corner, 2, 3), most=0)
    assert len(parts) <= 2 * 5 * 50
    whole = (2 - corner[0]) * (3 - corner[1])
    assert np.bincount(owner, shapely.area(parts)) == pytest.approx(whole, rel=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_a_reduced_occluder_is_the_same_near_what_it_hides(seed):
    rng = np.random.default_rng(seed)
    region, small = star(4000, seed, holed=True), shapely.box(0, 0, 3, 2)
    corner = rng.uniform(-13, 12, (60, 2))
    faces = shapely.box(*corner.T, *(corner + rng.uniform(0.05, 2.0, (60, 2))).T)
    regions = np.array([region, small] * 30)
    near = near_regions(regions, shapely.bounds(faces))
    left, expected = shapely.difference(faces, near), shapely.difference(faces, regions)
    assert shapely.area(shapely.symmetric_difference(left, expected)).max() < 1e-12
    assert near[1] is small
    assert np.mean(shapely.get_num_coordinates(near[::2]) < MANY) > 0.3
