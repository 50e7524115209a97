"""Sheets of a view study, and drawings with marks of cautions."""

import io

import geopandas as gpd
import numpy as np
import pytest
import shapely
from courtyard import box, court, layer
from PIL import Image

import siteaxo
from siteaxo.errors import SheetError
from siteaxo.sheet.callouts import page_of
from siteaxo.sheet.facets import surfaces_of
from siteaxo.sheet.plain import wrapped
from siteaxo.sheet.small_outlines import small_outlines
from siteaxo.solids.faces import normals


@pytest.fixture(scope="module")
def model():
    steep = layer("ramp", "ramp", box(10, 14, 7, 8.5), base=10.0, top=10.9)
    canopy = layer("canopy", "canopy", box(20.5, 22, 8, 11), base=11.9, top=12.1)
    return court(extra=[steep, canopy]).stack()


@pytest.fixture(scope="module")
def study(model):
    return model.study(turns=(30, 60, 90), targets={"the pond": "water", "decking": "deck"})


def test_a_sheet_of_views(study, tmp_path):
    figure = study.sheet(sheet="A4")
    figure.savefig(tmp_path / "study.svg")
    text = (tmp_path / "study.svg").read_text(encoding="utf-8")
    first = study.table.iloc[0]
    for words in (
        "View study",
        f"1 {first['view'].capitalize()}",
        "set aside",
        f"{first['target: the pond']:.0%} the pond",
        f"{first['target: decking']:.0%} decking",
    ):
        assert words in text
    stream = io.BytesIO()
    figure.savefig(stream, dpi=50)
    assert Image.open(stream).size == (int(297 / 25.4 * 50), int(210 / 25.4 * 50))


def test_pictures_are_at_one_scale(study):
    figure = study.sheet(sheet="A3")
    pictures = [one for one in figure.axes if str(one.get_gid()).startswith("view_")]
    assert len(pictures) == 3
    scales = []
    for axes in pictures:
        box_ = axes.get_position()
        width_mm = box_.width * figure.get_size_inches()[0] * 25.4
        scales.append(width_mm / np.ptp(axes.get_xlim()))
    assert np.ptp(scales) < 1e-9


def test_pictures_have_to_be_there(model):
    bare = model.study(turns=(30,), pictures=False)
    assert bare.looks[0].visible.sum() > 0
    with pytest.raises(SheetError, match="no picture"):
        bare.sheet()


def test_facets_of_a_round_wall_are_one_surface():
    round_ = layer("tower", "structure", shapely.buffer(box(2, 4, 14, 16).centroid, 2), base=10.0, top=13.0)
    tower = siteaxo.Site(name="Tower", layers=[round_], plane_crs="EPSG:25832").stack()
    assert len(np.unique(surfaces_of(tower.stack))) == 3  # its top, its underside, its wall


def test_folds_of_what_lies_on_the_ground_are_not_drawn():
    """A survey of four corners, one of them raised, is bent along a diagonal, and is still one meadow."""
    corners = gpd.GeoDataFrame(
        {"level": [10.0, 10.0, 10.0, 12.0]},
        geometry=shapely.points(shapely.get_coordinates(box(0, 10, 0, 10))[:4]),
        crs="EPSG:25832",
    )
    layers = [
        layer("meadow", "ground", box(0, 10, 0, 10), top="survey"),
        siteaxo.Layer(name="levels", role="spot level", source=corners, top="level"),
    ]
    stack = siteaxo.Site(name="Meadow", layers=layers, plane_crs="EPSG:25832").stack().stack
    up = normals(stack.scene.faces)[:, 2] > 0
    assert up.sum() > 1
    assert len(np.unique(surfaces_of(stack)[up])) == 1


def test_lines_are_broken_between_words():
    lines = wrapped("a place for people who walk and people who sit", 2.5, 30.0)
    assert len(lines) > 2
    assert " ".join(lines) == "a place for people who walk and people who sit"


def test_marks_lie_where_the_places_are(model, tmp_path):
    found = model.cautions()
    assert {"ramp-steep", "headroom"} <= set(found["code"])
    diagram = model.draw(siteaxo.planometric(30), people=False).with_cautions(found)
    marks = diagram.extra["caution_marks"]
    points = marks[marks["kind"] == "caution"]
    assert len(points) == len(found)
    row = int(np.flatnonzero(found["code"] == "headroom")[0])
    place = shapely.point_on_surface(found.geometry.iloc[row])
    page = page_of(np.array([[place.x, place.y, found["level"].iloc[row]]]), diagram.view)[0]
    assert np.allclose(points.geometry.iloc[row].coords[0], page)
    diagram.to_gpkg(tmp_path / "marked.gpkg")
    written = gpd.read_file(tmp_path / "marked.gpkg", layer="caution_marks")
    assert written["rule"].tolist() == marks["rule"].tolist()
    figure = diagram.figure(sheet="A3", scale="fit")
    figure.savefig(tmp_path / "marked.svg")
    text = (tmp_path / "marked.svg").read_text(encoding="utf-8")
    for words in ("Cautions", "Ramp, running slope: ramp 0", "§405.2", "§307.4", "Check local codes."):
        assert words in text
    assert "Edges of" in text
    assert "the site itself are not looked at." in text


def test_a_stretch_of_edge_is_drawn():
    high = layer("upper", "terrace", box(0, 24, 20, 30), base=9.0, top=11.5)
    model = court(extra=[high]).stack()
    diagram = model.draw(siteaxo.planometric(30), people=False).with_cautions(model.cautions())
    marks = diagram.extra["caution_marks"]
    edges = marks[marks["kind"] == "caution edge"]
    assert len(edges) >= 1
    assert edges.geometry.length.max() > 10  # along most of the 24 m
    assert (edges["line_mm"] > 0).all()


def test_exploded_marks_stay_with_their_features(model):
    found = model.cautions()
    diagram = model.exploded_view(siteaxo.planometric(30), people=False)
    marks = diagram.with_cautions(found).extra["caution_marks"]
    own = found["layer"].to_numpy() == "canopy"
    lift = diagram.plan.loc[diagram.plan["layer"] == "canopy", "lift_m"].iloc[0]
    place = shapely.point_on_surface(found.geometry.to_numpy()[own][0])
    level = found["level"].to_numpy()[own][0] + lift
    page = page_of(np.array([[place.x, place.y, level]]), diagram.view)[0]
    assert np.allclose(marks.geometry.to_numpy()[: len(found)][own][0].coords[0], page)


@pytest.mark.parametrize(("wide", "kept"), [(0.05, 1), (0.12, 2)])
def test_gaps_of_a_joined_surface_narrower_than_two_lines_are_not_drawn(wide, kept):
    """At 2 mm to the metre two lines of 0.09 mm are 0.09 m wide; a rail of one face keeps its outline."""
    left, right = shapely.box(0, 0, 5, 10), shapely.box(5, 0, 10, 10)
    gap, rail = shapely.box(4, 4, 7, 4 + wide), shapely.box(20, 0, 20.05, 9)
    seen = np.array([left - gap, right - gap, rail])
    lines = small_outlines(seen, np.array([0, 0, 2]), 2.0, line_mm=0.09)
    assert len(lines) == kept + 1
    assert sorted(shapely.length(lines).round(1))[-1] == 40.0
