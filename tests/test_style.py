import dataclasses

import numpy as np
import pytest

from siteaxo.craft.colours import contrast, difference, oklab_from_rgb, rgb_from_hex
from siteaxo.craft.lines import LineWeights
from siteaxo.craft.style import FACINGS, MATERIAL_TONES, ROLE_TONES, STYLES, Style
from siteaxo.errors import SheetError
from siteaxo.source.roles import ROLES

ROLES_DRAWN = sorted(name for name, role in ROLES.items() if role.form != "none")


def lightness(colour: str) -> float:
    return float(oklab_from_rgb(rgb_from_hex(colour))[0])


def test_every_role_that_makes_a_solid_has_a_tone():
    assert sorted(ROLE_TONES) == ROLES_DRAWN


@pytest.mark.parametrize("role", ROLES_DRAWN)
def test_tops_are_lightest_and_the_two_sides_differ(role):
    top, left, right = Style().fills([role] * 3, FACINGS, [""] * 3)
    assert lightness(top) > lightness(left) + 0.05
    assert lightness(left) > lightness(right) + 0.05


@pytest.mark.parametrize("tones", [ROLE_TONES, MATERIAL_TONES])
def test_tones_are_muted(tones):
    """Chroma in OKLab below 0.07; the strongest sRGB colours reach 0.3."""
    chroma = [np.hypot(*oklab_from_rgb(rgb_from_hex(tone))[1:]) for tone in tones.values()]
    assert max(chroma) < 0.07


@pytest.mark.parametrize("name", STYLES)
def test_lines_and_text_read_on_paper_and_on_every_tone(name):
    """WCAG 2.2 §1.4.3 and §1.4.11: text 4.5 on paper, graphics 3 on what lies under them."""
    style = Style.named(name)
    assert contrast(style.ink, style.paper) >= 4.5
    assert contrast(style.hidden_ink, style.paper) >= 4.5
    tones = style.fills(
        np.repeat(ROLES_DRAWN, 3), np.tile(FACINGS, len(ROLES_DRAWN)), [""] * 3 * len(ROLES_DRAWN)
    )
    worst = min(
        (contrast(style.ink, fill), role)
        for fill, role in zip(tones, np.repeat(ROLES_DRAWN, 3), strict=True)
        if role != "rail"
    )
    assert worst[0] >= 3


@pytest.mark.parametrize(
    "pair", [("lawn", "water"), ("lawn", "paving"), ("deck", "lawn"), ("water", "paving"), ("tree", "roof")]
)
def test_surfaces_that_lie_side_by_side_differ(pair):
    """Twice what is just noticeable, 0.02 in OKLab (common practice)."""
    assert difference(*(ROLE_TONES[role] for role in pair)) > 0.04


def test_a_material_goes_before_the_role():
    style = Style()
    brick, plain = style.fills(["paving", "paving"], ["up", "up"], ["brick", ""])
    assert brick == MATERIAL_TONES["brick"]
    assert plain == ROLE_TONES["paving"]


@pytest.mark.parametrize(
    ("material", "word"),
    [("Clay brick", "brick"), ("limestone flags", "flags"), ("TIMBER", "timber"), ("timber", "timber")],
)
def test_a_material_is_known_by_its_last_known_word(material, word):
    assert Style().top("paving", material) == MATERIAL_TONES[word]


def test_an_unknown_material_leaves_the_role_and_an_unknown_role_is_neutral():
    style = Style()
    fills = style.fills(["lawn", "pergola"], ["up", "up"], ["seed mix 4", ""])
    assert fills.tolist() == [ROLE_TONES["lawn"], style.neutral]


def test_fills_follow_their_rows():
    style = Style()
    roles, facings = ["lawn", "wall", "lawn", "wall"], ["right", "up", "up", "left"]
    whole = style.fills(roles, facings, [""] * 4).tolist()
    assert whole == [style.fills([r], [f], [""])[0] for r, f in zip(roles, facings, strict=True)]


def test_no_faces_have_no_fills():
    assert Style().fills([], [], []).shape == (0,)


def test_line_only_is_bare_paper():
    style = Style.named("line only")
    fills = style.fills(["lawn", "wall", "deck"], FACINGS, ["", "brick", "timber"])
    assert set(fills) == {style.paper}


def test_line_columns_follow_the_kinds():
    style = Style(weights=LineWeights(profile_mm=0.5, edge_mm=0.25))
    kinds = ["profile", "edge", "foot", "hidden"]
    assert style.line_mm(kinds).tolist() == [0.5, 0.25, 0.13, 0.13]
    assert style.line_colours(kinds).tolist() == [style.ink] * 3 + [style.hidden_ink]
    assert style.edge_order(kinds).tolist() == [3, 2, 1, 0]


def test_unknown_words_are_refused():
    with pytest.raises(SheetError, match=r"'mutd'.*'muted'"):
        Style.named("mutd")
    with pytest.raises(SheetError, match="facing 'down'"):
        Style().fills(["lawn"], ["down"], [""])


@pytest.mark.parametrize(
    "change",
    [{"ink": "black"}, {"left_step": 1.5}, {"right_step": float("nan")}, {"tones": {"lawn": "green"}}],
)
def test_bad_values_are_refused(change):
    with pytest.raises(SheetError):
        Style(**change)


def test_a_style_cannot_be_changed():
    style = Style()
    with pytest.raises(dataclasses.FrozenInstanceError):
        style.ink = "#000000"
    with pytest.raises(TypeError):
        style.tones["lawn"] = "#000000"


def test_a_style_does_not_share_its_tables():
    tones = {"lawn": "#ccddbb"}
    style = Style(tones=tones)
    tones["lawn"] = "#000000"
    assert style.top("lawn") == "#ccddbb"
