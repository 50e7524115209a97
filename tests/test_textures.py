import numpy as np
import pytest

from siteaxo.craft.textures import COURSED, COURSES, TEXTURES, boards, drawn, random_courses, scattered

BOX = np.array([[0.3, -0.2, 6.1, 5.0]])


def test_random_numbers_belong_to_their_place():
    i = np.arange(1000)
    whole = drawn(i, i * 7 - 300, salt=3)
    assert (drawn(i[500:], i[500:] * 7 - 300, salt=3) == whole[500:]).all()
    assert not (drawn(i, i * 7 - 300, salt=4) == whole).any()
    assert 0 <= whole.min() < whole.max() < 1
    assert whole.mean() == pytest.approx(0.5, abs=0.03)
    assert np.histogram(whole, bins=10, range=(0, 1))[0].min() > 60


@pytest.mark.parametrize("name", [*TEXTURES, *COURSED])
def test_a_pattern_stays_where_it_is_when_the_face_grows(name):
    make = {**TEXTURES, **COURSED}[name]
    sizes = (0.35, 0.1) if name in TEXTURES else (0.9, 0.45) if name == "random courses" else (3.0, 0.15)
    small = make(*sizes, np.array([[1.0, 1.0, 6.0, 6.0]])).ab
    large = make(*sizes, np.array([[-2.0, -3.0, 11.0, 10.0]])).ab
    inner = small[((small > 1.4) & (small < 5.6)).all(axis=(1, 2))]
    assert len(inner) > 2
    for mark in inner:
        assert np.abs(large - mark).sum(axis=(1, 2)).min() < 1e-9


def test_courses_of_random_flags_have_the_mean_width():
    ab = random_courses(0.75, 0.5, np.array([[0.0, 0.0, 10.0, 80.0]])).ab
    level = np.unique(np.round(ab[ab[:, 0, 1] == ab[:, 1, 1]][:, 0, 1], 9))
    widths = np.diff(level)
    assert widths.mean() == pytest.approx(0.5, rel=0.02)
    assert len(np.unique(np.round(widths, 6))) == len(set(COURSES))


def test_lengths_of_random_flags_lie_between_half_and_one_and_a_half_times_the_mean():
    ab = random_courses(0.75, 0.5, np.array([[0.0, 0.0, 40.0, 4.0]])).ab
    upright = ab[ab[:, 0, 0] == ab[:, 1, 0]]
    for low in np.unique(upright[:, 0, 1]):
        lengths = np.diff(np.sort(upright[upright[:, 0, 1] == low][:, 0, 0]))
        assert (lengths > 0.5 * 0.75 - 1e-9).all()
        assert (lengths < 1.5 * 0.75 + 1e-9).all()
        assert lengths.std() > 0.05


def test_boards_have_one_butt_joint_to_a_length():
    ab = boards(3.6, 0.15, np.array([[0.0, 0.0, 36.0, 3.0]])).ab
    butt = ab[ab[:, 0, 0] == ab[:, 1, 0]]
    assert np.abs(butt[:, 1, 1] - butt[:, 0, 1]) == pytest.approx(0.15)
    first = np.sort(butt[np.isclose(butt[:, 0, 1], 0.15)][:, 0, 0])
    assert np.diff(first) == pytest.approx(3.6)


def test_scattered_points_keep_a_fifth_of_the_spacing():
    points, face, _ = scattered(0.5, np.array([[0.0, 0.0, 10.0, 10.0]]), salt=1)
    assert (face == 0).all()
    apart = np.linalg.norm(points[:, None] - points, axis=2)
    np.fill_diagonal(apart, 9)
    assert apart.min() >= 0.1 - 1e-12
    assert len(points) == 21 * 21


@pytest.mark.parametrize("name", TEXTURES)
def test_textures_cover_their_box_evenly(name):
    ab = TEXTURES[name](0.2, 0.05, np.array([[0.0, 0.0, 12.0, 12.0]])).ab.mean(axis=1)
    counts, *_ = np.histogram2d(*ab.T, bins=3, range=[[0, 12], [0, 12]])
    assert counts.min() > 0.7 * counts.mean()
