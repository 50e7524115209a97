"""Record by record, where the bulk reading fails."""

import struct

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import LayerError
from siteaxo.source.careful import read_carefully
from siteaxo.source.tablefile import TableFile

COUNT = 6
DATA = {"lvl": [1.5, 2.5, 3.5, 4.5, 5.5, 6.5], "mat": list("abcdef")}
BOXES = [shapely.box(10 * i, 0, 10 * i + 5, 5 + i) for i in range(COUNT)]


@pytest.fixture
def frame():
    return gpd.GeoDataFrame(DATA, geometry=BOXES, crs="EPSG:27700")


def careful(path, kind, table=None):
    file = TableFile(path=path, kind=kind, table=table)
    return read_carefully(file, layer="beds", reason="it stopped half-way")


def test_a_whole_file_comes_out_whole(frame, tmp_path):
    frame.to_file(tmp_path / "beds.shp")
    table = careful(tmp_path / "beds.shp", "shapefile")
    assert table.fid.tolist() == list(range(COUNT))
    assert table.fields == ("lvl", "mat")
    assert {name: values.tolist() for name, values in table.columns.items()} == DATA
    assert shapely.equals(shapely.normalize(table.geometry), shapely.normalize(BOXES)).all()
    assert table.broken == {}
    assert "British National Grid" in table.crs


def test_attributes_cut_short_are_named_and_set_aside(frame, tmp_path):
    frame.to_file(tmp_path / "beds.shp")
    dbf = (tmp_path / "beds.dbf").read_bytes()
    (tmp_path / "beds.dbf").write_bytes(dbf[:-20])
    table = careful(tmp_path / "beds.shp", "shapefile")
    assert table.fid.tolist() == [0, 1, 2, 3, 4]
    assert list(table.broken) == [5]


def test_a_record_that_cannot_be_decoded_does_not_cost_those_after_it(frame, tmp_path):
    path = tmp_path / "beds.fgb"
    frame.to_file(path, driver="FlatGeobuf")
    before = careful(path, "FlatGeobuf")
    content = bytearray(path.read_bytes())
    # FlatGeobuf specification: 8 bytes of magic, the header after its size, an index of 40 bytes for
    # each of 6 records and one node above them, then the records, each after its size
    at = 12 + struct.unpack_from("<I", content, 8)[0] + 7 * 40
    for _ in range(2):
        at += 4 + struct.unpack_from("<I", content, at)[0]
    struct.pack_into("<I", content, at + 4, 0x7FFFFFFF)  # where the third record's table begins
    path.write_bytes(content)
    table = careful(path, "FlatGeobuf")
    assert list(table.broken) == [2]
    assert table.fid.tolist() == [0, 1, 3, 4, 5]
    others = before.fid != 2
    assert table.columns["lvl"].tolist() == before.columns["lvl"][others].tolist()
    assert shapely.equals(table.geometry, before.geometry[others]).all()


def test_a_file_that_cannot_be_opened(tmp_path):
    (tmp_path / "beds.shp").write_bytes(b"\x00\x00\x27\x0a" + bytes(40))
    with pytest.raises(LayerError, match=r"'beds'.*half-way.*record by record failed too"):
        careful(tmp_path / "beds.shp", "shapefile")


def test_a_table_that_is_not_there(frame, tmp_path):
    frame.to_file(tmp_path / "beds.gpkg", layer="beds")
    with pytest.raises(LayerError, match="failed too"):
        careful(tmp_path / "beds.gpkg", "GeoPackage", table="walls")


def test_a_geometry_that_cannot_be_built_is_named(frame, tmp_path):
    frame.to_file(tmp_path / "beds.shp")
    shp = bytearray((tmp_path / "beds.shp").read_bytes())
    shx = (tmp_path / "beds.shx").read_bytes()
    start = struct.unpack_from(">i", shx, 100 + 8 * 2)[0] * 2
    struct.pack_into("<d", shp, start + 8 + 48, np.nan)  # x of the first vertex
    (tmp_path / "beds.shp").write_bytes(shp)
    table = careful(tmp_path / "beds.shp", "shapefile")
    assert list(table.broken) == [2]
    assert 2 not in table.fid


def test_it_prints_nothing(frame, tmp_path, capfd):
    frame.to_file(tmp_path / "beds.shp")
    dbf = (tmp_path / "beds.dbf").read_bytes()
    (tmp_path / "beds.dbf").write_bytes(dbf[:-20])
    capfd.readouterr()
    careful(tmp_path / "beds.shp", "shapefile")
    assert capfd.readouterr() == ("", "")
