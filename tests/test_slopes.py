"""Marks of slopes: what is written on them, where, and that it hides nothing."""

import itertools

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.sheet.slope_marks import BESIDE_MM, CLEAR_MM
from siteaxo.sheet.slopes import slope_regions, slope_words

CRS = "EPSG:25832"
ORIGIN = np.array([500_000.0, 5_700_000.0])
SCALE = 100


def layer(name, role, shapes, **keys):
    moved = shapely.transform(np.array(list(shapes), dtype=object), lambda xy: xy + ORIGIN)
    frame = geopandas.GeoDataFrame(geometry=moved, crs=CRS)
    return siteaxo.Layer(name=name, role=role, source=frame, **keys)


def lawn(**keys):
    """10 m by 6 m, from 2.0 at the north side down to 1.4 at the south side: one in ten."""
    levels = {"base": 0.0, "top": 2.0, "low": 1.4, "fall_bearing": 180.0}
    return layer("court", "terrace", [shapely.box(0, 0, 10, 6)], **(levels | keys))


def figure_of(*layers, view=None, sheet="A3", **options):
    site = siteaxo.Site(name="Slope", layers=list(layers), plane_crs=CRS, base_line=90.0)
    diagram = site.stack().draw(view or siteaxo.planometric(turn=0), scale=SCALE, people=False)
    return diagram.figure(sheet=sheet, scale=SCALE, **options)


def marks_of(*layers, **options):
    """Texts by kind, and the shafts of the arrows."""
    table = figure_of(*layers, **options).drawing.extra["labels"]
    words = table[(table["line_mm"] == 0) & table["kind"].str.startswith("slope")]
    arrows = [shapely.get_coordinates(one)[:2] for one in table.geometry[table["kind"] == "slope mark"].array]
    return words.groupby("kind")["text"].apply(sorted).to_dict(), arrows, table


@pytest.mark.parametrize(
    ("slope", "words"),
    [(0.5, "1:2"), (1 / 12.5, "1:12.5"), (1 / 13, "1:13"), (0.02, "1:50"), (1 / 19.96, "1:20")],
)
def test_slopes_in_words(slope, words):
    assert slope_words(slope) == words


def test_a_terrace_that_slopes_has_its_fall_and_the_levels_of_both_ends():
    words, (arrow,), table = marks_of(lawn())
    assert words == {"slope": ["1:10"], "slope level": ["1.40", "2.00"]}
    assert not (table["kind"] == "level").any()  # no single level is its level
    # page Y = y + z: 6.6 long, straight down the page, and clear of both edges
    assert arrow[0, 0] == pytest.approx(arrow[1, 0])
    clear = CLEAR_MM * SCALE / 1000
    assert arrow[0, 1] - arrow[1, 1] == pytest.approx(6.6 - 2 * clear, abs=1e-6)


def test_a_plan_shows_the_run():
    words, (arrow,), _ = marks_of(lawn(), view=siteaxo.planometric(turn=0, height_factor=0))
    assert words == {"slope": ["1:10"], "slope level": ["1.40", "2.00"]}
    assert arrow[0, 1] - arrow[1, 1] == pytest.approx(6 - 2 * CLEAR_MM * SCALE / 1000, abs=1e-6)


@pytest.mark.parametrize("bearing", [0.0, 75.0, 200.0, 310.0])
def test_arrows_point_down_whichever_way_it_falls(bearing):
    _, (arrow,), _ = marks_of(lawn(fall_bearing=bearing))
    turn = np.radians(bearing)
    # a direction on a plane that falls by g on a metre is (sin, cos, -g); page Y = y + z
    half = np.abs([10 * np.sin(turn), 6 * np.cos(turn)]).sum()
    way = np.array([np.sin(turn), np.cos(turn) - 0.6 / half])
    found = arrow[1] - arrow[0]
    assert found / np.hypot(*found) == pytest.approx(way / np.hypot(*way), abs=1e-9)


def test_texts_stand_at_the_ends_whose_levels_they_tell():
    _, (arrow,), table = marks_of(lawn())
    texts = table[table["kind"] == "slope level"]
    for word, end in (("2.00", arrow[0]), ("1.40", arrow[1])):
        (line,) = texts.geometry[texts["text"] == word].array
        assert line.distance(shapely.Point(end)) < 0.6  # 6 mm on paper
        assert line.distance(shapely.LineString(arrow)) >= BESIDE_MM * SCALE / 1000 - 1e-9


