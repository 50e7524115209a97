"""Sheets that speak feet: every number on them is worked by hand from the feet that the site is given in."""

import re
from xml.etree import ElementTree

import geopandas as gpd
import pytest
import shapely
from test_furniture import furniture_of, words_on

import siteaxo
from siteaxo import operations as op
from siteaxo.cli import main
from siteaxo.errors import SheetError
from siteaxo.sheet.canvas import render

FOOT = {"m": 1.0, "ft": 0.3048, "ft-us": 1200 / 3937}
VIEW = siteaxo.planometric(turn=30)


def square(unit="ft", *, name="Square", more=(), speaks=None):
    """A yard of 120 × 90 feet at 101.50, a terrace of 100 × 27 feet three feet above it, steps and a ramp."""
    foot = FOOT[unit]

    def layer(name, role, shape, **keys):
        placed = shapely.transform(shape, lambda xy: xy * foot + [500_000, 5_700_000])
        source = gpd.GeoDataFrame({"no": ["1"]}, geometry=[placed], crs="EPSG:25832")
        return siteaxo.Layer(name=name, role=role, source=source, id="no", **keys)

    box = shapely.box
    layers = [
        layer("yard", "ground", box(0, 0, 120, 90), base=98.0, top=101.5),
        layer("terrace", "terrace", box(10, 55, 110, 82), top=104.5),
        layer("lawn", "lawn", box(70, 8, 112, 40)),
        layer("pool", "water", box(20, 8, 50, 26), base=99.5, top=101.05),
        layer("steps", "steps", box(20, 47, 36, 55), base=101.5, top=104.5, riser=0.5),
        layer("ramp", "ramp", shapely.LineString([(52, 51), (94, 51)]), base=101.5, top=104.5, width=6.0),
        layer("shed", "structure", box(84, 64, 104, 76), base="below", height=10.25),
        *(layer(*one, **keys) for one, keys in more),
    ]
    sheet = siteaxo.SheetSettings(unit=speaks)
    return siteaxo.Site(
        name=name, layers=layers, unit=unit, base_line=90, sheet=sheet, plane_crs="EPSG:25832"
    )


@pytest.fixture(scope="module")
def model():
    return square().stack()


@pytest.fixture(scope="module")
def diagram(model):
    return model.draw(VIEW, scale=240)


def texts(figure, *kinds):
    """What is written on a drawing, of some kinds."""
    labels = figure.drawing.extra["labels"]
    rows = labels[labels["kind"].isin(kinds) & (labels["text"] != "")]
    return rows["text"].tolist()


def every_word(figure):
    """All that is written on a sheet."""
    written = ElementTree.fromstring(render(figure, "svg")).iter("{http://www.w3.org/2000/svg}text")
    return ["".join(one.itertext()) for one in written]


def metric(words):
    """What is said in metres."""
    return [one for one in words if re.search(r"[0-9] ?m\b|m²|m³|metre", one)]


@pytest.mark.parametrize("unit", ["ft", "ft-us"])
def test_marks_say_the_levels_that_were_given(unit):
    figure = square(unit).stack().draw(VIEW, scale=240).figure(sheet="ANSI C", scale=240)
    assert set(texts(figure, "level")) == {"101.50", "104.50", "101.05", "114.75"}
    assert set(texts(figure, "slope level")) == {"101.50", "104.50"}
    assert texts(figure, "slope") == ["1:14"]  # 3 in 42


def test_the_title_the_bar_and_the_legend_speak_feet(diagram):
    words = words_on(diagram.figure(sheet="ANSI C", scale=240))
    for said in ("1 in = 20 ft (1:240)", "at ANSI C", "98.00 ft", "Level in feet"):
        assert said in words
    bar = [text for text in words if re.fullmatch(r"[0-9]+|ft", text)]
    assert bar == ["0", "10", "20", "30", "40", "ft"]  # two inches
    assert not metric(words)


def test_the_bar_is_as_long_as_it_says(diagram):
    """40 ft at 1 in = 20 ft are 2 in."""
    axes = furniture_of(diagram.figure(sheet="ANSI C", scale=240))
    parts = [one for one in axes.get_children() if str(one.get_gid()).startswith("scale_bar")]
    assert sum(one.get_width() for one in parts) == pytest.approx(50.8, abs=1e-9)


def test_us_survey_feet_are_named():
    words = words_on(square("ft-us").stack().draw(VIEW).figure(sheet="ANSI C", scale=240))
    assert "Level in US survey feet" in words


def test_dimensions_are_decimal_feet(diagram):
    figure = diagram.figure(sheet="ANSI C", scale=240, dimensions=True)
    assert sorted(texts(figure, "dimension")) == ["120.00 ft", "16.75 ft", "90.00 ft"]  # 98.00 to 114.75


