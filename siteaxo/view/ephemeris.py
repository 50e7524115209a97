"""
Where the sun stands at a time and place.

The low-accuracy theory of Meeus, with the main terms of nutation and aberration, parallax
and refraction: over the years 1950 to 2050 it stays within 0.01 degrees of the NREL
algorithm, a fifth of a millimetre in a shadow of one metre.

References
----------
J. Meeus, *Astronomical Algorithms*, 2nd ed. (1998), ch. 12 (sidereal time), 13
(azimuth and altitude), 22 (obliquity), 25 (the sun) and 40 (parallax), from memory.
I. Reda & A. Andreas, *Solar Position Algorithm for Solar Radiation Applications*,
NREL/TP-560-34302 (2008), for refraction by pressure and temperature.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

import numpy as np

from ..angles import cos_deg
from ..checks import finite
from ..errors import ViewError

J2000: Final = datetime(2000, 1, 1, 12, tzinfo=UTC)
CENTURY: Final = 36525.0  # Julian century [days]
DAY: Final = 86400.0  # [s]
PARALLAX: Final = 8.794 / 3600  # equatorial horizontal parallax of the sun at one au [degrees]


def sun_position(
    when: datetime,
    *,
    lon: float,
    lat: float,
    pressure: float = 1010.0,
    temperature: float = 10.0,
    delta_t: float = 69.0,
    refraction: bool = True,
) -> tuple[float, float]:
    """
    Azimuth and elevation of the sun's centre.

    Parameters
    ----------
    when : datetime
        With a time zone.
    lon, lat : float
        Geographic longitude and latitude [degrees, east and north positive].
    pressure : float
        Air pressure at the place [hPa].
    temperature : float
        Air temperature [°C].
    delta_t : float
        Terrestrial time less universal time [s]; a minute is 0.0007 degrees.
    refraction : bool
        Lift the sun as the air does.

    Returns
    -------
    azimuth_bearing : float
        Clockwise from true north, 0 to 360 [degrees].
    elevation : float
        Above the horizon; negative at night [degrees].

    Raises
    ------
    ViewError
        If the time has no zone, or the place is not on the Earth.

    References
    ----------
    Meeus (1998), ch. 13, 25 and 40; Reda & Andreas (2008), eq. 42.

    Examples
    --------
    >>> noon = datetime(2024, 6, 20, 12, tzinfo=UTC)
    >>> [round(x) for x in sun_position(noon, lon=0, lat=23.4)][1]
    90
    """
    _check_place(when, lon, lat)
    days = (when - J2000).total_seconds() / DAY
    ascension, declination, distance, node = _sun_at(days + delta_t / DAY)
    hour = np.radians(_sidereal(days, node) + lon) - ascension
    phi = np.radians(lat)
    south = np.arctan2(np.sin(hour), np.cos(hour) * np.sin(phi) - np.tan(declination) * np.cos(phi))
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(hour)
    height = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    height -= PARALLAX / distance * np.cos(np.radians(height))
    if refraction:
        height += _refraction(height, pressure, temperature)
    return float(np.degrees(south) + 180.0) % 360.0, float(height)


def _check_place(when: datetime, lon: float, lat: float) -> None:
    if when.tzinfo is None or when.utcoffset() is None:
        raise ViewError(
            f"{when.isoformat()} has no time zone. Give one, as in datetime(2025, 6, 21, 15, "
            "tzinfo=ZoneInfo('Europe/London')).",
            field="when",
            value=when.isoformat(),
        )
    if abs(finite(lat, "lat", ViewError)) > 90 or abs(finite(lon, "lon", ViewError)) > 360:
        raise ViewError(
            f"Longitude {lon!r}, latitude {lat!r} is not on the Earth. Give degrees.",
            field="lon, lat",
            value=f"{lon}, {lat}",
        )


def _sun_at(days: float) -> tuple[float, float, float, float]:
    """
    Apparent place of the sun, *days* of terrestrial time after J2000.

    Returns right ascension and declination [radians], distance [au] and the longitude of
    the moon's ascending node [radians].
    """
    t = days / CENTURY
    mean_longitude = 280.46646 + 36000.76983 * t + 0.0003032 * t * t
    anomaly = np.radians(357.52911 + 35999.05029 * t - 0.0001537 * t * t)
    eccentricity = 0.016708634 - 0.000042037 * t - 0.0000001267 * t * t
    centre = (
        (1.914602 - 0.004817 * t - 0.000014 * t * t) * np.sin(anomaly)
        + (0.019993 - 0.000101 * t) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    distance = 1.000001018 * (1 - eccentricity**2)
    distance /= 1 + eccentricity * np.cos(anomaly + np.radians(centre))
    node = np.radians(125.04 - 1934.136 * t)
    longitude = np.radians(mean_longitude + centre - 0.00569 - 0.00478 * np.sin(node))
    obliquity = np.radians(_obliquity(t) + 0.00256 * np.cos(node))
    ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    return float(ascension), float(declination), float(distance), float(node)


def _obliquity(t: float) -> float:
    """Mean obliquity of the ecliptic, *t* centuries after J2000 [degrees]."""
    seconds = 21.448 - 46.8150 * t - 0.00059 * t * t + 0.001813 * t**3
    return 23 + 26 / 60 + seconds / 3600


def _sidereal(days: float, node: float) -> float:
    """Apparent sidereal time at Greenwich, *days* of universal time after J2000 [degrees]."""
    t = days / CENTURY
    mean = 280.46061837 + 360.98564736629 * days + 0.000387933 * t * t - t**3 / 38710000
    return mean - 0.00478 * float(np.sin(node)) * cos_deg(_obliquity(t))


def _refraction(height: float, pressure: float, temperature: float) -> float:
    """How much the air lifts the sun [degrees]; nothing where it is well below the horizon."""
    if height < -0.5667 - 0.26667:
        return 0.0
    bend = 1.02 / (60 * np.tan(np.radians(height + 10.3 / (height + 5.11))))
    return float(pressure / 1010.0 * 283.0 / (273.0 + temperature) * bend)