def test_an_end_that_is_hidden_has_no_level():
    """A wall 4 m high along the south side hides what lies below Y = 4 of 1.4 to 8."""
    wall = layer("wall", "wall", [shapely.box(0, -0.5, 10, 0)], base=0.0, top=4.0)
    words, (arrow,), _ = marks_of(lawn(), wall)
    assert words == {"slope": ["1:10"], "slope level": ["2.00"]}
    assert arrow[0, 1] - arrow[1, 1] == pytest.approx(8 - 4 - 2 * CLEAR_MM * SCALE / 1000, abs=1e-6)


def test_what_lies_in_one_plane_is_one_slope():
    paths = layer("paths", "paving", [shapely.box(4, 0, 6, 6)], base="below")
    diagram = figure_of(lawn(), paths).drawing
    (region,) = slope_regions(diagram, SCALE)
    assert region.region.area == pytest.approx(10 * 6.6, rel=1e-3)
    assert region.slope == pytest.approx(0.1)
    corner = np.array(diagram.bounds[:2])  # the south-west corner of the court at level 0
    found = region.levels_at(corner + np.array([[5.0, 1.4], [5.0, 8.0]]))
    assert found == pytest.approx([1.4, 2.0], abs=1e-6)


def test_a_ramp_has_a_mark_for_each_run():
    """Two runs of 6 m that rise by half a metre each, and a landing between them."""
    line = shapely.LineString([(0, 0), (13.5, 0)])
    ramp = layer("ramp", "ramp", [line], base=0.0, top=1.0, width=2.0, landing=1.5)
    words, arrows, _ = marks_of(ramp)
    assert words["slope"] == ["1:12", "1:12"]
    assert words["slope level"] == ["0.00", "0.50", "0.50", "1.00"]
    assert len(arrows) == 2


def test_a_slight_fall_is_told_and_not_taken_for_level():
    """Six centimetres on six metres: one in a hundred, which drains."""
    words, _, table = marks_of(lawn(low=1.94))
    assert words == {"slope": ["1:100"], "slope level": ["1.94", "2.00"]}
    assert not (table["kind"] == "level").any()


def test_surveyed_ground_has_none():
    corners = ORIGIN + np.array([[0, 0], [10, 0], [0, 10], [10, 10]])
    spots = geopandas.GeoDataFrame({"z": [0.0, 0.0, 1.0, 1.0]}, geometry=shapely.points(corners), crs=CRS)
    ground = siteaxo.Layer(name="spots", role="spot level", source=spots, top="z")
    assert "labels" not in figure_of(ground).drawing.extra


def test_they_come_with_the_levels():
    assert "labels" not in figure_of(lawn(), levels=False).drawing.extra


def test_words_hide_nothing():
    """A court with a path, a wall across it and two ramps beside it."""
    wall = layer("wall", "wall", [shapely.box(2, 2, 2.4, 5)], base="below", height=1.0)
    lines = [shapely.LineString([(x, 0), (x, 6)]) for x in (-1.2, 11.2)]
    ramp = layer("ramp", "ramp", lines, base=0.0, top=0.5, width=1.2)
    for turn in (0, 30, 60):
        drawing = figure_of(
            lawn(), wall, ramp, view=siteaxo.planometric(turn), dimensions=True, sheet="A2"
        ).drawing
        table = drawing.extra["labels"]
        texts = table[(table["line_mm"] == 0) & (table["kind"] != "dimension")]
        boxes = [_box(row) for row in texts.itertuples()]
        assert len(boxes) >= 8
        for a, b in itertools.combinations(boxes, 2):
            assert not a.intersects(b)
        strokes = table[(table["line_mm"] > 0) & (table["kind"] == "slope mark")].geometry.array
        lines_ = drawing.edges[drawing.edges["drawn"] == 1].geometry.array
        assert not len(shapely.STRtree(lines_).query(boxes, predicate="intersects")[0])
        assert not len(shapely.STRtree(lines_).query(strokes, predicate="intersects")[0])
        assert not len(shapely.STRtree(boxes).query(strokes, predicate="intersects")[0])


def _box(row):
    start, end = shapely.get_coordinates(row.geometry)
    along = (end - start) / np.hypot(*(end - start))
    up = np.array([-along[1], along[0]]) * row.height_mm * SCALE / 1000
    return shapely.Polygon([start, end, end + up, start + up])
