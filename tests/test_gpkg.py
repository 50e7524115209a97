import contextlib
import json
import re
import sqlite3
import time

import geopandas
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely
from handmade import ORIGIN, PLANE, planometric_matrix, room_for, terraces, view_record, without_rows

from siteaxo.diagram.layers import (
    EDGE_COLUMNS,
    FACE_COLUMNS,
    FINDING_COLUMNS,
    NUMBER,
    PLAN_COLUMNS,
    DiagramLayers,
)
from siteaxo.errors import OutputError, ViewError
from siteaxo.export.frames import map_from_page, page_crs
from siteaxo.export.gpkg import write_gpkg

SPATIAL = {"faces": FACE_COLUMNS, "edges": EDGE_COLUMNS, "hidden_edges": EDGE_COLUMNS, "plan": PLAN_COLUMNS}
VIEW_COLUMNS = (
    "kind",
    "turn",
    "height_factor",
    "matrix",
    "plane_wkt",
    "origin_x",
    "origin_y",
    "drawn_in_place",
    "siteaxo_version",
)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("gpkg") / "diagram.gpkg"
    write_gpkg(terraces(view=view_record(30.0)), path)
    return path


def rows_of(path, query):
    with contextlib.closing(sqlite3.connect(path)) as file:
        return file.execute(query).fetchall()


@pytest.mark.parametrize("table", SPATIAL)
def test_tables_come_back_as_they_were(written, table):
    diagram = terraces(view=view_record(30.0))
    sent, got = getattr(diagram, table), geopandas.read_file(written, layer=table)
    assert [*got.columns] == [*SPATIAL[table], "geometry"]
    assert shapely.equals(got.geometry.array, sent.geometry.array).all()
    for column in SPATIAL[table]:
        assert got[column].tolist() == sent[column].tolist()
    assert set(got.geom_type) == {"MultiPolygon" if table in ("faces", "plan") else "MultiLineString"}


def test_findings_have_no_geometry(written):
    got = pyogrio.read_dataframe(written, layer="findings")
    assert not isinstance(got, geopandas.GeoDataFrame)
    assert [*got.columns] == list(FINDING_COLUMNS)
    assert got.iloc[0].tolist() == [
        "warning",
        "level-missing",
        "lawns",
        "7",
        "top",
        "-9999",
        "taken from below",
    ]


def test_the_view_is_one_row_from_which_the_page_can_be_undone(written):
    got = pyogrio.read_dataframe(written, layer="view")
    assert tuple(got.columns) == VIEW_COLUMNS
    (row,) = got.itertuples(index=False)
    assert (row.kind, row.turn, row.height_factor, row.drawn_in_place) == ("planometric", 30.0, 1.0, 12.0)
    assert (row.origin_x, row.origin_y) == ORIGIN
    assert pyproj.CRS(row.plane_wkt) == pyproj.CRS(PLANE)
    matrix = np.array(json.loads(row.matrix))
    np.testing.assert_array_equal(matrix, planometric_matrix(30.0))


def test_header(written):
    """OGC 12-128r19, requirements 2, 6 and 7."""
    assert rows_of(written, "PRAGMA application_id") == [(0x47504B47,)]
    assert rows_of(written, "PRAGMA user_version")[0][0] in (10300, 10400)
    assert rows_of(written, "PRAGMA integrity_check") == [("ok",)]
    assert rows_of(written, "PRAGMA foreign_key_check") == []


def test_reference_systems(written):
    """OGC 12-128r19, requirements 11, 12, 115, 116 and 145."""
    rows = {
        row[0]: row[1:]
        for row in rows_of(written, "SELECT srs_id, srs_name, definition_12_063 FROM gpkg_spatial_ref_sys")
    }
    used = {
        row[0] for row in rows_of(written, "SELECT srs_id FROM gpkg_contents WHERE data_type = 'features'")
    }
    assert {4326, -1, 0} | used == set(rows)
    (page,) = used
    assert rows[page][1].startswith('ENGCRS["Page of a site diagram"')
    extensions = [row[0] for row in rows_of(written, "SELECT extension_name FROM gpkg_extensions")]
    assert any(name.startswith("gpkg_crs_wkt") for name in extensions)


def test_the_same_drawing_gives_the_same_bytes(written, tmp_path):
    time.sleep(0.01)  # a time of the day in the file would differ
    write_gpkg(terraces(view=view_record(30.0)), tmp_path / "again.gpkg")
    assert (tmp_path / "again.gpkg").read_bytes() == written.read_bytes()


