"""What a site asks to be drawn with: people, shadows, planting and a style, in scripts and site files."""

from datetime import UTC, date, datetime, time, timedelta

import courtyard
import pytest

import siteaxo
from siteaxo.craft.asked import crowd_of, detail_of, light_of
from siteaxo.craft.crowd import Crowd
from siteaxo.errors import SheetError, SiteaxoError, ViewError
from siteaxo.view.sun import Sun

SITE = """
name = "Court"
[plane]
base_line = 90.0
[[layer]]
name = "court"
source = "court.gpkg"
role = "terrace"
base = 9.0
top = 10.0
"""


@pytest.fixture
def written(tmp_path):
    frame = courtyard.gpd.GeoDataFrame(geometry=[courtyard.box(0, 20, 0, 20)], crs=courtyard.CRS)
    frame.to_file(tmp_path / "court.gpkg")

    def write(more, head=""):
        path = tmp_path / "site.toml"
        path.write_text(head + SITE + more, encoding="utf-8")
        return path

    return write


def test_people_as_words_and_tables():
    assert crowd_of(None) is None
    assert crowd_of(False) is False
    assert crowd_of({"density": 0.1, "seed": 3}) == Crowd(density=0.1, seed=3)
    assert crowd_of({"shown": False, "density": 0.1}) is False


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"densty": 0.1}, "Did you mean 'density'"),
        ({"shown": "yes"}, "true or false"),
        ({"seed": 1.5}, "whole number"),
        ({"seated": 2}, "share"),
        ("many", r"table \[people\]"),
    ],
)
def test_people_that_cannot_be(asked, words):
    with pytest.raises(SheetError, match=words):
        crowd_of(asked)


def test_light_by_clock_and_time_zone():
    # 15:00 in London on 21 June is 14:00 UTC: British Summer Time is UTC + 1 (common knowledge).
    asked = {"date": date(2026, 6, 21), "time": time(15), "time_zone": "Europe/London"}
    assert light_of(asked).astimezone(UTC) == datetime(2026, 6, 21, 14, tzinfo=UTC)
    own = {"time": datetime(2026, 6, 21, 15), "time_zone": "+02:00"}
    assert light_of(own).utcoffset() == timedelta(hours=2)
    assert light_of({"bearing": 200, "elevation": 40}) == Sun(bearing=200, elevation=40)
    assert light_of({"light": "conventional"}) == light_of(True) == "conventional"
    assert light_of(False) is False


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "nothing"),
        ({"bearing": 200}, "no elevation"),
        ({"bearing": 200, "elevation": -4}, "above the horizon"),
        ({"light": "conventional", "bearing": 3}, "light and bearing"),
        ({"time": time(15), "time_zone": "+01:00"}, "needs a date"),
        ({"date": date(2026, 6, 21), "time": time(15)}, "no time zone.* tzinfo of the datetime"),
        ({"time": datetime(2026, 6, 21, 15, tzinfo=UTC), "time_zone": "+01:00"}, "two time zones"),
        ({"time": datetime(2026, 6, 21, 15, tzinfo=UTC), "date": date(2026, 6, 21)}, "twice"),
        ({"date": date(2026, 6, 21), "time": time(15), "time_zone": "Nowhere/Land"}, "not known here"),
        ({"date": date(2026, 6, 21), "time": time(15), "time_zone": "+25"}, "not known here"),
        ({"sun": 3}, "Unknown key 'sun'"),
        ("evening", "conventional"),
    ],
)
def test_light_that_cannot_be(asked, words):
    with pytest.raises((SheetError, ViewError), match=words):
        light_of(asked)


def test_planting_as_word_and_table():
    assert detail_of({"detail": "translucent"}) == detail_of("translucent") == "translucent"
    assert detail_of({}) == "outline"
    with pytest.raises(SheetError, match="detail"):
        detail_of({"detail": "lush"})


def test_a_site_file_says_all_of_it(written):
    path = written(
        '[style]\nbase = "line only"\n[people]\ndensity = 0.1\nseed = 4\n'
        "[shadows]\nbearing = 200.0\nelevation = 35.0\n"
        '[planting]\ndetail = "texture"\n'
    )
    diagram = siteaxo.read_site(path).stack().draw()
    assert diagram.style.name == "line only"
    assert {"people", "shadows"} <= set(diagram.extra)
    assert set(diagram.faces["fill"]) == {"#ffffff"}
    bare = siteaxo.read_site(path).stack().draw(people=False, shadows=False, style="muted")
    assert set(bare.extra) & {"people", "shadows"} == set()
    assert bare.style.name == "muted"


def test_scripts_override_the_seed_of_the_site(written):
    model = siteaxo.read_site(written("[people]\ndensity = 0.1\nseed = 4\n")).stack()
    own, asked, other = (model.draw(people=p).extra["people"] for p in (None, True, Crowd(seed=9)))
    assert own.equals(asked)
    assert not own.equals(other)


def test_a_style_in_a_file_beside_the_site_file(written):
    path = written("", head='style = "ours.toml"\n')
    (path.parent / "ours.toml").write_text('base = "muted"\n[tones]\nterrace = "#eeddcc"\n', encoding="utf-8")
    assert "#eeddcc" in set(siteaxo.read_site(path).stack().draw().faces["fill"])
    path = written("", head='style = "../ours.toml"\n')
    with pytest.raises(SiteaxoError, match="outside"):
        siteaxo.read_site(path)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("[people]\ndensty = 1.0\n", "Did you mean 'density'"),
        ("[shadows]\nbearing = 10.0\n", "no elevation"),
        ('[planting]\ndetail = "lush"\n', "detail of planting 'lush'"),
        ("[style]\nshaed = 0.1\n", "Did you mean 'shade'"),
    ],
)
def test_what_a_site_file_cannot_say(written, more, words):
    with pytest.raises(SiteaxoError, match=words) as caught:
        siteaxo.read_site(written(more))
    assert "site.toml" in str(caught.value)
