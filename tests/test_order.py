"""Quick orders against numpy's own sort by several columns."""

import numpy as np
import pytest

from siteaxo.view.order import by_group, heads, in_order


@pytest.mark.parametrize("groups", [1, 7, 5000])
def test_rows_come_by_group_then_by_value(groups):
    rng = np.random.default_rng(groups)
    group, value = rng.integers(0, groups, 20_000), rng.uniform(-0.2, 1.2, 20_000)
    value[::7] = value[3]  # some are equal
    value[1::7] = value[3] + rng.integers(-3, 4, len(value[1::7])) * 2.0**-52  # and some nearly
    found, expected = by_group(group, value), np.lexsort((value, group))
    assert sorted(found.tolist()) == list(range(len(group)))
    assert group[found].tolist() == group[expected].tolist()
    assert value[found].tolist() == value[expected].tolist()


def test_groups_and_values_too_large_to_be_packed():
    group, value = np.array([2**40, 0, 2**40]), np.array([0.5, 9.0, 0.25])
    assert by_group(group, value).tolist() == [1, 2, 0]
    assert by_group(np.zeros(3, dtype=np.int64), np.array([7.0, -80.0, 6.0])).tolist() == [1, 2, 0]


def test_no_rows():
    none = np.zeros(0, dtype=np.int64)
    assert by_group(none, none).tolist() == heads(none).tolist() == []


def test_heads_are_where_a_run_begins():
    group = np.array([4, 4, 1, 1, 1, 4])
    assert np.flatnonzero(heads(group)).tolist() == [0, 2, 5]


@pytest.mark.parametrize("groups", [1, 300, 2**31])
def test_rows_of_a_group_stay_as_they_stand(groups):
    group = np.random.default_rng(5).integers(0, groups, 30_000)
    for some in (group, group.astype(np.int32), group - 1, group << 31, group[:0]):
        assert in_order(some).tolist() == np.argsort(some, kind="stable").tolist()
