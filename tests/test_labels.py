import itertools

import geopandas
import numpy as np
import places
import pytest
import shapely
from handmade import ORIGIN, terraces, view_record

import siteaxo
from siteaxo.craft.colours import contrast
from siteaxo.craft.style import STYLES, Style
from siteaxo.errors import SheetError
from siteaxo.sheet.callouts import Label
from siteaxo.sheet.canvas import drawing_defaults
from siteaxo.sheet.dimensions import AWAY_MM, dimension_strokes, overall_dimensions
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.groups import Group
from siteaxo.sheet.levels import level_regions
from siteaxo.sheet.placing import Room
from siteaxo.sheet.wants import Wants
from siteaxo.units import level_words

ALL = Wants(
    dimensions=True,
    labels=(
        Label(text="The upper yard", layer="Terraces", source_id="9"),
        Label(text="Way in", layer="Lawns"),
    ),
)


def labels_of(diagram, **options) -> object:
    return make_figure(diagram, **{"sheet": "A1", "scale": "fit", **options}).drawing.extra["labels"]


def boxes_of(table, scale: float) -> np.ndarray:
    """Boxes of all texts that stand level, from the lines they stand on and their height."""
    turned = table["kind"].isin(("dimension", "slope", "slope level"))
    texts = table[(table["line_mm"] == 0) & ~turned]
    ends = shapely.get_coordinates(texts.geometry.array).reshape(-1, 2, 2)
    high = texts["height_mm"].to_numpy(dtype=float) * scale / 1000
    return np.column_stack([ends[:, 0], ends[:, 1, 0], ends[:, 0, 1] + high])


@pytest.fixture(
    scope="module", params=[(name, scale) for name in places.PLACES for scale in (200, 500)], ids=str
)
def placed(request):
    name, scale = request.param
    diagram = places.PLACES[name]().stack().draw(siteaxo.planometric(30), scale=scale)
    layer = diagram.plan["layer"].iloc[1]
    figure = diagram.figure(
        sheet="A0", scale=scale, dimensions=True, labels=[siteaxo.Label(text="A name for it", layer=layer)]
    )
    return figure.drawing, figure, scale


def test_no_two_texts_overlap(placed):
    drawing, _, scale = placed
    boxes = boxes_of(drawing.extra["labels"], scale)
    assert len(boxes) >= 3
    for a, b in itertools.combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_no_text_lies_on_a_line(placed):
    drawing, _, scale = placed
    lines = drawing.edges[drawing.edges["drawn"] == 1].geometry.array
    boxes = shapely.box(*boxes_of(drawing.extra["labels"], scale).T)
    assert not len(shapely.STRtree(lines).query(boxes, predicate="intersects")[0])


@pytest.mark.parametrize("turn", [0, 30])
def test_callouts_with_a_leader_keep_half_their_height_from_lines(turn):
    diagram = places.street_block().stack().draw(siteaxo.planometric(turn=turn), scale=500)
    x, y = diagram.view.origin_x, diagram.view.origin_y
    labels = [Label(text=f"Place {n}", at=(x + n, y - 20.0, 20.0)) for n in range(-30, 40, 10)]
    drawing = diagram.figure(sheet="A3", scale=500, levels=False, labels=labels).drawing
    boxes = boxes_of(drawing.extra["labels"], 500)
    boxes[:, 1] -= 0.499 * 2.5 * 0.5  # half the height of letters of 2.5 mm
    boxes[:, 3] += 0.499 * 2.5 * 0.5
    edges = drawing.edges[drawing.edges["drawn"] == 1]
    assert len(boxes) == len(labels)
    assert not len(edges.sindex.query(shapely.box(*boxes.T), predicate="intersects")[0])


def test_texts_are_where_the_table_says(placed):
    """Extents of the texts as matplotlib draws them against lines and heights of the table."""
    drawing, figure, scale = placed
    table = drawing.extra["labels"]
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    group = next(one for one in axes.get_children() if isinstance(one, Group) and one.get_gid() == "labels")
    texts = [one for one in group.members if hasattr(one, "get_text")]
    assert [one.get_text() for one in texts] == table.loc[table["line_mm"] == 0, "text"].tolist()
    with drawing_defaults():
        renderer = figure.canvas.get_renderer()
        for text, row in zip(texts, table[table["line_mm"] == 0].itertuples(), strict=True):
            if row.kind in ("dimension", "slope", "slope level"):
                continue
            box = axes.transData.inverted().transform(text.get_window_extent(renderer).get_points())
            ends = shapely.get_coordinates(row.geometry)
            slack = 0.6 * scale / 1000  # bearings of letters, and whole pixels
            assert box[0, 0] == pytest.approx(ends[0, 0], abs=slack)
            assert box[1, 0] == pytest.approx(ends[1, 0], abs=slack)


