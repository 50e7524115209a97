"""The highest of many segments over columns, against plain double loops."""

import numpy as np
import pytest
import shapely

from siteaxo.diagram.clearance import Outline, least_shift, outline_of
from siteaxo.diagram.envelope import highest_over


def one_by_one(ends, x):
    """Height over each column, segment by segment."""
    found = []
    for at in x:
        highest = -np.inf
        for (x0, y0), (x1, y1) in ends:
            if min(x0, x1) <= at <= max(x0, x1):
                share = (at - x0) / (x1 - x0) if x1 != x0 else 0.0
                highest = max(highest, y0 + share * (y1 - y0), y1 if x1 == x0 else -np.inf)
        found.append(highest)
    return np.array(found)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("reach", [0.3, 20.0])
def test_heights_are_those_of_a_plain_loop(seed, reach):
    rng = np.random.default_rng(seed)
    start = rng.uniform(-30, 30, (rng.integers(1, 60), 2))
    ends = np.stack([start, start + rng.normal(0, reach, start.shape)], axis=1)
    ends[::5, 1, 0] = ends[::5, 0, 0]  # upright
    ends[::7, :, 1] = 4.0  # level, and at one height
    x = np.unique(np.concatenate([ends[:, :, 0].ravel(), rng.uniform(-40, 40, 21)]))
    assert highest_over(ends, x) == pytest.approx(one_by_one(ends, x), abs=1e-9)


@pytest.mark.parametrize("columns", [1, 2, 3, 4, 5, 17])
def test_any_number_of_columns_will_do(columns):
    x = np.arange(float(columns))
    ends = np.array([[[0.0, 1.0], [columns - 1.0, float(columns)]], [[2.0, 9.0], [2.5, 8.0]]])
    expected = x + 1
    expected[x == 2] = 9.0
    if columns == 1:
        expected[0] = 1.0
    assert highest_over(ends, x).tolist() == expected.tolist()


def test_what_spans_no_column_is_nowhere():
    between = np.array([[[0.2, 5.0], [0.8, 5.0]]])
    assert highest_over(between, np.array([0.0, 1.0])).tolist() == [-np.inf, -np.inf]


@pytest.mark.parametrize("seed", range(6))
def test_least_shift_is_that_of_a_plain_loop(seed):
    rng = np.random.default_rng(seed)
    below, above = (outline_of(shapely.buffer(shapely.points(rng.uniform(0, 20, (9, 2))), 1.7)) for _ in "ab")
    x = np.unique(np.concatenate([below.ends[:, :, 0].ravel(), above.ends[:, :, 0].ravel()]))
    plain = one_by_one(below.ends, x) + one_by_one(above.ends * [1, -1], x)
    shift = least_shift(below, above)
    assert shift == pytest.approx(plain.max(), abs=1e-9)
    moved = above.moved(shift)
    assert least_shift(below, moved) == pytest.approx(0.0, abs=1e-9)


def test_least_shift_of_a_crowd_is_that_of_its_members():
    rng = np.random.default_rng(5)
    place = rng.uniform(0, 300, (400, 2))
    boxes = shapely.box(place[:, 0], place[:, 1], place[:, 0] + 0.5, place[:, 1] + 1.7)
    crowd = outline_of(boxes)
    ground = Outline(ends=np.array([[[-1.0, 0.0], [301.0, 60.4]]]))
    edge = (place[:, 0] + 0.5 + 1) * 0.2  # of the slope, at the right foot of each
    assert least_shift(ground, crowd) == pytest.approx((edge - place[:, 1]).max(), abs=1e-9)
