"""Lists of marks beside a drawing, and the room that marks take on it."""

import re

import geopandas
import matplotlib
import numpy as np
import pytest
import shapely
from courtyard import box, court, layer

import siteaxo
from siteaxo.sheet.cautioned import boxes_of_marks
from siteaxo.sheet.lettering import length_mm
from siteaxo.sheet.mark_list import MOST_LINES, Entry, lines_of
from siteaxo.sheet.noticed import not_crowded
from siteaxo.sheet.placing import Room
from siteaxo.sheet.wrapping import wrapped

NAME = "the long ramp from the lower court to the upper terrace beside the old boundary wall"


@pytest.fixture(scope="module")
def steep():
    ramps = [
        layer(NAME, "ramp", box(10, 14, 7, 8.5), base=10.0, top=10.9),
        layer("canopies", "canopy", box(20.5, 22, 8, 11), base=11.9, top=12.1),
    ]
    return court(extra=ramps).stack()


def said_on(figure, path):
    figure.savefig(path)
    return re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text(encoding="utf-8"))


def test_long_entries_go_on_in_further_lines(steep, tmp_path):
    found = steep.cautions()
    figure = steep.draw(siteaxo.planometric(30), people=False).with_cautions(found).figure(sheet="A3")
    said = said_on(figure, tmp_path / "cautions.svg")
    assert not [words for words in said if "…" in words]
    first = next(k for k, words in enumerate(said) if words.startswith(f"Ramp, running slope: {NAME[:10]}"))
    row = found[found["code"] == "ramp-steep"].iloc[0]
    whole = f"Ramp, running slope: {NAME} 0, {row['figure']} {row['rule']}"
    assert " ".join(said[first:]).startswith(whole)
    assert said[first] != whole


def test_findings_are_told_whole(steep, tmp_path):
    marked = steep.draw(siteaxo.planometric(30), people=False, findings=True)
    rows = marked.extra["finding_marks"]
    rows = rows[rows["layer"] == NAME]
    assert len(rows)
    said = " ".join(said_on(marked.figure(sheet="A3"), tmp_path / "findings.svg"))
    assert "…" not in said
    for row in rows.itertuples():
        assert f"{NAME} {row.source_id}" in said


def test_findings_and_cautions_at_once_are_told_apart(steep, tmp_path):
    """Triangles and diamonds, each with a list that names its shape; none lies on another."""
    found = steep.cautions()
    drawing = steep.draw(siteaxo.planometric(30), people=False, findings=True).with_cautions(found)
    figure = drawing.figure(sheet="A2")
    said = said_on(figure, tmp_path / "both.svg")
    assert "Cautions: triangles" in said
    assert any(words.startswith("Findings: ") and "diamonds" in words for words in said)
    axes = next(one for one in figure.axes if one.get_gid() == "drawing")
    outlines = {
        group.get_gid(): [
            one.get_xy()[:-1] for one in group.get_children() if isinstance(one, matplotlib.patches.Polygon)
        ]
        for group in axes.get_children()
        if str(group.get_gid()) in ("finding_marks", "caution_marks_numbers")
    }
    assert {len(one) for one in outlines["caution_marks_numbers"]} == {3}
    assert 3 not in {len(one) for one in outlines["finding_marks"]}
    middles = boxes_of_marks(figure.drawing, 200)[:, :2]
    apart = np.hypot(*(middles[:, None] - middles).transpose(2, 0, 1))
    assert len(middles) > 4
    assert apart[~np.eye(len(middles), dtype=bool)].min() >= 5.8 * 0.2 * (1 - 1e-6)


def test_those_left_out_are_counted(tmp_path):
    steep = [
        layer(f"ramp {k}", "ramp", box(1 + 1.4 * k, 2 + 1.4 * k, 7, 8.5), base=10.0, top=10.9)
        for k in range(14)
    ]
    model = court(extra=steep).stack()
    found = model.cautions()
    figure = (
        model.draw(siteaxo.planometric(30), people=False).with_cautions(found).figure(sheet="A4", scale=500)
    )
    said = said_on(figure, tmp_path / "many.svg")
    rules = set(found["rule"])
    listed = sum(words in rules for words in said)
    (more,) = (words for words in said if words.endswith("more, in the table of cautions"))
    assert 0 < listed < found["number"].nunique()
    assert int(more.split()[1]) + listed == found["number"].nunique()
    assert "Check local codes. A place without" in said


