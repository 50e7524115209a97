"""Which file and which table a layer is read from."""

import contextlib
import json
import os
import sqlite3
import zipfile

import geopandas as gpd
import pytest
import shapely

from siteaxo.errors import LayerError, LimitError
from siteaxo.limits import Limits
from siteaxo.source.files import find_table, ready
from siteaxo.source.layers import Layer

DRIVERS = {
    ".shp": "ESRI Shapefile",
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
}


@pytest.fixture
def frame():
    return gpd.GeoDataFrame({"lvl": [1.5]}, geometry=[shapely.box(0, 0, 5, 5)], crs="EPSG:4326")


def layer(source, **options):
    return Layer(name="paving", role="paving", source=source, **options)


def zipped(path, *shapefiles, folder=""):
    with zipfile.ZipFile(path, "w") as archive:
        for shapefile in shapefiles:
            for part in shapefile.parent.glob(f"{shapefile.stem}.*"):
                archive.write(part, f"{folder}{part.name}")
    return path


@pytest.mark.parametrize("suffix", DRIVERS)
def test_every_kind_is_known_by_its_first_bytes(frame, tmp_path, suffix):
    path = tmp_path / f"paving{suffix}"
    frame.to_file(path, driver=DRIVERS[suffix])
    found = find_table(layer(path))
    assert found.path == path
    assert found.address == str(path)


def test_names_may_be_texts_and_in_capitals(frame, tmp_path):
    path = tmp_path / "PAVING.GPKG"
    frame.to_file(path, driver="GPKG", layer="flags")
    assert find_table(layer(str(path))).table == "flags"


def test_no_such_file(tmp_path):
    with pytest.raises(LayerError, match=r"Layer 'paving': there is no file .*nothing\.shp"):
        find_table(layer(tmp_path / "nothing.shp"))


@pytest.mark.parametrize("source", ["https://localhost/paving.gpkg", "/vsimem/a.gpkg", "PG:dbname=x"])
def test_only_files_on_disk(source):
    with pytest.raises(LayerError, match="there is no file"):
        find_table(layer(source))


def test_a_folder(tmp_path):
    with pytest.raises(LayerError, match="is a folder"):
        find_table(layer(tmp_path))


@pytest.mark.parametrize("name", ["paving.txt", "paving.vrt", "paving", "paving.csv"])
def test_kinds_that_are_not_read(tmp_path, name):
    (tmp_path / name).write_text("x")
    with pytest.raises(LayerError, match=r"of no kind that can be read; use one of \.shp, \.gpkg, \.geojson"):
        find_table(layer(tmp_path / name))


@pytest.mark.parametrize("suffix", [".shp", ".gpkg", ".geojson", ".fgb", ".gml", ".zip"])
@pytest.mark.parametrize("content", [b"", b"nothing of the kind"])
def test_files_that_are_not_what_they_are_called(tmp_path, suffix, content):
    path = tmp_path / f"paving{suffix}"
    path.write_bytes(content)
    with pytest.raises(LayerError, match="does not begin like a"):
        find_table(layer(path))


@pytest.mark.parametrize(
    ("suffix", "content"),
    [
        (".gml", "<OGRVRTDataSource><OGRVRTLayer name='a'/></OGRVRTDataSource>"),
        (".gml", "<?xml version='1.0'?>\n<ogrvrtdatasource/>"),
        (".geojson", '{"type": "gdal_streamed_alg", "command_line": "gdal vector pipeline"}'),
    ],
)
def test_files_that_point_elsewhere(tmp_path, suffix, content):
    path = tmp_path / f"paving{suffix}"
    path.write_text(content)
    with pytest.raises(LayerError, match="points to other data"):
        find_table(layer(path))


def test_one_table_needs_no_name(frame, tmp_path):
    frame.to_file(tmp_path / "site.gpkg", layer="flags")
    assert find_table(layer(tmp_path / "site.gpkg")).table == "flags"


def test_several_tables_are_listed(frame, tmp_path):
    for name in ("flags", "setts", "gravel"):
        frame.to_file(tmp_path / "site.gpkg", layer=name)
    with pytest.raises(LayerError, match=r"several tables: flags, setts, gravel\. Name one with `table`"):
        find_table(layer(tmp_path / "site.gpkg"))
    assert find_table(layer(tmp_path / "site.gpkg", table="setts")).table == "setts"


