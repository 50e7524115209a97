"""
Ways between coordinate reference systems, and which of them can be a plane to draw on.
"""

from __future__ import annotations

import warnings
from typing import Any, Final

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

from ..errors import CrsError

Bounds = tuple[float, float, float, float]

_PSEUDO_MERCATOR: Final = "Popular Visualisation Pseudo Mercator"
_AROUND: Final = 0.5  # margin of the area for which datum shifts are chosen [degrees]


def way_between(source: pyproj.CRS, target: pyproj.CRS, *, area: Bounds | None) -> pyproj.Transformer:
    """
    Find the best way from one CRS to another, x before y.

    Parameters
    ----------
    source, target : pyproj.CRS
        The two CRSs.
    area : tuple of float, optional
        West, south, east and north of the site, to choose datum shifts for [degrees].

    Raises
    ------
    CrsError
        If there is none.
    """
    within: Any = None if area is None else AreaOfInterest(*_widened(area))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # grids not at hand show in the accuracy
        try:
            group = TransformerGroup(source, target, always_xy=True, area_of_interest=within)
        except pyproj.exceptions.ProjError as problem:
            said = f"There is no transformation from {source.name} to {target.name} ({problem})."
            raise CrsError(
                said, code="crs-transform", remedy="Declare another CRS.", field="crs", value=source.name
            ) from None
    if not group.transformers:
        raise CrsError(
            f"There is no transformation from {source.name} to {target.name}.",
            code="crs-transform",
            field="crs",
            value=source.name,
        )
    return group.transformers[0]


def check_plane(crs: pyproj.CRS) -> None:
    """
    Refuse a CRS whose coordinates are not metres east and north.

    Raises
    ------
    CrsError
        Which says what they are instead.
    """
    advice = "Use 'auto', or the code of a projected CRS in metres such as a national grid."
    if not crs.is_projected:
        raise CrsError(
            f"plane crs {crs.name} is not projected: its coordinates are no lengths. {advice}",
            field="plane crs",
            value=crs.name,
        )
    if crs.coordinate_operation is not None and crs.coordinate_operation.method_name == _PSEUDO_MERCATOR:
        raise CrsError(
            f"plane crs {crs.name}: its metres are not metres (at 50 degrees of latitude they are "
            f"1.6 times too long), so no scale would be true. {advice}",
            field="plane crs",
            value=crs.name,
        )
    for axis in crs.axis_info:
        if axis.unit_conversion_factor != 1.0:
            raise CrsError(
                f"plane crs {crs.name} is in {axis.unit_name}, not in metres. {advice}",
                field="plane crs",
                value=crs.name,
            )
    if sorted(axis.direction.lower() for axis in crs.axis_info) != ["east", "north"]:
        raise CrsError(
            f"plane crs {crs.name}: its axes do not point east and north. {advice}",
            field="plane crs",
            value=crs.name,
        )


def _widened(area: Bounds) -> Bounds:
    west, south, east, north = area
    turned = (west + 540.0) % 360.0 - 180.0 if abs(west) > 180 else west
    return (
        max(turned - _AROUND, -180.0),
        max(south - _AROUND, -90.0),
        min(turned + (east - west) + _AROUND, 180.0),
        min(north + _AROUND, 90.0),
    )
