"""
Counts of paving units: how many lie whole in an area and how many have to be cut.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..errors import SheetError
from .bonds import joint_length
from .cells import CELLS, CLOSE, OWN_TURN
from .finishes import Laying
from .style import Style
from .surfaces import longest_edges

SLIVER: Final = 1e-3  # pieces smaller than this share of a unit are not counted [-]


@dataclass(frozen=True, kw_only=True)
class Units:
    """
    Paving units of areas, one row each.

    Parameters
    ----------
    whole, cut : ndarray of int, shape (n,)
        Units that lie in the area as a whole, and units of which a part does.
    area : ndarray, shape (n,)
        The areas [m²].
    cut_area : ndarray, shape (n,)
        What the parts of cut units cover [m²].
    joint_length : ndarray, shape (n,)
        Length of the joints by the mean for the pattern [m].
    """

    whole: np.ndarray
    cut: np.ndarray
    area: np.ndarray
    cut_area: np.ndarray
    joint_length: np.ndarray


def units_of(
    laying: Laying, areas: ArrayLike, *, angle: ArrayLike = 0.0, anchor: ArrayLike | None = None
) -> Units:
    """
    Count the units that areas are paved with.

    Parameters
    ----------
    laying : Laying
        The pattern with the sizes of its units, joints included.
    areas : array_like of Polygon or MultiPolygon, shape (n,)
        Each in its own plane [m].
    angle : float or array_like, shape (n,)
        Direction of the first axis of the pattern in that plane [degrees anticlockwise].
    anchor : array_like, shape (n, 2), optional
        Where the pattern starts; the corner of each area's box in the axes of the pattern
        when left out, as it is drawn [m].

    Returns
    -------
    Units

    Raises
    ------
    SheetError
        If the pattern is a texture: it has no units.

    References
    ----------
    (w + l)/(w·l) metres of joints to the square metre, derived for this library.

    Examples
    --------
    >>> patio = shapely.box(0, 0, 2.0, 1.05)
    >>> found = units_of(Laying(pattern="stack bond", length=0.2, width=0.1), [patio])
    >>> found.whole.tolist(), found.cut.tolist()
    ([100], [10])
    """
    if laying.length is None or laying.width is None:
        raise SheetError(
            f"{laying.pattern} is a texture: it has no units to be counted.",
            field="pattern",
            value=laying.pattern,
        )
    polygons = np.asarray(areas, dtype=object).reshape(-1)
    turn = np.broadcast_to(np.asarray(angle, dtype=float), polygons.shape)
    flat = _turned(polygons, -turn, np.zeros((len(polygons), 2)))
    start = shapely.bounds(flat).reshape(-1, 4)[:, :2]
    if anchor is not None:
        given = np.asarray(anchor, dtype=float).reshape(-1, 2)
        points = _turned(shapely.points(given), -turn, np.zeros((len(polygons), 2)))
        start = shapely.get_coordinates(points)
    local = _turned(flat, np.full(len(flat), -OWN_TURN.get(laying.pattern, 0.0)), start)
    cells = CELLS[laying.pattern](laying.length, laying.width, shapely.bounds(local).reshape(-1, 4))
    whole, cut, cut_area = _sorted_out(local, *cells)
    area = shapely.area(polygons)
    return Units(
        whole=whole,
        cut=cut,
        area=area,
        cut_area=cut_area,
        joint_length=area * joint_length(laying.length, laying.width),
    )


def feature_units(
    areas: ArrayLike,
    roles: ArrayLike,
    materials: ArrayLike,
    style: Style,
    *,
    base_line: float = 0.0,
    within: ArrayLike | None = None,
) -> tuple[np.ndarray, Units]:
    """
    Count the units that level features are paved with, by the patterns of a style.

    Parameters
    ----------
    areas : array_like of Polygon or MultiPolygon, shape (n,)
        Footprints of whole features on the local plane [m].
    roles, materials : array_like of str, shape (n,)
        Their roles and materials.
    style : Style
        Which pattern each material has.
    base_line : float
        Direction of the base line on the local plane [degrees anticlockwise].
    within : array_like of Polygon or MultiPolygon, shape (n,), optional
        What of the areas is paved, laid out from the whole of each; all of it when left out.

    Returns
    -------
    pattern : ndarray of object, shape (n,)
        Name of the pattern, "" where a feature has no units.
    units : Units
        One row each; zeros where there are none.

    Examples
    --------
    >>> patio = shapely.box(0, 0, 1.2, 0.7)
    >>> pattern, units = feature_units([patio], ["paving"], ["concrete slabs"], Style())
    >>> pattern.tolist(), units.whole.tolist(), units.cut.tolist()
    (['stack bond'], [2], [2])
    """
    shapes = np.asarray(areas, dtype=object).reshape(-1)
    paved = shapes if within is None else np.asarray(within, dtype=object).reshape(-1)
    count = len(shapes)
    pattern = np.full(count, "", dtype=object)
    columns = {field.name: np.zeros(count) for field in fields(Units)}
    columns["area"] = shapely.area(paved)
    kinds = np.column_stack([np.asarray(roles, dtype=str), np.asarray(materials, dtype=str)])
    pairs, at = np.unique(kinds, axis=0, return_inverse=True)
    for number, (role, material) in enumerate(pairs):
        laying = style.finish(str(role), str(material)).flat
        rows = np.flatnonzero((at.ravel() == number) & (columns["area"] > 0))
        if laying is None or laying.is_texture or not len(rows):
            continue
        if laying.along == "longest edge":
            angle = longest_edges(shapes[rows], np.arange(len(rows)), len(rows))
        else:
            turn = 0.0 if isinstance(laying.along, str) else laying.along
            angle = np.full(len(rows), base_line + turn)
        found = units_of(laying, paved[rows], angle=angle, anchor=_corners(shapes[rows], angle))
        pattern[rows] = laying.pattern
        for name, column in columns.items():
            column[rows] = getattr(found, name)
    whole, cut = (columns.pop(name).astype(np.int64) for name in ("whole", "cut"))
    return pattern, Units(whole=whole, cut=cut, **columns)


def _corners(shapes: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Lower left corner of the box of each shape in axes of its own angle, shape (n, 2)."""
    still = np.zeros((len(shapes), 2))
    low = shapely.bounds(_turned(shapes, -angle, still)).reshape(-1, 4)[:, :2]
    return shapely.get_coordinates(_turned(shapely.points(low), angle, still))