def test_an_unknown_table_names_the_nearest(frame, tmp_path):
    frame.to_file(tmp_path / "site.gpkg", layer="flags")
    with pytest.raises(LayerError, match=r"'paving'.*Unknown table 'flag'. Did you mean 'flags'"):
        find_table(layer(tmp_path / "site.gpkg", table="flag"))


def test_a_shapefile_in_an_archive(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    archive = zipped(tmp_path / "survey.zip", tmp_path / "flags.shp", folder="2024 survey/")
    found = find_table(layer(archive))
    assert found.kind == "shapefile"
    assert found.member == "2024 survey/flags.shp"
    assert found.part(".dbf") == (tmp_path / "flags.dbf").read_bytes()
    assert found.part(".sbn") is None


def test_several_shapefiles_in_an_archive(frame, tmp_path):
    for name in ("flags", "setts"):
        frame.to_file(tmp_path / f"{name}.shp")
    archive = zipped(tmp_path / "survey.zip", tmp_path / "flags.shp", tmp_path / "setts.shp")
    with pytest.raises(LayerError, match="several tables"):
        find_table(layer(archive))
    assert find_table(layer(archive, table="setts")).member == "setts.shp"


def test_an_archive_without_a_shapefile(tmp_path):
    with zipfile.ZipFile(tmp_path / "survey.zip", "w") as archive:
        archive.writestr("readme.txt", "nothing here")
    with pytest.raises(LayerError, match="holds no shapefile"):
        find_table(layer(tmp_path / "survey.zip"))


def test_a_damaged_archive(tmp_path):
    (tmp_path / "survey.zip").write_bytes(b"PK\x03\x04 and then nothing")
    with pytest.raises(LayerError, match="cannot be opened"):
        find_table(layer(tmp_path / "survey.zip"))


def test_parts_of_a_shapefile_in_capitals(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    (tmp_path / "flags.dbf").rename(tmp_path / "flags.DBF")
    assert find_table(layer(tmp_path / "flags.shp")).part(".dbf") is not None


def test_parts_of_a_shapefile_with_odd_letters(frame, tmp_path):
    frame.to_file(tmp_path / "flags [1].shp")
    assert find_table(layer(tmp_path / "flags [1].shp")).part(".shx") is not None


def test_paths_that_lead_out_of_an_archive(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    for outside in ("../x.txt", "/etc/x.txt", "a/../../x.txt", "..\\x.txt", "C:/x.txt"):
        archive = zipped(tmp_path / "survey.zip", tmp_path / "flags.shp")
        with zipfile.ZipFile(archive, "a") as more:
            more.writestr(outside, "x")
        with pytest.raises(LayerError, match="leads out of it") as caught:
            find_table(layer(archive))
        assert caught.value.code == "archive-path"


def test_an_archive_that_is_too_large(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    (tmp_path / "flags.dbf").write_bytes(bytes(5_000_000))
    with zipfile.ZipFile(tmp_path / "survey.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for part in tmp_path.glob("flags.*"):
            archive.write(part, part.name)
    file = find_table(layer(tmp_path / "survey.zip"))
    for limits, name in ((Limits(), "archive_ratio"), (Limits(unpacked_mb=3), "unpacked_mb")):
        with (
            pytest.raises(LimitError, match=rf"the limit {name} is .*--limit {name}="),
            ready(file, layer(tmp_path / "survey.zip"), limits),
        ):
            pass
    with pytest.raises(LimitError, match="archive_files"):
        find_table(layer(tmp_path / "survey.zip"), limits=Limits(archive_files=2))


def test_an_archive_is_unpacked_and_cleared_away(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    archive = zipped(tmp_path / "survey.zip", tmp_path / "flags.shp", folder="a/")
    with ready(find_table(layer(archive)), layer(archive)) as file:
        assert file.path.read_bytes() == (tmp_path / "flags.shp").read_bytes()
        assert file.name == "survey.zip"
        assert sorted(p.suffix for p in file.path.parent.iterdir()) == [
            ".cpg",
            ".dbf",
            ".prj",
            ".shp",
            ".shx",
        ]
    assert not file.path.parent.exists()


def test_a_damaged_member_is_told(frame, tmp_path):
    frame.to_file(tmp_path / "flags.shp")
    archive = zipped(tmp_path / "survey.zip", tmp_path / "flags.shp")
    content = bytearray(archive.read_bytes())
    with zipfile.ZipFile(archive) as whole:
        at = whole.getinfo("flags.shp").header_offset + 150
    content[at] ^= 0xFF
    archive.write_bytes(content)
    with (
        pytest.raises(LayerError, match=r"cannot be unpacked.*CRC"),
        ready(find_table(layer(archive)), layer(archive)),
    ):
        pass


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize("suffix", [".shp", ".gpkg", ".geojson", ".zip"])
def test_a_pipe_is_not_waited_for(tmp_path, suffix):
    os.mkfifo(tmp_path / f"a{suffix}")
    with pytest.raises(LayerError, match="no regular file but a pipe"):
        find_table(layer(tmp_path / f"a{suffix}"))


def test_names_that_readers_take_apart(frame, tmp_path):
    frame.to_file(tmp_path / "a.gpkg")
    (tmp_path / "a.gpkg").rename(tmp_path / "a!b.gpkg")
    with pytest.raises(LayerError, match="Rename") as caught:
        find_table(layer(tmp_path / "a!b.gpkg"))
    assert caught.value.code == "file-name"


@pytest.mark.parametrize("name", ["x" * 300, "a\0b.shp", "", "b" * 300 + ".gpkg"])
def test_names_that_cannot_be(tmp_path, name):
    with pytest.raises(LayerError):
        find_table(layer(tmp_path / "sub" / f"{name}.shp"))


def test_a_file_that_is_too_large(frame, tmp_path):
    frame.to_file(tmp_path / "a.gpkg")
    with pytest.raises(LimitError, match="file_mb") as caught:
        find_table(layer(tmp_path / "a.gpkg"), limits=Limits(file_mb=0.05))
    assert (caught.value.code, caught.value.layer) == ("limit", "paving")


LINK = {"type": "link", "properties": {"href": "http://127.0.0.1:9/x", "type": "proj4"}}


@pytest.mark.parametrize(
    "crs",
    [
        LINK,
        {"type": "url", "properties": {"url": "http://127.0.0.1:9/x"}},
        {"type": "name", "properties": {"name": "http://127.0.0.1:9/x"}},
        {"type": "name", "properties": {"name": "/etc/hostname"}},
        {"type": "name", "properties": {"name": "+proj=longlat +init=/etc/hostname:x"}},
        "EPSG:4326",
    ],
)
@pytest.mark.parametrize("where", ["top", "feature", "geometry", "escaped"])
def test_a_crs_that_is_linked_to_is_refused(tmp_path, crs, where):
    one = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [1, 2]}}
    top = {"type": "FeatureCollection", "features": [one]}
    {"feature": one, "geometry": one["geometry"]}.get(where, top)["crs"] = crs
    text = json.dumps(top)
    path = tmp_path / "a.geojson"
    path.write_text(text.replace('"crs"', '"\\u0063rs"') if where == "escaped" else text)
    with pytest.raises(LayerError, match="not named by a code") as caught:
        find_table(layer(path))
    assert caught.value.code == "crs-link"


@pytest.mark.parametrize(
    "name",
    [
        "urn:ogc:def:crs:OGC:1.3:CRS84",
        "urn:ogc:def:crs:EPSG::25832",
        "EPSG:25832",
        "http://www.opengis.net/def/crs/EPSG/0/25832",
    ],
)
def test_a_crs_that_is_named_by_a_code_is_not(tmp_path, name):
    top = {"type": "FeatureCollection", "features": [], "crs": {"type": "name", "properties": {"name": name}}}
    (tmp_path / "a.geojson").write_text(json.dumps(top))
    assert find_table(layer(tmp_path / "a.geojson")).count == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"type": "FeatureCollection", "features": [}', "no whole GeoJSON"),
        ('{"type": "FeatureCollection"}', "no list of features"),
        ('{"type": "FeatureCollection", "features": [1]}', "number 0"),
        ('{"type": "Topology", "arcs": []}', "no GeoJSON"),
        ('{"type": "FeatureCollection", "features": [], "coordRefSys": "x"}', "no plain GeoJSON"),
        ('{"type": "Feature", "geometry": null}\n{"type": "Feature", "geometry": null}', "no whole GeoJSON"),
        ('{"a": ' + "[" * 100_000, "nested too deeply"),
    ],
)
def test_json_that_is_no_geojson(tmp_path, text, said):
    (tmp_path / "a.geojson").write_text(text)
    with pytest.raises(LayerError, match=said):
        find_table(layer(tmp_path / "a.geojson"))


def test_features_are_counted_beforehand(frame, tmp_path):
    for suffix in (".gpkg", ".geojson", ".gml"):
        frame.to_file(tmp_path / f"flags{suffix}", driver=DRIVERS[suffix])
        assert find_table(layer(tmp_path / f"flags{suffix}")).count == 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("<ogr:FeatureCollection", "<!DOCTYPE x [<!ENTITY e 'e'>]><ogr:FeatureCollection", "document type"),
        ("</ogr:FeatureCollection>", "", "no whole GML"),
        (
            "<ogr:FeatureCollection",
            "<!-- <OGRVRTDataSource/> --><ogr:FeatureCollection",
            "points to other data",
        ),
        ("http://www.opengis.net/gml/3.2", "http://localhost/x", "no GML"),
    ],
)
def test_gml_that_does_more_than_hold_features(frame, tmp_path, old, new, said):
    frame.to_file(tmp_path / "a.gml", driver="GML")
    text = (tmp_path / "a.gml").read_text()
    assert old in text
    (tmp_path / "a.gml").write_text(text.replace(old, new, 1))
    with pytest.raises(LayerError, match=said):
        find_table(layer(tmp_path / "a.gml"))


