import dataclasses

import numpy as np
import pytest

from siteaxo.craft.lines import DASH, LINE_SERIES_MM, LineWeights, kind_ranks, ranks_in, snapped_mm
from siteaxo.errors import SheetError


def test_series_is_that_of_iso_128():
    """ISO 128-2: 0.13 0.18 0.25 0.35 0.5 0.7 1 1.4 2 mm."""
    assert LINE_SERIES_MM == (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)


def test_series_steps_by_root_two():
    """ISO 128-2: each width is √2 times the one before, rounded to the values printed."""
    ratios = np.array(LINE_SERIES_MM[1:]) / np.array(LINE_SERIES_MM[:-1])
    np.testing.assert_allclose(ratios, np.sqrt(2), rtol=0.03)


def test_dash_is_that_of_iso_128():
    """ISO 128-2: dashes of 12 d, gaps of 3 d."""
    assert DASH == (12.0, 3.0)


@pytest.mark.parametrize(("wanted", "got"), [(0.01, 0.13), (0.2, 0.18), (0.22, 0.25), (0.6, 0.7), (9.0, 2.0)])
def test_snapping_takes_the_nearest_in_ratio(wanted, got):
    assert snapped_mm(wanted) == got


def test_snapping_leaves_the_series_alone():
    assert snapped_mm(LINE_SERIES_MM).tolist() == list(LINE_SERIES_MM)


@pytest.mark.parametrize("width", [0.0, -1.0, np.nan, np.inf])
def test_snapping_refuses_what_is_no_width(width):
    with pytest.raises(SheetError, match="greater than zero"):
        snapped_mm([0.5, width])


def test_hierarchy_is_four_two_one():
    """ISO 128-23:1999 (from memory): extra wide : wide : narrow is 4:2:1."""
    weights = LineWeights.from_profile(1.0)
    assert (weights.profile_mm, weights.edge_mm, weights.foot_mm) == (1.0, 0.5, 0.25)


@pytest.mark.parametrize("scale", [20, 100, 200, 500, 5000])
def test_wide_is_at_least_about_twice_the_narrow_at_every_scale(scale):
    """ISO 128-2: wide to narrow is 2:1."""
    weights = LineWeights.at_scale(scale)
    assert weights.profile_mm / weights.edge_mm >= 1.9
    assert weights.profile_mm / weights.foot_mm >= 1.9
    assert weights.edge_mm >= weights.foot_mm


def test_small_scales_get_finer_lines():
    profiles = [LineWeights.at_scale(scale).profile_mm for scale in (50, 200, 1000)]
    assert profiles == sorted(profiles, reverse=True)
    assert len(set(profiles)) == 3


def test_widths_by_kind():
    weights = LineWeights(profile_mm=0.7, edge_mm=0.35, foot_mm=0.18, hidden_mm=0.13)
    kinds = np.array(["foot", "profile", "hidden", "edge", "profile"])
    assert weights.of(kinds).tolist() == [0.18, 0.7, 0.13, 0.35, 0.7]


def test_a_width_outside_the_series_is_refused():
    with pytest.raises(SheetError, match=r"edge_mm is 0\.3; .*0\.25, 0\.35"):
        LineWeights(edge_mm=0.3)


def test_weights_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        LineWeights().profile_mm = 0.7


def test_profiles_lie_on_top():
    ranks = kind_ranks(["profile", "edge", "foot", "hidden"])
    assert ranks.tolist() == sorted(ranks, reverse=True)


def test_an_unknown_kind_names_the_nearest():
    with pytest.raises(SheetError, match=r"'profil'.*'profile'"):
        kind_ranks(["edge", "profil"])


def test_no_words_have_no_ranks():
    assert ranks_in([], ("a", "b"), "letter").shape == (0,)