def test_levels_are_those_of_the_faces_beneath(placed):
    drawing, _, scale = placed
    table = drawing.extra["labels"]
    marks, words = (
        table[table["kind"] == "level mark"],
        table[(table["kind"] == "level") & (table["line_mm"] == 0)],
    )
    lines, crosses = (np.asarray(one.geometry.array) for one in (words, marks))
    near = shapely.distance(lines[:, None], crosses).min(axis=1)
    words = words[near < 2.0 * scale / 1000]  # the others stand at the end of a leader
    assert len(marks) >= 2
    tree = shapely.STRtree(drawing.faces.geometry.array)
    for mark, word in zip(marks.itertuples(), words.itertuples(), strict=False):
        (face,) = tree.query(shapely.centroid(mark.geometry), predicate="within")
        level = float(drawing.faces["level_max"].iloc[face])
        assert word.text == level_words(level)


@pytest.mark.parametrize(("below", "levels"), [(5.0, ["10.00", "11.00"]), (30.0, ["10.00"])])
def test_no_level_stands_on_another_area_that_is_level(below, levels):
    """A block 14 × 3 m, seen aslant, has no room for its own; only near the edge is bare paper by it."""
    block = shapely.box(40, below, 54, below + 3)
    layers = [
        places.layer("yard", "terrace", [shapely.box(0, 0, 90, 60)], base=9.0, top=10.0),
        places.layer("block", "structure", [block], base=10.0, top=11.0),
    ]
    diagram = siteaxo.Site(layers=layers, base_line=90.0).stack().draw(siteaxo.planometric(30), scale=500)
    drawing = diagram.figure(sheet="A2", scale=500).drawing
    table = drawing.extra["labels"]
    texts = table[(table["kind"] == "level") & (table["line_mm"] == 0)]
    assert sorted(texts["text"]) == levels
    box = shapely.box(*boxes_of(texts[texts["text"] == "11.00"], 500).T)
    assert not drawing.faces.sindex.query(box, predicate="intersects").size


@pytest.mark.parametrize(("wide", "levels"), [(3.0, ["10.00", "11.00"]), (60.0, ["10.00"])])
def test_no_leader_to_a_level_crosses_a_crown(wide, levels):
    """A block near the edge of a yard, with a row of trees before it that is short or long."""
    middle = 47.0 - wide / 2
    stems = [shapely.Point(x, -1.0) for x in np.arange(middle, middle + wide + 0.1, 1.5)]
    layers = [
        places.layer("yard", "terrace", [shapely.box(0, -1.5, 90, 60)], base=9.0, top=10.0),
        places.layer("block", "structure", [shapely.box(40, 5, 54, 8)], base=10.0, top=11.0),
        places.layer("trees", "tree", stems, base="below", height=3.0, diameter=2.5),
    ]
    diagram = siteaxo.Site(layers=layers, base_line=90.0).stack().draw(siteaxo.planometric(30), scale=500)
    table = diagram.figure(sheet="A2", scale=500).drawing.extra["labels"]
    texts = table[(table["kind"] == "level") & (table["line_mm"] == 0)]
    assert sorted(texts["text"]) == levels
    crowns = diagram.faces[diagram.faces["part"] == "crown"]
    assert not len(crowns.sindex.query(table.geometry[table["kind"] == "leader"], predicate="intersects")[0])


def test_the_same_drawing_gets_the_same_labels():
    one, two = (labels_of(terraces(), wants=ALL) for _ in range(2))
    assert one.equals(two)
    assert len(one) > 10


@pytest.mark.parametrize("name", STYLES)
def test_every_text_can_be_read_on_what_lies_under_it(name):
    """WCAG 2.2 §1.4.3: 4.5 for text, on its halo or else on all that it stands on."""
    style = Style.named(name)
    drawing = make_figure(terraces(style=style), wants=ALL, sheet="A1", scale="fit", style=style).drawing
    table, faces = drawing.extra["labels"], drawing.faces
    texts = table[table["line_mm"] == 0]
    assert len(texts) > 5
    for row in texts.itertuples():
        under = faces["fill"][faces.geometry.intersects(row.geometry)]
        for tone in [row.fill] if row.fill else [*under, *([] if len(under) else [style.paper])]:
            assert contrast(row.colour, tone) >= 4.5


def test_levels_of_terraces_in_words():
    """Three terraces at 13, 14 and 15 m."""
    table = labels_of(terraces(), scale=100)
    texts = table.loc[(table["kind"] == "level") & (table["line_mm"] == 0), "text"]
    assert sorted(texts) == ["13.00", "14.00", "15.00"]


