"""
How a drawing is wanted, settled once from what is asked and what the site says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from ..angles import cos_deg, sin_deg
from ..craft.asked import crowd_of, light_of
from ..craft.crowd import Crowd
from ..craft.staging import Extras, has_people
from ..craft.style import Style
from ..diagram.layers import ViewRecord
from ..keeping import Store
from ..source.features import Features
from ..source.plane import LocalPlane
from ..view.projection import View
from ..view.sun import Sun, sun_at
from ..view.tolerance import Tolerance


@dataclass(frozen=True, kw_only=True)
class Wish:
    """
    How a drawing is wanted, settled once.

    Parameters
    ----------
    view, squared : View
        The view, and the same after the plan is squared up to its base line.
    style : Style
        The look.
    extras : Extras
        People, shadows and planting.
    scale : float, "fit" or None
        The x of 1:x.
    tolerance, threads, store, progress
        As for drawing.
    """

    view: View
    squared: View
    style: Style
    extras: Extras
    scale: float | str | None = None
    tolerance: Tolerance | None = None
    threads: int = 2
    progress: Callable[[str, float], None] | None = None
    store: Store | None = None

    def tell(self, stage: str, share: float) -> None:
        """Tell how far the work has come, if somebody asks."""
        if self.progress is not None:
            self.progress(stage, share)


def crowd_wanted(
    asked: Crowd | Mapping[str, Any] | bool | None, site: Mapping[str, Any] | None, features: Features
) -> Crowd | None:
    """
    How many people are shown: none, unless they are asked for or the site has areas for them.

    Parameters
    ----------
    asked : Crowd, mapping, bool or None
        For this drawing.
    site : mapping or None
        What the site says.
    features : Features
        Of the site.
    """
    own = crowd_of(site)
    wanted = own if asked is None else crowd_of(asked)
    if isinstance(wanted, Crowd):
        return wanted
    shown = has_people(features) if wanted is None else wanted
    return (own if isinstance(own, Crowd) else Crowd()) if shown else None


def light_wanted(
    asked: Any, site: Any, *, view: View, style: Style, plane: LocalPlane, place: np.ndarray
) -> Sun | None:
    """
    The light that casts shadows; where only shadows are wanted, the site's own.

    Parameters
    ----------
    asked, site
        For this drawing, and what the site says.
    view : View
        The view, squared up.
    style : Style
        Has the light of convention.
    plane : LocalPlane
        The plane of the site.
    place : ndarray, shape (2,)
        Where on it the sun shines [m].
    """
    own = light_of(site)
    wanted = own if asked is None or (asked is True and own) else light_of(asked)
    if wanted is None or wanted is False or isinstance(wanted, Sun):
        return wanted or None
    if isinstance(wanted, datetime):
        lon, lat = (float(degrees) for degrees in plane.to_lonlat(*place))
        return sun_at(wanted, lon=lon, lat=lat, convergence=plane.convergence_at(*place))
    return Sun.towards(style.light.toward(view.matrix))


def recorded(wish: Wish, plane: LocalPlane, *, origin: np.ndarray, squaring: float) -> ViewRecord:
    """
    Say what a drawing has to remember of its view.

    Parameters
    ----------
    wish : Wish
        With the view.
    plane : LocalPlane
        The plane of the site.
    origin : ndarray, shape (3,)
        Point of it that lands at the page's origin [m].
    squaring : float
        Turn that brings the base line to the horizontal [degrees].
    """
    away = float(plane.convergence_at(*origin[:2]))
    north = wish.squared.matrix[:2, :2] @ np.array([sin_deg(-away), cos_deg(-away)])
    return ViewRecord(
        kind=wish.view.kind,
        turn=wish.view.turn,
        height_factor=wish.view.height_factor,
        matrix=wish.squared.matrix,
        plane_wkt=plane.wkt,
        origin_x=float(origin[0]),
        origin_y=float(origin[1]),
        drawn_in_place=float(origin[2]),
        north_angle=float(np.degrees(np.arctan2(north[1], north[0]))),
        base_line=-squaring,
    )
