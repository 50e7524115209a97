import itertools

import numpy as np
import pytest

from siteaxo.craft.colours import hex_from_rgb, linear_from_rgb, luminance, rgb_from_hex, rgb_from_linear
from siteaxo.craft.finishes import FINISHES
from siteaxo.craft.palettes import DARK_MATERIALS, DARK_TONES, MATERIAL_TONES, ROLE_TONES, SAME_MATERIALS
from siteaxo.craft.sight import JUST_NOTICEABLE, SIGHTS, as_seen, delta_e, lab_from_rgb, most_alike
from siteaxo.craft.style import Style
from siteaxo.errors import SheetError
from siteaxo.source.roles import ROLES


def on_dark(tones):
    """Tones with less of the same light, so that L* of each falls by 41, to 8 at least."""
    return {name: dimmed(rgb_from_hex(colour)) for name, colour in tones.items()}


def dimmed(rgb):
    bright = (max(lab_from_rgb(rgb)[0] - 41.0, 8.0) + 16) / 116
    light = linear_from_rgb(rgb)
    return hex_from_rgb(rgb_from_linear(light * bright**3 / luminance(hex_from_rgb(rgb))))


def test_lab_of_a_known_colour():
    """colorspacious gold values: CIE Lab (D65) of sRGB (.2, .4, .6)."""
    np.testing.assert_allclose(lab_from_rgb([0.2, 0.4, 0.6]), [42.0100, -0.1474, -32.8446], atol=0.01)


@pytest.mark.parametrize(("grey", "lightness"), [(0.0, 0.0), (1.0, 100.0)])
def test_lab_of_the_ends(grey, lightness):
    np.testing.assert_allclose(lab_from_rgb([grey] * 3), [lightness, 0, 0], atol=0.02)


def test_the_deuteranomaly_matrix():
    """Machado et al. 2009, full severity, in linear RGB."""
    expected = [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]
    np.testing.assert_array_equal(SIGHTS["deuteranomaly"], expected)


@pytest.mark.parametrize("sight", SIGHTS)
def test_greys_stay_grey(sight):
    """Rows of every matrix sum to one, as in Machado et al. 2009."""
    np.testing.assert_allclose(SIGHTS[sight].sum(axis=1), 1.0, atol=2e-6)
    assert as_seen("#808080", sight) == "#808080"


def test_red_and_green_run_together_without_green_cones():
    assert delta_e("#b05050", "#5e7a3c") > 50
    assert delta_e(as_seen("#b05050", "deuteranomaly"), as_seen("#5e7a3c", "deuteranomaly")) < 20


def test_a_grey_print_keeps_luminance():
    for colour in ("#336699", "#c9c3b8"):
        assert luminance(as_seen(colour, "grey print")) == pytest.approx(luminance(colour), abs=0.004)


@pytest.mark.parametrize("sight", SIGHTS)
def test_all_roles_can_be_told_apart_by_everyone(sight):
    """
    Every two of all roles that make a solid differ noticeably on paper: ΔE*ab ≥ 2.3.

    2.3 is just noticeable (Mahy et al. 1994, from memory).
    """
    drawn = {name for name, role in ROLES.items() if role.form not in ("none", "levels")}
    assert drawn == set(ROLE_TONES)
    assert most_alike(ROLE_TONES, sight)[0] >= JUST_NOTICEABLE


@pytest.mark.parametrize("sight", SIGHTS)
def test_all_roles_can_be_told_apart_on_a_dark_ground(sight):
    """The floor is the same there, and no role is left out."""
    tones = Style.named("dark ground").tones
    assert set(tones) == set(ROLE_TONES)
    assert most_alike(tones, sight)[0] >= JUST_NOTICEABLE


@pytest.mark.parametrize("tones", [ROLE_TONES, DARK_TONES], ids=["paper", "dark"])
def test_greys_of_roles_keep_their_distance_before_they_are_rounded_to_eight_bits(tones):
    """ΔE*ab of greys is the difference of L* (CIE 15), here from luminance as it is."""
    light = np.sort([116 * np.cbrt(luminance(tone)) - 16 for tone in tones.values()])
    assert light[0] > 8  # so that the cube root holds
    assert np.diff(light).min() >= JUST_NOTICEABLE


