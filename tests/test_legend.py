import numpy as np
import pytest
from handmade import terraces, view_record
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from siteaxo.craft.finishes import FINISHES
from siteaxo.craft.palettes import ROLE_TONES
from siteaxo.craft.style import Style
from siteaxo.sheet.entries import SWATCH_MM, Entry, legend_entries, swatch_pattern
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.legend import draw_legend
from siteaxo.sheet.lettering import SMALL_MM, length_mm
from siteaxo.sheet.page import Box
from siteaxo.sheet.wants import Wants


def entries_of(diagram, style=None, **options):
    return {entry.name: entry for entry in legend_entries(diagram, style or Style(), **options)}


def furniture_of(figure):
    return next(axes for axes in figure.axes if axes.get_gid() == "furniture")


def words_on(figure) -> list[str]:
    return [text.get_text() for text in furniture_of(figure).texts]


def test_the_legend_shows_roles_in_stacking_order_with_the_tone_of_their_tops():
    entries = entries_of(terraces())
    assert list(entries) == ["terrace", "lawn"]
    assert {name: entry.fills for name, entry in entries.items()} == {
        name: (ROLE_TONES[name],) for name in ("terrace", "lawn")
    }
    assert [word for word in words_on(make_figure(terraces())) if word in ("Terrace", "Lawn")] == [
        "Terrace",
        "Lawn",
    ]


def test_materials_have_entries_of_their_own():
    entries = entries_of(terraces(material="York stone"))
    assert list(entries) == ["York stone", "lawn"]
    assert entries["York stone"].laying.pattern == "random courses"
    diagram = terraces(material="stone")
    diagram.faces["role"] = "wall"
    assert "wall, stone" in entries_of(diagram)


def test_a_role_of_two_tones_has_a_divided_swatch():
    diagram = terraces()
    diagram.faces.loc[1, "fill"] = "#aabbcc"
    assert entries_of(diagram)["terrace"].fills == ("#aabbcc", ROLE_TONES["terrace"])


def test_a_role_seen_from_the_side_only_is_in_the_legend():
    diagram = terraces()
    faces = diagram.faces[(diagram.faces["role"] == "terrace") | (diagram.faces["part"] == "side")]
    cut = type(diagram)(**{**vars(diagram), "faces": faces})
    side = faces.loc[faces["role"] == "lawn", "fill"].iloc[0]
    assert entries_of(cut)["lawn"].fills == (side,)
    assert side != ROLE_TONES["lawn"]


def test_drawings_without_tones_list_patterns_only():
    style = Style.named("line only")
    diagram = terraces(style=style)
    assert list(entries_of(diagram, style)) == ["lawn"]
    assert list(entries_of(terraces(style=style, material="brick", scale=500), style)) == ["lawn"]
    assert "Hidden line" in words_on(make_figure(diagram, style=style, wants=Wants(hidden=True)))


def test_signs_are_explained_only_where_they_are_used():
    plain = words_on(make_figure(terraces(), wants=Wants(levels=False)))
    assert not {"Level in metres", "Hidden line", "Water level"} & set(plain)
    assert "Level in metres" in words_on(make_figure(terraces()))
    wet = terraces()
    wet.faces.loc[:2, "role"] = "water"
    assert "Water level" in words_on(make_figure(wet))


@pytest.mark.parametrize(("scale", "shown"), [(100, True), (500, False)])
def test_a_swatch_shows_a_pattern_where_the_drawing_does(scale, shown):
    figure = make_figure(terraces(material="clay brick", scale=scale), scale=scale)
    swatches = [one.get_gid() for one in furniture_of(figure).get_children() if isinstance(one, PathPatch)]
    assert ("legend_clay-brick_pattern" in swatches) is shown


def test_patterns_of_swatches_stay_in_them():
    figure = make_figure(terraces(material="stone slabs", scale=50), scale=50, sheet="A2")
    axes = furniture_of(figure)
    pattern = next(one for one in axes.get_children() if one.get_gid() == "legend_stone-slabs_pattern")
    box = next(one for one in axes.get_children() if one.get_gid() == "legend_stone-slabs")
    low, high = pattern.get_path().vertices.min(axis=0), pattern.get_path().vertices.max(axis=0)
    assert (low >= np.array(box.get_xy()) - 1e-9).all()
    size = np.array([box.get_width(), box.get_height()])
    assert (high <= np.array(box.get_xy()) + size + 1e-9).all()


