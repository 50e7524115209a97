"""What README.md and siteaxo/REFERENCE.md show runs: Python, site files and command lines, all of them."""

import re
import shlex
from pathlib import Path

import geopandas
import matplotlib.pyplot as plt
import pytest
import shapely
from geopandas.testing import assert_geodataframe_equal

import siteaxo
from siteaxo.cli import main

HERE = Path(__file__).parent.parent
CRS = "EPSG:27700"
CORNER = (420_000.0, 310_000.0)
STYLE = 'base = "muted"\nink = "#203040"\n'


def blocks(name, kind):
    """The blocks of one kind in a document, in order."""
    return re.findall(rf"^```{kind}\n(.*?)^```", (HERE / name).read_text("utf-8"), re.S | re.M)


def frame(*boxes, **columns):
    shapes = [shapely.affinity.translate(shapely.box(*box), *CORNER) for box in boxes]
    return geopandas.GeoDataFrame(columns, geometry=shapes, crs=CRS)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with the data that the documents speak of."""
    terraces = frame((0, 0, 16, 9), (0, 9, 16, 16), ref=["T2", "T3"], level=[2.0, 2.6], fin_lvl=[2.0, 2.6])
    houses = frame((3, 11, 8, 14.5), (9, 2, 13, 5), height=[5.5, 3.0], floor=[2.6, 2.0], high=[5.5, 3.0])
    terraces.to_file(tmp_path / "terraces.gpkg")
    terraces.to_file(tmp_path / "terraces.shp")
    houses.to_file(tmp_path / "houses.gpkg")
    houses.to_file(tmp_path / "blocks.gpkg")
    frame((2, 3, 6, 4)).to_file(tmp_path / "design.gpkg", layer="planters")
    (tmp_path / "ours.toml").write_text(STYLE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    plt.close("all")


@pytest.mark.parametrize("name", ["README.md", "siteaxo/REFERENCE.md"])
def test_scripts_run(folder, name):
    (site,) = blocks(name, "toml")
    (folder / "site.toml").write_text(site, encoding="utf-8")
    space = {}
    for number, script in enumerate(blocks(name, "python"), start=1):
        exec(compile(script, f"{name}, script {number}", "exec"), space)
    text = "".join(blocks(name, "python"))
    promised = set(re.findall(r'"(\w+\.(?:pdf|svg|csv|gpkg))"', text))
    assert len(promised) > 5
    assert {word for word in promised if not (folder / word).stat().st_size} == set()


def test_the_site_file_says_what_the_first_script_says(folder):
    (folder / "site.toml").write_text(*blocks("README.md", "toml"), encoding="utf-8")
    space = {}
    exec(blocks("README.md", "python")[0], space)
    model = siteaxo.read_site("site.toml").stack()
    unlike = ["source_id", "base_from"]  # ids are FIDs in a file, and the index in a script
    assert_geodataframe_equal(*(one.footprints.drop(columns=unlike) for one in (model, space["model"])))
    assert not len(model.findings)


def test_the_first_script_has_twelve_lines():
    assert len(blocks("README.md", "python")[0].strip().splitlines()) <= 14  # one of them empty


def test_command_lines_run(folder, capsys):
    (folder / "site.toml").write_text(*blocks("README.md", "toml"), encoding="utf-8")
    lines = [line for block in blocks("README.md", "sh") for line in block.splitlines() if "venv" not in line]
    assert len(lines) == 5
    for line in lines:
        python, option, module, *words = shlex.split(line, comments=True)
        assert [python, option, module] == ["python", "-m", "siteaxo"]
        assert main(words) == 0, line
    assert (folder / "out" / "diagram.pdf").stat().st_size
    assert geopandas.read_file("levels.gpkg", engine="pyogrio")["top"].tolist() == [17.5, 15.0]


def test_pictures_and_documents_are_there():
    text = (HERE / "README.md").read_text("utf-8")
    named = re.findall(r"\]\(([\w./]+)\)", text)
    assert [name for name in named if not (HERE / name).is_file()] == []
    assert sum(name.endswith(".png") for name in named) == 4
