"""Which way three points turn: exact, against rational arithmetic."""

from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from siteaxo.solids.exact import GRID, on_grid, turn

CELLS = st.integers(min_value=-(2**50), max_value=2**50)


@settings(max_examples=300, deadline=None)
@given(st.lists(CELLS, min_size=6, max_size=6))
def test_the_sign_is_that_of_rational_arithmetic(cells):
    a, b, c = (np.array([[x * GRID, y * GRID]]) for x, y in zip(cells[::2], cells[1::2], strict=True))
    (ax, ay), (bx, by), (cx, cy) = ([Fraction(float(v)) for v in p[0]] for p in (a, b, c))
    exact = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    assert np.sign(turn(a, b, c)[0]) == (exact > 0) - (exact < 0)


def test_a_point_one_cell_off_a_long_line():
    a, b = np.array([[0.0, 0.0]]), np.array([[300.0, 100.0]])
    on = np.array([[150.0, 50.0]])
    assert turn(a, b, on)[0] == 0
    cell = np.array([[0, GRID]])
    assert turn(a, b, on + cell)[0] > 0 > turn(a, b, on - cell)[0]


def test_rounding_moves_a_point_by_half_a_cell_at_most():
    points = np.random.default_rng(4).uniform(-1e5, 1e5, (1000, 2))
    rounded = on_grid(points)
    assert np.abs(rounded - points).max() <= GRID / 2
    assert np.array_equal(on_grid(rounded), rounded)
