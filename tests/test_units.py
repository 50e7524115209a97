"""Metres turned into words."""

import pytest

from siteaxo.units import MEASURES, METRES_PER, length_words, level_words, said_again


@pytest.mark.parametrize(
    ("unit", "many", "metric"),
    [
        ("ft", 5280, 1609.344),  # the international mile, exact
        ("ft-us", 3937, 1200.0),  # 85 FR 62698: 1200/3937 m, exact
    ],
)
def test_feet_are_as_long_as_they_are(unit, many, metric):
    assert METRES_PER[unit] * many == pytest.approx(metric, rel=1e-15)


def test_areas_and_volumes_follow_from_the_foot():
    """An acre of 43 560 square feet is 4046.8564224 m²; a cubic yard 0.764554857984 m³ (both exact)."""
    said = MEASURES["ft"]
    assert said["m²"].metric * 43560 == pytest.approx(4046.8564224, rel=1e-15)
    assert said["m³"].metric == pytest.approx(0.764554857984, rel=1e-15)
    assert [said[one].word for one in ("m", "m²", "m³")] == ["ft", "sq ft", "cu yd"]


@pytest.mark.parametrize("feet", [0.0, 0.01, 101.5, 101.05, 999.99, 5280.0, -3.25])
@pytest.mark.parametrize("unit", ["ft", "ft-us"])
def test_a_level_in_feet_is_said_as_it_was_given(feet, unit):
    said = f"{feet:.2f}".replace("-", "−")
    assert level_words(feet * METRES_PER[unit], unit) == said
    assert length_words(feet * METRES_PER[unit], unit) == f"{said} ft"


def test_the_two_feet_are_told_apart_high_up():
    """A mile up they differ by 5280 × 2e-6, a hundredth of a foot."""
    level = 5280 * METRES_PER["ft-us"]
    assert (level_words(level, "ft-us"), level_words(level, "ft")) == ("5280.00", "5280.01")


@pytest.mark.parametrize(
    ("words", "unit", "said"),
    [
        ("0.762 m", "ft", "2.50 ft"),  # 30 in
        ("3.05 m", "ft", "10.0 ft"),  # 10.007 ft
        ("12 m", "ft", "39 ft"),
        ("-0.30 m", "ft", "-1.0 ft"),
        ("9.3 m²", "ft-us", "100 sq ft"),  # 100.1
        ("0.75 m", "m", "0.75 m"),
        ("1:12.0", "ft", "1:12.0"),
        ("3 ids", "ft", "3 ids"),
        ("1,250 m", "ft", "1,250 m"),  # as someone wrote it
        ("", "ft", ""),
    ],
)
def test_what_was_said_in_metres_is_said_again_no_more_finely(words, unit, said):
    assert said_again(words, unit) == said
