"""What readers pass over in silence, found in the bytes."""

import shutil
import sqlite3
import struct
from contextlib import closing

import geopandas as gpd
import pytest
import shapely

from siteaxo.source.damage import Damage, broken_shapes, look_for_damage
from siteaxo.source.rows import number_texts
from siteaxo.source.tablefile import TableFile

COUNT = 5


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    folder = tmp_path_factory.mktemp("originals")
    boxes = [shapely.box(10 * i, 0, 10 * i + 5, 5) for i in range(COUNT)]
    data = {"lvl": [1.5, 2.5, 3.5, 4.5, 5.5], "nr": [1, 2, 3, 4, 5], "mat": list("abcde")}
    frame = gpd.GeoDataFrame(data, geometry=boxes, crs="EPSG:27700")
    frame.to_file(folder / "beds.shp")
    frame.to_file(folder / "beds.gpkg", layer="beds")
    return folder


@pytest.fixture
def folder(originals, tmp_path):
    for file in originals.iterdir():
        shutil.copy(file, tmp_path)
    return tmp_path


def both(folder):
    return bytearray((folder / "beds.shp").read_bytes()), (folder / "beds.shx").read_bytes()


def start(shx, record):
    return struct.unpack_from(">i", shx, 100 + 8 * record)[0] * 2


def test_a_whole_shapefile(folder):
    assert broken_shapes(*both(folder)) == ({}, set())


@pytest.mark.parametrize("kind", [3, 99, -1])
def test_a_shape_of_another_type(folder, kind):
    shp, shx = both(folder)
    struct.pack_into("<i", shp, start(shx, 2) + 8, kind)
    broken, empty = broken_shapes(bytes(shp), shx)
    assert broken == {2: f"its shape type is {kind}, the file's is 5"}
    assert empty == set()


def test_a_null_shape_is_empty_not_broken(folder):
    shp, shx = both(folder)
    struct.pack_into("<i", shp, start(shx, 2) + 8, 0)
    assert broken_shapes(bytes(shp), shx) == ({}, {2})


def test_a_file_cut_short(folder):
    shp, shx = both(folder)
    broken, _ = broken_shapes(bytes(shp[: start(shx, 3) + 40]), shx)
    assert broken == {3: "its record is cut short", 4: "its record lies outside the file"}


def test_texts_in_number_fields(folder):
    dbf = (folder / "beds.dbf").read_bytes()
    assert number_texts(dbf, ["lvl", "nr", "mat"]) == {}
    spoilt = dbf.replace(b"3.50000000", b"3.5x   abc")
    assert list(number_texts(spoilt, ["lvl", "nr"])) == ["lvl"]
    assert number_texts(spoilt, ["lvl"])["lvl"][2].startswith("3.5x   abc")
    assert number_texts(spoilt, ["nr"]) == {}


@pytest.mark.parametrize("cell", [b"nan", b"inf", b"1_0", b"0x1", b"1.2.3", b"--1", b"1e", b"+"])
def test_cells_that_are_no_numbers(folder, cell):
    dbf = bytearray((folder / "beds.dbf").read_bytes())
    at = dbf.index(b"3.500000000")
    dbf[at : at + 24] = dbf[at : at + 24].replace(b"3.500000000", cell.ljust(11))
    end = at + 11
    while bytes(dbf[end : end + 1]).isdigit():
        dbf[end : end + 1] = b" "
        end += 1
    assert number_texts(bytes(dbf), ["lvl"]) == {"lvl": {2: cell.decode()}}


def test_blanks_and_asterisks_are_empty(folder):
    dbf = bytearray((folder / "beds.dbf").read_bytes())
    for record, filler in ((2, b" "), (3, b"*")):
        _, header, width = struct.unpack_from("<IHH", dbf, 4)
        length = dbf[32 + 16]  # of the first field
        at = header + record * width + 1
        dbf[at : at + length] = filler * length
    assert number_texts(bytes(dbf), ["lvl"]) == {}


def test_a_shape_that_was_read_as_nothing_is_broken(folder):
    shp, shx = both(folder)
    struct.pack_into("<i", shp, start(shx, 1) + 8 + 40, 2**30)  # number of points
    (folder / "beds.shp").write_bytes(shp)
    damage = look_for_damage(TableFile(path=folder / "beds.shp", kind="shapefile"), [], [1])
    assert damage.broken == {1: "its geometry cannot be decoded"}


