"""Materials that no style knows: told once for each, with the nearest that is known."""

from pathlib import Path

import geopandas
import pytest
import shapely

import siteaxo
from siteaxo.craft.finishes import Finish
from siteaxo.craft.palettes import MATERIAL_TONES, ROLE_TONES, SAME_MATERIALS
from siteaxo.craft.style import STYLES, Style

REFERENCE = Path(siteaxo.__file__).parent / "REFERENCE.md"


def model(*materials, role="terrace", **options):
    boxes = [shapely.box(x, 0, x + 8, 6) for x in range(0, 10 * len(materials), 10)]
    frame = geopandas.GeoDataFrame({"made_of": materials}, geometry=boxes, crs="EPSG:25832")
    layer = siteaxo.Layer(name="yards", role=role, source=frame, base=0, height=1, material="made_of")
    return siteaxo.Site(name="Yard", layers=[layer], **options).stack()


def told(findings):
    own = findings[findings["code"] == "material-unknown"]
    return own[["severity", "value"]].to_numpy().tolist()


def test_a_slip_of_the_pen_is_told_once_with_its_features():
    findings = model("granite", "granit", "granit", None, "").findings
    row = findings[findings["code"] == "material-unknown"].iloc[0]
    assert told(findings) == [["warning", "granit"]]
    assert (row["layer"], row["source_id"], row["field"]) == ("yards", "1", "made_of")
    for words in (
        "'granit' (features 1, 2)",
        "Did you mean 'granite'?",
        "drawn as terrace without a material",
    ):
        assert words in row["message"]


def test_it_is_drawn_as_the_finding_says():
    made = model("granit", "granite").draw()
    fill = made.faces[made.faces["part"] == "top"].set_index("source_id")["fill"]
    assert fill["0"] == ROLE_TONES["terrace"] != MATERIAL_TONES["granite"] == fill["1"]


@pytest.mark.parametrize(
    ("value", "meant"), [("Concret", "concrete"), ("gravle", "gravel"), ("polished granit", "granite")]
)
def test_slips_of_the_pen(value, meant):
    findings = model(value).findings
    assert told(findings) == [["warning", value]]
    assert f"Did you mean {meant!r}?" in findings["message"].iloc[-1]


@pytest.mark.parametrize("value", ["rubber", "zinc sheet"])
def test_what_is_spelled_like_nothing_known_is_an_information(value):
    findings = model(value).findings
    assert told(findings) == [["info", value]]
    assert "Known: asphalt, bark, brick" in findings["message"].iloc[-1]


@pytest.mark.parametrize("value", ["Clay brick", "BRICK", "brick clay"])
def test_a_material_is_known_by_any_of_its_words_in_any_case(value):
    assert told(model(value).findings) == []


@pytest.mark.parametrize("word", ["rubber", "Rubber"])
@pytest.mark.parametrize("of", ["materials", "patterns"])
def test_a_style_makes_a_material_known(of, word):
    look = {"materials": "#334455", "patterns": {"flat": {"pattern": "gravel"}}}[of]
    own = model("RUBBER", style={of: {word: look}})
    assert told(own.findings) == told(own.draw().findings) == []
    assert told(own.draw(style="muted").findings) == [["info", "RUBBER"]]
    drawn = own.draw(scale=100)
    assert ("#334455" in set(drawn.faces["fill"])) is (of == "materials")
    assert ("patterns" in drawn.extra) is (of == "patterns")


@pytest.mark.parametrize("name", STYLES)
def test_what_the_library_knows_is_known_in_all_of_its_styles(name):
    every = sorted({*MATERIAL_TONES, *Style().finishes})
    assert told(model(*every).draw(style=name).findings) == []


def laying(one):
    """How a pattern is written in the reference."""
    if one is None:
        return ""
    return one.pattern if one.is_texture else f"{one.pattern}, {one.length:g} × {one.width:g} m"


def test_the_reference_has_every_material_with_its_patterns_and_other_names():
    style, rows = Style(), []
    for word in sorted({*MATERIAL_TONES, *style.finishes} - set(SAME_MATERIALS)):
        names = ", ".join([word, *sorted(one for one, of in SAME_MATERIALS.items() if of == word)])
        finish = style.finishes.get(word, Finish())
        tone = style.materials.get(word, "of the role")
        rows.append(f"| {names} | {tone} | {laying(finish.flat)} | {laying(finish.upright)} |")
    text = REFERENCE.read_text(encoding="utf-8")
    told = text.split("| material | tone | lying flat | upright |\n|---|---|---|---|\n")[1].split("\n\n")[0]
    assert told.splitlines() == rows


@pytest.mark.parametrize(
    ("value", "word"),
    [("Sedum", "sedum"), ("extensive green", "sedum"), ("Green roof", "sedum"), ("sedum mat", "sedum"),
     ("wildflower meadow", "meadow"), ("intensive green", "planting"), ("rounded gravel", "gravel")],
)  # fmt: skip
@pytest.mark.parametrize("name", ["muted", "dark ground"])
def test_roofs_that_are_planted_or_strewn_have_tones_of_their_own(name, value, word):
    roof = geopandas.GeoDataFrame({"made_of": [value]}, geometry=[shapely.box(0, 0, 8, 6)], crs=25832)
    layer = siteaxo.Layer(name="roof", role="roof", source=roof, base=3, height=0.3, material="made_of")
    drawn = siteaxo.Site(name="Shed", layers=[layer]).stack().draw(style=name)
    assert not len(drawn.findings)
    fill = drawn.faces.loc[drawn.faces["part"] == "roof", "fill"].tolist()
    style = Style.named(name)
    assert fill == [style.materials[word]]
    assert fill != [style.top("roof")]


def test_two_layers_are_told_apart():
    yards = model("granit").site.layers[0]
    steps = geopandas.GeoDataFrame({"made_of": ["granit"]}, geometry=[shapely.box(20, 0, 24, 4)], crs=25832)
    seat = siteaxo.Layer(name="seats", role="seat", source=steps, base=0, height=0.5, material="made_of")
    note = siteaxo.Layer(name="notes", role="note", source=steps, material="made_of")  # it has no faces
    findings = siteaxo.Site(name="Yard", layers=[yards, seat, note]).stack().findings
    own = findings[findings["code"] == "material-unknown"]
    assert own["layer"].tolist() == ["yards", "seats"]


def test_its_mark_stands_on_a_feature():
    drawn = model("granite", "granit").draw(findings=True)
    marks = drawn.extra["finding_marks"]
    mark = marks[marks["code"] == "material-unknown"].iloc[0]
    told_as = drawn.findings.iloc[mark["number"] - 1]
    assert (mark["source_id"], told_as["code"]) == ("1", "material-unknown")
