"""Room for words where nothing is drawn yet."""

import numpy as np
import pytest
import shapely

from siteaxo.sheet.placing import Room
from siteaxo.sheet.reaching import reached

NOTHING = np.empty(0, dtype=object)


def room():
    lines = shapely.linestrings([[(0, 0), (10, 0)]])
    return Room(lines=lines, areas=NOTHING, quiet=np.zeros(0, dtype=bool), window=(-20, -20, 20, 20))


def test_a_drawing_of_lines_only():
    """There is no area to write on, and bare paper beside it."""
    target, size, reach = np.array([[5.0, 0.0]]), np.array([3.0, 1.0]), np.array([2.0, 4.0])
    box, leader = reached(room(), target, size, reach, 0.1)
    assert shapely.distance(shapely.box(*box), shapely.LineString([(0, 0), (10, 0)])) > 0
    assert np.allclose(leader[0], target)


def beside_a_hut(*built):
    return Room(
        lines=NOTHING,
        areas=NOTHING,
        quiet=np.zeros(0, dtype=bool),
        window=(-20, -20, 20, 20),
        built=np.array(built, dtype=object),
        gap=0.1,
    )


def test_leaders_go_round_buildings_but_their_own():
    """Two faces of a hut, side by side, east of a place and under another."""
    hut = shapely.box(2, -1, 3, 1), shapely.box(3, -1, 4, 1)
    room = beside_a_hut(*hut)
    east, west, along = [[0, 0], [6, 0]], [[0, 0], [-6, 0]], [[0, 0], [6, 3.2]]
    assert room.goes_round(np.array([east, west, along], dtype=float)).tolist() == [
        False,
        True,
        True,
    ]
    out = np.array([[[2.5, 0], [6, 0]]], dtype=float)
    assert room.goes_round(out).tolist() == [True]
    behind = beside_a_hut(*hut, shapely.box(5, -1, 5.5, 1))
    assert behind.goes_round(out).tolist() == [False]


def test_a_place_on_the_side_of_a_building_is_none_of_it():
    """From its corner a leader may run away from it, but not along its side, where it is lost, nor across."""
    room = beside_a_hut(shapely.box(2, -1, 4, 1))
    corner = np.array([2.0, 1.0])
    ways = np.array([[corner, [0, 3]], [corner, [6, 1]], [corner, [6, -1]]], dtype=float)
    assert room.goes_round(ways).tolist() == [True, False, False]


def test_a_leader_crosses_a_building_where_there_is_no_other_place():
    """
    The first direction that is tried is 45 degrees; a hut in the way turns the leader aside.

    A wall of huts all round leaves nothing but to cross one.
    """
    target, size, reach = np.zeros((1, 2)), np.array([3.0, 1.0]), np.array([6.0])
    plain = reached(beside_a_hut(), target, size, reach, 0.1)
    assert plain[1][1] == pytest.approx([6 / np.sqrt(2)] * 2)
    hut = beside_a_hut(shapely.box(1, 1, 2, 2))
    _, leader = reached(hut, target, size, reach, 0.1, around=True)
    assert not shapely.LineString(leader).intersects(shapely.box(1, 1, 2, 2))
    ring = beside_a_hut(shapely.Point(0, 0).buffer(3) - shapely.Point(0, 0).buffer(2))
    assert reached(ring, target, size, reach, 0.1, around=True) is None
