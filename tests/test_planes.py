"""Levels on tops that slope, and planes through levels."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box
from solidity import features

from siteaxo.solids.planes import excess_over, levels_at, planes_through, range_over, sloping


def tilted():
    """One terrace that rises by 0.1 on a metre east and reaches 2.0 at x = 10, and a level one."""
    table = features(
        {"role": "terrace", "geometry": box(0, 0, 10, 5), "base": 0, "top": 2.0},
        {"role": "terrace", "geometry": box(0, 5, 10, 9), "base": 0, "top": 1.5},
    )
    return table.with_columns(
        slope_x=np.array([0.1, 0.0]), high_x=np.array([10.0, 0.0]), high_y=np.array([5.0, 0.0])
    )


def test_levels_at_points():
    xy = np.array([[10.0, 0.0], [0.0, 3.0], [5.0, 7.0]])
    assert levels_at(tilted(), np.array([0, 0, 1]), xy) == pytest.approx([2.0, 1.0, 1.5])
    assert sloping(tilted()).tolist() == [True, False]


def test_ranges_over_places():
    places = np.array([box(2, 1, 4, 2), box(2, 6, 4, 7), Polygon()], dtype=object)
    low, high = range_over(tilted(), np.array([0, 1, 0]), places)
    assert low == pytest.approx([1.2, 1.5, 2.0])
    assert high == pytest.approx([1.4, 1.5, 2.0])


def test_the_excess_of_one_top_over_another():
    """From 1.0 to 2.0 against 1.5: half a metre above it at the most, half a metre below it."""
    one, other = np.array([0, 1]), np.array([1, 0])
    whole = np.array([box(0, 0, 10, 5)] * 2, dtype=object)
    assert excess_over(tilted(), one, other, whole) == pytest.approx([0.5, 0.5])
    west = np.array([box(0, 0, 2, 5)], dtype=object)
    assert excess_over(tilted(), one[:1], other[:1], west) == pytest.approx([-0.3])


def test_planes_through_one_two_three_and_more_levels():
    points = np.array(
        [
            *[[5, 5, 1.0]],  # a level
            *[[0, 0, 1.0], [4, 0, 2.0]],  # falls from one to the other, level across
            *[[0, 0, 1.0], [10, 0, 2.0], [0, 10, 3.0]],
            *[[0, 0, 0.0], [2, 0, 0.0], [2, 2, 0.0], [0, 2, 0.4]],  # warped
        ]
    )
    owner = np.repeat(np.arange(4), [1, 2, 3, 4])
    shift = np.array([420000, 310000, 0])
    fit = planes_through(points + shift, owner, 4)
    assert fit.slope[:3] == pytest.approx(np.array([[0, 0], [0.25, 0], [0.1, 0.2]]), abs=1e-9)
    assert fit.off[:3] == pytest.approx(np.zeros(3), abs=1e-9)
    # z over a square with 0.4 at one corner: slopes -0.1 and 0.1, each corner 0.1 off
    assert fit.slope[3] == pytest.approx([-0.1, 0.1])
    assert fit.off[3] == pytest.approx(0.1)


def test_points_that_nearly_lie_on_a_line_do_not_tip_their_plane():
    points = np.array([[0, 0, 1.0], [5, 1e-7, 1.5], [10, 0, 2.0]])
    slope = planes_through(points, np.zeros(3, dtype=int), 1).slope[0]
    assert slope == pytest.approx([0.1, 0.0], abs=1e-6)
