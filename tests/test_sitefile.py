"""The site file."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from siteaxo.errors import (
    CrsError,
    LayerError,
    LevelError,
    SheetError,
    SiteaxoError,
    SiteFileError,
    ViewError,
)
from siteaxo.source.site import SiteData
from siteaxo.source.sitefile import parse_site_file, read_site_data

WHOLE = """
name = "Tanners' Wharf"

[plane]
crs = "EPSG:27700"
base_line = 78.0

[levels]
unit = "ft"
drawn_in_place = 12

[[layer]]
name = "terraces"
source = "survey/terraces.shp"
role = "terrace"
base = "foot_lvl"
top = "fin_lvl"

[[layer]]
name = "decks"
source = "design.gpkg"
table = "decks"
role = "deck"
crs = "EPSG:27700"
id = "nr"
base = "below"
height = 0.45
unit = "m"

[view]
kind = "trimetric"
turn = 30
tilt = 25.5

[sheet]
size = "A2"
scale = "fit"
title = "Upper terraces"
"""
SHORT = '[[layer]]\nname = "ground"\nsource = "ground.shp"\nrole = "ground"\ntop = 1\n'


def written(tmp_path, text, name="site.toml"):
    (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / name


def test_a_whole_file(tmp_path):
    site = read_site_data(written(tmp_path, WHOLE))
    assert site.name == "Tanners' Wharf"
    assert (site.plane_crs, site.base_line) == ("EPSG:27700", 78.0)
    assert (site.unit, site.drawn_in_place) == ("ft", 12)
    terraces, decks = site.layers
    assert terraces.source == tmp_path / "survey" / "terraces.shp"
    assert (terraces.role, terraces.base, terraces.top, terraces.unit) == (
        "terrace",
        "foot_lvl",
        "fin_lvl",
        None,
    )
    assert (decks.table, decks.crs, decks.id, decks.height) == ("decks", "EPSG:27700", "nr", 0.45)
    assert (decks.base, decks.unit) == ("below", "m")
    assert (site.view.kind, dict(site.view.options)) == ("trimetric", {"turn": 30, "tilt": 25.5})
    assert (site.sheet.size, site.sheet.scale, site.sheet.title) == ("A2", "fit", "Upper terraces")


def test_a_short_file_is_named_after_itself(tmp_path):
    site = read_site_data(written(tmp_path, SHORT, "wharf.toml"))
    assert site.name == "wharf"
    assert site.plane_crs == "auto"
    assert dict(site.view.options) == {}


def test_sources_are_beside_the_file_wherever_one_stands(tmp_path, monkeypatch):
    written(tmp_path, SHORT)
    monkeypatch.chdir(tmp_path.parent)
    site = read_site_data(Path(tmp_path.name) / "site.toml")
    assert site.layers[0].source == Path(tmp_path.name) / "ground.shp"


@dataclass(frozen=True, kw_only=True, eq=False)
class Plot(SiteData):
    owner: str = "nobody"


def test_a_class_of_ones_own_can_be_made(tmp_path):
    plot = read_site_data(written(tmp_path, SHORT), Plot)
    assert isinstance(plot, Plot)
    assert plot.owner == "nobody"


def test_a_byte_order_mark_is_passed_over(tmp_path):
    (tmp_path / "site.toml").write_bytes(b"\xef\xbb\xbf" + SHORT.encode())
    assert read_site_data(tmp_path / "site.toml").layers[0].name == "ground"


@pytest.mark.parametrize(
    ("old", "new", "nearest"),
    [
        ('name = "Tanners', 'nam = "Tanners', "'nam' in the site file. Did you mean 'name'"),
        ("[levels]", "[level]", "'level' in the site file. Did you mean 'levels'"),
        ("base_line", "baseline", r"'baseline' in \[plane\]. Did you mean 'base_line'"),
        ("drawn_in_place", "drawn_inplace", r"in \[levels\]. Did you mean 'drawn_in_place'"),
        ("height = 0.45", "hieght = 0.45", r"in \[\[layer\]\] 'decks'. Did you mean 'height'"),
        ("turn = 30", "trun = 30", r"in \[view\]. Did you mean 'turn'"),
        ("size =", "sise =", r"in \[sheet\]. Did you mean 'size'"),
        ("[view]", "[colours]\nx = 1\n[view]", "unknown key 'colours'"),
    ],
)
def test_unknown_keys_name_the_nearest_known(tmp_path, old, new, nearest):
    assert old in WHOLE
    with pytest.raises(SiteFileError, match=nearest) as caught:
        parse_site_file(written(tmp_path, WHOLE.replace(old, new)))
    assert "site.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "error", "wanted"),
    [
        ('role = "deck"', 'role = "dek"', LayerError, "Did you mean 'deck'"),
        ('role = "deck"\n', "", SiteFileError, "'decks' has no role"),
        ('name = "decks"\n', "", SiteFileError, "number 2.* has no name"),
        ('source = "design.gpkg"\n', "", SiteFileError, "has no source"),
        ('name = "decks"', 'name = "terraces"', LayerError, "Two layers are called 'terraces'"),
        ("height = 0.45", "height = inf", SiteFileError, "height in .* must be a finite number"),
        ("height = 0.45", "height = -1", LevelError, "height must not be -1"),
        ("height = 0.45", "height = [1]", LevelError, "height must be a finite number"),
        ("height = 0.45", "height = 1979-05-27", LevelError, "height must be a finite number"),
        ('unit = "ft"', 'unit = "yards"', LevelError, "Unknown unit"),
        ('unit = "m"', 'unit = "yards"', LevelError, "unknown unit"),
        ("base_line = 78.0", "base_line = nan", SiteFileError, "base_line in .* must be a finite number"),
        ("base_line = 78.0", 'base_line = "78"', SiteFileError, "base_line"),
        ('crs = "EPSG:27700"\nid', 'crs = "EPSG:0"\nid', CrsError, "no known coordinate reference system"),
        ('kind = "trimetric"', 'kind = "trimetrical"', ViewError, "Did you mean 'trimetric'"),
        ("tilt = 25.5", "height_factor = 1", ViewError, "option of the trimetric view"),
        ('scale = "fit"', "scale = 0", SheetError, "scale must be above zero"),
        ('size = "A2"', "size = 2", SheetError, "sheet size"),
        (
            '[plane]\ncrs = "EPSG:27700"\nbase_line = 78.0',
            'plane = "auto"',
            SiteFileError,
            r"written as \[plane\]",
        ),
    ],
)
def test_values_that_cannot_be(tmp_path, old, new, error, wanted):
    assert old in WHOLE
    with pytest.raises(error, match=wanted) as caught:
        read_site_data(written(tmp_path, WHOLE.replace(old, new, 1)))
    assert isinstance(caught.value, SiteaxoError)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", "has no layers"),
        ("[layer]\nname = 'x'\n", r"under a line of its own, \[\[layer\]\]"),
        ("layer = [1, 2]\n", r"\[\[layer\]\]"),
        ("name = \n", "not valid TOML: .*line 1"),
        ("a = 1\na = 2\n", "not valid TOML"),
        ("a = " + "[" * 5000, "nested too deeply|not valid TOML"),
    ],
)
def test_files_that_say_nothing_of_use(tmp_path, text, wanted):
    with pytest.raises(SiteFileError, match=wanted):
        parse_site_file(written(tmp_path, text))


def test_a_file_in_another_encoding(tmp_path):
    (tmp_path / "site.toml").write_bytes('name = "Färberhof"\n'.encode("latin-1"))
    with pytest.raises(SiteFileError, match="not written in UTF-8"):
        parse_site_file(tmp_path / "site.toml")


def test_no_such_file_and_a_folder(tmp_path):
    with pytest.raises(SiteFileError, match="There is no site file"):
        read_site_data(tmp_path / "nowhere.toml")
    with pytest.raises(SiteFileError, match="is a folder"):
        read_site_data(tmp_path)


@pytest.mark.parametrize("source", ["../ground.shp", "/data/ground.shp", "survey/../../ground.shp"])
def test_sources_outside_the_folder_are_refused_unless_allowed(tmp_path, source):
    path = written(tmp_path, SHORT.replace("ground.shp", source))
    with pytest.raises(SiteFileError, match="lies outside the folder"):
        read_site_data(path)
    assert read_site_data(path, allow_outside=True).layers[0].source == tmp_path / source


@pytest.mark.parametrize("source", ["https://localhost/ground.gpkg", "/vsicurl/x.gpkg", "file://ground.shp"])
def test_sources_that_are_no_files(tmp_path, source):
    with pytest.raises(SiteFileError, match="is no file on disk"):
        read_site_data(written(tmp_path, SHORT.replace("ground.shp", source)), allow_outside=True)


def test_a_source_that_is_no_text(tmp_path):
    with pytest.raises(SiteFileError, match="must be the path of a file, not 7"):
        read_site_data(written(tmp_path, SHORT.replace('"ground.shp"', "7")))
