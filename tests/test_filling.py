"""Rows, geometries and spatial indexes of GeoPackages as they are put into a file."""

import contextlib
import sqlite3
from dataclasses import replace

import numpy as np
import pyogrio
import pytest
import shapely
from rewriting import earlier_in, many_lines, with_lines, written

from siteaxo.diagram.layers import DiagramLayers
from siteaxo.diagram.tables import extra_table
from siteaxo.export.blobs import blobs_of
from siteaxo.export.gpkg import write_gpkg


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
    blobs = blobs_of(np.array([shape], dtype=object), multi=multi)
    (blob,) = blobs.rows(0, 1, srs=31467)
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
