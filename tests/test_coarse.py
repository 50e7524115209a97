"""A coarse look at what may lie near what: it never misses anything, and leaves out most of the rest."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.coarse import may_lie_near


def lines(rng, count, *, wide, long):
    begin = rng.uniform(0, wide, (count, 1, 2))
    return np.concatenate([begin, begin + rng.uniform(-long, long, (count, 1, 2))], axis=1)


@pytest.mark.parametrize("seed", range(8))
def test_nothing_that_lies_near_is_missed(seed):
    rng = np.random.default_rng(seed)
    ends, others = lines(rng, 2000, wide=800, long=20), lines(rng, 30, wide=900, long=3)
    reach = float(rng.uniform(0, 5))
    told = may_lie_near(ends, others, reach)
    distance = shapely.distance(shapely.linestrings(ends)[:, None], shapely.linestrings(others)[None, :])
    assert told[(distance <= reach).any(axis=1)].all()
    assert told.mean() < 0.5


def test_lines_of_no_extent_and_none_at_all():
    spot = np.zeros((1, 2, 2))
    assert may_lie_near(spot, spot, 0.0).tolist() == [True]
    assert may_lie_near(spot, spot[:0], 1.0).tolist() == [False]
    assert may_lie_near(spot[:0], spot, 1.0).tolist() == []


def test_what_lies_beyond_the_grid_is_near_its_rim_only():
    ends = np.arange(100.0)[:, None, None] + np.array([[[0, 0], [0.5, 0.5]]])
    told = may_lie_near(ends, np.array([[[101.0, 101], [103, 103]]]), 3.0)
    assert told[98:].all()
    assert not told[:80].any()
