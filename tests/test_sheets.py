"""Several drawings on one sheet, axes of one's own, notebooks, and sizes of sheets."""

import base64
import io
import re

import matplotlib
import numpy as np
import places
import pytest
import shapely
from handmade import terraces, view_record
from PIL import Image

import siteaxo
from siteaxo.craft.style import Style
from siteaxo.errors import SheetError
from siteaxo.sheet.canvas import render
from siteaxo.sheet.figure import make_figure, make_sheet, plot_on
from siteaxo.sheet.page import SHEETS_MM, Sheet
from siteaxo.sheet.placement import place, place_all
from siteaxo.sheet.symbols import axis_vectors, truth_in_words
from siteaxo.sheet.wants import Panel, Wants


@pytest.mark.parametrize(
    ("name", "short", "long"),
    [("ARCH A", 9, 12), ("ARCH B", 12, 18), ("ARCH C", 18, 24), ("ARCH D", 24, 36), ("ARCH E", 36, 48),
     ("ARCH E1", 30, 42)],
)  # fmt: skip
def test_architectural_sizes(name, short, long):
    """Common practice of North American offices, in inches."""
    assert SHEETS_MM[name] == pytest.approx((short * 25.4, long * 25.4))


@pytest.fixture(scope="module")
def diagrams():
    model = places.street_block().stack()
    return [model.draw(siteaxo.planometric(turn)) for turn in (30, 60)] + [model.draw(siteaxo.isometric())]


def test_several_drawings_share_a_sheet_and_a_scale(diagrams):
    figure = siteaxo.side_by_side(diagrams, captions=["a", "b", "c"], sheet="A0", title="Three views")
    axes = [one for one in figure.axes if str(one.get_gid()).startswith("drawing")]
    assert len(axes) == 3
    scales = set()
    for one in axes:
        box = one.get_position()
        scales.add(round(np.ptp(one.get_xlim()) * 1000 / (box.width * figure.get_figwidth() * 25.4), 6))
        scales.add(round(np.ptp(one.get_ylim()) * 1000 / (box.height * figure.get_figheight() * 25.4), 6))
    (scale,) = scales
    assert [drawing.scale for drawing in figure.drawing] == pytest.approx([scale] * 3)
    space = Sheet(name="A0").drawing_space
    boxes = [one.get_window_extent().extents * 25.4 / figure.dpi for one in axes]
    for a, b in ((boxes[0], boxes[1]), (boxes[1], boxes[2]), (boxes[0], boxes[2])):
        assert a[2] <= b[0] + 1e-6 or b[2] <= a[0] + 1e-6 or a[3] <= b[1] + 1e-6 or b[3] <= a[1] + 1e-6
    assert min(box[0] for box in boxes) >= space.left - 1e-6
    words = [text.get_text() for text in figure.axes[-1].texts]
    for caption in ("1  a", "2  b", "3  c", "Three views"):
        assert caption in [re.sub(" +", " ", word) for word in words] or caption.replace("  ", " ") in words
    assert figure.description.count("drawn 1:") == 3


def test_names_of_groups_are_unique_on_a_sheet_of_several(diagrams):
    figure = siteaxo.side_by_side(diagrams[:2], sheet="A1")
    ids = re.findall(rb'<g id="([^"]+)"', render(figure, "svg"))
    assert len(ids) == len(set(ids)) > 20


@pytest.mark.parametrize(("columns", "shape"), [(1, (1, 3)), (2, (2, 2)), (3, (3, 1)), (9, (3, 1))])
def test_drawings_lie_row_by_row(columns, shape):
    spots = place_all([(0, 0, 30, 20)] * 3, sheet="A2", columns=columns)
    assert len({one.space.left for one in spots}) == shape[0]
    assert len({round(one.space.bottom, 6) for one in spots}) == shape[1]
    assert spots[0].space.bottom >= spots[-1].space.bottom


def test_the_arrangement_is_the_one_that_lets_drawings_be_largest():
    wide = place_all([(0, 0, 60, 10)] * 3, sheet="A3")
    tall = place_all([(0, 0, 10, 60)] * 3, sheet="A3")
    assert len({one.space.left for one in wide}) == 1
    assert len({one.space.left for one in tall}) == 3


@pytest.mark.parametrize(("count", "columns"), [(4, 2), (5, 3), (6, 3), (8, 4), (9, 3)])
def test_of_arrangements_at_one_scale_the_fullest_is_taken(count, columns):
    spots = place_all([(0, 0, 100, 80)] * count, sheet="A1")
    assert len({one.space.left for one in spots}) == columns
    assert -count % columns <= 1  # five fill no two rows, and in one row they would be smaller
    asked = place_all([(0, 0, 100, 80)] * 8, sheet="A1", scale=600)
    assert len({one.space.left for one in asked}) == 4  # two rows of four, not three rows with a gap


