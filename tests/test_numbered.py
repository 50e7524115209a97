from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from handmade import ORIGIN, terraces
from matplotlib.figure import Figure
from matplotlib.text import Text

from siteaxo.craft.style import Style
from siteaxo.sheet.board import Part, make_board
from siteaxo.sheet.callouts import Label
from siteaxo.sheet.entries import Entry, entries_of_all
from siteaxo.sheet.figure import Panel, make_figure, make_sheet
from siteaxo.sheet.layout import Layout
from siteaxo.sheet.legend import draw_legend
from siteaxo.sheet.lettering import length_mm
from siteaxo.sheet.numbered import LONGEST_MM, SHARE, keys_of, number_for, reaches_in
from siteaxo.sheet.page import Box
from siteaxo.sheet.wants import Wants

LONG = "The sentence on a place that no drawing has room for in its middle, however large it may be"


def called(*texts, at=(5.0, 1.0, 13.0)):
    place = (ORIGIN[0] + at[0], ORIGIN[1] + at[1], at[2])
    return Wants(levels=False, labels=tuple(Label(text=text, at=place) for text in texts))


def words_on(figure) -> list[str]:
    return [text.get_text() for axes in figure.axes for text in axes.findobj(Text)]


@pytest.mark.parametrize(
    ("width", "height", "most"), [(390, 280, LONGEST_MM), (120, 300, SHARE * 120), (20, 8, 5.0)]
)
def test_leaders_are_bounded_by_the_room_of_the_drawing(width, height, most):
    reaches = reaches_in(Box(left=0, bottom=0, width=width, height=height))
    assert most - 3 < reaches[-1] <= most


def test_words_keep_their_number_on_a_sheet():
    numbers = {}
    for words in ("a", "b", "a"):
        numbers.setdefault(words, int(number_for(words, numbers)[1:-1]))
    assert numbers == {"a": 1, "b": 2}


def test_no_leader_is_longer_than_the_rule_and_no_call_out_is_lost():
    texts = [f"{k} {LONG}" for k in range(4)]
    figure = make_figure(terraces(), wants=called(*texts), sheet="A4", scale=200)
    table = figure.drawing.extra["labels"]
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    room = (
        np.array(axes.get_position().size) * np.array([figure.get_figwidth(), figure.get_figheight()]) * 25.4
    )
    leaders = table[table["kind"] == "leader"].geometry.array
    assert len(leaders)
    assert max(shapely.length(leaders)) * 1000 / 200 <= min(LONGEST_MM, SHARE * room.min()) + 1e-6
    told = [*table.loc[table["line_mm"] == 0, "text"], *keys_of(table), *figure.drawing.findings["value"]]
    assert all(any(text in one for one in told) for text in texts)


def test_a_number_is_explained_in_the_legend():
    figure = make_figure(terraces(), wants=called(LONG), sheet="A4", scale=200)
    table = figure.drawing.extra["labels"]
    assert keys_of(table) == [f"(1) {LONG}"]
    assert "(1)" in set(table["text"])
    shown = words_on(figure)
    assert shown.count("(1)") == 2  # on the drawing and in the legend
    assert any(text.startswith(LONG[:20]) for text in shown)
    assert figure.numbers == {LONG: 1}


def test_what_has_room_has_no_number():
    figure = make_figure(terraces(), wants=called("Well"), sheet="A3", scale=200)
    assert keys_of(figure.drawing.extra["labels"]) == []
    assert "label-left-out" not in set(figure.drawing.findings["code"])


def test_drawings_of_one_sheet_share_their_numbers():
    one = terraces()
    panels = [Panel(diagram=one, style=Style(), caption=name) for name in ("a", "b")]
    figure = make_sheet(panels, sheet="A4", scale=500, wants=called(f"A {LONG}", f"B {LONG}"))
    keys = {key for drawing in figure.drawing for key in keys_of(drawing.extra["labels"])}
    assert keys == {f"(1) A {LONG}", f"(2) B {LONG}"}


