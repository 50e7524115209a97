"""The command line: files, messages and exit codes."""

import os
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from siteaxo.cli import main

SITE = """
name = "Corner"
[plane]
crs = "EPSG:25832"
[[layer]]
name = "blocks"
source = "blocks.gpkg"
role = "structure"
base = 10
top = "top"
[view]
turn = 30
"""


@pytest.fixture
def site(tmp_path):
    frame = gpd.GeoDataFrame(
        {"top": [12.0, 13.5]},
        geometry=[shapely.box(5e5, 57e5, 5e5 + 8, 57e5 + 6), shapely.box(5e5 + 10, 57e5, 5e5 + 14, 57e5 + 9)],
        crs="EPSG:25832",
    )
    frame.to_file(tmp_path / "blocks.gpkg")
    path = tmp_path / "site.toml"
    path.write_text(SITE, encoding="utf-8")
    return path


def test_draw_writes_everything(site, tmp_path, capsys):
    out = tmp_path / "new" / "out"
    assert main(["draw", str(site), "--out", str(out), "--quiet"]) == 0
    assert sorted(path.name for path in out.iterdir()) == [
        "diagram.gpkg",
        "diagram.pdf",
        "diagram.png",
        "diagram.svg",
        "findings.csv",
    ]
    said = capsys.readouterr().out
    assert "1 layer, 2 features, levels 10.00 to 13.50 m" in said
    # On the central meridian of UTM the scale is 0.9996 and the convergence 0 (EPSG Guidance Note 7-2).
    assert "within 4.0e-04 of 1" in said
    assert "convergence +0.000°" in said


def test_turn_and_scale_can_be_set(site, tmp_path):
    out = tmp_path / "out"
    words = [
        "draw",
        str(site),
        "--out",
        str(out),
        "--turn",
        "45",
        "--scale",
        "1:100",
        "--sheet",
        "A2",
        "--hidden",
    ]
    assert main(words) == 0
    assert gpd.read_file(out / "diagram.gpkg", layer="view")["turn"].tolist() == [45.0]
    assert "1:100 at A2" in (out / "diagram.svg").read_text(encoding="utf-8")


def test_check_tells_findings_by_exit_code(site, capsys):
    assert main(["check", str(site)]) == 0
    frame = gpd.read_file(site.parent / "blocks.gpkg")
    frame["top"] = [12.0, -9999.0]
    frame["height"] = [2.0, 3.0]
    frame.to_file(site.parent / "blocks.gpkg")
    site.write_text(SITE.replace('top = "top"', 'top = "top"\nheight = "height"'), encoding="utf-8")
    assert main(["check", str(site)]) == 1
    said = capsys.readouterr().out
    assert "warning [" in said
    assert "blocks" in said
    assert "-9999" in said


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("blocks.gpkg", "missing.gpkg", "missing.gpkg"),
        ('top = "top"', 'top = "tpo"', "top"),
        ('role = "', 'roel = "', "role"),
        ("turn = 30", "trun = 30", "turn"),
        ("structure", "building", "role"),
        ("base = 10", 'base = "top"\nunit = "yd"', "unit"),
    ],
)
def test_bad_site_is_one_paragraph(site, capsys, old, new, wanted):
    site.write_text(SITE.replace(old, new), encoding="utf-8")
    assert main(["check", str(site)]) == 2
    error = capsys.readouterr().err
    assert error.startswith("siteaxo: ")
    assert wanted in error
    assert "Traceback" not in error


def test_no_such_site_file(tmp_path, capsys):
    assert main(["check", str(tmp_path / "none.toml")]) == 2
    assert "none.toml" in capsys.readouterr().err


def test_unknown_scale(site, tmp_path, capsys):
    assert main(["draw", str(site), "--out", str(tmp_path / "o"), "--scale", "big"]) == 2
    assert "--scale" in capsys.readouterr().err
    assert not (tmp_path / "o").exists()


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere")
def test_read_only_folder_keeps_the_old_file(site, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["draw", str(site), "--out", str(out)]) == 0
    before = (out / "diagram.gpkg").read_bytes()
    out.chmod(0o555)
    try:
        assert main(["draw", str(site), "--out", str(out)]) == 2
    finally:
        out.chmod(0o755)
    assert "diagram.gpkg" in capsys.readouterr().err
    assert (out / "diagram.gpkg").read_bytes() == before


def test_out_is_a_file(site, tmp_path, capsys):
    (tmp_path / "out").write_text("x", encoding="utf-8")
    assert main(["draw", str(site), "--out", str(tmp_path / "out")]) == 2
    assert "out" in capsys.readouterr().err


