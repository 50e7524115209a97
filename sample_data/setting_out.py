"""
The setting-out grid of Wrenlow Quarry Garden: its levels, its centre, and plain shapes on it.

The designer's grid has its origin at the south-west corner of the site: *x* runs along the
south side, *y* into the hill, both in metres. Everything curved is struck from one centre.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from shapely import LineString, Polygon

SLAB = 11.60  # underside of the ground [m above datum]
LOWER, BASIN, GROVE, LEDGE = 12.00, 13.20, 14.40, 15.60  # the four terraces
COURT = 12.00  # floor of the sunken court
REST = 12.60  # half-way landing of the ramp

CENTRE = (16.5, 28.0)  # centre of the court and of every curve around it
MICRON = 1e-6  # everything is set out to the micrometre, so that shared edges stay shared [m]
FACET = 6.0  # curves are drawn as chords over so many degrees

EASTING, NORTHING = 318_642.0, 447_377.5  # the grid's origin on the National Grid [m]
BASE_BEARING = 78.0  # of the x axis, clockwise from grid north [degrees]


def rect(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Rectangle between two opposite corners."""
    return shapely.box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def square(x: float, y: float, side: float) -> Polygon:
    """Square about a centre."""
    return rect(x - side / 2, y - side / 2, x + side / 2, y + side / 2)


def arc(
    radius: float, start: float, stop: float, *, centre: tuple[float, float] = CENTRE, facet: float = FACET
) -> list[tuple[float, float]]:
    """Points of an arc from one angle to another [degrees anticlockwise from x], ends included."""
    count = round(abs(stop - start) / facet)
    angle = np.radians(np.linspace(start, stop, count + 1))
    x = np.round(centre[0] + radius * np.cos(angle), 6)
    y = np.round(centre[1] + radius * np.sin(angle), 6)
    return list(zip(x.tolist(), y.tolist(), strict=True))


def disc(radius: float, *, centre: tuple[float, float] = CENTRE, facet: float = FACET) -> Polygon:
    """A full circle of chords."""
    return Polygon(arc(radius, 0, 360, centre=centre, facet=facet)[:-1])


def strip(line: LineString, width: float) -> Polygon:
    """The strip that a centre line of a given width covers: square ends, mitred corners."""
    return line.buffer(width / 2, cap_style="flat", join_style="mitre", mitre_limit=10)


def pieces(geometry: shapely.Geometry, *, least: float = 0.2) -> list[Polygon]:
    """Polygons of a geometry, largest first, without crumbs below *least* [m2]."""
    parts = shapely.get_parts(shapely.set_precision(geometry, MICRON))
    whole = [part for part in parts if part.geom_type == "Polygon" and part.area > least]
    return sorted(whole, key=lambda part: (-round(part.area, 3), part.bounds))


def _axes() -> np.ndarray:
    """Directions of x and y on the National Grid, one a row."""
    bearing = np.radians(BASE_BEARING)
    along = np.array([np.sin(bearing), np.cos(bearing)])
    return np.vstack([along, [-along[1], along[0]]])


def to_national_grid(geometries: list[shapely.Geometry]) -> np.ndarray:
    """Turn and shift geometries of the setting-out grid onto the British National Grid; Z stays."""
    return _moved(geometries, lambda xy: xy @ _axes() + (EASTING, NORTHING))


def from_national_grid(geometries: list[shapely.Geometry]) -> np.ndarray:
    """Turn and shift geometries of the National Grid onto the setting-out grid; Z stays."""
    return _moved(geometries, lambda xy: (xy - (EASTING, NORTHING)) @ _axes().T)


def _moved(geometries: list[shapely.Geometry], move: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    return np.array(
        [
            shapely.transform(
                one, lambda xyz: np.column_stack([move(xyz[:, :2]), xyz[:, 2:]]), include_z=one.has_z
            )
            for one in geometries
        ],
        dtype=object,
    )
