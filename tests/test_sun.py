"""Light on a site: its direction, its view, and how it is set by time or on the page."""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from siteaxo.errors import ViewError
from siteaxo.view.projection import cavalier, isometric, planometric
from siteaxo.view.sun import Sun, sun_at, sun_on_page

NREL = Sun(bearing=194.34024, elevation=90 - 50.11162)


def test_tip_of_the_shadow_of_a_pole():
    # length = height × cot(elevation), toward azimuth + 180 degrees: 10 m at the sun of
    # NREL's example falls at E +2.96344, N +11.59200.
    east, north, up = NREL.direction
    assert -10 * np.array([east, north]) / up == pytest.approx([2.96344, 11.59200], abs=2e-5)


@pytest.mark.parametrize("sun", [NREL, Sun(bearing=0, elevation=90), Sun(bearing=725, elevation=0.5)])
def test_view_is_an_orthonormal_frame_that_looks_along_the_light(sun):
    matrix = sun.view.matrix
    assert matrix @ matrix.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    assert matrix[2] == pytest.approx(sun.direction)
    assert matrix[0, 2] == 0.0  # level lines stay level


def test_direction_and_back():
    again = Sun.towards(3.5 * NREL.direction)
    assert (again.bearing, again.elevation) == pytest.approx((NREL.bearing, NREL.elevation))


@pytest.mark.parametrize("view", [planometric(60), planometric(211, 2 / 3), isometric(), cavalier(30)])
@pytest.mark.parametrize("angle", [135.0, 20.0, -75.0])
def test_light_on_the_page_comes_from_the_angle_asked_for(view, angle):
    sun = sun_on_page(view, angle=angle, elevation=40)
    level = view.to_page([[*sun.direction[:2], 0.0]])[0, :2]
    off = (np.degrees(np.arctan2(level[1], level[0])) - angle + 180) % 360 - 180
    assert off == pytest.approx(0, abs=1e-6)
    assert sun.elevation == 40


def test_grid_bearing_is_azimuth_less_convergence():
    place = {"lon": -105.1786, "lat": 39.742476, "pressure": 820, "temperature": 11}
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    sun = sun_at(when, **place, convergence=1.929561)
    assert sun.bearing == pytest.approx(194.34024 - 1.929561, abs=0.01)
    assert sun.elevation == pytest.approx(90 - 50.11162, abs=0.01)


def test_night_is_refused_with_the_reason():
    with pytest.raises(ViewError, match="below the horizon"):
        sun_at(datetime(2024, 6, 20, 0, 0, tzinfo=UTC), lon=0, lat=20)


@pytest.mark.parametrize("elevation", [0, -1, 90.5, float("nan"), "high"])
def test_light_must_stand_above_the_horizon(elevation):
    with pytest.raises(ViewError):
        Sun(bearing=0, elevation=elevation)
