"""
Footprints that overlap: pairs of them, nested doubles, solids that stand in one another in part.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .notes import note, notes
from .pairs import on_pairs
from .terraces import mean_width

TOUCH: Final = 0.01  # what is nearer than this touches [m]
WITHIN: Final = 0.99  # share of a footprint that lies within another [-]
ALIKE: Final = 0.95  # share of a smaller footprint that makes it a nested double [-]
SAME: Final = 1e-3  # levels that differ by no more are one [m]
WALL: Final = 0.05  # outlines surveyed from both sides of one wall overlap by no more [m]
MOSTLY: Final = 0.5  # share of a footprint that lies on a roof [-]
FILLING: Final = ("structure", "planter", "seat")  # roles that leave no room for one another
Pairs = tuple[np.ndarray, np.ndarray, np.ndarray]
_NO_SOLID: Final = ("none", "levels", "drape", "terrain")


def look_for_nested(features: Features, *, pairs: Pairs | None = None) -> Iterable[Finding]:
    """
    Find features nearly within another of the same role and levels.

    A surface of another material that comes after the one around it, such as gravel within asphalt, is
    drawn over that and measured for itself: nothing is told of it.
    """
    inner, outer, share = pairs or overlapping(features)
    same = (features.order[inner] == features.order[outer]) & (share > ALIKE)
    for column in (features.base, features.top):
        same &= np.abs(column[inner] - column[outer]) <= SAME
    size = shapely.area(features.geometry)
    gone = on_pairs(shapely.equals, features.geometry, inner, outer)  # doubles are found elsewhere
    same &= ~gone & ((size[inner] < size[outer]) | ((size[inner] == size[outer]) & (inner > outer)))
    surface = features.of_role("flat").astype(bool)[inner]
    same &= ~(surface & (inner > outer) & (features.material[inner] != features.material[outer]))
    for row in np.unique(inner[same]):
        around = int(outer[same & (inner == row)][0])
        message = (
            f"It lies within {features.name_of(around)} and has the same role and levels. Leave one out, or "
            "correct its levels."
        )
        if surface[inner == row][0] and around > row:
            message = (
                f"It lies within {features.name_of(around)}, which comes later and is drawn over it, so that "
                "it is not seen. Let it come after that one, or leave it out."
            )
        yield note(features, int(row), "nested-double", message, value=str(features.source_id[around]))


def look_for_partial(features: Features) -> list[Finding]:
    """
    Find structures, planters and seats that overlap in part, in plan as in height.

    What lies wholly within another is buried, a nested double, or rises out of it as a tower out
    of its podium; what only shares a wall, or stands on top, touches.

    Parameters
    ----------
    features : Features
        With all levels settled.

    Returns
    -------
    list of Finding
        One for each pair, about the later one, with the area that they have in common.
    """
    rows = np.flatnonzero(np.isin(features.of_role("name"), FILLING) & ~shapely.is_empty(features.geometry))
    base, top, footprint = features.base[rows], features.top[rows], features.geometry[rows]
    one, other = shapely.STRtree(footprint).query(footprint)
    high = np.minimum(top[one], top[other]) - np.maximum(base[one], base[other])
    near = np.flatnonzero((one > other) & (high > TOUCH))
    near = near[_common_boxes(footprint, one[near], other[near]) > WALL**2]
    shapely.prepare(footprint)
    near = near[shapely.overlaps(footprint[one[near]], footprint[other[near]])]
    one, other, high = one[near], other[near], high[near]
    size = shapely.area(footprint)
    common = on_pairs(shapely.intersection, footprint, one, other)
    area = shapely.area(common)
    share = area / np.minimum(size[one], size[other])
    alike = (features.order[rows[one]] == features.order[rows[other]]) & (share > ALIKE)
    for column in (base, top):
        alike &= np.abs(column[one] - column[other]) <= SAME  # nested doubles
    told = np.flatnonzero((mean_width(common) > WALL) & (share <= WITHIN) & ~alike)
    values = [f"{common:.4g} m²" for common in area[told].tolist()]
    messages = [
        f"It overlaps {features.name_of(int(row))} by {value} in plan and {rise:.3f} m in height; what "
        "they share counts twice. Trim one to the other, or correct their levels."
        for row, value, rise in zip(rows[other[told]], values, high[told].tolist(), strict=True)
    ]
    places = shapely.get_coordinates(shapely.point_on_surface(common[told]))
    return notes(features, rows[one[told]], "solids-overlap", messages, values=values, places=list(places))


def solid_rows(features: Features) -> np.ndarray:
    """Rows that become solids and have a place."""
    form = features.of_role("form")
    return np.flatnonzero(~np.isin(form, _NO_SOLID) & ~shapely.is_empty(features.geometry))


def overlapping(features: Features, rows: np.ndarray | None = None) -> Pairs:
    """
    Pairs of features of which the first lies mostly on the second.

    Parameters
    ----------
    features : Features
        With all levels settled.
    rows : ndarray of int, optional
        Among which; all that become solids of their own when left out.

    Returns
    -------
    inner, outer : ndarray of int, shape (m,)
        Rows; the second is an area.
    share : ndarray, shape (m,)
        Share of the first that lies on the second, more than MOSTLY; 1 for points [-].
    """
    rows = solid_rows(features) if rows is None else rows
    geometry = features.geometry[rows]
    inner, outer = shapely.STRtree(geometry).query(geometry, predicate="intersects")
    apart = (inner != outer) & (shapely.get_dimensions(geometry[outer]) == 2)
    inner, outer = inner[apart], outer[apart]
    size = shapely.area(geometry)
    maybe = _common_boxes(geometry, inner, outer) >= MOSTLY * size[inner]
    inner, outer = inner[maybe], outer[maybe]
    common = shapely.area(on_pairs(shapely.intersection, geometry, inner, outer))
    share = np.where(size[inner] > 0, common / np.where(size[inner] > 0, size[inner], 1.0), 1.0)
    most = share > MOSTLY
    return rows[inner[most]], rows[outer[most]], share[most]


def _common_boxes(geometry: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Area that the boxes around pairs of geometries have in common, shape (m,) [m²]."""
    box = shapely.bounds(geometry)
    low, high = np.maximum(box[one, :2], box[other, :2]), np.minimum(box[one, 2:], box[other, 2:])
    return np.prod(np.maximum(high - low, 0.0), axis=1)
