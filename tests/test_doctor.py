"""The doctor says what is installed, and what is missing for what."""

import importlib.metadata

import pyogrio
import pyproj
import pytest
import shapely

from siteaxo.cli import main
from siteaxo.shell import doctor

NEEDS = [
    "numpy>=1.26",
    "shapely>=99.5",
    "nosuchpackage>=2.0",
    "rasterio>=1.3; extra == 'dem'",
    'nosuchbar>=4; extra == "progress"',
]


@pytest.fixture
def needs(monkeypatch):
    """Requirements of an invented release of siteaxo."""
    real = importlib.metadata.version
    monkeypatch.setattr(importlib.metadata, "requires", lambda name: NEEDS)
    monkeypatch.setattr(
        importlib.metadata,
        "version",
        lambda name: {"siteaxo": "9.9", "rasterio": "1.4"}.get(name) or real(name),
    )


def texts(about, state=None):
    return [one.text for one in doctor.examine() if one.about == about and state in (None, one.state)]


def test_versions_are_those_in_the_process():
    told = " ".join(one.text for one in doctor.examine())
    for version in (shapely.__version__, shapely.geos_version_string, pyogrio.__gdal_version_string__):
        assert version in told
    assert pyproj.datadir.get_data_dir() in told


def test_what_is_missing_or_too_old_is_named_with_the_remedy(needs):
    bad = texts("libraries", "bad")
    assert any("nosuchpackage is missing; pip install 'nosuchpackage>=2.0'" in text for text in bad)
    assert any(text.startswith(f"shapely is {shapely.__version__}") for text in bad)
    assert not any("numpy" in text for text in bad)
    assert doctor.worst_of(doctor.examine()) == 2


def test_extras_say_what_they_lack(needs):
    assert texts("extras") == [
        "dem: complete",
        "progress: without nosuchbar; pip install 'siteaxo[progress]'",
        "test: complete",
    ]


def test_the_command_prints_it(capsys):
    status = main(["doctor"])
    told = capsys.readouterr().out
    assert status in (0, 2)
    assert "GDAL" in told
    assert "DejaVu Sans" in told
