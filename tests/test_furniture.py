import itertools
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pypdfium2
import pytest
from handmade import terraces, view_record

from siteaxo.sheet.canvas import drawing_defaults, render
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.lettering import LETTERING_MM
from siteaxo.sheet.page import SHEETS_MM, Sheet
from siteaxo.sheet.scales import SCALES, bar_length
from siteaxo.sheet.wants import Wants
from siteaxo.sheet.words import CAUTION, plain_text, view_in_words

SVG = "{http://www.w3.org/2000/svg}"


def furniture_of(figure):
    return next(axes for axes in figure.axes if axes.get_gid() == "furniture")


def words_on(figure) -> list[str]:
    return [text.get_text() for text in furniture_of(figure).texts]


def artist(figure, gid):
    return next(one for one in furniture_of(figure).get_children() if one.get_gid() == gid)


def text_boxes(figure) -> dict[str, tuple[float, float, float, float]]:
    """Left, bottom, right and top of every text on the sheet [mm]."""
    with drawing_defaults():
        renderer = figure.canvas.get_renderer()
        boxes = [
            (text, text.get_window_extent(renderer)) for text in furniture_of(figure).texts if text.get_text()
        ]
    to_mm = 25.4 / figure.dpi
    return {
        f"{place} {text.get_text()}": tuple(np.array(box.extents) * to_mm)
        for place, (text, box) in enumerate(boxes)
    }


def test_lettering_heights():
    """ISO 3098: 1.8 2.5 3.5 5 7 10 14 20 mm."""
    assert LETTERING_MM == (1.8, 2.5, 3.5, 5, 7, 10, 14, 20)


def test_capitals_have_the_height_of_the_series():
    """The typeface's own outline of a capital, from matplotlib's text path."""
    from matplotlib.textpath import TextPath

    sizes = {
        text.get_fontproperties().get_size_in_points() for text in furniture_of(make_figure(terraces())).texts
    }
    for size in sizes:
        capital = TextPath((0, 0), "H", size=size, prop="DejaVu Sans").get_extents().height * 25.4 / 72
        assert min(abs(capital - height) for height in LETTERING_MM) < 0.02


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_the_caution_is_on_every_sheet(kind):
    content = render(make_figure(terraces()), kind)
    if kind == "svg":
        texts = [one.text for one in ElementTree.fromstring(content).iter(f"{SVG}text")]
        assert CAUTION in texts
    else:
        with pypdfium2.PdfDocument(content) as pdf:
            assert CAUTION in pdf[0].get_textpage().get_text_range().replace("\r\n", " ")


@pytest.mark.parametrize(
    "part",
    [
        "not for construction or setting out",
        "levels as supplied",
        "check local codes",
        "licensed professional",
    ],
)
def test_the_caution_says(part):
    assert part in CAUTION.lower()


def test_the_title_block_says_what_is_drawn():
    words = words_on(make_figure(terraces(view=view_record(60.0)), scale=100, title="Terraces as built"))
    for text in (
        "Terraces as built",
        "Dyers' Yard",
        "Planometric, plan turned 60° from its base line; heights at full scale",
        "1:100 at A3",
        "12.00 m",
    ):
        assert text in words


def test_without_a_title_the_site_is_the_title():
    assert words_on(make_figure(terraces())).count("Dyers' Yard") == 1


def test_a_fitted_scale_says_so():
    assert "Scale, largest that fits" in words_on(make_figure(terraces(), scale="fit"))
    assert "Scale" in words_on(make_figure(terraces(), scale=200))


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1.0, "full scale"),
        (2 / 3, "two thirds of full scale"),
        (0.5, "half scale"),
        (0.6, "0.6 of full scale"),
    ],
)
def test_heights_in_words(factor, words):
    """ISO 5456-3:1996 (from memory) has heights at 1:1 and at 2/3."""
    assert view_in_words(view_record(30.0, height_factor=factor)).endswith(f"; heights at {words}")


@pytest.mark.parametrize("north", [0.0, 17.3, 90.0, 150.0, 222.5, -45.0])
def test_the_north_arrow_points_north(north):
    figure = make_figure(terraces(view=view_record(north_angle=north)))
    ring = np.array(artist(figure, "north_ring").center)
    tip = artist(figure, "north_head").get_xy()[0] - ring
    shaft = np.array(artist(figure, "north_shaft").get_data()).T
    for along in (tip, shaft[1] - shaft[0]):
        assert np.degrees(np.arctan2(along[1], along[0])) % 360 == pytest.approx(north % 360, abs=1e-6)
    mark = next(text for text in furniture_of(figure).texts if text.get_text() == "N")
    beside = np.array(mark.get_position()) + np.array([0, 1.25]) - ring
    assert np.degrees(np.arctan2(beside[1], beside[0])) % 360 == pytest.approx(north % 360, abs=1e-6)


def test_north_in_the_svg_itself():
    root = ElementTree.fromstring(render(make_figure(terraces(view=view_record(30.0))), "svg"))
    group = next(one for one in root.iter(f"{SVG}g") if one.get("id") == "north_shaft")
    start, end = np.array(re.findall(r"-?\d+\.?\d*", group.find(f"{SVG}path").get("d")), dtype=float).reshape(
        2, 2
    )
    assert np.degrees(np.arctan2(start[1] - end[1], end[0] - start[0])) == pytest.approx(120.0, abs=1e-3)


@pytest.mark.parametrize("scale", [*SCALES[3:19], 125, 1250])
def test_bar_lengths_are_round_and_fit(scale):
    length, parts = bar_length(scale)
    assert 20 <= length * 1000 / scale <= 50 + 1e-9
    assert f"{length:e}"[0] in "125"
    assert float(f"{length / parts:.3g}") == pytest.approx(length / parts, rel=1e-12)


