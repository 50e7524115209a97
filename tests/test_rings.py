"""Polygons taken apart into rings and put together again, against the library's own areas."""

import numpy as np
import pytest
import shapely

from siteaxo.view.rings import cycles, linked, polygons_of, rings_of

SQUARE = [(0, 0), (4, 0), (4, 4), (0, 4)]
FRAME = shapely.Polygon(SQUARE, [[(1, 1), (1, 3), (3, 3), (3, 1)]])


def blots(seed: int, count: int = 60) -> np.ndarray:
    """Unions of circles less a circle: of one part or many, some with holes, some empty."""
    rng = np.random.default_rng(seed)
    spots = shapely.buffer(shapely.points(rng.uniform(0, 10, (count, 4, 2))), rng.uniform(0.5, 3, (count, 4)))
    hole = shapely.buffer(shapely.points(rng.uniform(3, 7, (count, 2))), rng.uniform(0.1, 4, count))
    return shapely.difference(shapely.union_all(spots, axis=1), hole)


@pytest.mark.parametrize("seed", range(3))
def test_signed_areas_add_up_to_the_area(seed):
    shapes = blots(seed)
    rings = rings_of(shapes)
    found = np.bincount(rings.row, rings.areas, minlength=len(shapes))
    assert found == pytest.approx(shapely.area(shapes), abs=1e-11)
    assert len(rings) == shapely.get_num_interior_rings(shapely.get_parts(shapes)).sum() + len(
        shapely.get_parts(shapes)
    )


def test_the_inside_lies_to_the_left_whichever_way_rings_are_given():
    for polygon in (FRAME, shapely.reverse(FRAME)):
        assert rings_of(np.array([polygon])).areas.tolist() == [16.0, -4.0]


@pytest.mark.parametrize("seed", range(3))
def test_put_together_again(seed):
    shapes = blots(seed)
    made, area, sure = polygons_of(rings_of(shapes), len(shapes))
    assert area == pytest.approx(shapely.area(shapes), abs=1e-11)
    holes = np.array([sum(len(p.interiors) for p in shapely.get_parts(shape)) for shape in shapes])
    assert sure.tolist() == ((holes == 0) | (shapely.get_num_geometries(shapes) == 1)).tolist()
    assert shapely.equals(made[sure], shapes[sure]).all()


def test_a_ring_without_area_is_not_answered():
    rings = linked(np.array([[0, 0], [1, 0], [2, 0.0]]), np.zeros(3, dtype=np.int64), np.array([1, 2, 0]))
    assert not polygons_of(rings, 1)[2].any()


def test_cycles_of_a_random_permutation():
    """Against following the permutation one step at a time."""
    following = np.random.default_rng(2).permutation(300)
    name, turn = cycles(following)
    for item in range(300):
        seen, here = [item], following[item]
        while here != item:
            seen.append(here)
            here = following[here]
        assert name[item] == min(seen)
        assert turn[item] == (-seen.index(min(seen))) % len(seen)


def test_linked_points_make_rings_by_row():
    points = np.array([[0, 0], [9, 9], [1, 0], [9, 8], [0, 1], [8, 8.0]])
    rings = linked(points, np.array([0, 1, 0, 1, 0, 1]), np.array([2, 5, 4, 1, 0, 3]))
    assert rings.row.tolist() == [0, 1]
    assert rings.count.tolist() == [3, 3]
    assert rings.areas.tolist() == [0.5, 0.5]