@pytest.mark.parametrize("words", ["operations", "describe draw"])
def test_telling_what_there_is_loads_nothing_that_makes_sheets(words):
    code = (
        f"import sys; from siteaxo.cli import main; main({words.split()}); "
        "print(sorted({'matplotlib', 'fontTools', 'siteaxo.sheet.canvas'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_importing_the_package_loads_none_of_the_heavy_libraries():
    code = (
        "import sys, siteaxo;"
        "print(sorted({'numpy', 'shapely', 'geopandas', 'pyproj', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[0] == "[]"


def test_help_runs_as_a_module():
    done = subprocess.run(
        [sys.executable, "-m", "siteaxo", "--help"],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parent,
    )
    assert "draw" in done.stdout


def test_sources_outside_need_to_be_allowed(site, capsys):
    (site.parent / "inner").mkdir()
    inner = site.parent / "inner" / "site.toml"
    inner.write_text(SITE.replace("blocks.gpkg", "../blocks.gpkg"), encoding="utf-8")
    assert main(["check", str(inner)]) == 2
    assert "--allow-outside" in capsys.readouterr().err
    assert main(["check", str(inner), "--allow-outside"]) == 0
    (site.parent / "inner" / "blocks.gpkg").symlink_to(site.parent / "blocks.gpkg")
    inner.write_text(SITE, encoding="utf-8")
    assert main(["check", str(inner)]) == 2, "a link leads out as well"
    assert main(["check", str(inner), "--allow-outside"]) == 0


def test_inputs_are_never_written_onto(site, capsys):
    (site.parent / "blocks.gpkg").rename(site.parent / "diagram.gpkg")
    site.write_text(SITE.replace("blocks.gpkg", "diagram.gpkg"), encoding="utf-8")
    before = (site.parent / "diagram.gpkg").read_bytes()
    assert main(["draw", str(site), "--out", str(site.parent), "--quiet"]) == 2
    assert "is an input" in " ".join(capsys.readouterr().err.split())
    assert (site.parent / "diagram.gpkg").read_bytes() == before


def test_limits_can_be_lowered_and_raised(site, capsys):
    assert main(["check", str(site), "--limit", "records=1"]) == 2
    assert "--limit records=2" in capsys.readouterr().err
    assert main(["check", str(site), "--limit", "records=2"]) == 0
    for word in ("recrods=2", "records", "records=many", "records=nan", "records=0"):
        assert main(["check", str(site), "--limit", word]) == 2


@pytest.mark.parametrize(
    "words", [["--turn", "nan"], ["--turn", "1_0"], ["--scale", "1e999"], ["--scale", "-5"]]
)
def test_numbers_that_cannot_be(site, tmp_path, capsys, words):
    assert main(["draw", str(site), "--out", str(tmp_path / "o"), *words]) == 2
    assert capsys.readouterr().err.startswith("siteaxo: ")


def test_a_fault_of_our_own_is_told_as_one(site, capsys, monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("siteaxo.verbs.sites.read_site", fail)
    assert main(["check", str(site)]) == 3
    assert "a fault of siteaxo, not of your data (ZeroDivisionError: by nothing)" in " ".join(
        capsys.readouterr().err.split()
    )
    with pytest.raises(ZeroDivisionError):
        main(["check", str(site), "--traceback"])


def test_text_from_data_does_not_steer_the_terminal(site, capsys):
    site.write_text(SITE.replace("Corner", "Cor\\u001b]0;x\\u0007ner\\u202e"), encoding="utf-8")
    assert main(["check", str(site)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Cor\ufffd]0;x\ufffdner\ufffd: 1 layer")


def test_letters_that_the_terminal_lacks(site):
    site.write_text(SITE.replace("Corner", "Höfe 庭"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "siteaxo", "check", str(site)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=True,
    )
    assert rb"H\xf6fe \u5ead: 1 layer" in done.stdout


@pytest.mark.parametrize(
    ("word", "said"),
    [("turn=720", "'turn' must be at least -360 and at most 360, not 720"), ("turn=a", "not 'a'")],
)
def test_what_is_wrong_with_an_input_is_said_of_the_number_it_is(site, capsys, word, said):
    assert main(["run", "draw", "--input", f"model={site}", "--input", word, "--quiet"]) == 2
    assert said in " ".join(capsys.readouterr().err.split())


def test_rows_are_no_wider_than_the_terminal(site, capsys, monkeypatch):
    words = ["run", "quantities", "--input", f"model={site}", "--quiet"]
    assert main(words) == 0
    whole = capsys.readouterr().out
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", "70")
    assert main(words) == 0
    shown = capsys.readouterr().out.splitlines()
    assert max(map(len, whole.splitlines())) > 200
    assert max(map(len, shown)) <= 70
    assert "columns; --out FILE writes all of them" in shown[-1]
