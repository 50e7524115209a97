import dataclasses

import numpy as np
import pytest

from siteaxo.craft.colours import contrast, difference, oklab_from_rgb, rgb_from_hex
from siteaxo.craft.finishes import FINISHES, PATTERNS
from siteaxo.craft.light import Light
from siteaxo.craft.palettes import MATERIAL_TONES, ROLE_TONES
from siteaxo.craft.style import STYLES, Style
from siteaxo.errors import SheetError

ROLES_DRAWN = sorted(ROLE_TONES)
SHADES = tuple(range(Light().tones))


def lightness(colour: str) -> float:
    return float(oklab_from_rgb(rgb_from_hex(colour))[0])


@pytest.mark.parametrize("role", ROLES_DRAWN)
@pytest.mark.parametrize("name", ["muted", "dark ground"])
def test_each_tone_is_darker_than_the_one_before(name, role):
    style = Style.named(name)
    tones = [lightness(fill) for fill in style.fills([role] * len(SHADES), [""] * len(SHADES), SHADES)]
    assert (np.diff(tones) < -0.009).all()


def test_crowns_are_shaded_more_softly():
    hard, soft = Style().fills(["tree"] * 2, [""] * 2, [SHADES[-1]] * 2, crown=[False, True])
    assert lightness(ROLE_TONES["tree"]) > lightness(soft) > lightness(hard)


@pytest.mark.parametrize("name", STYLES)
def test_lines_and_text_read_on_paper_and_on_every_tone(name):
    """WCAG 2.2 §1.4.3 and §1.4.11: text 4.5 on paper, graphics 3 on what lies under them."""
    style = Style.named(name)
    assert contrast(style.ink, style.paper) >= 4.5
    assert contrast(style.hidden_ink, style.paper) >= 4.5
    assert contrast(style.fine_ink, style.paper) >= 4.5
    roles = np.repeat(ROLES_DRAWN, len(SHADES))
    tones = style.fills(roles, [""] * len(roles), np.tile(SHADES, len(ROLES_DRAWN)))
    assert min(contrast(style.ink, fill) for fill in tones) >= 3
    assert min(contrast(style.fine_ink, fill) for fill in tones) >= 3


def test_small_members_are_quieter_on_a_dark_ground_and_still_read():
    """WCAG 2.2 §1.4.11: 3 against the paper and against the tones of what is thin itself."""
    dark = Style.named("dark ground")
    assert contrast(dark.slight_ink, dark.paper) < contrast(dark.fine_ink, dark.paper)
    assert contrast(dark.slight_ink, dark.paper) >= 3
    thin = np.repeat(["rail", "canopy", "planter", "seat", "wall"], len(SHADES))
    tones = dark.fills(thin, [""] * len(thin), SHADES * 5)
    assert min(contrast(dark.slight_ink, fill) for fill in tones) >= 3
    assert Style().slight_ink == Style.named("line only").slight_ink == ""


@pytest.mark.parametrize("name", ["muted", "line only"])
@pytest.mark.parametrize(
    "role", ["ground", "terrace", "lawn", "water", "paving", "path", "deck", "structure", "roof"]
)
def test_text_can_be_read_on_the_tops_that_carry_it(name, role):
    """WCAG 2.2 §1.4.3: 4.5 for text; on a dark ground text lies on the paper's tone instead."""
    style = Style.named(name)
    assert contrast(style.ink, style.top(role)) >= 4.5


@pytest.mark.parametrize("name", STYLES)
def test_patterns_are_quieter_than_lines(name):
    style = Style.named(name)
    for role in ROLES_DRAWN:
        fill = style.top(role)
        assert 0.02 < difference(style.pattern_ink(fill), fill) < difference(style.fine_ink, fill)


def test_there_are_three_styles_and_they_differ():
    looks = {(Style.named(name).paper, Style.named(name).top("lawn")) for name in STYLES}
    assert len(looks) == len(STYLES) >= 3