@pytest.mark.parametrize(("wide", "high"), [(30, 20), (30, 30), (30, 50), (50, 30), (80, 40)])
@pytest.mark.parametrize("count", [5, 7, 11])
@pytest.mark.parametrize("sheet", ["A2", "A1"])
def test_no_drawing_is_squeezed_into_a_narrow_place_where_there_are_wider_ones(sheet, count, wide, high):
    """Seven in one row would fill it without a gap; at the same scale two rows have far more room."""
    bounds = [(0, 0, wide, high)] * count
    taken = place_all(bounds, sheet=sheet)
    ways = [place_all(bounds, sheet=sheet, columns=columns) for columns in range(1, count + 1)]
    assert taken[0].scale == min(way[0].scale for way in ways)

    def roomy(spots):
        """How many times as large a drawing could be in its place, less 6 mm at each side."""
        space, mm = spots[0].space, 1000 / spots[0].scale
        return min((space.width - 12) / (wide * mm), (space.height - 12) / (high * mm))

    equal = [roomy(way) for way in ways if way[0].scale == taken[0].scale]
    assert roomy(taken) >= 0.75 * max(equal) - 1e-9


@pytest.mark.parametrize("columns", [0, -1, 1.5, True])
def test_bad_columns_are_refused(columns):
    with pytest.raises(SheetError, match="columns"):
        place_all([(0, 0, 1, 1)], columns=columns)


def test_what_is_missing_is_said(diagrams):
    with pytest.raises(SheetError, match="no drawing"):
        make_sheet([])
    with pytest.raises(SheetError, match="2 drawings and 1 captions"):
        siteaxo.side_by_side(diagrams[:2], captions=["one"])
    with pytest.raises(SheetError, match=r"largest of 3 drawings .* at 1:20, .*no sheet is large enough"):
        siteaxo.side_by_side(diagrams, sheet="A3", scale=20)


def test_a_panel_keeps_its_own_style():
    panels = [
        Panel(diagram=terraces(), style=Style.named(name), caption=name) for name in ("muted", "line only")
    ]
    figure = make_sheet(panels, sheet="A3")
    muted, bare = figure.drawing
    assert set(bare.faces["fill"]) == {"#ffffff"}
    assert len(set(muted.faces["fill"])) > 2


def test_plotting_on_axes_of_ones_own():
    diagram = terraces()
    figure = matplotlib.figure.Figure()
    axes = figure.add_subplot()
    assert plot_on(axes, diagram) is axes
    assert axes.get_aspect() == 1
    left, right = axes.get_xlim()
    bottom, top = axes.get_ylim()
    assert left < 0 < 10 < right
    assert bottom < 0 < 9 < top
    widths = {
        round(patch.get_linewidth() * 25.4 / 72, 2)
        for group in axes.get_children()
        if group.get_gid() == "edges"
        for patch in group.get_children()
    }
    assert widths == set(diagram.edges.loc[diagram.edges["drawn"] == 1, "line_mm"].round(2))
    figure.savefig(io.BytesIO(), format="png")


def test_a_diagram_plots_itself_and_leaves_rc_settings_alone(diagrams):
    before = dict(matplotlib.rcParams)
    with matplotlib.rc_context({"backend": "agg"}):
        axes = diagrams[0].plot(hidden=True)
        assert {"faces", "edges", "hidden_edges"} <= {one.get_gid() for one in axes.get_children()}
        matplotlib.pyplot.close(axes.figure)
    assert {key: value for key, value in matplotlib.rcParams.items() if key != "backend"} == {
        key: value for key, value in before.items() if key != "backend"
    }


def test_notebooks_get_a_picture_with_words(diagrams):
    page = diagrams[0]._repr_html_()
    (data,) = re.findall(r'src="data:image/png;base64,([^"]+)"', page)
    image = Image.open(io.BytesIO(base64.b64decode(data)))
    assert min(image.size) > 800
    (words,) = re.findall(r'alt="([^"]+)"', page)
    assert "Fennick Row" in words
    assert "flight of steps" in words
    assert diagrams[0]._repr_png_().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("view", "words"),
    [
        (siteaxo.planometric(30), "x, y, z true to scale"),
        (siteaxo.planometric(45, 2 / 3), "x, y true to scale; z at 0.667"),
        (siteaxo.isometric(), "x, y, z true to scale"),
        (siteaxo.cabinet(), "x, z true to scale; y at 0.5"),
        (siteaxo.dimetric(), "x, z true to scale; y at 0.5"),
    ],
    ids=["planometric", "shortened", "isometric", "cabinet", "dimetric"],
)
def test_the_axis_key_says_what_is_true(view, words):
    """ISO 5456-3 (from memory): planometric 1:1:1 and 1:1:⅔, isometric 1:1:1, cabinet and dimetric 1:½:1."""
    record = view_record(view.turn, matrix=view.matrix, kind=view.kind)
    assert truth_in_words(record) == words


@pytest.mark.parametrize("turn", [0, 30, 45, 60])
def test_axes_run_as_the_plan_is_turned(turn):
    """x lies at the turn, y square to it, heights straight up the page; the base line may lie anywhere."""
    squared = siteaxo.planometric(turn).after_turning(-25.0)
    vectors = axis_vectors(view_record(turn, matrix=squared.matrix, base_line=25.0))
    bearing = {name: np.degrees(np.arctan2(*vector[::-1])) for name, vector in vectors.items()}
    assert bearing == pytest.approx({"x": turn, "y": turn + 90, "z": 90})


