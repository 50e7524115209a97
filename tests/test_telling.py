"""Commands that make several drawings of a site."""

import geopandas as gpd
import pandas as pd
import pytest
from courtyard import CRS, box

from siteaxo.cli import main


@pytest.fixture
def site(tmp_path):
    """A terrace with a house and a post on disk."""

    def write(name, height):
        folder = tmp_path / name
        folder.mkdir()
        ground = gpd.GeoDataFrame({"top": [1.0]}, geometry=[box(0, 12, 0, 8)], crs=CRS)
        ground.to_file(folder / "ground.gpkg")
        blocks = gpd.GeoDataFrame(
            {"no": ["a", "b"], "high": [3.0, height]}, geometry=[box(1, 5, 1, 5), box(8, 9, 2, 3)], crs=CRS
        )
        blocks.to_file(folder / "blocks.gpkg")
        text = (
            f'name = "{name}"\n[[layer]]\nname = "ground"\nsource = "ground.gpkg"\nrole = "terrace"\n'
            'base = 0\ntop = "top"\n[[layer]]\nname = "blocks"\nsource = "blocks.gpkg"\nrole = "structure"\n'
            'id = "no"\nbase = "below"\nheight = "high"\n[plane]\ncrs = "EPSG:25832"\nbase_line = 90.0\n'
        )
        (folder / "site.toml").write_text(text, encoding="utf-8")
        return folder / "site.toml"

    return write


def test_explode(site, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["exploded-view", str(site("yard", 2.0)), "--out", str(out), "--quiet"]) == 0
    faces = gpd.read_file(out / "exploded.gpkg", layer="faces")
    assert set(faces["tier"]) == {"Ground", "Structures", "Plan"}
    assert {path.name for path in out.iterdir()} == {
        f"exploded.{kind}" for kind in ("gpkg", "pdf", "svg", "png")
    }
    assert "exploded.gpkg" in capsys.readouterr().out


@pytest.mark.parametrize("gaps", ["wide", "1_0", "nan"])
def test_bad_gaps_are_refused(gaps, site, tmp_path, capsys):
    words = ["exploded-view", str(site("yard", 2.0)), "--out", str(tmp_path / "out"), "--quiet"]
    words += ["--gaps", gaps]
    assert main(words) == 2
    assert "--gaps (metres, or auto) must be a number" in " ".join(capsys.readouterr().err.split())


def test_sequence(site, tmp_path):
    out = tmp_path / "out"
    words = ["sequence", str(site("yard", 2.0)), "--out", str(out), "--steps", "raised,joined", "--quiet"]
    assert main(words) == 0
    assert len(gpd.read_file(out / "sequence_2.gpkg", layer="edges")) == 3 * 12
    assert (out / "sequence_pages.pdf").read_bytes().count(b"/S /Figure") == 2


def test_compare(site, tmp_path, capsys):
    out = tmp_path / "out"
    words = ["compare", str(site("before", 2.0)), str(site("after", 2.5)), "--out", str(out), "--quiet"]
    assert main(words) == 0
    (row,) = pd.read_csv(out / "differences.csv").itertuples()
    assert (row.change, row.source_id, row.top_before, row.top) == ("changed", "b", 3.0, 3.5)
    assert "2 kept, 1 changed" in capsys.readouterr().out


def test_board(site, tmp_path):
    out = tmp_path / "out"
    words = ["board", str(site("yard", 2.0)), "--out", str(out), "--sheet", "A3", "--by", "theme", "--quiet"]
    assert main(words) == 0
    assert {path.name for path in out.iterdir()} == {"board.pdf", "board.svg", "board.png"}