def test_a_plan_in_a_narrow_column_of_a_board_has_no_long_leaders():
    column = Layout(rows=("plan main", "legend main"), columns_mm=(60, None), heights=(1.0, 1.0))
    parts = {name: Part(diagram=terraces(), style=Style(), caption=name) for name in ("plan", "main")}
    figure = make_board(
        parts, layout=column, sheet="A2", wants=called("A name too long for a column", "Well")
    )
    drawing = figure.drawing["plan"]
    table = drawing.extra["labels"]
    leaders = table[table["kind"] == "leader"].geometry.array
    assert max(shapely.length(leaders)) * 1000 / drawing.scale <= SHARE * 60
    assert keys_of(table) == ["(1) A name too long for a column"]
    assert "A name too long for a column" in words_on(figure)


def test_what_finds_no_room_at_all_is_a_finding():
    """A place far off the sheet, as of a label with a wrong easting."""
    figure = make_figure(terraces(), wants=called("Lost", at=(9000.0, 1.0, 13.0)), sheet="A3", scale=200)
    findings = figure.drawing.findings
    lost = findings[findings["code"] == "label-left-out"]
    assert lost["value"].tolist() == ["Lost"]
    assert "larger sheet" in lost["message"].iloc[0]
    assert len(findings) == len(terraces().findings) + 1
    assert "1 call-out left out" in words_on(figure)  # in the legend
    assert not any("left out" in words for words in words_on(make_figure(terraces(), wants=called("Well"))))


def test_the_findings_of_the_drawing_itself_stay_as_they_were():
    diagram = replace(terraces())
    make_figure(diagram, wants=called("Lost", at=(9000.0, 1.0, 13.0)), sheet="A3", scale=200)
    assert "label-left-out" not in set(diagram.findings["code"])


def keyed(numbers):
    """A drawing whose call-outs have some numbers."""
    drawing = make_figure(terraces(), wants=called(LONG), sheet="A4", scale=200).drawing
    table = drawing.extra["labels"]
    row = table[table["words"] == LONG]
    rows = pd.concat([row.assign(text=f"({k})", words=f"call-out {k}") for k in numbers])
    return replace(
        drawing, extra={**drawing.extra, "labels": pd.concat([table[table["words"] != LONG], rows])}
    )


def test_numbers_of_several_drawings_stand_first_and_in_order():
    """The second drawing has no room for the words of the tenth and third call-outs, the first one has."""
    names = [entry.name for entry in entries_of_all([keyed((9, 1)), keyed((10, 3, 1))], Style())]
    assert names[:4] == [f"({k}) call-out {k}" for k in (1, 3, 9, 10)]
    assert len(set(names)) == len(names)
    assert not any(name.startswith("(") for name in names[4:])


@pytest.mark.parametrize(("width", "whole"), [(200.0, True), (80.0, False)])
def test_what_a_number_stands_for_is_whole_where_the_legend_has_room(width, whole):
    """The sentence is some 120 mm long; other names are cut at 60 mm."""
    axes = Figure().add_axes((0, 0, 1, 1))
    entries = [
        Entry(name=f"(1) {LONG}", sign="number"), Entry(name=f"lawn, {LONG}", fills=("#aabbcc",)),
    ]  # fmt: skip
    draw_legend(axes, Box(left=0, bottom=0, width=width, height=60), entries, Style(), 200)
    shown = [text.get_text() for text in axes.texts]
    assert (LONG in shown) == whole
    assert any(text.startswith("Lawn") and text.endswith("…") for text in shown)
    for text in axes.texts:
        mm = length_mm(text.get_text(), text.get_fontsize() * 25.4 / 72 * 0.729)
        assert text.get_position()[0] + mm * (1 if text.get_ha() == "left" else 0.5) <= width + 1e-6
