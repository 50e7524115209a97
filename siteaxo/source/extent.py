"""
Where the layers lie on the Earth, and the plane that suits them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyproj

from ..errors import CrsError
from .datum import shared_datum
from .plane import LocalPlane
from .ways import Bounds

WIDEST: Final = 100_000.0  # a site wider than this is refused [m]
FARTHEST_SCALE: Final = 0.01  # a plane whose scale is farther from 1 than this is refused [-]
_DIGITS: Final = 6  # of the centre of the automatic plane, about 0.1 m [degrees]
_STEPS: Final = np.array([0.0, 0.5, 1.0])


@dataclass(frozen=True, kw_only=True)
class Extent:
    """Name of a layer, the CRS of its coordinates, and its left, bottom, right and top."""

    layer: str
    crs: pyproj.CRS
    bounds: Bounds


def choose_plane(extents: Sequence[Extent], choice: Any = "auto") -> LocalPlane:
    """
    Choose the local plane of a site.

    Parameters
    ----------
    extents : sequence of Extent
        Where the layers lie; at least one.
    choice : optional
        "auto": transverse Mercator with scale 1, centred on the site, on the datum that
        most layers share or else on WGS 84. Anything else is the CRS to use.

    Returns
    -------
    LocalPlane

    Raises
    ------
    CrsError
        If a layer's coordinates do not suit its CRS, the site is wider than 100 km, or
        the chosen CRS is unsuitable.
    """
    datum = shared_datum([extent.crs for extent in extents])
    places = _unwrapped([_lonlat(extent, datum) for extent in extents])
    everywhere = np.concatenate(places)
    low, high = everywhere.min(axis=0), everywhere.max(axis=0)
    lon, lat = (float(v) for v in np.round((low + high) / 2, _DIGITS))
    _check_width(extents, places, (lon, lat), datum)
    area = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    if isinstance(choice, str) and choice == "auto":
        turned = (lon + 540.0) % 360.0 - 180.0
        return LocalPlane.centred_on(round(turned, _DIGITS), lat, datum=datum, area=area)
    return LocalPlane.from_crs(choice, area=area)


def check_scale(plane: LocalPlane, bounds: Bounds) -> None:
    """
    Refuse a plane on which the site's lengths would be more than 1 % wrong.

    Raises
    ------
    CrsError
        If the scale at a corner of *bounds* is that far from 1.
    """
    scales = np.array(plane.report(bounds).scale_at_corners)
    worst = float(scales[np.argmax(np.abs(scales - 1))])
    if not abs(worst - 1) <= FARTHEST_SCALE:
        raise CrsError(
            f"plane crs {plane.crs.name}: a metre of the site would measure {worst:.4f} m on it. "
            "Use 'auto', or a projected CRS made for where the site is.",
            field="plane crs",
            value=plane.crs.name,
        )


def _lonlat(extent: Extent, datum: pyproj.CRS) -> np.ndarray:
    """Longitude and latitude at a grid of 3 × 3 places of the extent, shape (9, 2)."""
    left, bottom, right, top = extent.bounds
    x, y = np.meshgrid(left + (right - left) * _STEPS, bottom + (top - bottom) * _STEPS)
    try:
        transformer = pyproj.Transformer.from_crs(extent.crs, datum, always_xy=True)
    except pyproj.exceptions.ProjError as problem:
        raise CrsError(
            f"Layer {extent.layer!r}: there is no transformation from {extent.crs.name} ({problem}).",
            code="crs-transform",
            layer=extent.layer,
            remedy="Declare another CRS.",
        ) from None
    lon, lat = transformer.transform(x.ravel(), y.ravel())
    places = np.column_stack([lon, lat])
    if not np.isfinite(places).all() or np.abs(places[:, 1]).max() > 90 or np.abs(places[:, 0]).max() > 360:
        raise CrsError(
            f"Layer {extent.layer!r}: its coordinates ({left:.6g}, {bottom:.6g} to {right:.6g}, {top:.6g}) "
            f"do not lie where {extent.crs.name} is used. Declare the CRS they are in.",
            layer=extent.layer,
            field="crs",
            value=extent.crs.name,
        )
    return places


def _unwrapped(places: list[np.ndarray]) -> list[np.ndarray]:
    """Longitudes all within half a turn of the first, so that sites may lie on the date line."""
    first = places[0][0, 0]
    return [np.column_stack([first + (p[:, 0] - first + 540.0) % 360.0 - 180.0, p[:, 1]]) for p in places]


def _check_width(
    extents: Sequence[Extent], places: list[np.ndarray], centre: tuple[float, float], datum: pyproj.CRS
) -> None:
    lonlat = np.concatenate(places)
    geod = datum.get_geod() or pyproj.Geod(ellps="WGS84")
    start = np.broadcast_to(np.array(centre), lonlat.shape)
    azimuth, _, distance = geod.inv(start[:, 0], start[:, 1], lonlat[:, 0], lonlat[:, 1])
    angle = np.radians(azimuth)
    offsets = np.column_stack([distance * np.sin(angle), distance * np.cos(angle)])
    width = float(np.ptp(offsets, axis=0).max())
    if width > WIDEST:
        centres = ", ".join(
            f"{e.layer} at {p[4, 1]:.3f}, {p[4, 0]:.3f}" for e, p in zip(extents[:8], places, strict=False)
        )
        raise CrsError(
            f"The site is {width / 1000:.0f} km wide; a local plane is true for at most "
            f"{WIDEST / 1000:.0f} km. Has a layer the wrong CRS? Latitude and longitude of their "
            f"centres: {centres}.",
            field="crs",
            value=f"{width / 1000:.0f}",
        )
