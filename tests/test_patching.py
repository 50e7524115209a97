"""GeoPackages written again where some rows have changed have the bytes of those written as a whole."""

import contextlib
import sqlite3

import geopandas
import numpy as np
import pytest
import shapely
from handmade import room_for
from rewriting import earlier_in, many_lines, rows_of, with_lines, written

import siteaxo
from siteaxo.diagram.layers import NUMBER, DiagramLayers
from siteaxo.errors import OutputError
from siteaxo.export import filling, gpkg
from siteaxo.export.empty import settled
from siteaxo.export.filling import Change
from siteaxo.export.gpkg import write_gpkg
from siteaxo.export.patching import patched, told

SPATIAL = ("faces", "edges", "hidden_edges", "plan")


@pytest.fixture
def patches(monkeypatch):
    """Whether each file was written by changing rows of the one before."""
    done = []
    monkeypatch.setattr(gpkg, "patched", lambda *args, **how: done.append(patched(*args, **how)) or done[-1])
    return done


def blocks(rng, count):
    low = rng.uniform(0, 18 * np.sqrt(count), (count, 2))
    size = rng.uniform(4, 12, (count, 2))
    return geopandas.GeoDataFrame(
        {"block": np.arange(count), "top": rng.uniform(2, 20, count), "stuff": "timber"},
        geometry=shapely.box(*low.T, *(low + size).T),
        crs="EPSG:25832",
    )


def drawn(rows):
    """A drawing with shadows, and joints on some faces."""
    layer = siteaxo.Layer(
        name="blocks", role="terrace", source=rows, id="block", base=0.0, top="top", material="stuff"
    )
    model = siteaxo.Site(name="Yard", layers=[layer], base_line=90).stack()
    return model.draw(siteaxo.planometric(turn=30), scale=200, shadows="conventional")


def moved(rows, rng):
    some = rows.index[rng.integers(len(rows), size=2)].unique()
    return rows.set_geometry(rows.geometry.where(~rows.index.isin(some), rows.translate(3.25, -1.5)))


def raised(rows, rng):
    return rows.assign(top=rows["top"] + 4 * (np.arange(len(rows)) == rng.integers(len(rows))))


def less_some(rows, rng):
    return rows.drop(index=rows.index[-1 - rng.integers(4)])


def with_more(rows, rng):
    low = rng.uniform(0, 100, 2)
    one = geopandas.GeoDataFrame(
        {"block": [int(rows["block"].max()) + 1], "top": [rng.uniform(2, 9)], "stuff": ["timber"]},
        geometry=[shapely.box(*low, *(low + 5))],
        crs=rows.crs,
    )
    return geopandas.GeoDataFrame(
        {name: [*rows[name], *one[name]] for name in ("block", "top", "stuff")},
        geometry=[*rows.geometry, *one.geometry],
        crs=rows.crs,
    )


def all_at_once(rows, rng):
    for change in (moved, raised, less_some, with_more):
        rows = change(rows, rng)
    return rows


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_drawings_of_blocks_that_are_changed_one_after_another(tmp_path, patches, seed):
    rng = np.random.default_rng(seed)
    rows = blocks(rng, int(rng.integers(50, 300)))
    written(drawn(rows), tmp_path, earlier=earlier_in(tmp_path))
    for change in (moved, raised, less_some, with_more, all_at_once):
        rows = change(rows, rng)
        diagram = drawn(rows)
        assert {"shadows", "patterns"} <= {*diagram.extra}
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg"), change
        for name in SPATIAL:
            check = f"SELECT rtreecheck('rtree_{name}_geom')"
            assert rows_of(tmp_path / "d.gpkg", check) == [("ok",)], change
        assert rows_of(tmp_path / "d.gpkg", "PRAGMA integrity_check") == [("ok",)]
    assert sum(patches) >= 3


def changed_lines(diagram, rng, *, move=0, drop=0, more=0):
    """Lines some of which are moved, taken out and put in, while all others keep their numbers."""
    lines = diagram.edges if NUMBER in diagram.edges else numbered(diagram.edges)
    shapes = np.asarray(lines.geometry.array, dtype=object).copy()
    some = rng.choice(len(lines), move, replace=False)
    shapes[some] = shapely.transform(shapes[some], lambda xy: xy + rng.uniform(-9, 9, 2))
    lines = lines.set_geometry(shapes)
    lines = lines.drop(index=lines.index[rng.choice(len(lines), drop, replace=False)])
    free = np.setdiff1d(np.arange(1, 40 * len(lines)), lines[NUMBER])
    new = lines.iloc[rng.integers(len(lines), size=more)]
    new = new.assign(**{NUMBER: rng.choice(free, more, replace=False)})
    new = new.set_geometry(new.translate(1.5, 2.5))
    both = {name: [*lines[name], *new[name]] for name in lines.columns if name != "geometry"}
    joined = geopandas.GeoDataFrame(both, geometry=[*lines.geometry, *new.geometry])
    return with_lines(diagram, joined.sort_values(NUMBER, ignore_index=True))


