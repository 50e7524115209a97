"""The commands study, quantities and cautions, run as from a terminal."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from siteaxo.cli import main

SITE = """
name = "Tannery Court"

[plane]
crs = "EPSG:25832"
base_line = 90

[[layer]]
name = "court"
source = "court.gpkg"
table = "court"
role = "terrace"
base = 9.0
top = 10.0

[[layer]]
name = "pond"
source = "court.gpkg"
table = "pond"
role = "water"
base = 9.2
top = 9.8

[[layer]]
name = "ramp"
source = "court.gpkg"
table = "ramp"
role = "ramp"
base = 10.0
top = 10.9
"""
CORNER = np.array([500_000.0, 5_700_000.0])
SHAPES = {"court": (0, 0, 24, 20), "pond": (2, 2, 6, 6), "ramp": (10, 7, 14, 8.5)}


@pytest.fixture
def site(tmp_path):
    for name, box in SHAPES.items():
        moved = shapely.transform(shapely.box(*box), lambda xy: xy + CORNER)
        gpd.GeoDataFrame(geometry=[moved], crs="EPSG:25832").to_file(tmp_path / "court.gpkg", layer=name)
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    return tmp_path / "site.toml"


def test_a_study(site, tmp_path, capsys):
    out = tmp_path / "out"
    words = ["study", str(site), "--out", str(out), "--target", "pond=2", "--target", "ramp"]
    assert main([*words, "--turns", "30,90,-60", "--sheet", "A4", "--quiet"]) == 0
    said = capsys.readouterr().out
    assert "of pond and " in said
    assert "1 view was set aside" in said
    table = pd.read_csv(out / "views.csv")
    assert sorted(table["turn"]) == [-60, 30, 90]
    assert table["target: pond"].between(0, 1).all()
    assert len(pd.read_csv(out / "views_by_feature.csv")) == 9
    assert all((out / f"views.{kind}").stat().st_size > 5000 for kind in ("pdf", "svg", "png"))


def test_quantities(site, tmp_path):
    out = tmp_path / "out"
    assert main(["quantities", str(site), "--out", str(out), "--quiet"]) == 0
    table = pd.read_csv(out / "quantities_by_role.csv").set_index("role")
    assert table.loc["water", "plan_area_m2"] == pytest.approx(16)
    assert table.loc["terrace", "plan_area_m2"] == pytest.approx(24 * 20 - 16)
    assert (out / "quantities.pdf").exists()


def test_cautions(site, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["cautions", str(site), "--out", str(out), "--quiet"]) == 1
    said = capsys.readouterr().out
    assert "1 [drop] ramp, " in said  # its sides stand open, 0.9 m above the yard
    assert "2 [ramp-steep] ramp, " in said
    assert "§405.2" in said
    assert "is not thereby in order" in said
    table = pd.read_csv(out / "cautions.csv")
    assert table.loc[table["code"] == "ramp-steep", "value"].item() == pytest.approx(0.9 / 4)


def test_what_cannot_be_read_is_said(site, tmp_path, capsys):
    words = ["study", str(site), "--out", str(tmp_path / "out")]
    assert main([*words, "--turns", "30;60"]) == 2
    assert "--turns must be a number" in capsys.readouterr().err
    assert main([*words, "--target", "pound"]) == 2
    assert "no layer or role 'pound'. Did you mean 'pond'?" in capsys.readouterr().err
    assert main([*words, "--target", "pond=-1"]) == 2
    assert "weight of 'pond'" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
