"""Where the sun stands: NREL's example, pvlib's implementation, and what astronomy demands."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pvlib
import pytest

from siteaxo.errors import ViewError
from siteaxo.view.ephemeris import sun_position

NREL_TIME = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))


def direction(azimuth, elevation):
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.stack([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)], axis=-1)


def apart(one, other):
    """Angle between unit vectors [degrees]."""
    return np.degrees(np.linalg.norm(np.asarray(one) - np.asarray(other), axis=-1))


def test_example_of_nrel():
    # Reda & Andreas, NREL/TP-560-34302: zenith 50.11162, azimuth 194.34024 degrees; this
    # theory is good to 0.01 degrees.
    azimuth, elevation = sun_position(
        NREL_TIME, lon=-105.1786, lat=39.742476, pressure=820, temperature=11, delta_t=67
    )
    assert elevation == pytest.approx(90 - 50.11162, abs=0.01)
    assert azimuth == pytest.approx(194.34024, abs=0.01)


@pytest.mark.parametrize("refraction", [False, True])
def test_pvlib_over_a_century(refraction):
    # pvlib's spa_python is the NREL algorithm.
    rng = np.random.default_rng(11)
    begin = datetime(1950, 1, 1, tzinfo=UTC)
    times = [begin + timedelta(seconds=int(s)) for s in rng.integers(0, int(100 * 365.25 * 86400), 250)]
    lon, lat = rng.uniform(-180, 180, 250), np.degrees(np.arcsin(rng.uniform(-0.97, 0.97, 250)))
    ours, theirs = [], []
    for when, east, north in zip(times, lon, lat, strict=True):
        ours.append(sun_position(when, lon=east, lat=north, refraction=refraction))
        table = pvlib.solarposition.spa_python(
            pd.DatetimeIndex([when]), north, east, pressure=101000, temperature=10, delta_t=69
        )
        height = "apparent_elevation" if refraction else "elevation"
        theirs.append((table["azimuth"].iloc[0], table[height].iloc[0]))
    ours, theirs = np.array(ours), np.array(theirs)
    up = theirs[:, 1] > 0  # refraction stops somewhere below the horizon
    assert apart(direction(*ours[up].T), direction(*theirs[up].T)).max() < 0.01


def test_equinox_and_solstice():
    # The equinox of 2024 was on 20 March at 03:06 UTC, the June solstice on 20 June at 20:51
    # UTC (from memory): the sun stands over the equator, and over latitude 23.44 north.
    for when, latitude in (
        (datetime(2024, 3, 20, 3, 6, tzinfo=UTC), 0.0),
        (datetime(2024, 6, 20, 20, 51, tzinfo=UTC), 23.44),
    ):
        north = sun_position(when, lon=0.0, lat=90.0, refraction=False)[1]
        assert north == pytest.approx(latitude, abs=0.01)


def test_same_instant_in_other_zones():
    place = {"lon": 2.35, "lat": 48.86}
    here = datetime(2025, 7, 1, 15, 0, tzinfo=ZoneInfo("Europe/Paris"))
    assert sun_position(here, **place) == sun_position(here.astimezone(UTC), **place)
    assert sun_position(here.replace(tzinfo=UTC), **place) != sun_position(here, **place)


def test_refraction_lifts_the_sun_by_its_width_at_the_horizon():
    # About 34 minutes of arc where the sun is seen on the horizon, falling to 1 minute at
    # 45 degrees (common practice).
    place = {"lon": 0.0, "lat": 0.0}
    times = [datetime(2024, 3, 20, 6, 0, tzinfo=UTC) + timedelta(minutes=m) for m in range(0, 200, 1)]
    bare = np.array([sun_position(t, **place, refraction=False)[1] for t in times])
    lifted = np.array([sun_position(t, **place)[1] for t in times])
    bend = lifted - bare
    assert bend[np.abs(lifted).argmin()] * 60 == pytest.approx(34, abs=2.5)
    assert bend[np.abs(bare - 45).argmin()] * 60 == pytest.approx(1.0, abs=0.05)
    thin = sun_position(times[60], **place, pressure=505.0)[1]
    assert thin - bare[60] == pytest.approx(bend[60] / 2, rel=1e-9)


@pytest.mark.parametrize("bad", [{"lon": 0, "lat": 91}, {"lon": 400, "lat": 0}, {"lon": "east", "lat": 0}])
def test_places_that_are_none(bad):
    with pytest.raises(ViewError):
        sun_position(NREL_TIME, **bad)


def test_time_without_a_zone():
    with pytest.raises(ViewError, match="no time zone"):
        sun_position(datetime(2024, 6, 20, 12), lon=0, lat=0)
