"""Options and stages: what is new, changed, kept and removed."""

from dataclasses import replace
from types import MappingProxyType

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from courtyard import CRS, box, court, here, layer
from matplotlib.text import Text

import siteaxo
from siteaxo.craft.style import Style
from siteaxo.errors import FieldError, SiteaxoError
from siteaxo.sheet.entries import entries_of_all, legend_entries

VIEW = siteaxo.planometric(turn=60)
POST = box(16, 17, 9, 10)


def other():
    """The court with a higher house, without its bench, and with a post; its wall is numbered anew."""
    layers = []
    for one in court(extra=[layer("post", "structure", POST, base="below", height=2.0)]).layers:
        if one.name == "bench":
            continue
        if one.name == "wall":
            one = replace(one, source=one.source.assign(no=["77"]))
        layers.append(replace(one, height=4.0) if one.name == "house" else one)
    return replace(court(), layers=layers, name="Other")


@pytest.fixture(scope="module")
def compared():
    return siteaxo.compare({"before": court(), "after": other()}, VIEW)


def test_every_feature_has_one_fate(compared):
    fate = compared.differences.set_index("layer")["change"]
    assert fate["house"] == "changed"
    assert fate["bench"] == "removed"
    assert fate["post"] == "new"
    assert set(fate.drop(["house", "bench", "post"])) == {"kept"}
    assert len(fate) == 11


def test_ids_that_are_numbered_anew_are_no_change(compared):
    wall = compared.differences.set_index("layer").loc["wall"]
    assert (wall["change"], wall["source_id"]) == ("kept", "77")


def test_the_table_says_what_has_changed_and_by_how_much(compared):
    house = compared.differences.set_index("layer").loc["house"]
    assert house["what"] == "top"
    assert (house["top_before"], house["top"]) == pytest.approx((13.0, 14.0))
    assert house["area"] == pytest.approx(36.0)
    bench = compared.differences.set_index("layer").loc["bench"]
    assert np.isnan(bench["area"])
    assert bench["area_before"] == pytest.approx(0.45 * 4)
    assert compared.differences.crs.is_projected


def test_summary_counts_what_the_table_has(compared):
    summary = compared.summary
    assert summary["features"].sum() == len(compared.differences)
    new = summary[summary["change"] == "new"]
    assert new[["role", "features", "area"]].values.tolist() == [["structure", 1, pytest.approx(1.0)]]


def test_new_and_kept_are_told_apart_by_line_and_tone(compared):
    before, after = compared.diagrams
    tone = lambda one, name: set(one.faces[one.faces["layer"] == name]["fill"])  # noqa: E731
    line = lambda one, name: one.edges[one.edges["layer"] == name]["line_mm"].max()  # noqa: E731
    assert tone(after, "house") == tone(before, "house")
    assert not tone(after, "deck") & tone(before, "deck")
    assert line(after, "deck") < line(before, "deck")
    assert line(after, "house") == line(before, "house")
    assert set(after.faces[after.faces["layer"] == "post"]["change"]) == {"new"}


def test_removed_is_drawn_dashed_as_far_as_nothing_hides_it(compared):
    removed = compared.diagrams[1].extra["removed"]
    bench = removed[removed["layer"] == "bench"]
    before = compared.diagrams[0]
    seen = before.faces[before.faces["layer"] == "bench"].geometry.area.sum()
    washes = bench[bench["fill"] != ""]
    assert washes.geometry.area.sum() == pytest.approx(seen, rel=1e-6)
    lines = bench[bench["line_mm"] > 0]
    drawn = before.edges[before.edges["layer"] == "bench"].geometry.length.sum()
    assert lines.geometry.length.sum() == pytest.approx(drawn, rel=1e-6)
    assert set(removed[removed["layer"] == "house"]["fill"]) == {""}