def numbered(lines):
    return lines.assign(**{NUMBER: 9 * np.arange(len(lines)) + 4})


@pytest.mark.parametrize("count", [1, 51, 52, 700, 2800, 9000])
def test_lines_that_are_moved_taken_out_and_put_in(tmp_path, patches, count):
    """The index is sound, and finds what lies in a window as looking at every box does."""
    rng = np.random.default_rng(count)
    diagram = changed_lines(many_lines(count), rng)
    written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    few = count // 30
    for how in ({"move": few}, {"drop": few}, {"more": few + 1}, {"move": few, "drop": few, "more": few}):
        diagram = changed_lines(diagram, rng, **how)
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg"), how
        assert rows_of(tmp_path / "d.gpkg", "SELECT rtreecheck('rtree_edges_geom')") == [("ok",)]
        box = shapely.bounds(np.asarray(diagram.edges.geometry.array))
        for left, bottom in rng.uniform(0, 380, (4, 2)).tolist():
            query = "SELECT id FROM rtree_edges_geom WHERE maxx>=? AND minx<=? AND maxy>=? AND miny<=?"
            window = (left, left + 20, bottom, bottom + 20)
            found = {row[0] for row in rows_of(tmp_path / "d.gpkg", query, *window)}
            meets = (box[:, 2] >= left) & (box[:, 0] <= left + 20)
            meets &= (box[:, 3] >= bottom) & (box[:, 1] <= bottom + 20)
            assert found == set(diagram.edges[NUMBER][meets])
    assert len(patches) == 4
    assert sum(patches) >= 3 or count < 700


def test_only_nodes_that_are_concerned_change(tmp_path, patches):
    rng = np.random.default_rng(7)
    diagram = changed_lines(many_lines(9000), rng)
    nodes = []
    for step in ({}, {"move": 1}):
        diagram = changed_lines(diagram, rng, **step)
        written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        nodes.append(dict(rows_of(tmp_path / "d.gpkg", "SELECT nodeno, data FROM rtree_edges_geom_node")))
    assert patches == [True]
    before, after = nodes
    differ = [number for number in before.keys() | after.keys() if before.get(number) != after.get(number)]
    assert len(before) > 200
    assert 0 < len(differ) <= 2 * 3  # of each level that where it was, and where it is


def test_the_reach_of_a_table_shrinks_when_its_outermost_row_goes(tmp_path, patches):
    diagram = changed_lines(many_lines(3000), np.random.default_rng(1))
    box = shapely.bounds(np.asarray(diagram.edges.geometry.array))
    outermost = np.unique([box[:, 0].argmin(), box[:, 1].argmin(), box[:, 2].argmax(), box[:, 3].argmax()])
    written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    inner = with_lines(diagram, diagram.edges.drop(index=outermost))
    again = written(inner, tmp_path, earlier=earlier_in(tmp_path))
    assert patches == [True]
    query = "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'edges'"
    assert rows_of(tmp_path / "d.gpkg", query) == [tuple(inner.edges.total_bounds)]
    assert again == written(inner, tmp_path, "fresh.gpkg")


@pytest.mark.parametrize("first", [shapely.box(3, 3, 4, 4), None], ids=str)
def test_rows_without_a_place_come_and_go(tmp_path, patches, first):
    diagram, second = many_lines(900), shapely.box(0, 0, 2, 2)
    for shape in (second, shapely.Polygon(), second):
        plan = diagram.plan.set_geometry([first, shape, *diagram.plan.geometry[2:]])
        diagram = DiagramLayers(**{**vars(diagram), "plan": plan})
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg")
        assert rows_of(tmp_path / "d.gpkg", "SELECT rtreecheck('rtree_plan_geom')") == [("ok",)]
    assert patches == [True, True]


def test_a_table_that_was_empty_and_is_again(tmp_path, patches):
    usual = many_lines(900)
    bare = DiagramLayers(**{**vars(usual), "hidden_edges": usual.hidden_edges.iloc[:0]})
    for diagram in (usual, bare, usual):
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg")


@pytest.mark.parametrize("name", ["layer", "line_mm", "draw_order", "drawn", "colour"])
def test_what_a_cell_holds_is_never_an_old_one(tmp_path, patches, name):
    value = {"layer": "other", "line_mm": 0.77, "draw_order": 99, "drawn": 0, "colour": "#123456"}[name]
    written(many_lines(900), tmp_path, earlier=earlier_in(tmp_path))
    for held in (value, None):
        diagram = many_lines(900)
        diagram.edges[name] = diagram.edges[name].astype(object)
        diagram.edges.loc[123, name] = held
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg")
        assert rows_of(tmp_path / "d.gpkg", f"SELECT {name} FROM edges WHERE fid = 124") == [(held,)]
    assert patches == [True, True]


