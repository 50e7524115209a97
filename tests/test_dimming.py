"""Shades of one colour: visible steps of one hue, from white to black."""

import itertools

import numpy as np
import pytest
from handmade import planometric_matrix
from hypothesis import given
from hypothesis import strategies as st

from siteaxo.craft.colours import linear_from_rgb, rgb_from_hex
from siteaxo.craft.dimming import dimmed, lightness
from siteaxo.craft.light import Light
from siteaxo.craft.sight import delta_e
from siteaxo.craft.style import Style

COLOURS = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")
VISIBLE = 4.0
"""Least ΔE*ab between faces turned differently: well above 2.3, which is just noticeable.

ΔE*ab is the distance in L*a*b* (CIE 15); 2.3 is from Mahy et al. (1994), from memory.
"""
TONED = ["muted", "dark ground"]  # "line only" tells faces apart by lines alone
USUAL_TURNS = [0.0, 30.0, 45.0, 60.0, 90.0]


def turned(page_direction, tilt, turn):
    """Unit normal of a face that looks in a direction on the page, tilted from the level [degrees]."""
    plan, tilt = np.radians(page_direction - turn), np.radians(tilt)
    return np.array([np.sin(tilt) * np.cos(plan), np.sin(tilt) * np.sin(plan), np.cos(tilt)])


def shades(faces, turn):
    normals = np.array([turned(direction, tilt, turn) for direction, tilt in faces])
    return Light().shades(normals, planometric_matrix(turn)).tolist()


@pytest.mark.parametrize(("grey", "expected"), [("#000000", 0), ("#777777", 50.03), ("#ffffff", 100)])
def test_lightness_of_greys(grey, expected):
    """L* = 116 (Y/Yn)^(1/3) - 16 (CIE 15); #777777 has 0.1845 of the light of white (IEC 61966-2-1)."""
    assert lightness(grey) == pytest.approx(expected, abs=0.02)


@given(COLOURS, st.floats(0.0, 100.0))
def test_lightness_falls_by_the_step_that_is_told(colour, by):
    assert lightness(dimmed(colour, by)) == pytest.approx(max(lightness(colour) - by, 0.0), abs=0.6)


@given(COLOURS, st.floats(0.0, 60.0))
def test_light_keeps_its_mixture(colour, by):
    """Red, green and blue fall in one ratio, to within half a step of eight bits."""
    before, after = (rgb_from_hex(one) for one in (colour, dimmed(colour, by)))
    ratio = (linear_from_rgb(after).sum() + 1e-12) / (linear_from_rgb(before).sum() + 1e-12)
    slack = linear_from_rgb(after + 1.0 / 255) - linear_from_rgb(after)
    assert (np.abs(linear_from_rgb(after) - ratio * linear_from_rgb(before)) <= 2 * slack).all()


@pytest.mark.parametrize("name", TONED)
@pytest.mark.parametrize("kind", ["tones", "materials"])
def test_tones_of_every_colour_differ_visibly(name, kind):
    style = Style.named(name)
    every = {*getattr(style, kind).values(), style.neutral}
    for colour in every:
        tones = [style.shaded(colour, shade) for shade in range(style.light.tones)]
        steps = [delta_e(one, other) for one, other in itertools.pairwise(tones)]
        assert min(steps) >= VISIBLE, colour


@pytest.mark.parametrize("turn", USUAL_TURNS)
def test_top_light_side_and_dark_side_have_three_tones(turn):
    """Of a building whose sides run along and across the plan; at 0 and 90 only one side is seen."""
    sides = [turn + 180.0, turn + 270.0] if turn % 90 else [270.0]
    found = shades([(0.0, 0.0), *((side, 90.0) for side in sides)], turn)
    assert found[0] == 0
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("turn", USUAL_TURNS)
@pytest.mark.parametrize("pitch", [20.0, 25.0, 30.0, 35.0, 40.0, 45.0])
def test_opposite_slopes_of_a_roof_have_two_tones(turn, pitch):
    for ridge in (turn, turn + 90.0):
        one, other = shades([(ridge + 90.0, pitch), (ridge - 90.0, pitch)], turn)
        assert one != other
