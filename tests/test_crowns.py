"""What is seen of crowns: their visible parts joined, each run for itself."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.crowns import _joined


def joined(*runs):
    count = np.array([len(run) for run in runs])
    parts = np.array([part for run in runs for part in run], dtype=object)
    return _joined(parts, np.cumsum(count) - count, count)


def test_parts_side_by_side_become_one_and_parts_apart_stay_two():
    beside, apart = joined(
        [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 3, 1)],
        [shapely.box(0, 0, 1, 1), shapely.box(5, 0, 6, 1), shapely.box(6, 0, 7, 2)],
    )
    assert beside.equals(shapely.box(0, 0, 3, 1))
    assert shapely.get_num_geometries(apart) == 2
    assert apart.area == pytest.approx(4.0)


def test_parts_of_several_pieces_are_joined_piece_by_piece():
    pieces = shapely.union(shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1))
    (whole,) = joined([pieces, shapely.box(1, 0, 2, 1)])
    assert whole.equals(shapely.box(0, 0, 3, 1))


def test_parts_that_overlap_are_counted_once():
    """Two squares of 2 m that share a quarter cover 2 × 4 − 1 = 7 m²."""
    once, plain = joined(
        [shapely.box(0, 0, 2, 2), shapely.box(1, 1, 3, 3)], [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)]
    )
    assert once.area == pytest.approx(7.0)
    assert plain.area == pytest.approx(2.0)


def test_runs_of_different_length_keep_their_places():
    fan = [shapely.box(k, 0, k + 1, 1) for k in range(6)]
    whole = joined(fan, fan[:1])
    assert shapely.is_valid(whole).all()
    assert shapely.area(whole).tolist() == pytest.approx([6.0, 1.0])