def test_findings_the_view_and_metadata_are_those_of_now(tmp_path, patches):
    diagram = many_lines(900)
    written(diagram, tmp_path, earlier=earlier_in(tmp_path), metadata={"step": "one"})
    found = diagram.findings.assign(message="It is another.")
    diagram = DiagramLayers(**{**vars(diagram), "findings": found})
    again = written(diagram, tmp_path, earlier=earlier_in(tmp_path), metadata={"step": "two"})
    assert again == written(diagram, tmp_path, "fresh.gpkg", metadata={"step": "two"})
    assert patches == [True]
    assert rows_of(tmp_path / "d.gpkg", "SELECT message FROM findings")[0] == ("It is another.",)
    without = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    assert without == written(diagram, tmp_path, "fresh.gpkg")
    assert patches == [True]  # a file without metadata is another one


def test_a_file_that_others_have_changed_is_written_as_a_whole(tmp_path, patches):
    diagram = many_lines(900)
    whole = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    with contextlib.closing(sqlite3.connect(tmp_path / "d.gpkg")) as file, file:
        file.execute("UPDATE view SET turn = 31")
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    (tmp_path / "d.gpkg").write_bytes(b"no such file")
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    (tmp_path / "d.gpkg").unlink()
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    assert patches == [False] * 3
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    assert patches[3:] == [True]


def test_a_file_most_of_which_has_changed_is_written_as_a_whole(tmp_path, patches):
    written(many_lines(900), tmp_path, earlier=earlier_in(tmp_path))
    diagram = many_lines(900, seed=4)
    again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    assert again == written(diagram, tmp_path, "fresh.gpkg")
    assert patches == [False]


def test_who_knows_what_has_changed_need_not_hand_over_all(tmp_path):
    """Two lines move: what is written, and what is known of it, is as if all rows had been told."""
    diagram = changed_lines(many_lines(900), np.random.default_rng(3))
    written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    after = with_lines(diagram, diagram.edges.copy())
    after.edges.loc[[100, 700], "geometry"] = diagram.edges.loc[[100, 700]].translate(3, 4)
    (table,) = (one for one in gpkg._tables(after) if one.name == "edges")
    full = settled([table], "", None)
    come = full[0].rows.take(np.array([100, 700]))
    earlier = earlier_in(tmp_path)
    change = {"edges": Change(gone=come.number, come=come)}
    assert patched(earlier, tmp_path / "new.gpkg", change, metadata={})
    assert (tmp_path / "new.gpkg").read_bytes() == written(after, tmp_path, "fresh.gpkg")
    now = told(full, metadata=False)
    for name in ("number edges", "hash edges"):
        np.testing.assert_array_equal(earlier.now[name], now[name])
    assert sorted(one.name for one in tmp_path.iterdir()) == ["d.gpkg", "fresh.gpkg", "kept", "new.gpkg"]


def test_a_full_disk_leaves_the_old_file_when_rows_are_changed(tmp_path):
    before = written(many_lines(3000), tmp_path, earlier=earlier_in(tmp_path))
    for share in (0.2, 0.6, 0.98):
        diagram = many_lines(3000, shift=0.5)
        with room_for(share * len(before)), pytest.raises(OutputError, match="untouched"):
            write_gpkg(diagram, tmp_path / "d.gpkg", earlier=earlier_in(tmp_path))
        assert (tmp_path / "d.gpkg").read_bytes() == before
        assert sorted(one.name for one in tmp_path.iterdir()) == ["d.gpkg", "kept"]


def test_changing_rows_can_be_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(filling, "_AT_ONCE", 20)
    before = written(many_lines(3000), tmp_path, earlier=earlier_in(tmp_path))

    def stop(stage, share):
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_gpkg(
            many_lines(3000, shift=0.5), tmp_path / "d.gpkg", earlier=earlier_in(tmp_path), progress=stop
        )
    assert (tmp_path / "d.gpkg").read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["d.gpkg", "kept"]


def test_another_reader_reads_a_changed_file(tmp_path, patches):
    written(many_lines(3000), tmp_path, earlier=earlier_in(tmp_path))
    diagram = many_lines(3000, shift=0.5)
    written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    assert patches == [True]
    window = (5.0, 100.0, 60.0, 130.0)
    got = geopandas.read_file(tmp_path / "d.gpkg", layer="edges", bbox=window, engine="pyogrio")
    meets = shapely.intersects(np.asarray(diagram.edges.geometry.array), shapely.box(*window))
    assert sorted(got["source_id"]) == sorted(diagram.edges["source_id"][meets])
