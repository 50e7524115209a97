"""Layers as read, from every kind of file, whole or damaged."""

import os
import shutil
import sqlite3
import struct
import zipfile
from contextlib import closing

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import CrsError, FieldError, GeometryError, LayerError
from siteaxo.source.layers import Layer
from siteaxo.source.reading import read_layer

BOXES = [shapely.box(10 * i, 0, 10 * i + 5, 5 + i) for i in range(5)]
DATA = {"nr": [11, 12, 13, 14, 15], "lvl": [1.5, 2.5, 3.5, 4.5, 5.5], "mat": list("abcde")}
DRIVERS = {
    ".shp": "ESRI Shapefile",
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
}


def make_frame(crs="EPSG:27700", **columns):
    return gpd.GeoDataFrame({**DATA, **columns}, geometry=BOXES, crs=crs)


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    folder = tmp_path_factory.mktemp("originals")
    make_frame().to_file(folder / "beds.shp")
    make_frame().to_file(folder / "beds.gpkg", layer="beds")
    return folder


@pytest.fixture
def folder(originals, tmp_path):
    for file in originals.iterdir():
        shutil.copy(file, tmp_path)
    return tmp_path


def layer(source, **options):
    return Layer(**{"name": "beds", "role": "lawn", "source": source, "top": "lvl", **options})


def codes(raw):
    return [finding.code for finding in raw.findings]


@pytest.mark.parametrize("suffix", DRIVERS)
def test_every_kind_of_file(tmp_path, suffix):
    path = tmp_path / f"beds{suffix}"
    frame = make_frame("EPSG:4326" if suffix == ".geojson" else "EPSG:27700")
    frame.to_file(path, driver=DRIVERS[suffix])
    before = set(os.listdir(tmp_path))
    raw = read_layer(layer(path, id="nr", material="mat"))
    order = np.argsort(raw.source_id)
    assert raw.source_id[order].tolist() == ["11", "12", "13", "14", "15"]
    assert raw.columns["top"][order].tolist() == DATA["lvl"]
    assert raw.columns["material"][order].tolist() == DATA["mat"]
    assert shapely.equals(raw.geometry[order], BOXES).all()
    assert raw.crs.equals(frame.crs, ignore_axis_order=True)
    assert raw.findings == ()
    assert set(os.listdir(tmp_path)) == before  # nothing is written beside the data


def test_a_zipped_shapefile(folder):
    with zipfile.ZipFile(folder / "survey.zip", "w") as archive:
        for part in folder.glob("beds.*"):
            if part.suffix != ".gpkg":
                archive.write(part, f"survey/{part.name}")
    raw = read_layer(layer(folder / "survey.zip", id="nr"))
    assert raw.source_id.tolist() == ["11", "12", "13", "14", "15"]
    assert raw.crs.to_epsg() == 27700


@pytest.mark.parametrize(("name", "first"), [("beds.shp", "0"), ("beds.gpkg", "1")])
def test_the_record_number_is_the_id_where_none_is_named(folder, name, first):
    assert read_layer(layer(folder / name)).source_id[0] == first


def test_the_fid_column_may_be_named(folder):
    assert read_layer(layer(folder / "beds.gpkg", id="fid")).source_id.tolist() == list("12345")


def test_an_empty_id_is_a_finding(tmp_path):
    make_frame(nr=[1, None, 3, 4, 5]).to_file(tmp_path / "beds.gpkg", layer="beds")
    raw = read_layer(layer(tmp_path / "beds.gpkg", id="nr"))
    assert raw.source_id.tolist() == ["1", "2", "3", "4", "5"]  # 2 is the record number
    assert [(f.code, f.source_id, f.field) for f in raw.findings] == [("missing-id", "2", "nr")]


@pytest.mark.parametrize("value", [10**30, -(10**30), 2.0**60])
def test_an_id_too_large_to_be_read_is_a_finding(tmp_path, value):
    path = tmp_path / "beds.geojson"
    make_frame(nr=[1, 7, 3, 4, 5]).to_crs("EPSG:4326").to_file(path, driver="GeoJSON")
    text = path.read_text()
    assert text.count('"nr": 7') == 1
    path.write_text(text.replace('"nr": 7', f'"nr": {value!r}'))
    raw = read_layer(layer(path, id="nr"))
    own = [f for f in raw.findings if f.code != "reader-note"]  # some versions of GDAL say so as well
    assert [(f.code, f.source_id, f.field) for f in own] == [("inexact-id", "1", "nr")]


