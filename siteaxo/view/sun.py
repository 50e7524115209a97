"""
Where the light comes from: the sun at a date, time and place, or a light of convention.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..checks import finite
from ..errors import ViewError
from .ephemeris import sun_position
from .projection import View


@dataclass(frozen=True, kw_only=True)
class Sun:
    """
    Parallel light that falls on a site: the sun's, or one of convention.

    Parameters
    ----------
    bearing : float
        Direction in plan towards the light, clockwise from grid north [degrees].
    elevation : float
        Height of the light above the horizon, above 0 and up to 90 [degrees].

    Raises
    ------
    ViewError
        If the light is not above the horizon.

    Examples
    --------
    >>> Sun(bearing=180, elevation=45).direction.round(6).tolist()
    [0.0, -0.707107, 0.707107]
    >>> Sun(bearing=180, elevation=30).view.to_page([[0, 0, 1]]).round(6).tolist()
    [[0.0, 0.866025, 0.5]]
    """

    bearing: float
    elevation: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "bearing", finite(self.bearing, "bearing", ViewError) % 360.0)
        height = finite(self.elevation, "elevation", ViewError)
        if not 0 < height <= 90:
            raise ViewError(
                f"The light stands at {height:g} degrees: it must be above the horizon (more than 0, at "
                "most 90) to cast shadows. Choose another time, or another light.",
                field="elevation",
                value=height,
            )

    @classmethod
    def towards(cls, direction: ArrayLike) -> Sun:
        """
        Light that comes from a direction in space.

        Parameters
        ----------
        direction : array_like, shape (3,)
            East, north and up, of any length.

        Examples
        --------
        >>> Sun.towards([1, 0, 1])
        Sun(bearing=90.0, elevation=45.0)
        """
        east, north, up = (finite(value, "direction", ViewError) for value in np.asarray(direction, float))
        bearing = float(np.degrees(np.arctan2(east, north)))
        return cls(bearing=bearing, elevation=float(np.degrees(np.arctan2(up, np.hypot(east, north)))))

    @property
    def direction(self) -> np.ndarray:
        """Unit vector towards the light: east, north and up on the local plane, shape (3,)."""
        flat = cos_deg(self.elevation)
        return np.array([flat * sin_deg(self.bearing), flat * cos_deg(self.bearing), sin_deg(self.elevation)])

    @property
    def view(self) -> View:
        """
        The site as the light sees it, orthographic and at true scale.

        What is visible in this view is lit.
        """
        sine, cosine = sin_deg(self.bearing), cos_deg(self.bearing)
        rise, flat = sin_deg(self.elevation), cos_deg(self.elevation)
        rows = [
            [-cosine, sine, 0.0],
            [-sine * rise, -cosine * rise, flat],
            [sine * flat, cosine * flat, rise],
        ]
        return View(kind="light", matrix=np.array(rows) + 0.0, height_factor=flat)


def sun_on_page(view: View, *, angle: float = 135.0, elevation: float = 45.0) -> Sun:
    """
    Light by convention: from a fixed side of the page, whatever the place and time.

    Parameters
    ----------
    view : View
        The view of the drawing.
    angle : float
        Direction on the page of a level line that runs towards the light; from the upper
        left unless told otherwise [degrees anticlockwise from page right].
    elevation : float
        Height of the light above the horizon [degrees].

    Returns
    -------
    Sun

    Raises
    ------
    ViewError
        If the view shows the plan edge-on, or the light is not above the horizon.

    Examples
    --------
    >>> from siteaxo.view.projection import planometric
    >>> sun_on_page(planometric(turn=45), angle=135).bearing
    0.0
    """
    plan = view.matrix[:2, :2]
    if abs(np.linalg.det(plan)) < 1e-9:
        raise ViewError(
            f"A {view.kind} view shows the plan edge-on: a light cannot be set on its page. "
            "Give its bearing and elevation instead.",
            field="view",
            value=view.kind,
        )
    towards = finite(angle, "angle", ViewError)
    east, north = np.linalg.solve(plan, [cos_deg(towards), sin_deg(towards)])
    bearing = float(np.degrees(np.arctan2(east, north)))
    return Sun(bearing=round(bearing, 9) + 0.0, elevation=elevation)


def sun_at(
    when: datetime,
    *,
    lon: float,
    lat: float,
    convergence: float = 0.0,
    pressure: float = 1010.0,
    temperature: float = 10.0,
) -> Sun:
    """
    Light of the sun on a local plane.

    Parameters
    ----------
    when, lon, lat, pressure, temperature
        As for :func:`sun_position`.
    convergence : float
        From true north to the plane's grid north, clockwise positive [degrees].

    Returns
    -------
    Sun

    Raises
    ------
    ViewError
        If the sun is below the horizon.
    """
    azimuth, height = sun_position(when, lon=lon, lat=lat, pressure=pressure, temperature=temperature)
    if height <= 0:
        raise ViewError(
            f"On {when.isoformat()} the sun stands {-height:.1f} degrees below the horizon at longitude "
            f"{lon:.4f}, latitude {lat:.4f}. Choose a time between sunrise and sunset.",
            field="when",
            value=when.isoformat(),
        )
    return Sun(bearing=azimuth - convergence, elevation=height)
