"""Which file and which table a layer is read from."""

import zipfile

import geopandas as gpd
import pytest
import shapely

from siteaxo.errors import LayerError
from siteaxo.source.files import find_table
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
        archive.writestr("../outside.shp", b"\x00\x00\x27\x0a")
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