def test_a_field_that_does_not_exist_lists_those_that_do(folder):
    with pytest.raises(FieldError, match=r"'beds' has no field 'level' \(for top\)\. It has: lvl, mat, nr\."):
        read_layer(layer(folder / "beds.shp", top="level"))


def test_a_field_cut_to_ten_characters_is_suggested(tmp_path):
    # Shapefile technical description: field names of at most ten characters
    make_frame().rename(columns={"lvl": "elevation_"}).to_file(tmp_path / "beds.shp")
    with pytest.raises(FieldError, match="Did you mean 'elevation_'"):
        read_layer(layer(tmp_path / "beds.shp", top="elevation_top"))


def test_a_field_in_other_letters_is_a_finding(folder):
    raw = read_layer(layer(folder / "beds.shp", top="LVL"))
    assert raw.columns["top"].tolist() == DATA["lvl"]
    assert [(f.code, f.field) for f in raw.findings] == [("field-case", "lvl")]


def test_an_empty_layer(tmp_path):
    make_frame().iloc[:0].to_file(tmp_path / "beds.gpkg", layer="beds", engine="pyogrio")
    with pytest.raises(LayerError, match="Layer 'beds' is empty"):
        read_layer(layer(tmp_path / "beds.gpkg"))


def test_a_layer_without_a_crs(folder):
    (folder / "beds.prj").unlink()
    with pytest.raises(CrsError, match=r"'beds' has no coordinate reference system.*crs = \"EPSG"):
        read_layer(layer(folder / "beds.shp"))
    assert read_layer(layer(folder / "beds.shp", crs="EPSG:27700")).crs.to_epsg() == 27700


