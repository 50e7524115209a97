"""Scales in metres and in feet."""

import re
from fractions import Fraction

import pytest

from siteaxo.errors import SheetError
from siteaxo.sheet.placement import place
from siteaxo.sheet.scales import SCALES, SCALES_IN_FEET, bar_length, scale_words, scales_in
from siteaxo.units import METRES_PER

FOOT = 0.3048
ENGINEERS = [(feet, 12 * feet) for feet in (10, 20, 30, 40, 50, 60, 100)]
ARCHITECTS = [("1/16", 192), ("1/8", 96), ("1/4", 48), ("1/2", 24), ("1", 12)]


@pytest.mark.parametrize(("feet", "scale"), ENGINEERS)
def test_an_inch_stands_for_round_feet(feet, scale):
    assert scale in SCALES_IN_FEET
    assert scale_words(scale, "ft") == f"1 in = {feet} ft (1:{scale})"


@pytest.mark.parametrize(("inches", "scale"), ARCHITECTS)
def test_parts_of_an_inch_stand_for_a_foot(inches, scale):
    assert scale in SCALES_IN_FEET
    assert scale_words(scale, "ft-us") == f"{inches} in = 1 ft (1:{scale})"


@pytest.mark.parametrize("scale", [*SCALES_IN_FEET[2:], 16, 32, 64, 128])
def test_the_words_of_a_scale_are_true(scale):
    """So many inches stand for so many feet of 12 inches."""
    inches, feet, ratio = re.fullmatch(
        r"(.+) in = ([0-9]+) ft \(1:([0-9.e+]+)\)", scale_words(scale, "ft")
    ).groups()
    on_paper = sum(Fraction(one) for one in inches.split())
    assert 12 * int(feet) / on_paper == scale
    assert float(ratio) == pytest.approx(scale, rel=1e-5)


@pytest.mark.parametrize("scale", [1, 2, 50, 100, 200, 250, 500, 1000])
def test_scales_that_are_not_round_in_feet_are_ratios(scale):
    assert scale_words(scale, "ft") == scale_words(scale) == f"1:{scale}"


def test_what_is_listed_in_metres_is_not_in_feet():
    assert scales_in("m") == SCALES
    assert not {50, 100, 200, 250, 500, 1000} & set(scales_in("ft"))
    assert list(SCALES_IN_FEET) == sorted(set(SCALES_IN_FEET))


def test_a_drawing_is_fitted_at_a_scale_of_its_unit():
    """ANSI B has 17 × 25.4 − 30 − 2 × 6 = 389.8 mm for it: at 1:240 that is 93.552 m, or 306.9 ft."""
    fitted = {
        width: place((0, 0, width * FOOT, 1), sheet="ANSI B", scale="fit", unit="ft") for width in (306, 307)
    }
    assert {width: one.scale for width, one in fitted.items()} == {306: 240, 307: 360}
    assert fitted[306].words == "1 in = 20 ft (1:240) at ANSI B"
    assert place((0, 0, 306 * FOOT, 1), sheet="ANSI B", scale="fit").words == "1:250 at ANSI B"


def test_what_does_not_fit_is_told_a_scale_of_its_unit():
    with pytest.raises(SheetError, match=r"at 1 in = 20 ft \(1:240\).*Use scale 360"):
        place((0, 0, 307 * FOOT, 1), sheet="ANSI B", scale=240, unit="ft")


@pytest.mark.parametrize("unit", ["ft", "ft-us"])
@pytest.mark.parametrize(
    ("scale", "feet", "parts"),
    [
        *((120, 20, 4), (240, 40, 4), (360, 60, 3), (480, 80, 4), (600, 100, 5), (720, 100, 5)),
        *((1200, 200, 4), (12, 2, 4), (48, 8, 4), (96, 10, 5), (192, 30, 3)),
    ],
)
def test_scale_bars_are_two_inches_or_less_and_round(unit, scale, feet, parts):
    length, count = bar_length(scale, unit)
    assert (round(length / METRES_PER[unit], 9), count) == (feet, parts)
    assert length / scale <= 2 * 0.0254 * (1 + 3e-6)
