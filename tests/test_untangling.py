"""Outlines that cross themselves, against the union of what they go round."""

import numpy as np
import pytest
import shapely

from siteaxo.view.rings import Rings, rings_of
from siteaxo.view.untangling import untangled


def joined(loops: list[np.ndarray], row: list[int]) -> Rings:
    start = np.cumsum([0] + [len(loop) for loop in loops])
    return Rings(xy=np.concatenate(loops).astype(float), start=start, row=np.array(row))


@pytest.mark.parametrize("seed", range(4))
def test_two_outlines_that_cross_make_their_union(seed):
    """Random triangles in pairs, both anticlockwise; the union is the library's."""
    rng = np.random.default_rng(seed)
    shapes = shapely.orient_polygons(shapely.polygons(rng.uniform(0, 10, (300, 2, 3, 2))))
    shapes = shapes[(shapely.area(shapes) > 0.5).all(axis=1)]
    rings = rings_of(shapes.ravel())
    loops = Rings(xy=rings.xy, start=rings.start, row=rings.row // 2)
    shape, sure = untangled(loops, len(shapes))
    expected = shapely.union_all(shapes, axis=1)
    assert sure.mean() > 0.9
    assert shapely.area(shapely.symmetric_difference(shape[sure], expected[sure])).max() < 1e-9
    assert shapely.is_valid(shape[sure]).all()


def test_a_loop_that_comes_round_twice():
    """A five-pointed star drawn in one stroke goes twice round its middle."""
    t = np.pi / 2 + np.arange(5) * 4 * np.pi / 5
    star = np.column_stack([np.cos(t), np.sin(t)])
    shape, sure = untangled(joined([star], [0]), 1)
    inner = np.sin(np.pi / 10) / np.sin(7 * np.pi / 10)  # radius of the inner corners, law of sines
    assert sure.tolist() == [True]
    assert shape[0].area == pytest.approx(5 * inner * np.sin(np.pi / 5), rel=1e-12)


def test_outlines_of_different_rows_do_not_meet():
    square = np.array([[0, 0], [4, 0], [4, 4], [0, 4]])
    shape, sure = untangled(joined([square, square + 2], [0, 1]), 2)
    assert sure.all()
    assert shapely.area(shape).tolist() == [16.0, 16.0]


@pytest.mark.parametrize(
    "other",
    [[[2, 0], [4, 0], [4, -3], [2, -3]], [[4, 4], [8, 4], [8, 8], [4, 8]], [[1, 4 - 1e-7], [3, 2], [3, 6]]],
    ids=["a common side", "a common corner", "a hair"],
)
def test_what_touches_is_not_answered(other):
    square, other = np.array([[0, 0], [4, 0], [4, 4], [0, 4]]), np.array(other)
    assert not untangled(joined([square, other], [0, 0]), 1)[1].any()