def test_the_legend_tells_what_is_gone_from_what_was_otherwise_before(compared):
    drawing = compared.diagrams[1]
    removed = drawing.extra["removed"]
    assert set(removed["kind"]) == {"removed", "changed"}

    def gone(table) -> list[tuple[str, str]]:
        shown = replace(drawing, extra=MappingProxyType({**drawing.extra, "removed": table}))
        entries = legend_entries(shown, Style())
        return [(one.name, one.sign) for one in entries if one.sign in ("removed", "former")]

    both = [("removed", "removed"), ("former outline", "former")]
    assert gone(removed) == both
    assert gone(removed[removed["kind"] == "removed"]) == both[:1]
    assert gone(removed[removed["kind"] == "changed"]) == both[1:]
    texts = [text.get_text() for text in compared.sheet(sheet="A3").findobj(Text)]
    assert {"Removed", "Former outline"} <= set(texts)


def test_both_drawings_share_view_scale_and_extent(compared):
    before, after = compared.diagrams
    assert np.array_equal(before.view.matrix, after.view.matrix)
    assert (before.view.origin_x, before.view.origin_y) == (after.view.origin_x, after.view.origin_y)
    assert before.bounds == after.bounds
    figure = compared.sheet(sheet="A3")
    assert len({one.scale for one in figure.drawing}) == 1


def test_sites_of_different_planes_are_brought_onto_one():
    moved = court()
    layers = [replace(one, source=one.source.to_crs("EPSG:4326")) for one in moved.layers]
    found = siteaxo.compare([moved, replace(moved, layers=layers, plane_crs="auto", name="Degrees")], VIEW)
    assert set(found.differences["change"]) == {"kept"}


def test_tables_are_written(compared, tmp_path):
    path = tmp_path / "differences.csv"
    compared.to_csv(path)
    rows = pd.read_csv(path)
    assert sorted(rows["change"]) == ["changed", "new", "removed"]
    assert "geometry" not in rows
    compared.to_csv(path, unchanged=True)
    assert len(pd.read_csv(path)) == 11
    compared.diagrams[1].to_gpkg(tmp_path / "after.gpkg")
    assert set(gpd.read_file(tmp_path / "after.gpkg", layer="faces")["change"]) == {"new", "kept", "changed"}
    assert len(gpd.read_file(tmp_path / "after.gpkg", layer="removed"))


def staged():
    frame = gpd.GeoDataFrame(
        {
            "no": ["old", "one", "two"],
            "phase": ["0", "1", "2"],
            "until": ["2", None, None],
        },
        geometry=[box(2, 4, 2, 4), box(6, 8, 2, 4), box(2, 5, 2, 4)],
        crs=CRS,
    )
    huts = siteaxo.Layer(name="huts", role="structure", source=frame, id="no", base="below", height=2.0)
    return siteaxo.Site(
        name="Huts",
        layers=[layer("ground", "ground", box(0, 12, 0, 6), base=0.0, top=1.0), huts],
        plane_crs=CRS,
        base_line=90.0,
    ).stack()


def test_stages_of_one_site():
    stages = staged().stages("phase", until="until")
    names = {
        word: {
            row
            for row, number in zip(m.stack.features.source_id, m.stack.features.layer, strict=True)
            if number
        }
        for word, m in stages.items()
    }
    assert names == {"0": {"old"}, "1": {"old", "one"}, "2": {"one", "two"}}
    compared = siteaxo.compare(stages, VIEW)
    fate = compared.differences.set_index(["state", "source_id"])["change"]
    assert fate[("1", "one")] == "new"
    assert fate[("1", "old")] == "kept"
    assert fate[("2", "old")] == "removed"
    assert fate[("2", "two")] == "new"
    assert fate[("2", "one")] == "kept"
    against_first = siteaxo.compare(stages, VIEW, against="first")
    assert against_first.differences.set_index(["state", "source_id"])["change"][("2", "one")] == "new"


def test_stages_keep_plane_and_page():
    stages = staged().stages("phase", order=["0", "1", "2"])
    first, last = stages["0"], stages["2"]
    assert np.array_equal(first.origin, last.origin)
    assert first.gathered.plane is last.gathered.plane


def test_bad_requests_say_what_to_do():
    with pytest.raises(FieldError, match="No layer has a field 'fase'"):
        staged().stages("fase")
    with pytest.raises(FieldError, match="Unknown stage in field 'phase' '2'"):
        staged().stages("phase", order=["0", "1"])
    rest = ("terrace", "lawn", "water", "planter", "wall", "roof", "deck", "seat")
    with pytest.raises(SiteaxoError, match="Stage 'house alone': No feature states a level"):
        court().stack().stages({"house alone": "structure", "rest": rest})
    with pytest.raises(SiteaxoError, match="at least two"):
        siteaxo.compare([court()])
    with pytest.raises(SiteaxoError, match="against"):
        siteaxo.compare([court(), other()], against="next")


