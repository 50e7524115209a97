"""Rows, geometries and spatial indexes of GeoPackages as they are put into a file."""

import contextlib
import os
import sqlite3
from dataclasses import replace

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely
from handmade import terraces

from siteaxo.diagram.layers import DiagramLayers
from siteaxo.diagram.tables import extra_table
from siteaxo.errors import OutputError
from siteaxo.export.blobs import blobs_of
from siteaxo.export.filling import Earlier
from siteaxo.export.gpkg import write_gpkg
from siteaxo.export.packed import packed
from siteaxo.process.store import FolderStore


def many_lines(count, *, seed=3, shift=0.0):
    """A drawing with some thousand lines from left to right, of which the first can be moved."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform(0, 400, (count, 1, 2)) + rng.uniform(-2, 2, (count, 2, 2))
    ends = ends[np.argsort(ends[:, 0, 0])]
    ends[ends[:, 0, 0] < 20, :, 1] += shift
    diagram = terraces()
    lines = diagram.edges.iloc[np.arange(count) % len(diagram.edges)].reset_index(drop=True)
    lines["source_id"] = [str(k // 7) for k in range(count)]
    return with_lines(diagram, lines.set_geometry(shapely.linestrings(ends)))


def with_lines(diagram, lines):
    return DiagramLayers(**{**vars(diagram), "edges": lines})


def written(diagram, folder, name="d.gpkg", earlier=None):
    write_gpkg(diagram, folder / name, earlier=earlier)
    if earlier is not None:
        earlier.keep()
    return (folder / name).read_bytes()


def earlier_in(folder, name="d.gpkg"):
    return Earlier(FolderStore(folder / "kept"), folder / name)


def copied_blocks(monkeypatch):
    """Count the rows that are copied."""
    from siteaxo.export import filling

    rows, real = [], filling._copy
    monkeypatch.setattr(filling, "_copy", lambda *args: (rows.append(args[3] - args[2]), real(*args)))
    return rows


@pytest.mark.parametrize("count", [0, 1, 51, 52, 700, 3000])
def test_the_spatial_index_is_sound_and_finds_what_lies_in_a_window(tmp_path, count):
    """``rtreecheck`` of SQLite; what is found is held against every box."""
    diagram = many_lines(max(count, 1))
    diagram = with_lines(diagram, diagram.edges.iloc[:count])
    written(diagram, tmp_path)
    box = shapely.bounds(np.asarray(diagram.edges.geometry.array)).reshape(-1, 4)
    with contextlib.closing(sqlite3.connect(tmp_path / "d.gpkg")) as file:
        assert file.execute("SELECT rtreecheck('rtree_edges_geom')").fetchall() == [("ok",)]
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        for left, bottom in ((0, 0), (100, 250), (395, 395)):
            query = (
                "SELECT id FROM rtree_edges_geom WHERE maxx >= ? AND minx <= ? AND maxy >= ? AND miny <= ?"
            )
            window = (left, left + 30, bottom, bottom + 30)
            found = {row[0] for row in file.execute(query, window)}
            meets = (box[:, 2] >= left) & (box[:, 0] <= left + 30)
            meets &= (box[:, 3] >= bottom) & (box[:, 1] <= bottom + 30)
            assert set((np.flatnonzero(meets) + 1).tolist()) <= found
            assert len(found) <= meets.sum() + 2


def test_nodes_hold_about_as_many_each_and_lie_together():
    rng = np.random.default_rng(5)
    low = rng.uniform(0, 1000, (10_000, 2))
    tree = packed(np.hstack([low, low + 1]), np.arange(10_000), size=1228)
    inside = np.bincount(tree.home)[np.unique(tree.home)]
    assert inside.max() <= 51
    assert inside.min() >= 45
    wide = [np.ptp(low[tree.home == node], axis=0).max() for node in np.unique(tree.home)]
    assert np.median(wide) < 3 * 1000 / np.sqrt(10_000 / 51)  # three times the side of a square for each


def test_another_reader_finds_rows_by_its_own_use_of_the_index(tmp_path):
    diagram = many_lines(3000)
    written(diagram, tmp_path)
    window = (100.0, 100.0, 160.0, 130.0)
    got = pyogrio.read_dataframe(tmp_path / "d.gpkg", layer="edges", bbox=window)
    meets = shapely.intersects(np.asarray(diagram.edges.geometry.array), shapely.box(*window))
    assert sorted(got["source_id"]) == sorted(diagram.edges["source_id"][meets])


def test_rows_can_be_added_and_removed_by_others(tmp_path):
    """The triggers that keep counts and indexes are those that GDAL has made."""
    written(many_lines(700), tmp_path)
    crs = pyogrio.read_info(tmp_path / "d.gpkg", layer="edges")["crs"]
    more = many_lines(5, seed=8).edges.drop(columns=["nearness"], errors="ignore").set_crs(crs)
    more.to_file(tmp_path / "d.gpkg", layer="edges", mode="a", engine="pyogrio", promote_to_multi=True)
    assert pyogrio.read_info(tmp_path / "d.gpkg", layer="edges")["features"] == 705
    with contextlib.closing(sqlite3.connect(tmp_path / "d.gpkg")) as file:
        assert file.execute("SELECT count(*) FROM rtree_edges_geom").fetchone() == (705,)
        assert file.execute("SELECT rtreecheck('rtree_edges_geom')").fetchall() == [("ok",)]


SHAPES = [
    shapely.LineString([(0, 0), (3, 1)]),
    shapely.LineString([(0, 0), (3, 1), (4, 8)]),
    shapely.MultiLineString([[(0, 0), (1, 1)], [(5, 5), (6, 7)]]),
    shapely.Polygon([(0, 0, 9), (4, 0, 9), (0, 3, 9)]),
    shapely.Point(7, -2),
    shapely.Polygon(),
    None,
]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
@pytest.mark.parametrize("multi", [False, True])
def test_geometries_are_as_the_standard_says(shape, multi):
    """OGC 12-128r19, requirement 19: magic, version, flags, number of the CRS, envelope, ISO WKB."""
    blobs = blobs_of(np.array([shape], dtype=object), srs=31467, multi=multi)
    (blob,) = blobs.rows(0, 1)
    if shape is None:
        assert blob is None
        return
    flags = blob[3]
    assert (blob[:3], int.from_bytes(blob[4:8], "little")) == (b"GP\x00", 31467)
    assert flags & 1 == 1
    assert bool(flags & 0b10000) == shape.is_empty
    boxed = (flags >> 1) & 0b111
    if boxed:
        left, bottom, right, top = shape.bounds
        assert np.frombuffer(blob[8:40]).tolist() == [left, right, bottom, top]
    assert boxed == (0 if shape.is_empty or shape.geom_type == "Point" else 1)
    got = shapely.from_wkb(blob[8 + 32 * boxed :])
    assert got.geom_type == (f"Multi{shape.geom_type.removeprefix('Multi')}" if multi else shape.geom_type)
    assert not got.has_z
    assert shapely.equals(got, shapely.force_2d(shape)) or shape.is_empty


def test_a_file_written_again_after_a_change_has_the_bytes_of_a_fresh_one(tmp_path, monkeypatch):
    rows = copied_blocks(monkeypatch)
    earlier = earlier_in(tmp_path)
    written(many_lines(9000), tmp_path, earlier=earlier)
    assert not rows
    changed = many_lines(9000, shift=0.5)
    taken_out = with_lines(changed, changed.edges.drop(index=[4000, 4001]).reset_index(drop=True))
    for diagram in (changed, taken_out, many_lines(9000)):
        rows.clear()
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg")
        assert 6000 < sum(rows) < 9000  # those between the first and the ones taken out, and behind


def test_what_a_cell_holds_is_never_an_old_one(tmp_path):
    columns = {"layer": "other", "line_mm": 0.77, "draw_order": 99, "drawn": 0, "colour": "#123456"}
    written(many_lines(3000), tmp_path, earlier=earlier_in(tmp_path))
    for name, value in columns.items():
        diagram = many_lines(3000)
        diagram.edges.loc[1234, name] = value
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert again == written(diagram, tmp_path, "fresh.gpkg"), name
        got = geopandas.read_file(tmp_path / "d.gpkg", layer="edges")[name][1234]
        assert got == value


def test_a_file_that_others_have_changed_is_not_copied_from(tmp_path, monkeypatch):
    rows = copied_blocks(monkeypatch)
    diagram = many_lines(3000)
    whole = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    with contextlib.closing(sqlite3.connect(tmp_path / "d.gpkg")) as file, file:
        file.execute("UPDATE view SET turn = 31")
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    (tmp_path / "d.gpkg").write_bytes(b"no such file")
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    (tmp_path / "d.gpkg").unlink()
    assert written(diagram, tmp_path, earlier=earlier_in(tmp_path)) == whole
    assert not rows


def test_a_file_written_to_meanwhile_is_refused(tmp_path, monkeypatch):
    from siteaxo.export import filling

    diagram = many_lines(3000)
    written(diagram, tmp_path, earlier=earlier_in(tmp_path))
    real = filling._index
    monkeypatch.setattr(filling, "_index", lambda *args: (os.utime(tmp_path / "d.gpkg", (1, 1)), real(*args)))
    with pytest.raises(OutputError, match="while it was read"):
        write_gpkg(diagram, tmp_path / "e.gpkg", earlier=earlier_in(tmp_path))
    assert sorted(one.name for one in tmp_path.iterdir()) == ["d.gpkg", "kept"]


def test_empty_tables_are_made_once_and_again_when_they_are_others(tmp_path, monkeypatch):
    from siteaxo.export import empty

    made, real = [], empty.raw.write
    monkeypatch.setattr(
        empty.raw, "write", lambda *args, **how: (made.append(how["layer"]), real(*args, **how))
    )
    usual = many_lines(60)
    bent = usual.edges.set_geometry(shapely.buffer(usual.edges.geometry.array, 0.1))
    others = {
        "view": {"view": replace(usual.view, origin_x=usual.view.origin_x + 1.0)},
        "type of a geometry": {"edges": bent},
        "type of a column": {"plan": usual.plan.assign(tier=1)},
        "a column more": {"plan": usual.plan.assign(tier="a")},
        "a table more": {"extra": {"labels": extra_table(np.array([shapely.Point(0, 0)]))}},
    }
    whole = written(usual, tmp_path, earlier=earlier_in(tmp_path))
    assert {"faces", "edges", "hidden_edges", "plan", "findings", "view"} <= {*made}
    made.clear()
    assert written(usual, tmp_path, earlier=earlier_in(tmp_path)) == whole
    assert not made
    for name, change in others.items():
        diagram = DiagramLayers(**{**vars(usual), **change})
        again = written(diagram, tmp_path, earlier=earlier_in(tmp_path))
        assert made, name
        assert again == written(diagram, tmp_path, "fresh.gpkg") != whole, name
        made.clear()


def test_writing_tells_how_far_it_is_and_can_be_stopped(tmp_path, monkeypatch):
    """SQLite is handed some rows at a time: between them an interrupt of the user is heard."""
    from siteaxo.export import filling

    monkeypatch.setattr(filling, "_AT_ONCE", 1000)
    diagram, told = many_lines(3500), []
    write_gpkg(diagram, tmp_path / "d.gpkg", progress=lambda stage, share: told.append((stage, share)))
    shares = [share for _, share in told]
    assert {stage for stage, _ in told} == {"rows"}
    assert shares == sorted(shares)
    assert shares[-1] == 1
    assert (np.diff([0, *shares]) * sum_of_rows(tmp_path / "d.gpkg") < 1000.5).all()
    before = (tmp_path / "d.gpkg").read_bytes()

    def stop(stage, share):
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_gpkg(many_lines(3500, shift=1), tmp_path / "d.gpkg", progress=stop)
    assert [one.name for one in tmp_path.iterdir()] == ["d.gpkg"]
    assert (tmp_path / "d.gpkg").read_bytes() == before


def sum_of_rows(path):
    with contextlib.closing(sqlite3.connect(path)) as file:
        tables = file.execute("SELECT table_name FROM gpkg_contents").fetchall()
        return sum(file.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for (name,) in tables)
