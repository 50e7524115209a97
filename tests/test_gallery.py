"""The scripts of the gallery run, and what they write shows something."""

import importlib
import sys
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

from siteaxo import plugins

FOLDER = Path(__file__).parent.parent / "sample_data" / "scripts"
SCRIPTS = {
    "main_diagram": {"main_diagram.png", "main_diagram.pdf"},
    "exploded": {"exploded.png"},
    "equinox_shadows": {"equinox_shadows.png"},
    "options": {"options.png", "options.csv"},
    "street_block": {"street_block.png"},
    "contour_site": {"contour_site.png"},
    "quantities": {"quantities.png", "quantities.gpkg", "quantities.csv"},
    "view_study": {"view_study.png"},
    "map_overlay": {"map_overlay.png", "map_overlay.gpkg"},
    "own_plug_in": {"own_plug_in.png"},
}
HELPERS = ("invented", "quayside_gallery")


@pytest.fixture
def script(monkeypatch):
    """Import a script; what it puts on the path is taken off again."""
    monkeypatch.syspath_prepend(str(FOLDER))
    plugins.look_again()
    yield importlib.import_module
    for name in [*SCRIPTS, *(name for name in sys.modules if name.split(".")[0] in HELPERS)]:
        sys.modules.pop(name, None)
    monkeypatch.undo()
    plugins.look_again()


def test_every_script_is_here():
    assert {file.stem for file in FOLDER.glob("*.py")} == set(SCRIPTS)


@pytest.mark.parametrize("name", list(SCRIPTS))
def test_a_script_is_short(name):
    assert len((FOLDER / f"{name}.py").read_text("utf-8").splitlines()) <= 40


@pytest.mark.parametrize("name", list(SCRIPTS))
def test_a_script_runs(tmp_path, monkeypatch, script, name):
    monkeypatch.setattr(sys, "path", [*sys.path])
    script(name).main(tmp_path)
    assert {file.name for file in tmp_path.iterdir()} == SCRIPTS[name]
    picture = matplotlib.image.imread(tmp_path / f"{name}.png")[::8, ::8, :3]
    drawn = (np.abs(picture - picture[0, 0]) > 0.02).any(axis=2)
    assert drawn.mean() > 0.02  # ink on at least one part in fifty of the sheet
    across, down = (np.flatnonzero(drawn.any(axis=axis)) for axis in (0, 1))
    assert np.ptp(across) > 0.5 * drawn.shape[1]
    assert np.ptp(down) > 0.5 * drawn.shape[0]