def test_contents(written):
    """OGC 12-128r19, requirements 15, 18 and 27 to 30."""
    query = "SELECT table_name, data_type, last_change, srs_id FROM gpkg_contents"
    contents = {row[0]: row[1:] for row in rows_of(written, query)}
    assert list(contents) == ["faces", "edges", "hidden_edges", "patterns", "plan", "findings", "view"]
    columns = {
        row[0]: row[1:]
        for row in rows_of(written, "SELECT table_name, column_name, srs_id, z, m FROM gpkg_geometry_columns")
    }
    for name, (kind, changed, srs) in contents.items():
        assert kind == ("attributes" if name in ("findings", "view") else "features")
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", changed)
        assert columns.get(name, ("geom", srs, 0, 0)) == ("geom", srs, 0, 0)
    assert set(columns) == {*SPATIAL, "patterns"}


@pytest.mark.parametrize("table", SPATIAL)
def test_spatial_indexes(written, table):
    """OGC 12-128r19, requirements 75 to 77."""
    (count,) = rows_of(written, f"SELECT count(*) FROM rtree_{table}_geom")[0]
    assert count == len(getattr(terraces(), table))
    extensions = rows_of(written, f"SELECT extension_name FROM gpkg_extensions WHERE table_name = '{table}'")
    assert ("gpkg_rtree_index",) in extensions


def test_the_page_has_an_engineering_crs_in_metres(written):
    """ISO 19162 (WKT 2): ENGCRS; parsed by PROJ."""
    crs = pyproj.CRS(page_crs(view_record(30.0)))
    assert crs.is_engineering
    assert [axis.unit_name for axis in crs.axis_info] == ["metre", "metre"]
    assert [axis.name.lower() for axis in crs.axis_info] == ["right", "up"]
    stored = rows_of(written, "SELECT definition_12_063 FROM gpkg_spatial_ref_sys WHERE srs_id >= 100000")
    (datum,) = re.findall(r'EDATUM\["(.*?)"\]', page_crs(view_record(30.0)))
    assert datum in stored[0][0]
    assert pyproj.CRS(stored[0][0]).is_engineering


def test_the_datum_tells_views_apart():
    views = [
        view_record(30.0),
        view_record(30.0, kind="plan oblique"),
        view_record(45.0),
        view_record(30.0, drawn_in_place=12.5),
        view_record(30.0, origin_x=0.0),
        view_record(30.0, plane_wkt=pyproj.CRS(32630).to_wkt()),
    ]
    assert len({page_crs(view) for view in views}) == len(views)
    assert page_crs(view_record(30.0)) == page_crs(view_record(30.0))


@pytest.mark.parametrize("turn", [0.0, 30.0, 60.0, 200.0])
def test_the_map_frame_puts_the_level_drawn_in_place_onto_the_plane(tmp_path, turn):
    """Page points are made from the definition of the planometric view, ISO 5456-3 (from memory)."""
    spots = np.array([[150.0, -40.0], [171.5, -33.25], [158.0, -20.0]])
    local = np.column_stack([spots - ORIGIN, np.zeros(3)])
    lifted = local + np.array([0.0, 0.0, 3.0])
    matrix = planometric_matrix(turn)
    shapes = [shapely.Polygon((points @ matrix.T)[:, :2]) for points in (local, lifted)]
    diagram = terraces(view=view_record(turn))
    faces = diagram.faces.iloc[:2].set_geometry(shapes)
    diagram = DiagramLayers(**{**vars(diagram), "faces": faces})
    write_gpkg(diagram, tmp_path / "d.gpkg", frame="map")
    got = geopandas.read_file(tmp_path / "d.gpkg", layer="faces")
    assert got.crs.is_projected
    wanted = {one.name: one.value for one in pyproj.CRS(PLANE).coordinate_operation.params}
    assert {one.name: one.value for one in got.crs.coordinate_operation.params} == wanted
    assert got.crs.axis_info[0].unit_name == "metre"
    flat, high = (shapely.get_coordinates(shape)[:3] for shape in got.geometry)
    np.testing.assert_allclose(flat, spots, atol=1e-8)
    lean = high - spots
    np.testing.assert_allclose(np.linalg.norm(lean, axis=1), 3.0, atol=1e-8)
    np.testing.assert_allclose(
        lean, [[3 * np.sin(np.radians(turn)), 3 * np.cos(np.radians(turn))]] * 3, atol=1e-8
    )