def sql(path, *statements):
    with contextlib.closing(sqlite3.connect(path)) as base:
        for statement in statements:
            base.execute(statement)
        base.commit()


REGISTER = (
    "INSERT INTO gpkg_contents SELECT 'v', data_type, 'v', description, last_change, min_x, min_y, max_x, "
    "max_y, srs_id FROM gpkg_contents",
    "INSERT INTO gpkg_geometry_columns SELECT 'v', column_name, geometry_type_name, srs_id, z, m "
    "FROM gpkg_geometry_columns",
)


def test_views_of_a_geopackage_are_not_read(frame, tmp_path):
    frame.to_file(tmp_path / "site.gpkg", layer="flags")
    sql(tmp_path / "site.gpkg", "CREATE VIEW v AS SELECT * FROM flags", *REGISTER)
    assert find_table(layer(tmp_path / "site.gpkg")).table == "flags"
    with pytest.raises(LayerError, match=r"'v' in site\.gpkg is a view.*Only tables are read") as caught:
        find_table(layer(tmp_path / "site.gpkg", table="v"))
    assert caught.value.code == "file-computes"


def test_computed_columns_are_not_read(frame, tmp_path):
    frame.to_file(tmp_path / "site.gpkg", layer="flags")
    sql(tmp_path / "site.gpkg", "ALTER TABLE flags ADD COLUMN up REAL GENERATED ALWAYS AS (lvl + 1) VIRTUAL")
    with pytest.raises(LayerError, match=r"column 'up' of table 'flags'.*is computed"):
        find_table(layer(tmp_path / "site.gpkg"))


def test_a_catalogue_that_is_a_view_is_refused(frame, tmp_path):
    frame.to_file(tmp_path / "site.gpkg", layer="flags")
    sql(
        tmp_path / "site.gpkg",
        "ALTER TABLE gpkg_contents RENAME TO other",
        "CREATE VIEW gpkg_contents AS SELECT * FROM other",
    )
    with pytest.raises(LayerError, match="gpkg_contents as a view"):
        find_table(layer(tmp_path / "site.gpkg"))


def test_a_database_that_is_no_geopackage(tmp_path):
    sql(tmp_path / "a.gpkg", "CREATE TABLE t (a)")
    with pytest.raises(LayerError, match="a database but no GeoPackage"):
        find_table(layer(tmp_path / "a.gpkg"))