def test_a_material_goes_before_the_role():
    style = Style()
    brick, plain = style.fills(["paving", "paving"], ["brick", ""], [0, 0])
    assert brick == MATERIAL_TONES["brick"]
    assert plain == ROLE_TONES["paving"]


@pytest.mark.parametrize(
    ("material", "word"),
    [("Clay brick", "brick"), ("limestone flags", "flags"), ("TIMBER", "timber"), ("timber", "timber")],
)
def test_a_material_is_known_by_its_last_known_word(material, word):
    assert Style().top("paving", material) == MATERIAL_TONES[word]
    assert Style().finish("paving", material) == FINISHES[word]


def test_an_unknown_material_leaves_the_role_and_an_unknown_role_is_neutral():
    style = Style()
    fills = style.fills(["lawn", "pergola"], ["seed mix 4", ""], [0, 0])
    assert fills.tolist() == [ROLE_TONES["lawn"], style.neutral]


@pytest.mark.parametrize(
    ("role", "material"), [("paving", ""), ("terrace", ""), ("paving", "moonrock"), ("wall", "")]
)
def test_an_unknown_material_has_no_pattern(role, material):
    finish = Style().finish(role, material)
    assert finish.flat is None
    assert finish.upright is None


def test_lawn_and_water_name_their_material_themselves():
    assert Style().finish("lawn").flat.pattern == "grass"
    assert Style().finish("water").flat.pattern == "water"
    assert Style().finish("lawn", "gravel").flat.pattern == "gravel"


def test_every_pattern_is_some_materials():
    shown = {
        laying.pattern
        for finish in FINISHES.values()
        for laying in (finish.flat, finish.upright)
        if laying is not None
    }
    assert shown <= set(PATTERNS)
    assert {"herringbone", "running bond", "stack bond", "random courses", "boards"} <= shown


def test_fills_follow_their_rows():
    style = Style()
    roles, shades = ["lawn", "wall", "lawn", "wall"], [3, 0, 0, 2]
    whole = style.fills(roles, [""] * 4, shades).tolist()
    assert whole == [style.fills([r], [""], [s])[0] for r, s in zip(roles, shades, strict=True)]


def test_the_number_of_tones_of_a_drawing_is_small():
    rng = np.random.default_rng(1)
    fills = Style().fills(rng.choice(ROLES_DRAWN, 5000), [""] * 5000, rng.integers(0, len(SHADES), 5000))
    assert len(set(fills)) <= len(SHADES) * len(ROLES_DRAWN)


def test_no_faces_have_no_fills():
    assert Style().fills([], [], []).shape == (0,)


def test_line_only_is_bare_paper():
    style = Style.named("line only")
    fills = style.fills(["lawn", "wall", "deck"], ["", "brick", "timber"], [0, 2, 3])
    assert set(fills) == {style.paper}


def test_line_columns_follow_the_kinds():
    style = Style()
    kinds = ["profile", "edge", "foot", "hidden"]
    assert style.line_colours(kinds).tolist() == [style.ink, style.fine_ink, style.fine_ink, style.hidden_ink]
    assert style.edge_order(kinds).tolist() == [5, 4, 3, 1]
    outlined = style.edge_order(["profile", "profile", "edge"], ["", "ground", ""])
    assert outlined[1] > outlined[0] > outlined[2]


def test_unknown_words_and_shades_are_refused():
    with pytest.raises(SheetError, match=r"'mutd'.*'muted'"):
        Style.named("mutd")
    with pytest.raises(SheetError, match="from 0 to 3"):
        Style().fills(["lawn"], [""], [5])


@pytest.mark.parametrize(
    "change",
    [
        {"ink": "black"},
        {"shade": 1.5},
        {"crown_shade": float("nan")},
        {"pattern_step": 2},
        {"tones": {"lawn": "green"}},
    ],
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
