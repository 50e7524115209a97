"""Operations and recipes read files through the same gates as sites do."""

import os

import geopandas
import pytest
import shapely
from hostile.reaching import SECRET, listener

import siteaxo
from siteaxo.cli import main
from siteaxo.craft.stylefile import read_style
from siteaxo.errors import GeometryError, InputError, LayerError, SheetError, SiteaxoError
from siteaxo.operations import read
from siteaxo.process.stepped import RecipeError
from siteaxo.process.things import as_features, as_rows
from siteaxo.source.wholes import read_whole

STEP = '[[step]]\noperation = "{0}"\ninputs = {{ {1} }}\n'
DISGUISED = """<OGRVRTDataSource><OGRVRTLayer name="s">
<SrcDataSource>{0}</SrcDataSource>
</OGRVRTLayer></OGRVRTDataSource>"""


@pytest.fixture
def sheds(tmp_path):
    frame = geopandas.GeoDataFrame(
        {"high": [3.0, 4.0]}, geometry=shapely.box([0, 9], 0, [4, 13], 3), crs="EPSG:25832"
    )
    frame.to_file(tmp_path / "sheds.gpkg")
    return frame


def recipe(folder, operation, inputs):
    folder.mkdir(exist_ok=True)
    (folder / "r.toml").write_text(STEP.format(operation, inputs), encoding="utf-8")
    return folder / "r.toml"


@pytest.mark.parametrize("suffix", [".gpkg", ".shp", ".geojson", ".fgb"])
def test_a_file_is_read_with_all_its_fields(sheds, tmp_path, suffix):
    path = tmp_path / f"again{suffix}"
    sheds.to_file(path)
    read = read_whole(path)
    assert sorted(read["high"]) == [3.0, 4.0]
    assert read.crs == sheds.crs
    assert read.area.sum() == 24.0


def test_nothing_is_fetched(tmp_path):
    with listener() as (url, asked):
        for address in (f"{url}/a.geojson", f"/vsicurl/{url}/a.geojson", f"/vsizip//vsicurl/{url}/a.zip"):
            for reads in (as_features, as_rows, read):
                with pytest.raises(SiteaxoError):
                    reads(address)
            with pytest.raises(RecipeError):
                siteaxo.read_recipe(recipe(tmp_path, "read", f'source = "{address}"'))
            assert main(["run", "read", "--input", f"source={address}"]) == 2
        assert not asked


@pytest.mark.parametrize("name", ["roofs.geojson", "roofs.gpkg", "roofs.shp", "roofs.fgb", "roofs.gml"])
def test_a_disguised_file_is_refused(tmp_path, name, capsys):
    (tmp_path / "secret.csv").write_text(f"id\n{SECRET}\n", encoding="utf-8")
    (tmp_path / name).write_text(DISGUISED.format(tmp_path / "secret.csv"), encoding="utf-8")
    with pytest.raises(LayerError):
        read_whole(tmp_path / name)
    assert main(["run", "read", "--input", f"source={tmp_path / name}"]) == 2
    shown = capsys.readouterr()
    assert SECRET not in shown.out + shown.err


def test_kinds_that_layers_are_not_read_from(tmp_path):
    (tmp_path / "a.vrt").write_text(DISGUISED.format("b.csv"), encoding="utf-8")
    with pytest.raises(InputError, match="of no kind that can be read"):
        as_features(tmp_path / "a.vrt")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize("name", ["a.gpkg", "a.csv", "a.toml"])
def test_a_pipe_is_not_waited_for(tmp_path, name):
    os.mkfifo(tmp_path / name)
    reads = {"a.gpkg": as_features, "a.csv": as_rows, "a.toml": siteaxo.read_recipe}[name]
    with pytest.raises(SiteaxoError, match="regular file"):
        reads(tmp_path / name)
    if name == "a.toml":
        with pytest.raises(SheetError, match="regular file"):
            read_style(tmp_path / name)


def test_a_packed_table_is_no_table(tmp_path):
    """A name that ends in .gz makes nothing be unpacked."""
    import gzip

    (tmp_path / "a.csv.gz").write_bytes(gzip.compress(b"a,b\n" + b"1,2\n" * 1000))
    with pytest.raises(InputError):
        as_rows(tmp_path / "a.csv.gz")


