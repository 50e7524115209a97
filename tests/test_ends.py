"""Levels at both ends of ramps and flights of steps."""

import numpy as np
import pytest
import shapely
from courtyard import CRS, box, layer

import siteaxo
from siteaxo.sheet.ends import CODE

SCALE = 100
VIEW = siteaxo.planometric(turn=30)


def terraces(*extra):
    """Two terraces of 10 m by 6 m, at 1 and at 2.5, with room for steps between x = 3 and x = 5."""
    lower = layer("lower", "terrace", box(0, 10, 0, 6), base=0.0, top=1.0)
    upper = layer("upper", "terrace", box(0, 10, 6, 12), base=0.0, top=2.5)
    return siteaxo.Site(name="Terraces", layers=[lower, upper, *extra], plane_crs=CRS, base_line=90.0).stack()


STEPS = layer("steps", "steps", box(3, 5, 3, 6), base=1.0, top=2.5)


def told(drawing, name, **options):
    """Texts and the lines they stand on, of one layer; and leaders."""
    table = drawing.figure(sheet="A2", scale=SCALE, **options).drawing.extra["labels"]
    own = table[(table["layer"] == name).to_numpy()]
    return own[own["text"] != ""].set_index("text").geometry, own[own["kind"] == "leader"].geometry


def test_a_flight_has_the_levels_of_both_ends():
    texts, leaders = told(terraces(STEPS).draw(VIEW, people=False), "steps")
    assert sorted(texts.index) == ["1.00", "2.50"]
    assert len(leaders) == 2


@pytest.mark.parametrize("turn", [20, 30, 60, 330])
def test_a_level_is_rather_written_on_a_surface_of_its_own(turn):
    """The lower terrace is full of pots but for its right end; the upper has room nearer by."""
    lower = layer("lower", "terrace", box(0, 10, 0, 6), base=0.0, top=1.0)
    upper = layer("upper", "terrace", box(0, 10, 6, 12), base=0.0, top=1.3)
    steps = layer("steps", "steps", box(3.6, 5, 5.4, 6), base=1.0, top=1.3)
    pots = [box(x, x + 0.2, y, y + 0.2) for x in np.arange(0.2, 5.9, 0.6) for y in np.arange(0.2, 5.2, 0.6)]
    pots += [box(x, x + 0.2, 5.5, 5.7) for x in (0.2, 0.8, 1.4, 2.0, 2.6, 3.2, 5.2, 5.6)]
    layers = [lower, upper, steps, layer("pots", "planter", *pots, base="below", height=0.2)]
    model = siteaxo.Site(name="Pots", layers=layers, plane_crs=CRS, base_line=90.0).stack()
    drawing = model.draw(siteaxo.planometric(turn=turn), people=False)
    texts, _ = told(drawing, "steps")
    faces = drawing.faces.set_index("layer").geometry
    assert any(texts["1.00"].intersects(one) for one in faces[faces.index == "lower"])
    assert not any(texts["1.00"].intersects(one) for one in faces[faces.index == "upper"])


def test_leaders_end_where_those_levels_are():
    """
    On the page x is 30 degrees up to the right and heights go straight up, so of (x, y, z)
    the place is (x cos 30 - y sin 30, x sin 30 + y cos 30 + z).
    """
    drawing = terraces(STEPS).draw(VIEW, people=False)
    _, leaders = told(drawing, "steps")
    c, s = np.sqrt(3) / 2, 0.5
    corner = np.array(drawing.bounds[:2]) + np.array([12 * s, 0.0])  # where (0, 0, 0) lies
    foot = corner + np.array([4 * c - 3 * s, 4 * s + 3 * c + 1.0])
    ends = shapely.points([shapely.get_coordinates(one)[0] for one in leaders])
    assert shapely.distance(ends, shapely.Point(foot)).min() == pytest.approx(0.0, abs=0.02)
    head = corner + np.array([4 * c - 6 * s, 4 * s + 6 * c + 2.5])
    assert shapely.distance(ends, shapely.Point(head)).min() == pytest.approx(0.0, abs=0.02)