def test_the_axis_key_is_drawn_so():
    figure = make_figure(terraces(view=view_record(30.0)))
    axes = next(one for one in figure.axes if one.get_gid() == "furniture")
    for name, angle in (("x", 30), ("y", 120), ("z", 90)):
        line = next(one for one in axes.get_children() if one.get_gid() == f"axis_{name}")
        ends = np.array(line.get_data()).T
        step = ends[1] - ends[0]
        assert np.degrees(np.arctan2(*step[::-1])) == pytest.approx(angle, abs=1e-6)


@pytest.mark.parametrize("name", places.PLACES)
@pytest.mark.parametrize("scale", [200, 500])
def test_a_length_on_site_has_its_length_on_paper(name, scale):
    """The longest line of a drawing, on the sheet as matplotlib sees it."""
    diagram = places.PLACES[name]().stack().draw(siteaxo.planometric(30), scale=scale)
    figure = diagram.figure(sheet="A0", scale=scale, orientation="auto")
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    longest = max(figure.drawing.edges.geometry, key=lambda one: one.length)
    ends = axes.transData.transform(shapely.get_coordinates(longest)) / figure.dpi * 25.4
    assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(longest.length * 1000 / scale, abs=0.05)


@pytest.mark.parametrize("scale", [200, 500])
@pytest.mark.parametrize("name", places.PLACES)
def test_drawings_of_places_hold_together(name, scale):
    """What an eye would check, as data: weights, patterns, thinning and labels of whole drawings."""
    diagram = places.PLACES[name]().stack().draw(siteaxo.planometric(45), scale=scale)
    figure = diagram.figure(sheet="A0", scale=scale)
    shown = figure.drawing
    edges = shown.edges
    by_role = edges[(edges["kind"] == "profile") & (edges["outline"] == "")].groupby("role")["line_mm"].max()
    assert by_role["structure"] > by_role["lawn" if "lawn" in by_role else "paving"]
    assert 0.5 < edges["drawn"].mean() <= 1
    if scale == 500:
        assert (edges["drawn"] == 0).any()
    patterns = shown.extra["patterns"]
    assert (patterns["line_mm"] <= edges["line_mm"].min()).all()
    seen = shapely.union_all(np.asarray(shown.faces.geometry.array), grid_size=1e-6)
    shapely.prepare(seen)
    outside = shapely.difference(np.asarray(patterns.geometry.array), seen.buffer(1e-4))
    assert shapely.length(outside).sum() < 1e-3
    assert len(set(shown.faces["fill"])) < 70
    assert "labels" in shown.extra


@pytest.mark.parametrize("kind", ["pdf", "svg", "png"])
def test_the_same_site_gives_the_same_bytes(kind):
    one, two = (
        render(
            places.quay()
            .stack()
            .draw(siteaxo.planometric(30))
            .figure(sheet="A2", scale="fit", dimensions=True),
            kind,
            dpi=60,
        )
        for _ in range(2)
    )
    assert one == two


def test_a_sheet_of_a_place_says_what_its_scale_is():
    figure = places.quay().stack().draw().figure(sheet="ARCH D", scale="fit")
    words = [text.get_text() for text in figure.axes[-1].texts]
    assert "Scale, largest that fits" in words
    assert any(re.fullmatch(r"1:\d+ at ARCH D", word) for word in words)


def test_groups_of_an_svg_are_nested_by_table():
    import xml.etree.ElementTree as ElementTree

    root = ElementTree.fromstring(render(make_figure(terraces(), wants=Wants(hidden=True)), "svg"))
    svg = "{http://www.w3.org/2000/svg}"
    groups = {one.get("id"): one for one in root.iter(f"{svg}g") if one.get("id")}
    for table in ("faces", "edges", "hidden_edges", "patterns"):
        inner = [
            one.get("id") for one in groups[table].iter(f"{svg}g") if one.get("id") and one.get("id") != table
        ]
        assert inner
        assert all(name.startswith(table) for name in inner)


def test_placing_keeps_room_around():
    near, far = (place((0, 0, 40, 30), scale="fit", room_mm=room) for room in (0.0, 60.0))
    assert far.scale > near.scale


@pytest.mark.parametrize(("sheet", "least"), [("A3", 13.0), ("A2", 13.0), ("A1", 18.0), ("A0", 18.0)])
def test_captions_have_room_for_the_letters_of_their_sheet(sheet, least):
    """5.5 and 3.4 mm to the base lines of its two lines and a descender, times the size of its letters."""
    spots = place_all([(0, 0, 30, 20)] * 4, sheet=sheet)
    size, foot = spots[0].sheet.lettering_mm / 1.8, spots[0].sheet.drawing_space.bottom
    lowest = min(spot.space.bottom for spot in spots)
    assert lowest - foot >= max(least, (5.5 + 3.4 + 0.6) * size)
    assert {round(spot.space.height, 6) for spot in spots} == {round(spots[0].space.height, 6)}