def test_like_shapes_beside_one_another_are_paired_one_to_one():
    from siteaxo.diagram.changes import State, differences

    def state(*spots):
        count = len(spots)
        word = np.full(count, "trees", dtype=object)
        return State(
            layer=word,
            source_id=np.arange(count).astype(str).astype(object),
            role=word,
            material=np.full(count, "", dtype=object),
            geometry=np.array([shapely.Point(spot) for spot in spots], dtype=object),
            base=np.zeros(count),
            top=np.ones(count),
        )

    table = differences(state((0, 0), (0, 0), (5, 5)), state((0, 0), (9, 9), (0, 0.001)))
    assert sorted(table["change"]) == ["kept", "kept", "new", "removed"]


def test_stages_by_theme_role_and_layer():
    stages = court().stack().stages({"ground": ("ground", "surfaces"), "walls": "wall", "rest": "structures"})
    layers = {
        word: {m.stack.features.layers[k].name for k in m.stack.features.layer} for word, m in stages.items()
    }
    always = {"planter", "bench"}  # no stage names furniture
    assert layers["ground"] == always | {"court", "lawn", "pond"}
    assert layers["walls"] - layers["ground"] == {"wall"}
    assert layers["rest"] - layers["walls"] == {"house", "low", "high", "deck"}


def noted(*, stage=None):
    """The huts with notes: in the second hut, on bare ground, and where a yard lies around the third."""
    yard = layer("yard", "paving", box(1, 6, 1, 5), base="below")
    spots = [(7, 3), (11, 5), (3, 3), (1.5, 1.5)]
    frame = gpd.GeoDataFrame(
        {"no": ["hut", "ground", "inner", "yard"], "phase": [stage] * 4},
        geometry=[here(shapely.Point(spot)) for spot in spots],
        crs=CRS,
    )
    site = staged().site
    notes = siteaxo.Layer(name="notes", role="note", source=frame, id="no")
    return replace(site, layers=[*site.layers, yard, notes]).stack()


def notes_of(stages):
    return {
        word: {
            str(m.stack.features.source_id[row])
            for row in np.flatnonzero(m.stack.features.of_role("name") == "note")
        }
        for word, m in stages.items()
    }


def test_notes_come_with_the_smallest_footprint_they_lie_in():
    always = {"ground", "yard"}
    found = notes_of(noted().stages({"bare": "ground", "built": "structures"}))
    assert found == {"bare": always, "built": always | {"hut", "inner"}}


def test_notes_with_a_stage_of_their_own_keep_it():
    found = notes_of(noted(stage="2").stages("phase"))
    assert found == {"0": set(), "1": set(), "2": {"hut", "ground", "inner", "yard"}}


def test_notes_go_with_what_they_speak_of():
    """The first hut comes at 0 and goes at 2, when the third comes in its place."""
    stages = noted().stages("phase", until="until")
    assert [("hut" in names) for names in notes_of(stages).values()] == [False, True, True]
    assert [("inner" in names) for names in notes_of(stages).values()] == [True, True, False]


def test_the_key_of_stages_has_the_tones_of_all_that_is_new():
    """What is kept is pale and has one entry; roles come before signs, whatever drawing they are from."""
    model = court(extra=[layer("post", "structure", POST, base="below", height=2.0)]).stack()
    stages = model.stages({"ground": ("ground",), "all": ("surfaces", "structures", "furniture")})
    drawings = siteaxo.compare(stages, VIEW).diagrams
    second = [entry.name for entry in legend_entries(drawings[1], Style())]
    assert {"structure", "seat", "new or changed", "kept"} <= set(second)
    assert "terrace" not in second  # it was there before
    names = [entry.name for entry in entries_of_all(drawings, Style())]
    assert {"terrace", "wall", "structure", "seat"} <= set(names)
    assert max(names.index(role) for role in ("wall", "structure", "seat")) < names.index("new or changed")