def test_levels_can_be_left_out():
    figure = make_figure(terraces(), wants=Wants(levels=False))
    assert "labels" not in figure.drawing.extra


def test_small_areas_get_no_mark():
    """10 × 2 m are 20 × 4 mm at 1:500 and 2 × 0.4 mm at 1:5000."""
    assert len(level_regions(terraces().faces, 500)) == 3
    assert not level_regions(terraces().faces, 5000)


@pytest.mark.parametrize(("scale", "marks"), [(399, 4), (401, 2), (1000, 2), (1250, 1)])
def test_roofs_of_one_height_are_marked_where_they_lie_apart(scale, marks):
    """Middles of four at 0, 12, 24 and 36 m: 30 mm apart at 1:400, the last 36 mm off at 1:1000."""
    columns = {"layer": "houses", "role": "structure", "source_id": "1", "fill": "#ffffff", "normal_z": 1.0}
    level = {"normal_x": 0.0, "normal_y": 0.0, "offset": 9.0, "level_min": 9.0, "level_max": 9.0}
    roofs = shapely.box(np.arange(0, 48, 12), 0, np.arange(10, 58, 12), [10.0, 9.9, 9.8, 9.7])
    table = geopandas.GeoDataFrame([columns | level] * 4, geometry=roofs)
    assert len(level_regions(table, scale)) == marks


def test_faces_of_one_level_that_touch_are_one_area():
    diagram = terraces()
    faces = diagram.faces.copy()
    faces.loc[faces["part"] == "top", "level_max"] = 13.0
    faces = faces.set_geometry(
        [*shapely.box([0, 4, 8.0], 0, [4, 8, 12.0], 3), *np.asarray(faces.geometry.array)[3:]]
    )
    (region,) = level_regions(faces, 100)
    assert region.region.area == pytest.approx(36, rel=1e-3)
    assert region.level == 13.0


def test_a_place_is_inside_and_nearest_to_the_middle():
    region = shapely.box(0, 0, 10, 6)
    room = Room(
        lines=np.array([shapely.LineString([(5, -1), (5, 7)])]),
        areas=np.array([region]),
        quiet=np.array([True]),
        window=(-20.0, -20.0, 20.0, 20.0),
    )
    extent = np.array([-1.0, -0.5, 1.0, 0.5])
    place = room.inside(region, extent, 0.25)
    assert 1 < abs(place[0] - 5) < 1.4
    assert place[1] == pytest.approx(3, abs=0.3)
    room.take(np.concatenate([place, place]) + extent)
    again = room.inside(region, extent, 0.25)
    assert np.abs(again - place).max() >= 1
    assert room.inside(shapely.box(0, 0, 1, 1), extent, 0.25) is None


def test_leaders_cross_neither_words_nor_one_another():
    diagram = terraces()
    many = tuple(Label(text=f"Label {k}", at=(ORIGIN[0] + 2 * k, ORIGIN[1] + 1, 13.0)) for k in range(1, 5))
    table = labels_of(diagram, wants=Wants(levels=False, labels=many), scale=100)
    texts = table[table["line_mm"] == 0]
    leaders = table[(table["kind"] == "leader") & (table["line_mm"] > 0)].geometry.array
    assert sorted(texts["text"]) == [f"Label {k}" for k in range(1, 5)]
    boxes = shapely.box(*boxes_of(table, 100).T)
    assert not len(shapely.STRtree(leaders).query(boxes, predicate="intersects")[0])
    for a, b in itertools.combinations(leaders, 2):
        assert not a.intersects(b)


def test_no_label_is_lost_where_many_crowd():
    many = tuple(Label(text=f"Label {k}", at=(ORIGIN[0] + 5, ORIGIN[1] + 1, 13.0)) for k in range(12))
    table = labels_of(terraces(), wants=Wants(levels=False, labels=many), scale=100)
    assert len(table[table["line_mm"] == 0]) == 12


def test_labels_stay_on_the_sheet():
    table = labels_of(terraces(), wants=ALL, sheet="A4", scale=200)
    figure = make_figure(terraces(), wants=ALL, sheet="A4", scale=200)
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    left, right = axes.get_xlim()
    bottom, top = axes.get_ylim()
    low_x, low_y, high_x, high_y = table.total_bounds
    assert left < low_x < high_x < right
    assert bottom < low_y < high_y < top


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"text": " ", "layer": "a"}, "needs a text"),
        ({"text": "a"}, "either a layer"),
        ({"text": "a", "layer": "a", "at": (0, 0, 0)}, "either a layer"),
        ({"text": "a", "at": (0, 0)}, "easting, northing and level"),
        ({"text": "a", "at": (0, 0, float("inf"))}, "finite"),
    ],
)
def test_labels_are_checked(options, message):
    with pytest.raises(SheetError, match=message):
        Label(**options)