def test_the_map_frame_undoes_a_squared_up_base_line():
    """The inverse of any turn is its transpose."""
    turn = planometric_matrix(60.0) @ planometric_matrix(-17.3, 0.0)
    turn[1, 2] = 1.0
    affine = map_from_page(view_record(60.0, matrix=turn))
    np.testing.assert_allclose(affine[:, :2] @ turn[:2, :2], np.eye(2), atol=1e-12)
    np.testing.assert_allclose(affine[:, :2], turn[:2, :2].T, atol=1e-12)
    assert affine[:, 2].tolist() == list(ORIGIN)


def test_there_is_no_map_frame_for_a_foreshortened_plan(tmp_path):
    view = view_record(45.0, kind="isometric", matrix=np.diag([1.0, 0.5, 1.0]))
    with pytest.raises(ViewError, match=r"isometric.*frame='sheet'"):
        write_gpkg(terraces(view=view), tmp_path / "d.gpkg", frame="map")
    assert not list(tmp_path.iterdir())


def test_empty_tables_are_there_with_their_columns(tmp_path):
    write_gpkg(without_rows(terraces()), tmp_path / "d.gpkg")
    for table, columns in SPATIAL.items():
        got = geopandas.read_file(tmp_path / "d.gpkg", layer=table)
        assert len(got) == 0
        assert [*got.columns] == [*columns, "geometry"]
    types = dict(
        zip(
            *(pyogrio.read_info(tmp_path / "d.gpkg", layer="faces")[key] for key in ("fields", "dtypes")),
            strict=True,
        )
    )
    assert (types["level_min"], types["draw_order"], types["role"]) == ("float64", "int32", "object")
    assert len(pyogrio.read_dataframe(tmp_path / "d.gpkg", layer="findings")) == 0


def test_missing_values_are_null(tmp_path):
    diagram = terraces()
    diagram.faces.loc[0, "level_min"] = np.nan
    diagram.faces["source_id"] = pd.Series([None, "8", "9", "7", "8", "9"], dtype=object)
    write_gpkg(diagram, tmp_path / "d.gpkg")
    query = "SELECT count(*) FROM faces WHERE level_min IS NULL AND source_id IS NULL"
    assert rows_of(tmp_path / "d.gpkg", query) == [(1,)]


def test_text_of_any_script_comes_back(tmp_path):
    diagram = terraces()
    diagram.faces["layer"] = ["Gärten", "植栽", "صخور", "a'b\"c", "émaux", "$x$"]
    write_gpkg(diagram, tmp_path / "d.gpkg")
    assert (
        geopandas.read_file(tmp_path / "d.gpkg", layer="faces")["layer"].tolist()
        == diagram.faces["layer"].tolist()
    )


def test_a_plan_of_mixed_kinds_keeps_them(tmp_path):
    diagram = terraces()
    plan = diagram.plan.set_geometry(
        [shapely.Point(1, 2), shapely.box(0, 0, 1, 1), shapely.LineString([(0, 0), (1, 1)])]
    )
    write_gpkg(DiagramLayers(**{**vars(diagram), "plan": plan}), tmp_path / "d.gpkg")
    got = geopandas.read_file(tmp_path / "d.gpkg", layer="plan")
    assert got.geom_type.tolist() == ["Point", "Polygon", "LineString"]


def test_writing_twice_replaces_the_whole_file(tmp_path):
    write_gpkg(terraces(), tmp_path / "d.gpkg")
    write_gpkg(without_rows(terraces()), tmp_path / "d.gpkg")
    assert rows_of(tmp_path / "d.gpkg", "SELECT count(*) FROM faces") == [(0,)]
    assert [one.name for one in tmp_path.iterdir()] == ["d.gpkg"]


def test_writing_leaves_the_drawing_alone(tmp_path):
    diagram = terraces(view=view_record(30.0))
    before = diagram.faces.copy()
    write_gpkg(diagram, tmp_path / "d.gpkg", frame="map")
    assert diagram.faces.equals(before)