def test_records_that_are_lost_are_told(sheds, tmp_path):
    sheds.to_file(tmp_path / "a.shp")
    content = (tmp_path / "a.shp").read_bytes()
    (tmp_path / "a.shp").write_bytes(content[:-40])
    with pytest.raises(LayerError) as told:
        read_whole(tmp_path / "a.shp")
    assert told.value.source_ids == ("1",)


def test_coordinates_that_are_not_finite(tmp_path):
    line = shapely.linestrings([[0, 0], [float("inf"), 1]])
    geopandas.GeoDataFrame(geometry=[line], crs="EPSG:25832").to_file(tmp_path / "a.gpkg")
    with pytest.raises(GeometryError, match="finite"):
        read_whole(tmp_path / "a.gpkg")


@pytest.mark.parametrize("written", ["../sheds.gpkg", "{folder}/sheds.gpkg", "link.gpkg"])
def test_a_recipe_stays_in_its_folder(sheds, tmp_path, written):
    inside = tmp_path / "inside"
    inside.mkdir()
    (inside / "link.gpkg").symlink_to(tmp_path / "sheds.gpkg")
    written = written.format(folder=tmp_path)
    for operation, inputs in (
        ("read", f'source = "{written}"'),
        ("levels", f'features = "{written}", role = "structure", base = 0, height = 3'),
    ):
        file = recipe(inside, operation, inputs)
        with pytest.raises(RecipeError, match="lies outside the folder of the recipe"):
            siteaxo.read_recipe(file)
        assert siteaxo.read_recipe(file, allow_outside=True).steps


def test_a_layer_in_a_recipe_stays_in_its_folder(sheds, tmp_path):
    layer = '{ name = "s", role = "structure", source = "../sheds.gpkg", base = 0, top = "high" }'
    file = recipe(tmp_path / "inside", "site", f"layers = [{layer}]")
    with pytest.raises(RecipeError, match="lies outside"):
        siteaxo.read_recipe(file)


def test_a_recipe_writes_into_its_folder(sheds, tmp_path):
    folder = tmp_path / "inside"
    folder.mkdir()
    sheds.to_file(folder / "sheds.gpkg")
    file = recipe(folder, "export_rows", 'rows = "sheds.gpkg", path = "../out.csv"')
    with pytest.raises(RecipeError, match="lies outside"):
        siteaxo.read_recipe(file)
    assert main(["recipe", str(file), "--quiet"]) == 2
    assert not (tmp_path / "out.csv").exists()
    assert main(["recipe", str(file), "--quiet", "--allow-outside"]) == 0
    assert (tmp_path / "out.csv").exists()


def test_who_runs_a_recipe_may_name_any_file(sheds, tmp_path):
    folder = tmp_path / "inside"
    folder.mkdir()
    text = '[inputs]\nsheds = "none.gpkg"\n' + STEP.format("read", 'source = { from = "sheds" }')
    (folder / "r.toml").write_text(text, encoding="utf-8")
    done = siteaxo.run_recipe(folder / "r.toml", inputs={"sheds": str(tmp_path / "sheds.gpkg")})
    (frame,) = done.results.values()
    assert len(frame) == 2


@pytest.mark.parametrize("number", ["inf", "-inf", "nan"])
def test_numbers_in_a_recipe_are_finite(sheds, tmp_path, number):
    inputs = f'features = "sheds.gpkg", role = "structure", base = 0, height = {number}'
    with pytest.raises(RecipeError, match="finite"):
        siteaxo.read_recipe(recipe(tmp_path, "levels", inputs))


@pytest.mark.parametrize(
    "text", ["- yaml: 1\n", '{"json": 1}', "\xff\xfe", "[[" * 5000, "nested = " + "[" * 9999]
)
def test_a_recipe_is_toml(tmp_path, text):
    (tmp_path / "r.toml").write_text(text, encoding="latin-1")
    with pytest.raises(RecipeError):
        siteaxo.read_recipe(tmp_path / "r.toml")
