"""Lines and points noded into a net: nodes, levels, and who is heard where they disagree."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.exact import GRID
from siteaxo.solids.network import network, noded

NONE = np.zeros((0, 3))


def line(*points):
    return shapely.LineString(points)


def level_at(net, x, y):
    return net.level[np.flatnonzero((net.xy == [x, y]).all(axis=1))[0]]


def test_a_crossing_is_a_node_with_the_level_of_the_first_line():
    lines = np.array([line((0, 5, 2), (10, 5, 4)), line((5, 0, 7), (5, 10, 7))])
    net = network(lines, NONE)
    assert len(net.xy) == 5
    assert len(net.segment) == 4
    assert level_at(net, 5, 5) == pytest.approx(3.0, abs=1e-12)
    clash = net.conflict
    assert (clash.kept.tolist(), clash.dropped.tolist()) == ([0], [1])
    assert (clash.kept_level[0], clash.dropped_level[0]) == (pytest.approx(3.0), 7.0)
    assert clash.xy.tolist() == [[5.0, 5.0]]


def test_lines_that_agree_where_they_cross_make_no_conflict():
    lines = np.array([line((0, 5, 2), (10, 5, 4)), line((5, 0, 3), (5, 10, 3.0005))])
    assert not len(network(lines, NONE).conflict.kept)


def test_a_point_on_a_line_becomes_its_node_and_gives_way():
    net = network(np.array([line((0, 0, 1), (4, 0, 1))]), np.array([[1.0, 0, 9], [2, 3, 5]]))
    assert len(net.xy) == 4
    assert len(net.segment) == 2
    assert level_at(net, 1, 0) == 1.0  # the line was there first
    assert net.conflict.dropped_level.tolist() == [9.0]
    assert level_at(net, 2, 3) == 5.0


def test_equal_points_of_different_levels_are_a_conflict():
    net = network(np.zeros(0, dtype=object), np.array([[0.0, 0, 1], [0, 0, 2], [1, 0, 1], [0, 1, 1]]))
    assert len(net.xy) == 3
    assert net.conflict.kept.tolist() == [0]
    assert net.conflict.dropped.tolist() == [1]


def test_collinear_overlaps_are_cut_up_once():
    pieces = noded(np.array([[[0.0, 0], [6, 0]], [[2.0, 0], [9, 0]]]), np.zeros((0, 2)))
    lengths = sorted(np.hypot(*(pieces[:, 1] - pieces[:, 0]).T).tolist())
    assert lengths == [2.0, 3.0, 4.0]


def test_ends_of_known_lines_keep_their_levels():
    """A needle: its tip lies a step of the grid beside a side that comes first, at another level."""
    lines = np.array(
        [line((0, 0, 1), (8, 0, 1)), line((4, GRID, 2), (4, 5, 2)), line((4, GRID, 2), (6, 5, 2))]
    )
    assert level_at(network(lines, NONE, known=3), 4, GRID) == 2.0