def test_a_shape_without_a_row_of_attributes_is_broken(folder):
    dbf = bytearray((folder / "beds.dbf").read_bytes())
    struct.pack_into("<I", dbf, 4, COUNT - 1)
    (folder / "beds.dbf").write_bytes(dbf)
    damage = look_for_damage(TableFile(path=folder / "beds.shp", kind="shapefile"), [], [])
    assert damage.broken == {4: "it has a shape but no row of attributes"}
    assert damage.notes == ("it announces 4 rows of attributes and has 5",)
    assert damage.count == COUNT


def test_a_row_of_attributes_without_a_shape_is_broken(folder):
    shp, shx = both(folder)
    (folder / "beds.shx").write_bytes(shx[:-8])
    file = TableFile(path=folder / "beds.shp", kind="shapefile")
    damage = look_for_damage(file, [], [])
    assert damage.broken == {4: "its shape is not in the index (.shx)"}
    assert damage.count == COUNT - 1
    (folder / "beds.shp").write_bytes(shp[: start(shx, 4)])
    assert look_for_damage(file, [], []).broken == {4: "it has a row of attributes but no shape"}
    (folder / "beds.dbf").unlink()
    damage = look_for_damage(TableFile(path=folder / "beds.shp", kind="shapefile"), [], [])
    assert damage.notes == ("it has no attributes (.dbf)",)


def test_old_copies_of_records_are_not_missed(folder):
    """A record that grew is appended; its old place keeps a copy with the same number."""
    shp, shx = both(folder)
    old = shp[start(shx, 1) : start(shx, 2)]
    index = bytearray(shx)
    struct.pack_into(">i", index, 100 + 8, len(shp) // 2)
    (folder / "beds.shp").write_bytes(shp + old)
    (folder / "beds.shx").write_bytes(index)
    damage = look_for_damage(TableFile(path=folder / "beds.shp", kind="shapefile"), [], [])
    assert damage.broken == {}


def test_deleted_rows_are_counted(folder):
    dbf = bytearray((folder / "beds.dbf").read_bytes())
    _, header, width = struct.unpack_from("<IHH", dbf, 4)
    dbf[header + 2 * width] = 0x2A
    (folder / "beds.dbf").write_bytes(dbf)
    damage = look_for_damage(TableFile(path=folder / "beds.shp", kind="shapefile"), [], [])
    assert (damage.broken, damage.count, damage.deleted) == ({}, COUNT - 1, 1)


def change(path, *statements):
    with closing(sqlite3.connect(path)) as base:
        names = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
        for statement in (*(f'DROP TRIGGER "{name}"' for name in names), *statements):
            base.execute(statement)
        base.commit()


def test_texts_in_number_fields_of_a_geopackage(folder):
    path = folder / "beds.gpkg"
    change(path, "UPDATE beds SET lvl = 'high' WHERE fid = 3", "UPDATE beds SET lvl = NULL WHERE fid = 4")
    file = TableFile(path=path, kind="GeoPackage", table="beds")
    assert look_for_damage(file, ["lvl", "nr"], []) == Damage(texts={"lvl": {3: "high"}})
    assert look_for_damage(file, ["nr", "mat"], []) == Damage()


def test_geometries_of_a_geopackage_that_were_read_as_nothing(folder):
    path = folder / "beds.gpkg"
    change(
        path, "UPDATE beds SET geom = x'47500001' WHERE fid = 2", "UPDATE beds SET geom = NULL WHERE fid = 5"
    )
    file = TableFile(path=path, kind="GeoPackage", table="beds")
    assert look_for_damage(file, [], [2, 5]).broken == {2: "its geometry cannot be decoded"}


def test_names_with_quotes_are_only_names(folder):
    path = folder / "beds.gpkg"
    file = TableFile(path=path, kind="GeoPackage", table='beds"; DROP TABLE beds; --')
    assert look_for_damage(file, ['lvl"'], [1]) == Damage()
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("SELECT count(*) FROM beds").fetchone() == (COUNT,)


def test_other_kinds_tell_themselves(tmp_path):
    assert look_for_damage(TableFile(path=tmp_path / "a.fgb", kind="FlatGeobuf"), ["lvl"], [1]) == Damage()
