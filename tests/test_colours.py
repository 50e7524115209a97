import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from siteaxo.craft.colours import (
    contrast,
    darker,
    difference,
    grey,
    hex_from_rgb,
    luminance,
    oklab_from_rgb,
    readable_under,
    rgb_from_hex,
    rgb_from_oklab,
    tone,
)
from siteaxo.errors import SheetError

COLOURS = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


def test_oklab_of_green():
    """CSS Color 4, conformance test of oklab(): sRGB #008000 is oklab(51.975% -0.1403 0.10768)."""
    np.testing.assert_allclose(
        oklab_from_rgb(rgb_from_hex("#008000")), [0.51975, -0.1403, 0.10768], atol=6e-5
    )


@pytest.mark.parametrize(
    ("xyz", "lab"),
    [
        ([0.950, 1.000, 1.089], [1.000, 0.000, 0.000]),
        ([1.000, 0.000, 0.000], [0.450, 1.236, -0.019]),
        ([0.000, 1.000, 0.000], [0.922, -0.671, 0.263]),
        ([0.000, 0.000, 1.000], [0.153, -1.415, -0.449]),
    ],
)
def test_oklab_of_published_xyz(xyz, lab):
    """B. Ottosson (2020), table of example pairs (from memory); XYZ to sRGB by IEC 61966-2-1."""
    from_xyz = np.linalg.inv(
        [
            [0.4123907993, 0.3575843394, 0.1804807884],
            [0.2126390059, 0.7151686788, 0.0721923154],
            [0.0193308187, 0.1191947798, 0.9505321522],
        ]
    )
    linear = from_xyz @ xyz
    encoded = np.where(
        linear <= 0.0031308, linear * 12.92, 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055
    )
    np.testing.assert_allclose(oklab_from_rgb(encoded), lab, atol=1.5e-3)


@pytest.mark.parametrize(
    ("colour", "ratio"), [("#000000", 21.0), ("#767676", 4.5422), ("#777777", 4.4781), ("#949494", 3.0335)]
)
def test_contrast_on_white(colour, ratio):
    """WCAG 2.2 §1.4.3: #767676 is the lightest grey that passes 4.5 on white, #949494 passes 3."""
    assert contrast(colour, "#ffffff") == pytest.approx(ratio, abs=1e-4)
    assert contrast("#ffffff", colour) == contrast(colour, "#ffffff")


@given(COLOURS)
def test_hex_goes_round_through_oklab(colour):
    assert hex_from_rgb(rgb_from_oklab(oklab_from_rgb(rgb_from_hex(colour)))) == colour


@given(COLOURS)
def test_grey_keeps_luminance(colour):
    plain = rgb_from_hex(grey(colour))
    assert plain[0] == plain[1] == plain[2]
    assert luminance(grey(colour)) == pytest.approx(luminance(colour), abs=0.006)


@given(COLOURS, st.floats(0.02, 0.3))
def test_darker_is_darker_and_not_stronger(colour, step):
    before, after = (oklab_from_rgb(rgb_from_hex(one)) for one in (colour, darker(colour, step)))
    assert after[0] <= before[0] + 2e-3
    assert np.hypot(*after[1:]) <= np.hypot(*before[1:]) + 4e-3


def test_darker_takes_the_step_it_is_told():
    colour = tone(0.9, 0.03, 80)
    steps = [oklab_from_rgb(rgb_from_hex(darker(colour, by)))[0] for by in (0.0, 0.1, 0.2)]
    np.testing.assert_allclose(np.diff(steps), -0.1, atol=4e-3)


def test_darker_keeps_the_hue():
    colour = tone(0.8, 0.06, 130)
    angles = [
        np.degrees(np.arctan2(*oklab_from_rgb(rgb_from_hex(one))[:0:-1]))
        for one in (colour, darker(colour, 0.2))
    ]
    assert angles[1] == pytest.approx(angles[0], abs=3.0)


def test_black_has_no_darker():
    assert darker("#000000", 0.1) == "#000000"


@pytest.mark.parametrize("colour", ["red", "#fff", "#12345g", "#1234567", "", None, 3])
def test_a_colour_is_written_one_way(colour):
    with pytest.raises(SheetError, match="#rrggbb"):
        rgb_from_hex(colour)


def test_difference_is_a_distance():
    colours = ["#d0e0bd", "#bbd4de", "#deb3a2"]
    for one, two, three in itertools.permutations(colours):
        assert difference(one, two) == pytest.approx(difference(two, one))
        assert difference(one, three) <= difference(one, two) + difference(two, three) + 1e-12


@given(COLOURS)
def test_letters_can_be_read_on_a_tone_as_near_to_the_fill_as_can_be(fill):
    """WCAG 2.2 §1.4.3: 4.5 for text; ink #f7f5f1 on paper #14171b has 16.4."""
    ink, paper = "#f7f5f1", "#14171b"
    found = readable_under(ink, fill, paper, 4.5)
    assert contrast(ink, found) >= 4.5
    assert (found == fill) == (contrast(ink, fill) >= 4.5)
    assert luminance(paper) - 0.01 <= luminance(found) <= max(luminance(fill), luminance(paper)) + 0.01
    if found != fill:  # a step of a twentieth of the way is small
        assert contrast(ink, found) < 5.5


def test_where_no_tone_will_do_letters_stand_on_paper():
    assert readable_under("#777777", "#808080", "#ffffff", 4.5) == "#ffffff"