def test_a_file_that_cannot_be_read_at_all(folder):
    content = (folder / "beds.gpkg").read_bytes()
    (folder / "beds.gpkg").write_bytes(content[: len(content) // 2])
    with pytest.raises(LayerError, match=r"'beds'.*beds\.gpkg cannot be read"):
        read_layer(layer(folder / "beds.gpkg"))


def test_a_shapefile_without_its_index(folder):
    (folder / "beds.shx").unlink()
    with pytest.raises(LayerError, match=r"beds\.shp cannot be read"):
        read_layer(layer(folder / "beds.shp"))
    assert not (folder / "beds.shx").exists()


def test_json_that_is_cut_short(tmp_path):
    path = tmp_path / "beds.geojson"
    make_frame("EPSG:4326").to_file(path, driver="GeoJSON")
    path.write_text(path.read_text()[:-90])
    with pytest.raises(LayerError, match=r"beds\.geojson is no whole GeoJSON"):
        read_layer(layer(path))


def record(folder, number):
    shx = (folder / "beds.shx").read_bytes()
    return struct.unpack_from(">i", shx, 100 + 8 * number)[0] * 2 + 8


@pytest.mark.parametrize(
    ("offset", "layout", "value"),
    [(0, "<i", 99), (0, "<i", 3), (40, "<i", 2**30), (36, "<i", 2**30), (44, "<i", -5)],
)
def test_a_broken_record_is_named_and_set_aside(folder, offset, layout, value):
    shp = bytearray((folder / "beds.shp").read_bytes())
    struct.pack_into(layout, shp, record(folder, 2) + offset, value)
    (folder / "beds.shp").write_bytes(shp)
    raw = read_layer(layer(folder / "beds.shp", id="nr"))
    assert raw.source_id.tolist() == ["11", "12", "14", "15"]
    assert raw.columns["top"].tolist() == [1.5, 2.5, 4.5, 5.5]
    (finding,) = raw.findings
    assert (finding.severity, finding.code, finding.source_id) == ("error", "broken-record", "2")
    assert "beds.shp" in finding.message


def test_a_shape_left_empty_on_purpose_is_not_broken(folder):
    shp = bytearray((folder / "beds.shp").read_bytes())
    struct.pack_into("<i", shp, record(folder, 2), 0)
    (folder / "beds.shp").write_bytes(shp)
    raw = read_layer(layer(folder / "beds.shp"))
    assert raw.geometry[2] is None
    assert raw.findings == ()


def test_attributes_cut_short_are_read_record_by_record(folder):
    dbf = (folder / "beds.dbf").read_bytes()
    (folder / "beds.dbf").write_bytes(dbf[:-20])
    raw = read_layer(layer(folder / "beds.shp", top="LVL"))
    assert raw.columns["top"].tolist() == [1.5, 2.5, 3.5, 4.5]
    assert codes(raw) == ["reader-note", "broken-record", "field-case"]
    assert "announces 5 rows of attributes and has 4" in raw.findings[0].message
    assert raw.findings[1].source_id == "4"


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_a_ring_that_starts_at_no_number(folder, value):
    shp = bytearray((folder / "beds.shp").read_bytes())
    struct.pack_into("<d", shp, record(folder, 2) + 48, value)
    (folder / "beds.shp").write_bytes(shp)
    if np.isnan(value):
        with pytest.raises(GeometryError, match=r"'beds': 1 feature has coordinates .* \(ids 2\)"):
            read_layer(layer(folder / "beds.shp"))
    else:  # it comes through the reading, and is refused with all others that are not finite
        assert not np.isfinite(shapely.get_coordinates(read_layer(layer(folder / "beds.shp")).geometry)).all()


def test_a_text_in_a_number_field_is_not_read_as_zero(folder):
    dbf = (folder / "beds.dbf").read_bytes()
    assert dbf.count(b"3.50000000") == 1
    (folder / "beds.dbf").write_bytes(dbf.replace(b"3.50000000", b"  see plan"))
    raw = read_layer(layer(folder / "beds.shp"))
    assert raw.columns["top"][2].startswith("see plan")
    assert raw.columns["top"][1] == 2.5


def test_a_text_in_a_number_column_of_a_geopackage_is_not_read_as_zero(folder):
    with closing(sqlite3.connect(folder / "beds.gpkg")) as base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f'DROP TRIGGER "{name}"')
        base.execute("UPDATE beds SET lvl = 'see plan' WHERE fid = 3")
        base.commit()
    assert read_layer(layer(folder / "beds.gpkg")).columns["top"].tolist() == [1.5, 2.5, "see plan", 4.5, 5.5]


def test_utf8_without_a_cpg_is_mended_and_reported(tmp_path):
    make_frame(mat=["grès", "granit", "Läuferverband", "ardoise", "é"]).to_file(tmp_path / "beds.shp")
    (tmp_path / "beds.cpg").unlink()
    raw = read_layer(layer(tmp_path / "beds.shp", material="mat"))
    assert raw.columns["material"].tolist() == ["grès", "granit", "Läuferverband", "ardoise", "é"]
    (finding,) = raw.findings
    assert (finding.severity, finding.code, finding.field) == ("warning", "encoding", "mat")
    assert "3 are read as UTF-8 and 0 as Latin-1" in finding.message


def test_latin_1_under_a_wrong_cpg_is_kept_and_reported(tmp_path):
    make_frame(mat=["grès", *"bcde"]).to_file(tmp_path / "beds.shp", encoding="ISO-8859-1")
    (tmp_path / "beds.cpg").write_text("UTF-8")
    raw = read_layer(layer(tmp_path / "beds.shp", material="mat"))
    assert raw.columns["material"][0] == "grès"
    assert codes(raw) == ["encoding"]


def test_a_cpg_that_is_right_is_no_finding(tmp_path):
    make_frame(mat=["grès", *"bcde"]).to_file(tmp_path / "beds.shp", encoding="ISO-8859-1")
    raw = read_layer(layer(tmp_path / "beds.shp", material="mat"))
    assert raw.columns["material"][0] == "grès"
    assert raw.findings == ()


def test_rows_can_be_taken(folder):
    raw = read_layer(layer(folder / "beds.shp", id="nr"))
    part = raw.take(np.array([3, 0]))
    assert part.source_id.tolist() == ["14", "11"]
    assert part.columns["top"].tolist() == [4.5, 1.5]
    assert len(raw) == 5
