"""Points near one another, against the tree of a library."""

import numpy as np
import pytest
import shapely

from siteaxo.craft import near
from siteaxo.craft.near import near_points


def found(xy, others, reach):
    pairs = [np.stack(pair) for pair in near_points(xy, others, reach)]
    both = np.concatenate([np.zeros((2, 0), dtype=np.int64), *pairs], axis=1)
    return both[:, np.lexsort(both[::-1])].tolist()


@pytest.mark.parametrize("chunk", [1, 500, 1 << 20])
@pytest.mark.parametrize("reach", [0.3, 2.0, 90.0])
def test_the_same_pairs_as_shapely_finds(chunk, reach, monkeypatch):
    monkeypatch.setattr(near, "CHUNK", chunk)
    rng = np.random.default_rng(8)
    xy = rng.uniform(-20, 30, (500, 2))
    others = np.concatenate([rng.uniform(-5, 60, (200, 2)), xy[:40], xy[:3] + np.array([reach, 0.0])])
    tree = shapely.STRtree(shapely.points(others))
    want = tree.query(shapely.points(xy), predicate="dwithin", distance=reach)
    clear = np.abs(np.hypot(*(xy[want[0]] - others[want[1]]).T) - reach) > 1e-9  # not to the last bit
    got = np.array(found(xy, others, reach))
    sure = np.abs(np.hypot(*(xy[got[0]] - others[got[1]]).T) - reach) > 1e-9
    want = want[:, clear]
    assert got[:, sure].tolist() == want[:, np.lexsort(want[::-1])].tolist()


def test_nothing_is_near_nothing():
    none = np.zeros((0, 2))
    assert found(none, np.zeros((3, 2)), 1.0) == [[], []]
    assert found(np.zeros((3, 2)), none, 1.0) == [[], []]
