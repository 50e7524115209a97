"""What people hold says what it is: every public thing in words, with nothing a person cannot use."""

import io
import pickle

import geopandas
import matplotlib.image
import pytest
import shapely

import siteaxo
from siteaxo.craft.stylefile import style_of
from siteaxo.errors import Finding

CRS = "EPSG:25832"


def frame(*shapes, **columns):
    return geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=CRS)


@pytest.fixture(scope="module")
def model():
    seat = shapely.box(5e5 + 30, 0, 5e5 + 31, 1)
    layers = [
        siteaxo.Layer(
            name="yard", role="terrace", source=frame(shapely.box(5e5, 0, 5e5 + 9, 9)), base=0, top=2
        ),
        siteaxo.Layer(name="lost", role="seat", source=frame(seat), height=0.5),
    ]
    return siteaxo.Site(name="Yard", layers=layers, base_line=90).stack()


@pytest.fixture(scope="module")
def drawing(model):
    return model.draw(siteaxo.planometric(turn=30))


@pytest.mark.parametrize(
    ("thing", "said"),
    [
        (siteaxo.Crowd(), "<Crowd: 0.03 to the m², 60 an hour along each path>"),
        (siteaxo.Crowd(flow=9, seed=4), "<Crowd: 0.03 to the m², 9 an hour along each path, seed 4>"),
        (siteaxo.Limits(), "<Limits: the usual ones>"),
        (siteaxo.Limits(records=7), "<Limits: records 7, else the usual ones>"),
        (
            siteaxo.Layout(rows=("plan main", "title title"), columns=(1, 2), heights_mm=(None, 30)),
            "<Layout plan main / title title; columns 1 : 2; rows 1 : 30 mm>",
        ),
        (
            siteaxo.Layout(boxes_mm={"main": (10, 5, 200, 100.5)}),
            "<Layout of boxes: main 200 × 100.5 mm at (10, 5)>",
        ),
    ],
)
def test_settings_in_words(thing, said):
    assert repr(thing) == said


def test_a_style_says_its_inks_and_shows_its_tones():
    style = style_of({"base": "muted", "name": "ours <1>", "ink": "#102030", "lines": {"profile_mm": 0.35}})
    assert repr(style).startswith("<Style 'ours <1>': ink #102030 on #ffffff; ")
    assert "profiles 0.35 mm; light from 165°, 45° high" in repr(style)
    preview = style._repr_html_()
    assert preview.count("background:#") == len(style.tones) + len(style.materials)
    assert "ours &lt;1&gt;" in preview


def test_limits_of_cautions_say_which_are_not_the_usual_ones():
    lines = repr(siteaxo.CautionLimits(headroom_least=2.2)).splitlines()
    assert len(lines) == 1 + len(siteaxo.CautionLimits.__dataclass_fields__)
    assert [line.split() for line in lines if "usual" in line] == [
        ["headroom_least", "2.2", "(usual:", "2.03)"]
    ]


def test_findings_are_read_line_by_line(model, drawing):
    (line,) = repr(model.findings).splitlines()
    assert line.startswith("warning [nothing-below] lost, 0")
    assert line.endswith(model.findings.message.iloc[0])
    assert repr(drawing.findings) == line
    assert model.findings.message.iloc[0] in model.findings._repr_html_().replace("&#x27;", "'")
    assert repr(model.findings.query("code == 'split'")) == "no findings"
    assert "severity" in repr(model.findings[["severity", "code"]])
    assert "severity" in model.findings[["severity", "code"]]._repr_html_()
    assert pickle.loads(pickle.dumps(model.findings)).equals(model.findings)


def test_many_findings_are_cut_short():
    from siteaxo.diagram.tables import MOST_LINES, findings_table

    found = [Finding(severity="info", code="split", message=f"no. {k}") for k in range(MOST_LINES + 3)]
    lines = repr(findings_table(found)).splitlines()
    assert len(lines) == MOST_LINES + 1
    assert lines[-1] == "and 3 more"
    assert repr(findings_table([])) == "no findings"


def test_figures_and_drawings_say_what_they_show(drawing, tmp_path):
    figure = drawing.figure(sheet="A4", scale=200)
    assert repr(figure) == "<SheetFigure 'Yard': A4, 297 × 210 mm, 1:200>"
    preview = matplotlib.image.imread(io.BytesIO(figure._repr_png_()))
    assert preview.shape[:2] == (int(210 / 25.4 * 75), int(297 / 25.4 * 75))  # whole pixels of A4
    drawing.to_gpkg(tmp_path / "yard.gpkg")
    read = siteaxo.read_drawing(tmp_path / "yard.gpkg")
    assert repr(read).startswith("<WrittenDrawing: planometric, turned 30°, heights × 1; ")
    assert "faces seen of yard" in repr(read)


def test_what_is_seen_at_a_place_is_said(drawing):
    (top,) = drawing.faces.query("layer == 'yard' and part == 'top'").geometry
    there = drawing.feature_at(top.representative_point().coords[0])
    said = repr(there)
    assert said.startswith(
        f"<FeatureAt {there.layer}, {there.source_id}: top of {there.role} at level 2.000 m; "
    )
    assert said.endswith(" in ETRS89 / UTM zone 32N>")


def test_the_best_view_is_said_in_one_line(model):
    best = model.study(turns=(30,), targets={"yard": "yard"}).best
    assert repr(best) == f"<Recommendation planometric 30°, score {best.score:.3f}>"
    assert str(best) == best.reason
