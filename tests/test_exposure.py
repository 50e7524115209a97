"""What of upright faces stands free."""

import numpy as np
import pytest
import shapely
from solidity import stacked

from siteaxo.measure.exposure import exposure


def free(stack):
    """Area and length that stand free, by feature."""
    found = exposure(stack)
    row = stack.solid_feature[stack.scene.faces.solid[found.face]]
    count = len(stack.features)
    return np.bincount(row, found.area, count), np.bincount(row, found.length, count)


def block(x0, x1, y0, y1, base, top, role="structure", **more):
    return {"role": role, "geometry": shapely.box(x0, y0, x1, y1), "base": base, "top": top, **more}


def test_a_block_alone():
    area, length = free(stacked(block(0, 4, 0, 3, 0, 2)))
    assert (area[0], length[0]) == pytest.approx((28, 14))


def test_two_blocks_side_by_side():
    area, length = free(stacked(block(0, 4, 0, 3, 0, 2), block(4, 8, 0, 3, 0, 3)))
    assert area.tolist() == pytest.approx([22, 3 * 14 - 6])
    assert length.tolist() == pytest.approx([11, 14])


def test_a_gap_is_no_contact():
    area, _ = free(stacked(block(0, 4, 0, 3, 0, 2), block(4.01, 8, 0, 3, 0, 2)))
    assert area[0] == pytest.approx(28)


def test_a_wall_let_into_a_terrace():
    # Terrace up to 1 m, its south side behind a wall 0.3 m thick from 0 to 1.5 m that stands in it.
    terrace = block(0, 10, 0, 5, 0, 1, role="terrace")
    wall = block(0, 10, 0, 0.3, 0, 1.5, role="wall")
    area, length = free(stacked(terrace, wall))
    assert area[1] == pytest.approx(10 * 1.5 + 10 * 0.5 + 2 * 0.3 * 1.5 - 0)
    # Of the terrace its north side and what the wall leaves of the others.
    assert area[0] == pytest.approx(10 * 1 + 2 * 4.7 * 1)
    assert length[0] == pytest.approx(10 + 2 * 4.7)


def test_flush_at_an_angle():
    # Two triangles that make a square: the diagonal is free on neither side.
    one = {"role": "structure", "base": 0, "top": 2, "geometry": shapely.Polygon([(0, 0), (4, 0), (4, 4)])}
    two = {"role": "structure", "base": 0, "top": 2, "geometry": shapely.Polygon([(0, 0), (4, 4), (0, 4)])}
    area, _ = free(stacked(one, two))
    assert area.tolist() == pytest.approx([16, 16], abs=2e-2)  # a millimetre at each corner


def test_water_covers_nothing():
    basin = block(0, 1, 0, 4, 0, 1, role="wall")
    water = block(1, 5, 0, 4, 0, 0.8, role="water")
    area, _ = free(stacked(basin, water))
    assert area[0] == pytest.approx(10)


def test_a_flight_against_a_wall():
    # Four risers of 0.15 m, treads of 0.3 m; its flank on the wall is free on neither side.
    ground = block(-5, 5, -5, 5, -1, 0, role="terrace")
    high = block(0, 5, 0.9, 5, -1, 0.6, role="terrace", id="high")
    flight = {"role": "steps", "geometry": shapely.box(2, 0, 4, 0.9), "base": 0.0, "top": 0.6}
    wall = block(4, 4.5, 0, 0.9, 0, 2, role="wall")
    area, _ = free(stacked(ground, high, flight, wall))
    flank = 0.3 * (0.15 + 0.30 + 0.45)
    assert area[2] - 3 * 0.15 * 2 == pytest.approx(flank, abs=0.31)  # one flank, and the risers


def test_a_block_in_sloping_ground():
    # Ground z = x / 10 over 0 ≤ x ≤ 20; a block from 5 to 10 up to 3 m stands in it at its lowest level.
    xy = np.array([(x, y) for x in (0, 10, 20) for y in (0, 10, 20)], dtype=float)
    spots = [
        {"role": "spot level", "geometry": shapely.Point(x, y), "top": x / 10, "base": x / 10} for x, y in xy
    ]
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 20, 20)}
    hut = {"role": "structure", "geometry": shapely.box(5, 5, 10, 10), "height": 2.5}
    stack = stacked(*spots, ground, hut)
    row = int(np.flatnonzero(stack.features.of_role("name") == "structure")[0])
    area, _ = free(stack)
    # West and east sides 5 × (3 − 0.5) and 5 × (3 − 1); north and south 5 × (3 − 0.75) each.
    assert area[row] == pytest.approx(5 * 2.5 + 5 * 2.0 + 2 * 5 * 2.25, abs=0.02)
