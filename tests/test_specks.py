import numpy as np
import pytest
import shapely

from siteaxo.craft.specks import SPECK_MM, TOUCH_MM, no_specks

WALL = [[0.0, 0.0], [4.0, 0.0]]


@pytest.mark.parametrize(("length", "kept"), [(0.99, False), (1.01, True)])
@pytest.mark.parametrize("scale", [50, 200, 500])
def test_what_stands_alone_is_a_millimetre_long_or_a_speck(scale, length, kept):
    alone = [[9.0, 9.0], [9.0, 9.0 + length * SPECK_MM * scale / 1000]]
    far = [[90.0, 0.0], [290.0, 0.0]]
    assert no_specks(np.array([far, alone]), scale=scale).tolist() == [True, kept]


def test_short_pieces_of_a_long_curve_stay():
    turn = np.linspace(0, np.pi, 40)
    arc = 2.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    assert no_specks(np.stack([arc[:-1], arc[1:]], axis=1), scale=200).all()


@pytest.mark.parametrize(("gap", "kept"), [(0.9, True), (1.1, False)])
def test_what_leads_on_to_a_line_is_no_speck(gap, kept):
    """The nosing of a step ends at its cheek."""
    foot = gap * TOUCH_MM * 200 / 1000
    stub = [[2.0, foot], [2.0, foot + 0.1]]
    assert no_specks(np.array([WALL, stub]), scale=200).tolist() == [True, kept]


def test_specks_beside_each_other_are_specks():
    bits = np.array([WALL, [[2, 2], [2, 2.05]], [[2.06, 2], [2.06, 2.05]]])
    assert no_specks(bits, scale=200).tolist() == [True, False, False]


def test_nothing_and_nothing_but_specks():
    assert no_specks(np.zeros((0, 2, 2)), scale=200).shape == (0,)
    assert no_specks(np.array([[[0, 0], [0, 0.01]]]), scale=200).tolist() == [False]


def some_lines(count=1500, seed=2):
    """Lines of many lengths, many of them nearly level or upright, so that they run beside one another."""
    rng = np.random.default_rng(seed)
    middle, length = rng.uniform(0, 90, (count, 2)), rng.exponential(3.0, count)
    bearing = np.radians(rng.choice([0.0, 90.0], count) + rng.normal(0, 3, count))
    half = length[:, None] / 2 * np.column_stack([np.cos(bearing), np.sin(bearing)])
    return np.stack([middle - half, middle + half], axis=1)


def test_specks_are_looked_for_wherever_they_may_be():
    """By hand: the distance of every end of a short line to every line."""
    lines, scale = 0.3 * some_lines(600, seed=9), 500.0
    length = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    short = np.flatnonzero(length < SPECK_MM * scale / 1000)
    long = np.flatnonzero(length >= SPECK_MM * scale / 1000)
    ends = shapely.points(lines[short])
    apart = shapely.distance(ends[:, :, None], shapely.linestrings(lines[long]))
    kept = np.ones(600, dtype=bool)
    kept[short] = (apart <= TOUCH_MM * scale / 1000).any(axis=(1, 2))
    assert 10 < kept[short].sum() < len(short) - 10
    np.testing.assert_array_equal(no_specks(lines, scale=scale), kept)


def test_a_point_of_no_extent_is_found_too():
    lines = np.array([[[5.0, 5.0], [9.0, 5.0]], [[5.0, 5.0], [5.0, 5.0]], [[1.0, 1.0], [1.0, 1.0]]])
    assert no_specks(lines, scale=200).tolist() == [True, True, False]
    assert no_specks(lines[:2], scale=200).tolist() == [True, True]