def test_a_reader_is_told_feet(diagram):
    said = diagram.figure(sheet="ANSI C", scale=240).description
    assert said.startswith("Square, drawn 1 in = 20 ft (1:240) at ANSI C.")
    assert "One piece of ground at 101.50 ft, one terrace at 104.50 ft" in said
    assert "Levels lie between 98.00 ft and 114.75 ft." in said
    assert not metric([said])


def test_fit_takes_a_scale_in_feet(diagram):
    assert diagram.scale_of(sheet="ANSI B", scale="fit") in {120, 192, 240, 360}
    assert diagram.figure(sheet="ARCH C", scale="fit").drawing.scale in {96, 120, 192, 240}


def test_tables_stay_in_metres_and_labels_as_printed(model, tmp_path):
    figure = model.draw(VIEW, scale=240).figure(sheet="ANSI C", scale=240)
    figure.drawing.to_gpkg(tmp_path / "diagram.gpkg")
    faces = gpd.read_file(tmp_path / "diagram.gpkg", layer="faces")
    assert faces["level_max"].max() == pytest.approx(114.75 * 0.3048)
    labels = gpd.read_file(tmp_path / "diagram.gpkg", layer="labels")
    assert "104.50" in set(labels["text"])
    assert model.quantities(by="role").set_index("role")["plan_area_m2"]["terrace"] == pytest.approx(
        2700 * 0.3048**2
    )


def test_cautions_are_listed_in_feet(model, diagram):
    found = model.cautions()
    drops = found[found["code"] == "drop"]
    assert set(drops["unit"]) == {"m"}
    assert drops["value"].max() == pytest.approx(3 * 0.3048)
    marked = diagram.with_cautions(found)
    rows = marked.extra["caution_marks"]
    assert rows[rows["code"] == "drop"]["figure"].max() == "3.000 ft"
    assert set(rows[rows["code"] == "little-fall"]["figure"]) <= {"0.0 %"}
    figure = marked.figure(sheet="ARCH C", scale="fit")
    assert any(one.endswith("ramp 1, 3.000 ft") for one in every_word(figure))
    assert not metric(every_word(figure))


def test_findings_are_listed_in_feet(model):
    """30 in are the limit; a drop of three feet is told."""
    figure = model.draw(VIEW, findings=True).figure(sheet="ARCH C", scale="fit")
    assert "Drop unguarded: terrace 1, 3.00 ft" in every_word(figure)
    assert not metric(every_word(figure))
    assert "0.914 m" in set(model.findings["value"])


def test_quantities_are_square_feet_and_cubic_yards(model):
    """The terrace: 100 × 27 = 2700 sq ft, and 3 ft of fill under it: 8100 / 27 = 300 cu yd."""
    words = every_word(model.quantities_figure(sheet="ANSI B", by=["terrace"]))
    assert {"sq ft", "ft", "cu yd"} <= set(words)
    assert "2 700" in words
    assert "300.0" in words
    assert "254.0" in words  # its edges: 2 × (100 + 27)
    assert not metric(words)
    assert "units to the square foot" in " ".join(words)


def test_names_of_terraces_and_captions_are_in_feet(model):
    apart = model.exploded_view(VIEW, by="terrace", people=False)
    assert {"Level 101.50 ft", "Level 104.50 ft"} <= set(apart.faces["tier"])
    captions = [one.caption for one in model.sequence(VIEW, steps=("outlines", "raised"), frames=1)]
    assert captions == [
        "Outlines at the lowest level, 98.00 ft",
        "Heights raised: levels 101.50 to 104.50 ft",
    ]


def test_a_board_speaks_feet(model, diagram):
    plan = model.draw(siteaxo.planometric(turn=0, height_factor=0))
    figure = siteaxo.board({"main": diagram, "plan": plan}, sheet="ARCH D", scales={"main": 192, "plan": 600})
    words = words_on(figure)
    for said in ("1/16 in = 1 ft (1:192)", "1 in = 50 ft (1:600)", "Level drawn in place 98.00 ft"):
        assert said in words
    assert not metric(every_word(figure))


def test_a_sheet_speaks_the_unit_of_its_first_drawing(diagram):
    other = square("m", name="Large square").stack().draw(VIEW)
    figure = siteaxo.side_by_side([diagram, other], sheet="ANSI D", scale=1200)
    shown = [set(one.extra["labels"]["text"]) for one in figure.drawing]
    assert "333.01" in shown[1]  # 101.50 m / 0.3048
    assert {one.unit for one in figure.drawing} == {"ft"}
    assert not metric(every_word(figure))


def test_states_speak_the_unit_of_the_first(model):
    compared = siteaxo.compare({"today": model, "later": square(speaks="m")}, VIEW)
    assert [one.unit for one in compared.diagrams] == ["ft", "ft"]