@pytest.mark.parametrize("tones", [MATERIAL_TONES, DARK_MATERIALS], ids=["paper", "dark"])
@pytest.mark.parametrize("sight", [sight for sight in SIGHTS if sight != "grey print"])
def test_all_materials_can_be_told_apart_by_everyone(sight, tones):
    """Every two materials differ noticeably, ΔE*ab ≥ 2.3; but for words for the same."""
    assert all(tones[word] == tones[name] for word, name in SAME_MATERIALS.items())
    own = {name: tones[name] for name in tones if name not in SAME_MATERIALS}
    assert most_alike(own, sight)[0] >= JUST_NOTICEABLE


@pytest.mark.parametrize("tones", [MATERIAL_TONES, DARK_MATERIALS], ids=["paper", "dark"])
def test_materials_of_one_pattern_can_be_told_apart_in_a_grey_print(tones):
    """The same floor, among those that have one pattern and among those that have none."""
    alike = {}
    for name in set(tones) - set(SAME_MATERIALS):
        flat = FINISHES[name].flat if name in FINISHES else None
        alike.setdefault(flat and flat.pattern, {})[name] = tones[name]
    assert {"random courses", "running bond", "gravel", None} <= set(alike)
    for group in alike.values():
        assert len(group) < 2 or most_alike(group, "grey print")[0] >= JUST_NOTICEABLE


def test_the_dark_ground_has_a_tone_for_every_material():
    dark = Style.named("dark ground")
    assert set(dark.materials) == set(MATERIAL_TONES)
    for role, material in (("lawn", "grass"), ("water", "water")):
        assert dark.materials[material] == dark.tones[role]
        assert MATERIAL_TONES[material] == ROLE_TONES[role]


@pytest.mark.parametrize("material", DARK_MATERIALS)
def test_materials_on_a_dark_ground_are_those_on_paper_made_darker(material):
    pair = [
        lab_from_rgb(rgb_from_hex(one))[0]
        for one in (DARK_MATERIALS[material], on_dark(MATERIAL_TONES)[material])
    ]
    assert pair[0] == pytest.approx(pair[1], abs=JUST_NOTICEABLE)


@pytest.mark.parametrize("role", ROLE_TONES)
def test_tones_on_a_dark_ground_are_those_on_paper_made_darker(role):
    """Their lightness is that of the tone on paper made darker, to within what is just noticeable."""
    dark = [lab_from_rgb(rgb_from_hex(one))[0] for one in (DARK_TONES[role], on_dark(ROLE_TONES)[role])]
    assert dark[0] == pytest.approx(dark[1], abs=JUST_NOTICEABLE)


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize(
    "pair",
    [("lawn", "paving"), ("water", "paving"), ("water", "lawn"), ("deck", "water"), ("wall", "lawn"),
     ("terrace", "wall"), ("tree", "lawn"), ("hedge", "lawn"), ("roof", "structure"), ("path", "lawn")],
)  # fmt: skip
def test_what_usually_lies_side_by_side_differs_more(sight, pair):
    """Three times what is just noticeable, but for paving beside lawn in grey: twice and a half."""
    one, other = (as_seen(ROLE_TONES[role], sight) for role in pair)
    assert delta_e(one, other) >= (2.0 if sight == "grey print" else 2.3) * (
        3 if pair not in (("lawn", "paving"), ("path", "lawn"), ("water", "paving")) else 1
    )


def test_dark_tones_keep_their_distance_in_lightness():
    """L* falls by the same for all, so that steps of lightness stay."""
    dark = on_dark(ROLE_TONES)
    for one, other in itertools.pairwise(ROLE_TONES):
        steps = [
            lab_from_rgb(rgb_from_hex(tones[one]))[0] - lab_from_rgb(rgb_from_hex(tones[other]))[0]
            for tones in (ROLE_TONES, dark)
        ]
        assert steps[0] == pytest.approx(steps[1], abs=0.9)


@pytest.mark.parametrize("tones", [ROLE_TONES, MATERIAL_TONES, DARK_TONES, DARK_MATERIALS])
def test_tones_are_muted(tones):
    """Chroma in CIE Lab at most 25; the strongest sRGB colours reach 130."""
    chroma = [np.hypot(*lab_from_rgb(rgb_from_hex(tone))[1:]) for tone in tones.values()]
    assert max(chroma) < 25


def test_an_unknown_sight_is_refused():
    with pytest.raises(SheetError, match=r"'protanomly'.*'protanomaly'"):
        as_seen("#000000", "protanomly")