@pytest.mark.parametrize(("layer", "ref"), [("Nowhere", None), ("Terraces", "77")])
def test_a_label_for_what_is_not_there_is_refused(layer, ref):
    with pytest.raises(SheetError, match="the drawing has no"):
        labels_of(terraces(), wants=Wants(labels=(Label(text="a", layer=layer, source_id=ref),)))


def test_notes_of_the_site_are_labels():
    diagram = terraces()
    plan = diagram.plan.copy()
    plan.loc[0, ["role", "source_id"]] = ["note", "Old well"]
    noted = type(diagram)(**{**vars(diagram), "plan": plan})
    table = labels_of(noted, wants=Wants(levels=False))
    assert table.loc[table["line_mm"] == 0, "text"].tolist() == ["Old well"]
    leader = shapely.get_coordinates(table.geometry[table["kind"] == "leader"].iloc[0])[0]
    assert leader == pytest.approx([5.0, 1.0 + 1.0])  # the middle of its footprint, 1 m up


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 60.0])
def test_overall_dimensions_are_true(turn):
    """Three terraces of 10 × 2 m, together 10 × 6 m and 3 m high."""
    diagram = terraces(view=view_record(turn))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    turned = diagram.plan.set_geometry(
        shapely.transform(np.asarray(diagram.plan.geometry.array), lambda xy: xy @ [[c, s], [-s, c]])
    )
    diagram = type(diagram)(**{**vars(diagram), "plan": turned})
    sizes = {one.name: one for one in overall_dimensions(diagram)}
    assert {name: one.length for name, one in sizes.items()} == pytest.approx({"x": 10, "y": 6, "height": 3})
    for one in sizes.values():  # in a planometric view all three are drawn true
        assert np.hypot(*(one.ends[1] - one.ends[0])) == pytest.approx(one.length)
        strokes = dimension_strokes(one, 200)
        line = strokes[2]
        assert np.hypot(*(line[1] - line[0])) == pytest.approx(one.length)
        assert (line - one.ends) @ one.outward == pytest.approx(AWAY_MM * 0.2)


def test_dimensions_say_their_lengths_and_leave_room():
    figure = make_figure(terraces(), wants=Wants(dimensions=True, levels=False), scale=100)
    table = figure.drawing.extra["labels"]
    assert sorted(table.loc[table["line_mm"] == 0, "text"]) == ["10.00 m", "3.00 m", "6.00 m"]
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    assert axes.get_xlim()[0] < table.total_bounds[0]
    assert axes.get_ylim()[0] < table.total_bounds[1]
    with pytest.raises(SheetError, match="has 227 × 82 mm"):
        make_figure(terraces(), wants=Wants(dimensions=True), sheet="A4", scale=50)


@pytest.mark.parametrize(("level", "words"), [(12.345, "12.35"), (-0.5, "−0.50"), (0, "0.00")])
def test_levels_in_words(level, words):
    assert level_words(level + 1e-9) == words


@pytest.mark.parametrize("base_line", [90.0, 60.0])
def test_overall_dimensions_are_of_what_is_drawn(base_line):
    """
    A slope of 40 × 30 m; a path 2 m wide ends at its edge askew, so that a square end goes beyond.

    On the central meridian of UTM a metre of the grid is 1/0.9996 m.
    """
    angle = np.radians(90.0 - base_line)
    way = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])

    def table(*shapes, **columns):
        turned = shapely.transform(np.array(shapes), lambda xy: xy @ way + (500000.0, 5700000.0))
        return geopandas.GeoDataFrame(columns, geometry=turned, crs="EPSG:25832")

    corners = shapely.points([(0, 0), (40, 0), (40, 30), (0, 30)])
    layers = [
        siteaxo.Layer(name="ground", role="ground", source=table(shapely.box(0, 0, 40, 30)), top="survey"),
        siteaxo.Layer(
            name="levels", role="spot level", source=table(*corners, z=[10.0, 10.0, 13.0, 13.0]), top="z"
        ),
        siteaxo.Layer(
            name="trail", role="path", source=table(shapely.LineString([(0, 10), (40, 25)])), width=2.0
        ),
    ]
    diagram = (
        siteaxo.Site(name="Slope", layers=layers, base_line=base_line).stack().draw(siteaxo.planometric(30))
    )
    sizes = {one.name: one.length for one in overall_dimensions(diagram)}
    assert sizes["x"] == pytest.approx(40.0 / 0.9996, abs=0.001)
    assert sizes["y"] == pytest.approx(30.0 / 0.9996, abs=0.001)