def test_words_stay_off_marks(steep):
    found = steep.cautions()
    bare = steep.draw(siteaxo.planometric(30), people=False)
    levels = bare.figure(sheet="A3").drawing.extra["labels"]
    levels = levels[levels["kind"].isin(["level", "slope", "slope level"])]
    on = found.iloc[:2].copy()  # cautions about the very places at which words stood
    at = shapely.get_coordinates(levels.geometry.to_numpy())[::2][:2]
    marked = bare.with_cautions(on)
    marks = marked.extra["caution_marks"]
    points = (marks["kind"] == "caution").to_numpy()
    marks.loc[points, "geometry"] = shapely.points(at)
    drawing = marked.figure(sheet="A3").drawing
    labels = drawing.extra["labels"]
    texts = labels[labels["line_mm"] == 0]
    boxes = shapely.box(*boxes_of_marks(drawing, 200).T)
    assert len(boxes) == 2
    assert shapely.intersects(levels.geometry.to_numpy()[:, None], boxes).any()
    assert len(texts)
    assert not shapely.intersects(texts.geometry.to_numpy()[:, None], boxes).any()


def test_a_leader_may_begin_under_a_mark_and_crosses_none():
    none = np.empty(0, dtype=object)
    room = Room(
        lines=none,
        areas=none,
        quiet=np.empty(0, dtype=bool),
        window=(0.0, 0.0, 20.0, 20.0),
        marks=np.array([[9.0, 9.0, 11.0, 11.0], [13.0, 9.0, 14.0, 11.0]]),
    )
    ways = np.array([[[10.0, 10.0], [10.0, 15.0]], [[10.0, 10.0], [16.0, 10.0]], [[5.0, 10.0], [10.0, 10.0]]])
    assert room.clear(ways).tolist() == [True, False, False]
    boxes = np.array([[10.5, 10.5, 12.0, 12.0], [11.5, 9.0, 12.5, 10.0]])
    assert room.free(boxes).tolist() == [False, True]
    assert room.free_turned(shapely.box(*boxes.T)).tolist() == [False, True]


def test_words_longer_than_a_line_are_broken():
    path = "courts/" * 12
    lines = wrapped(path, 1.8, 30.0, whole=False)
    assert "".join(lines) == path
    assert max(length_mm(line, 1.8) for line in lines) <= 30.0
    assert wrapped(path, 1.8, 30.0) == [path]
    assert wrapped("", 1.8, 30.0, whole=False) == []


def test_what_no_sheet_can_hold_says_where_it_is():
    lines = lines_of("word " * 900, 1.8, 60.0, "table of findings")
    assert len(lines) == MOST_LINES
    assert lines[-1] == "(the rest is in the table of findings)"


def test_entries_are_as_far_apart_as_their_lines_need():
    """Of two lines they are 8.4 mm apart where letters are 1.8 mm high, and 3.2 mm more for each further."""
    pitch = [Entry(shape="info", number="1", lines=("a",) * n, quiet=("b",)).pitch_mm(1.8) for n in (1, 2, 3)]
    assert pitch == pytest.approx([8.4, 11.6, 14.8])


def test_a_tier_is_not_named_twice(steep):
    words = {one.text.lower(): one.detail for one in steep.exploded_view(by="layer").beside}
    assert words["canopies"] == ""
    assert words["house"] == "structures"


def test_what_is_noticed_of_many_features_is_one_entry_with_one_number(tmp_path):
    """Twelve of forty stones have no height, and lie far apart; one bench has none either."""
    stones = geopandas.GeoDataFrame(
        {"high": [0.9 if k % 10 > 2 else None for k in range(40)]},
        geometry=[
            box(1 + 2 * (k % 10), 1.5 + 2 * (k % 10), 9.6 + 2 * (k // 10), 10.1 + 2 * (k // 10))
            for k in range(40)
        ],
        crs="EPSG:25832",
    )
    more = [
        siteaxo.Layer(name="stones", role="structure", source=stones, base="below", height="high"),
        siteaxo.Layer(name="benches", role="seat", source=stones.iloc[[0, 3]], base="below", height="high"),
    ]
    model = court(extra=more).stack()
    found = model.findings.reset_index(drop=True)
    first = {key: int(rows.index[0]) + 1 for key, rows in found[found["code"] == "no-level"].groupby("layer")}
    assert set(first) == {"stones", "benches"}
    assert (found["code"] == "no-level").sum() == 13
    marked = model.draw(siteaxo.planometric(30), people=False, findings=True)
    figure = marked.figure(sheet="A0", scale=50)
    said = said_on(figure, tmp_path / "findings.svg")
    assert "No level: stones, 12 places, first at 0" in said
    assert "No level: benches 0" in said
    assert said.count(str(first["stones"])) == 12 + 1
    assert said.count(str(first["benches"])) == 1 + 1
    numbers = marked.extra["finding_marks"]["number"]
    assert numbers.is_unique  # the table names each by its own row
    assert "most often missing-level (13), no-level (13)" in repr(model)


def test_marks_of_one_number_that_lie_close_are_one():
    at = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.0], [2.5, 0.0], [9.0, 0.0]])
    assert not_crowded(at, np.array([7, 7, 8, 7, 7]), 2.0).tolist() == [0, 2, 3, 4]