@pytest.mark.parametrize("scale", [50, 200, 500])
@pytest.mark.parametrize("word", ["lawn", "gravel", "soil", "water"])
def test_marks_of_textures_are_whole_in_their_swatches(word, scale):
    """None reaches the side of its swatch; a tuft has three blades."""
    box = Box(left=10.0, bottom=20.0, width=7.0, height=2.7)
    path = swatch_pattern(FINISHES[word].flat, box, scale)
    (left, bottom), (right, top) = path.get_extents().get_points()
    assert min(left - box.left, bottom - box.bottom, box.right - right, box.top - top) >= 0.19
    strokes = int((path.codes == path.MOVETO).sum())
    assert strokes >= 1
    assert word != "lawn" or strokes % 3 == 0


def test_one_legend_serves_several_drawings():
    from siteaxo.sheet.figure import make_sheet
    from siteaxo.sheet.wants import Panel

    panels = [
        Panel(diagram=terraces(view=view_record(), material=name), style=Style(), caption=name)
        for name in ("brick", "gravel")
    ]
    words = words_on(make_sheet(panels, scale=200))
    for word in ("Brick", "Gravel", "Lawn"):
        assert words.count(word) == 1


@pytest.mark.parametrize(("count", "height"), [(27, 34.0), (36, 34.0), (36, 30.0)])
def test_a_legend_is_set_tighter_before_anything_is_left_out(count, height):
    """Rows of 3.58 mm: nine to 34 mm, eight to 30 mm; swatch, gap and name of 30 mm take 41 mm of a line."""
    axes = Figure().add_axes((0, 0, 1, 1))
    names = [f"stone of the {number:02d}th kind" for number in range(count)]
    entries = [Entry(name=name, fills=("#cccccc",)) for name in names]
    draw_legend(axes, Box(left=0.0, bottom=0.0, width=150.0, height=height), entries, Style(), 200.0)
    swatches = {str(one.get_gid()).rsplit("_", 1)[0] for one in axes.get_children() if one.get_gid()}
    assert sum(name.startswith("legend_stone") for name in swatches) >= count
    boxes = [one.get_path().get_extents() for one in axes.patches]
    assert max(box.x1 for box in boxes) <= 150.0
    assert min(box.y0 for box in boxes) >= 0.0
    assert max(box.y1 for box in boxes) <= height


def test_words_that_run_wider_on_a_screen_end_before_the_next_swatch():
    """Hinted letters of a picture of few pixels run some six hundredths wider than they measure."""
    names = ["clay brick in basket weave", *"abcdefghij"]
    axes = Figure().add_axes((0, 0, 1, 1))
    entries = [Entry(name=name, fills=("#cccccc",)) for name in names]
    draw_legend(axes, Box(left=0.0, bottom=0.0, width=150.0, height=34.0), entries, Style(), 200.0)
    long = next(text for text in axes.texts if text.get_text() == "Clay brick in basket weave")
    begin = long.get_position()[0]
    following = (
        min(x for x, _ in (text.get_position() for text in axes.texts) if x > begin) - SWATCH_MM[0] - 2.0
    )
    assert begin + 1.06 * length_mm("Clay brick in basket weave", SMALL_MM) + 2.0 < following


def words_of(names, width, height=34.0):
    axes = Figure().add_axes((0, 0, 1, 1))
    entries = [Entry(name=name, fills=("#cccccc",)) for name in names]
    draw_legend(axes, Box(left=0.0, bottom=0.0, width=width, height=height), entries, Style(), 200.0)
    return [text.get_text() for text in axes.texts]


def test_long_names_are_whole_where_there_is_room():
    """One column of swatch, gap and a name of less than 60 mm."""
    name = "Clay brick in basket weave beside the pool"
    assert words_of([name, "lawn"], 80.0) == [name, "Lawn"]


def test_long_names_are_cut_before_entries_are_left_out():
    name = "Clay brick in basket weave beside the pool"
    words = words_of([name, "lawn"], 45.0)
    assert len(words) == 2
    assert words[0].endswith("…")
    assert words[1] == "Lawn"


def test_swatches_grow_narrow_before_long_names_are_cut():
    """The name takes 33 mm; swatch and gaps 9 mm of a line, or 6.8 and 5.4 mm when set tighter."""
    assert words_of(["clay brick in basket weave"], 39.5) == ["Clay brick in basket weave"]