@pytest.mark.parametrize(
    ("levels", "sheet", "spoken"),
    [("m", None, "m"), ("ft", None, "ft"), ("ft-us", None, "ft-us"), ("m", "ft", "ft"), ("ft", "m", "m")],
)
def test_sheets_follow_the_levels_unless_they_say_something_else(levels, sheet, spoken):
    site = square(levels, speaks=sheet)
    assert site.sheet_unit == spoken
    assert site.stack().draw(VIEW).unit == spoken


def test_a_unit_that_no_sheet_speaks_is_refused():
    with pytest.raises(SheetError, match="Did you mean 'ft'"):
        siteaxo.SheetSettings(unit="fts")


def test_a_recipe_says_what_its_sheets_speak(tmp_path):
    site = written(tmp_path)
    (tmp_path / "chain.toml").write_text(
        """
        [[step]]
        id = "site"
        operation = "read_site"
        inputs = { path = "site.toml", sheet_unit = "ft" }

        [[step]]
        id = "model"
        operation = "stack"
        inputs = { site = { from = "site" } }

        [[step]]
        id = "drawing"
        operation = "draw"
        inputs = { model = { from = "model" } }

        [[step]]
        operation = "figure"
        inputs = { diagram = { from = "drawing" }, path = "sheet.svg", scale = 240 }
        """,
        encoding="utf-8",
    )
    main(["recipe", str(tmp_path / "chain.toml"), "--quiet"])
    svg = (site.parent / "sheet.svg").read_text(encoding="utf-8")
    assert ">100.00<" in svg
    assert "1 in = 20 ft (1:240)" in svg


def test_the_steps_that_make_a_site_take_it():
    layers = list(square("m").layers)
    assert op.site(layers, sheet_unit="ft").sheet_unit == "ft"
    assert op.site(layers, unit="ft-us").sheet_unit == "ft-us"


def written(folder, *lines):
    """A site file of a yard of 40 × 20 m at level 30.48 m, which is 100 ft."""
    frame = gpd.GeoDataFrame(geometry=[shapely.box(5e5, 5.7e6, 5e5 + 40, 5.7e6 + 20)], crs="EPSG:25832")
    frame.to_file(folder / "yard.gpkg")
    text = '[[layer]]\nname = "yard"\nrole = "terrace"\nsource = "yard.gpkg"\nbase = 30.0\ntop = 30.48\n'
    (folder / "site.toml").write_text("\n".join(["[sheet]", 'scale = "fit"', *lines, text]), encoding="utf-8")
    return folder / "site.toml"


def test_a_site_file_says_what_its_sheets_speak(tmp_path):
    assert siteaxo.read_site(written(tmp_path, 'unit = "ft"')).sheet_unit == "ft"


@pytest.mark.parametrize(("option", "said"), [((), "30.48 m"), (("--sheet-unit", "ft"), "100.00 ft")])
def test_the_command_line_takes_it(tmp_path, capsys, option, said):
    words = ["draw", str(written(tmp_path)), "--out", str(tmp_path / "out"), "--quiet", *option]
    main(words)
    assert f" to {said}." in capsys.readouterr().out
    svg = (tmp_path / "out" / "diagram.svg").read_text(encoding="utf-8")
    assert (">100.00<" in svg) == bool(option)
    assert (">30.48<" in svg) != bool(option)


def test_thirty_inches_are_thirty_inches_in_either_foot():
    """2.5 US survey feet are 1.5 µm more than 30 in, the limit of IBC §1015 and of ADA §405.6."""
    deck = (("deck", "deck", shapely.box(2, 2, 16, 7)), {"base": 103.0, "top": 104.0})
    ramp = (("way", "ramp", shapely.LineString([(4, 43), (74, 43)])), {"base": 101.5, "top": 106.5})
    high = {"width": 5.0, "landing": 5.0}
    stack = square("ft-us", more=[deck, (ramp[0], {**ramp[1], **high})]).stack()
    found = stack.cautions()
    assert not ((found["layer"] == "deck") & (found["code"] == "drop")).any()
    assert not ((found["layer"] == "way") & (found["code"] == "ramp-run-high")).any()
    runs = stack.stack.walks.ramps.rise_per_run / FOOT["ft-us"]
    assert runs[-1] == pytest.approx(2.5)  # two runs, with one landing between them


def test_metric_drawings_are_what_they_were(tmp_path):
    """Sites in metres say so or not, with the same bytes, and with the words that sheets have always had."""
    plain, said = (
        site.stack().draw(VIEW, scale=200).figure(sheet="A3", scale=1000, dimensions=True)
        for site in (square("m"), square("m", speaks="m"))
    )
    assert render(plain, "svg") == render(said, "svg")
    words = words_on(plain)
    for one in ("1:1000 at A3", "98.00 m", "Level in metres", "m"):
        assert one in words
    assert [one for one in words if one.isdigit()] == ["0", "10", "20", "30", "40", "50"]
    assert sorted(texts(plain, "dimension")) == ["120.00 m", "16.75 m", "90.00 m"]
    assert set(texts(plain, "level")) == {"101.50", "104.50", "101.05", "114.75"}
