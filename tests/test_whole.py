"""Which pieces of lines are one line, straight or bending, and how far one goes over short gaps."""

import numpy as np
import pytest

from siteaxo.craft.whole import ASIDE, bridged, spans, whole_lines


def turned(lines, turn):
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return np.array(lines, dtype=float) @ np.array([[c, s], [-s, c]])


def groups(numbers) -> list[list[int]]:
    return sorted(np.flatnonzero(numbers == one).tolist() for one in np.unique(numbers))


@pytest.mark.parametrize("turn", [0.0, 1e-9, -1e-9, 0.05, 7.3, 45.0, 89.999, 90.0, 135.0, 179.99, 180.0])
@pytest.mark.parametrize("away", [0.0, 3000.0])
def test_pieces_along_one_straight_line_are_one(turn, away):
    """Pieces of 3 m to 1 cm, one after another, and a line 5 cm beside them."""
    pieces = [[(0, 0), (3, 0)], [(5, 0), (5.01, 1e-7)], [(60, 0), (40, 0)], [(0, 0.05), (60, 0.05)]]
    found = whole_lines(turned(pieces, turn) + away, np.zeros(4, dtype=int))
    assert groups(found.line) == groups(found.straight) == [[0, 1, 2], [3]]
    assert not found.bends.any()


def test_pieces_of_different_things_are_not_one_line():
    pieces = np.array([[[0, 0], [3, 0]], [[3, 0], [6, 0]]], dtype=float)
    assert groups(whole_lines(pieces, np.array([4, 9])).line) == [[0], [1]]
    assert groups(whole_lines(pieces, None).line) == [[0], [1]]


def test_curves_are_one_line_and_corners_are_not():
    turn = np.linspace(0, np.pi / 2, 13)
    arc = np.column_stack([np.cos(turn), np.sin(turn)])
    pieces = [*np.stack([arc[:-1], arc[1:]], axis=1), [(0, 1), (0, 5)]]
    found = whole_lines(np.array(pieces), np.zeros(13, dtype=int))
    assert groups(found.line) == [list(range(12)), [12]]
    assert found.bends.tolist() == [True] * 12 + [False]
    assert groups(found.outline) == [list(range(13))]


def test_lines_that_meet_at_corners_are_one_outline():
    square = [[(0, 0), (4, 0)], [(4, 0), (4, 4)], [(4, 4), (0, 4)], [(0, 4), (0, 0)], [(0, 9), (4, 9)]]
    found = whole_lines(np.array(square, dtype=float), np.zeros(5, dtype=int))
    assert groups(found.line) == [[0], [1], [2], [3], [4]]
    assert groups(found.outline) == [[0, 1, 2, 3], [4]]


@pytest.mark.parametrize("aside", [0.2, 0.45, 3.0])
def test_what_lies_a_hair_aside_is_along_one_line(aside):
    pieces = np.array([[[0, 0], [3, 0]], [[4, aside * ASIDE], [9, aside * ASIDE]]], dtype=float)
    one = len(np.unique(whole_lines(pieces, np.zeros(2, dtype=int)).line)) == 1
    assert one == (aside < 1)


@pytest.mark.parametrize("turn", [0.0, 50.0, 187.0])
def test_short_gaps_are_bridged_whichever_way_pieces_run(turn):
    pieces = turned([[(0, 0), (4, 0)], [(9, 0), (4.2, 0)], [(9.6, 0), (12, 0)]], turn)
    straight = whole_lines(pieces, np.zeros(3, dtype=int)).straight
    expected = turned([[(0, 0), (4.1, 0)], [(9, 0), (4.1, 0)], [(9.6, 0), (12, 0)]], turn)
    assert bridged(pieces, straight, np.full(3, 0.5)) == pytest.approx(expected)


def test_boxes_are_about_whole_lines():
    pieces = np.array([[[0, 0], [4, 1]], [[7, -1], [6, 5]], [[1, 1], [2, 2]]], dtype=float)
    low, high, longest = spans(pieces, np.array([3, 3, 8]))
    assert low.tolist() == [[0, -1], [0, -1], [1, 1]]
    assert high.tolist() == [[7, 5], [7, 5], [2, 2]]
    assert longest == pytest.approx([np.hypot(1, 6)] * 2 + [np.sqrt(2)])


def test_nothing_is_no_trouble():
    assert not len(whole_lines(np.zeros((0, 2, 2)), np.zeros(0, dtype=int)).line)