def _turned(shapes: np.ndarray, angle: np.ndarray, about: np.ndarray) -> np.ndarray:
    """Shapes moved so that *about* is zero, and turned by their own angles."""
    xy, owner = shapely.get_coordinates(shapes, return_index=True)
    c = np.array([cos_deg(float(one)) for one in angle])[owner]
    s = np.array([sin_deg(float(one)) for one in angle])[owner]
    x, y = (xy - about[owner]).T
    return shapely.set_coordinates(shapes.copy(), np.column_stack([c * x - s * y, s * x + c * y]))


def _sorted_out(
    polygons: np.ndarray, boxes: np.ndarray, owner: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whole and cut units of each polygon, and what cut units cover."""
    shapely.prepare(polygons)
    inner = shapely.box(*(boxes + np.array([CLOSE, CLOSE, -CLOSE, -CLOSE])).T)
    whole = shapely.covers(polygons[owner], inner)
    rest = np.flatnonzero(~whole)
    rest = rest[shapely.intersects(polygons[owner[rest]], inner[rest])]
    part = shapely.area(shapely.intersection(polygons[owner[rest]], shapely.box(*boxes[rest].T)))
    size = (boxes[rest, 2] - boxes[rest, 0]) * (boxes[rest, 3] - boxes[rest, 1])
    real = part > SLIVER * size
    count = len(polygons)
    return (
        np.bincount(owner[whole], minlength=count),
        np.bincount(owner[rest[real]], minlength=count),
        np.bincount(owner[rest[real]], weights=part[real], minlength=count),
    )
