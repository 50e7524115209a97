"""People and planting on sheets at other scales than they were drawn for, and the 4:2:1 of lines."""

import courtyard
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.craft.crowd import Crowd
from siteaxo.craft.lines import LINE_SERIES_MM, LineWeights
from siteaxo.craft.rescale import APART_MM, DRAWN, OUTLINED

TREE = courtyard.layer(
    "tree",
    "tree",
    courtyard.here(shapely.Point(22, 10)),
    base="below",
    height=9.0,
    diameter=6.0,
    clear_stem=2.2,
)


@pytest.fixture(scope="module")
def drawn():
    model = courtyard.court(extra=[TREE]).stack()
    return model.draw(siteaxo.planometric(turn=30), people=Crowd(density=0.06), planting="texture", scale=200)


@pytest.mark.parametrize("scale", [20, 50, 100, 200, 500, 1000])
def test_profile_edge_and_pattern_are_as_near_to_4_2_1_as_the_series_allows(scale):
    # Extra wide : wide : narrow are 4:2:1 (ISO 128-23:1999, from memory), in steps of √2 (ISO 128-2); what
    # would be finer than the narrowest width of the series is that.
    weights = LineWeights()
    profile = weights.of("profile", scale)
    for kind, share in (("edge", 2), ("pattern", 4)):
        wanted = max(profile / share, LINE_SERIES_MM[0])
        nearest = min(LINE_SERIES_MM, key=lambda one: abs(np.log(one / wanted)))
        assert weights.of(kind, scale) == nearest
    assert profile / weights.of("edge", scale) == pytest.approx(2, rel=0.04)


@pytest.mark.parametrize("scale", [50, 100, 500])
def test_people_and_foliage_have_the_width_of_patterns(drawn, scale):
    shown = drawn.at_scale(scale)
    fine = shown.style.weights.of("pattern", scale)
    for name in ("people", "planting"):
        lines = shown.extra[name].query("line_mm > 0")
        assert set(lines["line_mm"]) == {fine}


def test_small_figures_are_told_by_their_tones(drawn):
    near, far = (drawn.at_scale(scale).extra["people"] for scale in (OUTLINED, OUTLINED + 1))
    assert (near["drawn"] == 1).all()
    assert (far.loc[far["line_mm"] > 0, "drawn"] == 0).all()
    assert (far.loc[far["line_mm"] == 0, "drawn"] == 1).all()


def test_small_figures_without_tones_are_grey_shapes(drawn):
    """Their outlines would run into one another; at a larger scale they are as they were."""
    model = courtyard.court().stack()
    plain = model.draw(people=Crowd(density=0.06), style="line only", scale=200)
    ink, paper = plain.style.hidden_ink, plain.style.paper
    far = plain.at_scale(DRAWN + 1)
    for shown, fill, lines in ((plain, paper, 1), (far, ink, 0), (far.at_scale(DRAWN), paper, 1)):
        people = shown.extra["people"]
        assert set(people.loc[people["line_mm"] == 0, "fill"]) == {fill}
        assert set(people.loc[people["line_mm"] > 0, "drawn"]) == {lines}


def test_strokes_of_foliage_give_way_where_they_would_crowd(drawn):
    count = {}
    for scale in (200, 500, 1000):
        planting = drawn.at_scale(scale).extra["planting"]
        strokes = planting[(planting["kind"] == "foliage") & (planting["drawn"] == 1)]
        count[scale] = len(strokes)
        whole = planting[planting["kind"] == "shade"].geometry.area.sum()
        # no more than one for each cell as wide as the distance that they are to keep
        assert len(strokes) < 8 * (whole + 20) / (APART_MM * scale / 1000) ** 2
    assert count[200] > count[500] > count[1000] > 0


def test_there_and_back_changes_nothing(drawn):
    back = drawn.at_scale(500).at_scale(200)
    for name in ("people", "planting"):
        assert back.extra[name].equals(drawn.extra[name])
