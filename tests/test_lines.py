import dataclasses

import numpy as np
import pytest

from siteaxo.craft.lines import (
    DASH,
    LINE_SERIES_MM,
    ROLE_STEPS,
    LineWeights,
    kind_ranks,
    no_wider,
    ranks_in,
)
from siteaxo.errors import SheetError
from siteaxo.source.roles import ROLES


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


@pytest.mark.parametrize("scale", [20, 50, 100, 200])
def test_profile_edge_and_pattern_are_four_two_one(scale):
    """ISO 128-23:1999 (from memory): 4:2:1; the series rounds √2 steps to within 5 %."""
    profile, edge, pattern = LineWeights().widths(["profile", "edge", "pattern"], scale=scale)
    assert profile / edge == pytest.approx(2, rel=0.05)
    assert edge / pattern == pytest.approx(2, rel=0.05)


@pytest.mark.parametrize("scale", [20, 100, 200, 500, 5000])
def test_wide_is_at_least_about_twice_the_narrow_at_every_scale(scale):
    """ISO 128-2: wide to narrow is 2:1."""
    profile, edge, foot, pattern = LineWeights().widths(["profile", "edge", "foot", "pattern"], scale=scale)
    assert profile / edge >= 1.9
    assert edge >= foot >= pattern


def test_small_scales_get_finer_lines():
    profiles = [LineWeights().profile_at(scale) for scale in (50, 200, 500, 1000)]
    assert profiles == sorted(profiles, reverse=True)
    assert len(set(profiles)) == 4


@pytest.mark.parametrize("scale", [50, 100, 200, 500])
@pytest.mark.parametrize("kind", ["profile", "edge"])
def test_what_shapes_the_space_is_heavier_than_the_ground(scale, kind):
    """Common practice: walls, buildings, trees and hedges before the ground they stand on."""
    weights = LineWeights()
    shaping, ground = (
        weights.widths([kind] * len(roles), roles=roles, scale=scale)
        for roles in (
            ["wall", "structure", "tree", "hedge", "roof"],
            ["ground", "terrace", "paving", "lawn", "path"],
        )
    )
    assert shaping.min() >= ground.max()
    if kind == "profile":
        assert shaping.min() > ground.max()


def test_every_role_that_makes_a_solid_has_a_place_in_the_hierarchy():
    assert {name for name, role in ROLES.items() if role.form not in ("none", "levels")} <= set(ROLE_STEPS)


def test_the_outline_of_a_site_is_one_line_and_its_foot_the_heaviest():
    roles = ["tree", "paving", "wall", "structure"]
    weights = LineWeights()
    around = weights.widths(["profile"] * 4, roles=roles, outlines=["site"] * 4)
    assert len(set(around)) == 1
    inner = weights.widths(["profile"] * 4, roles=roles)
    assert (around >= inner).all()
    foot = weights.widths(["profile"], roles=["ground"], outlines=["ground"])
    assert foot > around.max()


def test_lines_fall_off_with_distance_only_when_wanted():
    nearness = np.linspace(1, 0, 5)
    kinds = ["profile"] * 5
    assert len(set(LineWeights().widths(kinds, nearness=nearness))) == 1
    falling = LineWeights(falloff_steps=2).widths(kinds, nearness=nearness)
    assert falling.tolist() == [0.5, 0.5, 0.35, 0.25, 0.25]


def test_unknown_nearness_counts_as_near():
    assert LineWeights(falloff_steps=2).widths(["profile"], nearness=[np.nan]) == 0.5


def test_nothing_is_narrower_or_wider_than_the_series():
    weights = LineWeights(profile_mm=0.13)
    assert set(weights.widths(["profile", "edge", "pattern"])) == {0.13}
    wide = LineWeights(profile_mm=2.0, roles={"wall": 3})
    assert wide.widths(["profile"], roles=["wall"]) == 2.0


@pytest.mark.parametrize("most", [0.3, 0.26, 0.25])
def test_a_limit_takes_the_widest_of_the_series_within_it(most):
    assert no_wider([0.7], [most]) == 0.25


def test_tables_are_added_to():
    weights = LineWeights(kinds={"edge": -1})
    assert weights.kinds["edge"] == -1
    assert weights.kinds["profile"] == 0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"profile_mm": 0.3}, r"profile_mm is 0\.3; .*0\.25, 0\.35"),
        ({"kinds": {"egde": 1}}, "'edge'"),
        ({"roles": {"wal": 1}}, "'wall'"),
        ({"roles": {"wall": 1.5}}, "whole number of steps"),
        ({"falloff_steps": True}, "whole number of steps"),
        ({"outline_steps": 40}, "whole number of steps"),
    ],
)
def test_bad_values_are_refused(change, message):
    with pytest.raises(SheetError, match=message):
        LineWeights(**change)


def test_weights_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        LineWeights().profile_mm = 0.7
    with pytest.raises(TypeError):
        LineWeights().kinds["edge"] = 0


def test_profiles_lie_on_top():
    ranks = kind_ranks(["profile", "edge", "foot", "hidden", "pattern"])
    assert ranks.tolist() == sorted(ranks, reverse=True)


def test_an_unknown_kind_names_the_nearest():
    with pytest.raises(SheetError, match=r"'profil'.*'profile'"):
        kind_ranks(["edge", "profil"])


def test_no_words_have_no_ranks():
    assert ranks_in([], ("a", "b"), "letter").shape == (0,)
    assert LineWeights().widths([]).shape == (0,)