@pytest.mark.parametrize("room", [0, 40_000, 90_000, 150_000])
def test_a_full_disk_leaves_the_old_file(tmp_path, room):
    target = tmp_path / "d.gpkg"
    target.write_bytes(b"old")
    diagram = terraces()
    many = np.arange(6000) % 6
    diagram = DiagramLayers(**{**vars(diagram), "faces": diagram.faces.iloc[many]})
    with room_for(room), pytest.raises(OutputError, match="untouched"):
        write_gpkg(diagram, target)
    assert target.read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["d.gpkg"]


def test_a_spatial_index_lost_on_a_full_disk_is_noticed(tmp_path):
    """GDAL makes the last index while it closes the file, and says nothing when that fails."""
    diagram = terraces()
    plan = diagram.plan.iloc[np.arange(9000) % 3]
    diagram = DiagramLayers(**{**vars(diagram), "plan": plan})
    write_gpkg(diagram, tmp_path / "d.gpkg")
    whole = (tmp_path / "d.gpkg").stat().st_size
    for share in np.linspace(0.5, 0.98, 7):
        with room_for(share * whole), pytest.raises(OutputError):
            write_gpkg(diagram, tmp_path / "e.gpkg")
    assert [one.name for one in tmp_path.iterdir()] == ["d.gpkg"]


def test_bad_calls_are_refused(tmp_path):
    with pytest.raises(OutputError, match=r"ends in \.gpkg"):
        write_gpkg(terraces(), tmp_path / "d.shp")
    with pytest.raises(ViewError, match=r"'page'.*sheet"):
        write_gpkg(terraces(), tmp_path / "d.gpkg", frame="page")
    with pytest.raises(OutputError, match="does not exist"):
        write_gpkg(terraces(), tmp_path / "no" / "d.gpkg")
    diagram = terraces()
    bare = DiagramLayers(**{**vars(diagram), "edges": diagram.edges.drop(columns="colour")})
    with pytest.raises(OutputError, match=r"'edges'.*colour"):
        write_gpkg(bare, tmp_path / "d.gpkg")
    assert not list(tmp_path.iterdir())


def test_further_tables_are_written_with_all_their_columns(tmp_path):
    """Labels and patterns as a figure shows them, columns beyond the common ones included."""
    from siteaxo.sheet.figure import make_figure

    drawing = make_figure(terraces(material="timber")).drawing
    write_gpkg(drawing, tmp_path / "a.gpkg")
    names = {name for name, _ in pyogrio.list_layers(tmp_path / "a.gpkg")}
    assert {"patterns", "labels"} <= names
    for name in ("patterns", "labels"):
        got = geopandas.read_file(tmp_path / "a.gpkg", layer=name)
        sent = drawing.extra[name]
        assert [*got.columns] == [*sent.columns]
        assert shapely.equals(got.geometry.array, sent.geometry.array).all()
        assert got["line_mm"].tolist() == sent["line_mm"].tolist()
        assert got["kind"].tolist() == sent["kind"].tolist()
    assert got["height_mm"].tolist() == sent["height_mm"].tolist()


def test_a_table_of_several_kinds_of_geometry_says_so(tmp_path):
    from siteaxo.diagram.tables import extra_table

    shapes = np.array([shapely.Point(1, 2).buffer(1), shapely.LineString([(0, 0), (1, 1)])], dtype=object)
    people = extra_table(shapes, kind="figure", colour="#101010", line_mm=0.13)
    diagram = terraces()
    several = DiagramLayers(**{**vars(diagram), "extra": {"people": people}})
    write_gpkg(several, tmp_path / "a.gpkg")
    kinds = dict(
        rows_of(tmp_path / "a.gpkg", "SELECT table_name, geometry_type_name FROM gpkg_geometry_columns")
    )
    assert kinds["people"] == "GEOMETRY"
    assert len(geopandas.read_file(tmp_path / "a.gpkg", layer="people")) == 2


def test_columns_that_only_memory_has_are_not_written(tmp_path):
    diagram = terraces()
    faces = diagram.faces.assign(**{NUMBER: [2, 3, 5, 7, 11, 13]})
    write_gpkg(DiagramLayers(**{**vars(diagram), "faces": faces}), tmp_path / "d.gpkg")
    assert [row[0] for row in rows_of(tmp_path / "d.gpkg", "SELECT fid FROM faces")] == [2, 3, 5, 7, 11, 13]
    assert NUMBER not in [row[1] for row in rows_of(tmp_path / "d.gpkg", "PRAGMA table_info(faces)")]
