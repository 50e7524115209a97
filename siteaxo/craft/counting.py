"""
Counts of paving units: how many lie whole in an area and how many have to be cut.

Units are laid just as their pattern is drawn, each with its share of the joints round it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..errors import SheetError
from ..solids.faces import spread
from .bonds import joint_length
from .finishes import Laying
from .style import Style
from .surfaces import longest_edges
from .textures import course_bands, drawn

SLIVER: Final = 1e-3  # pieces smaller than this share of a unit are not counted [-]
CLOSE: Final = 1e-6  # a unit this near to a side does not reach over it [m]

Cells = tuple[np.ndarray, np.ndarray]


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
    local = _turned(flat, np.full(len(flat), -_own_turn(laying)), start)
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


def _own_turn(laying: Laying) -> float:
    return 45.0 if laying.pattern == "herringbone 45" else 0.0


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


def _grid(boxes: np.ndarray, width: float, height: float, margin: int = 0) -> tuple[np.ndarray, ...]:
    """Columns and rows of a grid of cells that cover boxes, and the box of each."""
    low = np.floor(boxes[:, :2] / [width, height] + CLOSE).astype(np.int64) - margin
    high = np.ceil(boxes[:, 2:] / [width, height] - CLOSE).astype(np.int64) + margin
    size = np.maximum(high - low, 0)
    count = size.prod(axis=1)
    owner = np.repeat(np.arange(len(boxes)), count)
    number = spread(np.zeros(len(boxes), dtype=np.int64), count)
    column = low[owner, 0] + number % np.maximum(size[owner, 0], 1)
    return column, low[owner, 1] + number // np.maximum(size[owner, 0], 1), owner


def _stacked(length: float, width: float, boxes: np.ndarray) -> Cells:
    column, row, owner = _grid(boxes, length, width)
    return _cells(column * length, row * width, length, width), owner


def _running(length: float, width: float, boxes: np.ndarray) -> Cells:
    column, row, owner = _grid(boxes, length, width, margin=1)
    return _cells((column + (row % 2) / 2) * length, row * width, length, width), owner


def _woven(length: float, width: float, boxes: np.ndarray) -> Cells:
    column, row, owner = _grid(boxes, length, length)
    units = max(round(length / width), 1)
    column, row, owner = (np.repeat(one, units) for one in (column, row, owner))
    step = np.tile(np.arange(units), len(column) // units) * width
    level = (column + row) % 2 == 0
    x, y = column * length + np.where(level, 0.0, step), row * length + np.where(level, step, 0.0)
    return _cells(x, y, np.where(level, length, width), np.where(level, width, length)), owner


def _herringbone(length: float, width: float, boxes: np.ndarray) -> Cells:
    """Pairs of units on the lattice (w, w), (l, −l)."""
    half = 2 * length * width
    corners = boxes[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    first = (corners[..., 0] + corners[..., 1]) * length / half
    second = (corners[..., 0] - corners[..., 1]) * width / half
    around = np.column_stack([first.min(1), second.min(1), first.max(1), second.max(1)])
    reach = math.ceil(length / width) + 2
    steps, turns, owner = _grid(around, 1.0, 1.0, margin=reach)
    x, y = steps * width + turns * length, steps * width - turns * length
    level = _cells(x, y, length, width)
    upright = _cells(x, y + width, width, length)
    every, owner = np.concatenate([level, upright]), np.concatenate([owner, owner])
    box = boxes[owner]
    meets = (every[:, :2] < box[:, 2:]).all(axis=1) & (every[:, 2:] > box[:, :2]).all(axis=1)
    return every[meets], owner[meets]


def _courses(length: float, width: float, boxes: np.ndarray) -> Cells:
    """Flags between the joints of random courses."""
    owner, course, low, high = course_bands(width, boxes)
    begin = np.floor(boxes[owner, 0] / length).astype(np.int64) - 2
    count = np.floor(boxes[owner, 2] / length).astype(np.int64) + 2 - begin
    row, joint = np.repeat(np.arange(len(owner)), count), spread(begin, count)
    left, right = (
        (joint + more + 0.25 + 0.5 * drawn(course[row], joint + more, salt=1)) * length for more in (0, 1)
    )
    cells = np.column_stack([left, low[row], right, high[row]])
    box = boxes[owner[row]]
    meets = (cells[:, 0] < box[:, 2]) & (cells[:, 2] > box[:, 0])
    return cells[meets], owner[row[meets]]


def _boards(length: float, width: float, boxes: np.ndarray) -> Cells:
    column, row, owner = _grid(boxes, length, width, margin=1)
    return _cells((column + drawn(row, salt=2)) * length, row * width, length, width), owner


def _cells(x: np.ndarray, y: np.ndarray, wide: Any, high: Any) -> np.ndarray:
    return np.column_stack([x, y, x + wide, y + high])


CELLS: Final[dict[str, Callable[[float, float, np.ndarray], Cells]]] = {
    "stack bond": _stacked,
    "running bond": _running,
    "basket weave": _woven,
    "herringbone": _herringbone,
    "herringbone 45": _herringbone,
    "random courses": _courses,
    "boards": _boards,
}
"""Boxes of the units that meet given boxes, and which of them each belongs to, by pattern."""