@pytest.mark.parametrize(("scale", "total"), [(200, 50.0), (500, 40.0), (100, 50.0)])
def test_the_bar_is_true_to_scale(scale, total):
    figure = make_figure(terraces(), scale=scale)
    parts = [one for one in furniture_of(figure).patches if str(one.get_gid()).startswith("scale_bar_")]
    assert parts[-1].get_x() + parts[-1].get_width() - parts[0].get_x() == pytest.approx(total)
    length = total * scale / 1000
    assert f"{length:g}" in words_on(figure)


def test_a_view_without_a_true_plan_says_where_the_bar_holds():
    view = view_record(kind="isometric", matrix=np.diag([1.0, 0.5, 1.0]))
    assert "in the plane of the picture" in words_on(make_figure(terraces(view=view)))
    assert "in the plane of the picture" not in words_on(make_figure(terraces()))


def test_what_finds_no_room_in_the_legend_is_counted():
    diagram = terraces()
    many = diagram.faces.iloc[np.arange(400) % 6].reset_index(drop=True)
    many["role"] = [f"role {number:03d}" for number in range(400)]
    crowded = type(diagram)(**{**vars(diagram), "faces": many})
    words = words_on(make_figure(crowded, sheet="A4", orientation="portrait"))
    shown = [word for word in words if word.startswith("Role ")]
    assert shown
    assert f"And {400 - len(shown)} more" in words


@pytest.mark.parametrize("title", ["Long title " * 20, "Terraces in a former gravel pit, with their meadow"])
@pytest.mark.parametrize(
    ("sheet", "orientation"), list(itertools.product(SHEETS_MM, ("landscape", "portrait")))
)
def test_texts_stay_inside_their_boxes_and_apart(sheet, orientation, title):
    diagram = terraces(
        name="A yard of terraces " * 6, view=view_record(60.0, height_factor=2 / 3, north_angle=200.0)
    )
    figure = make_figure(
        diagram,
        sheet=sheet,
        orientation=orientation,
        scale="fit",
        wants=Wants(hidden=True),
        title=title,
    )
    paper = Sheet(name=sheet, orientation=orientation)
    boxes = text_boxes(figure)
    for name, (left, bottom, right, top) in boxes.items():
        homes = [
            home
            for home in (paper.key, paper.title_block)
            if home.left <= left and right <= home.right and home.bottom <= bottom and top <= home.top
        ]
        assert homes, name
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one, other)


def test_what_is_too_long_is_cut_with_an_ellipsis():
    words = words_on(make_figure(terraces(), title="Long title " * 20))
    assert any(word.startswith("Long title") and word.endswith("…") for word in words)


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("a\tb\n c", "a b c"),
        ("bell\x07", "bell\ufffd"),
        ("\ud800", "\ufffd"),
        (12.5, "12.5"),
        ("$x$", "$x$"),
        ("\x7f", "\ufffd"),
    ],
)
def test_plain_text(given, shown):
    assert plain_text(given) == shown


@pytest.mark.parametrize(
    ("sheet", "step"), [("A3", 0), ("A2", 0), ("ARCH C", 0), ("A1", 1), ("A0", 1), ("ANSI D", 1)]
)
def test_letters_of_large_sheets_are_one_step_of_the_series_higher(sheet, step):
    """ISO 3098: steps are √2 apart, as the sides of A3 and A1 are 2 apart."""
    figure = make_figure(terraces(), sheet=sheet, scale="fit", title="Yard", wants=Wants(hidden=True))
    capital = 72 / 25.4 / 0.729  # points of size by the millimetre of a capital of the typeface
    heights = {text.get_text(): text.get_fontsize() / capital for text in furniture_of(figure).texts}
    name = next(word for word in heights if word.startswith("A yard") or word == terraces().name)
    wanted = {"Yard": 5.0, name: 2.5, "N": 2.5, "x": 1.8, "Scale, largest that fits": 1.8, "Hidden line": 1.8}
    for word, usual in wanted.items():
        height = LETTERING_MM[LETTERING_MM.index(usual) + step]
        assert heights[word] == pytest.approx(height, rel=1e-6), word
    ring = next(one for one in furniture_of(figure).patches if one.get_gid() == "north_ring")
    assert ring.radius == pytest.approx(7.0 * (2.5 / 1.8 if step else 1.0))


@pytest.mark.parametrize(("sheet", "height"), [("A3", 3.5), ("A1", 5.0)])
def test_a_title_that_is_long_stands_on_two_lines(sheet, height):
    title = "Terraces in a former gravel pit, with the meadow above them"
    figure = make_figure(terraces(), sheet=sheet, scale="fit", title=title)
    lines = [
        text for text in furniture_of(figure).texts if text.get_text() in title and len(text.get_text()) > 9
    ]
    assert " ".join(text.get_text() for text in lines) == title
    assert [text.get_fontsize() * 25.4 / 72 * 0.729 for text in lines] == pytest.approx([height] * 2)
    assert lines[0].get_position()[1] - lines[1].get_position()[1] > 1.4 * height
    lengths = [len(text.get_text()) for text in lines]
    assert min(lengths) > 0.6 * max(lengths)  # no word alone on its line


def test_axes_that_fall_together_are_named_once():
    """Square to the base line and with heights, y and z both run up the page."""
    named = [
        word for word in words_on(make_figure(terraces(view=view_record(0.0)))) if set(word) <= set("xyz, ")
    ]
    assert sorted(filter(None, named)) == ["x", "y, z"]
    apart = words_on(make_figure(terraces(view=view_record(30.0))))
    assert {"x", "y", "z"} <= set(apart)