def test_both_ends_of_a_ramp_are_told_where_marks_crowd_it():
    ramp = layer("ramp", "ramp", box(1, 3, 2, 3.6), base=1.0, top=1.5)
    model = terraces(ramp)
    drawing = model.draw(VIEW, people=False).with_cautions(model.cautions())
    texts, _ = told(drawing, "ramp")
    assert {"1.00", "1.50"} <= set(texts.index)


@pytest.fixture(scope="module")
def crowded():
    """A flight amid small planters so close to one another that no text fits between them."""
    stairs = layer("steps", "steps", box(24, 26, 27, 30), base=1.0, top=2.5)
    ground = layer("lower", "terrace", box(0, 50, 0, 30), base=0.0, top=1.0)
    upper = layer("upper", "terrace", box(0, 50, 30, 60), base=0.0, top=2.5)
    spots = [(x, y) for x in np.arange(1, 49, 0.9) for y in np.arange(1, 59, 0.9)]
    free = [(x, y) for x, y in spots if not (23 < x < 27 and 26 < y < 31) and abs(y - 29.7) > 0.9]
    planters = [box(x, x + 0.4, y, y + 0.4) for x, y in free]
    layers = [ground, upper, stairs, layer("planters", "planter", *planters, base="below", height=0.3)]
    return siteaxo.Site(name="Crowd", layers=layers, plane_crs=CRS, base_line=90.0).stack()


def test_ends_without_room_are_counted_on_the_sheet(crowded, tmp_path):
    drawing = crowded.draw(VIEW, people=False)
    figure = drawing.figure(sheet="A0", scale=200)
    findings = figure.drawing.findings
    lost = findings[findings["code"] == CODE]
    assert set(lost["layer"]) == {"steps"}
    assert 1 <= len(lost) <= 2
    assert CODE not in set(drawing.findings["code"])
    figure.savefig(tmp_path / "crowd.svg")
    count = f"{len(lost)} level{'s' if len(lost) > 1 else ''} left out"
    assert count in (tmp_path / "crowd.svg").read_text(encoding="utf-8")


def test_the_list_of_cautions_counts_them_too(crowded, tmp_path):
    figure = crowded.draw(VIEW, people=False).with_cautions(crowded.cautions()).figure(sheet="A0", scale=200)
    lost = int((figure.drawing.findings["code"] == CODE).sum())
    assert lost
    figure.savefig(tmp_path / "crowd.svg")
    said = (tmp_path / "crowd.svg").read_text(encoding="utf-8")
    assert said.count("of ramps and steps without room") == 1  # in the list
    assert said.count(f"{lost} level{'s' if lost > 1 else ''} left out") == 1  # in the legend


def test_the_legend_of_several_drawings_counts_them_once(crowded, tmp_path):
    drawing = crowded.draw(VIEW, people=False)
    alone = drawing.figure(sheet="A0", scale=200).drawing.findings
    lost = int((alone["code"] == CODE).sum())
    sheet = siteaxo.side_by_side([drawing, drawing], sheet="A0", scale=200)
    sheet.savefig(tmp_path / "two.svg")
    said = (tmp_path / "two.svg").read_text(encoding="utf-8")
    assert lost
    assert said.count("left out") == 1
    assert f"{2 * lost} levels left out" in said


def test_no_levels_where_none_are_wanted():
    drawing = terraces(STEPS).draw(VIEW, people=False)
    shown = drawing.figure(sheet="A2", scale=SCALE, levels=False).drawing
    assert "labels" not in shown.extra or not (shown.extra["labels"]["layer"] == "steps").any()


@pytest.mark.parametrize("scale", [150, 200, 250])
def test_an_end_and_the_surface_beside_it_do_not_say_one_level_twice(scale):
    """Within 12 mm one of them suffices."""
    table = terraces(STEPS).draw(VIEW, people=False).figure(sheet="A3", scale=scale).drawing.extra["labels"]
    ends = table[(table["kind"] == "slope level") & (table["text"] != "")]
    marks = table[(table["kind"] == "level") & (table["text"] != "")]
    assert len(ends) == 2
    for text, end in zip(ends["text"], ends.geometry, strict=True):
        assert (marks.geometry[marks["text"] == text].distance(end) >= 0.012 * scale).all()
