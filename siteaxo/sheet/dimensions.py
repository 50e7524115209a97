"""
Overall dimensions along the base line, across it, and in height.

References
----------
ISO 129-1 (extension lines, dimension lines with oblique strokes, figures above the line and
readable from the bottom or from the right; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..angles import cos_deg, sin_deg
from ..diagram.layers import DiagramLayers
from .callouts import page_of

AWAY_MM: Final = 8.0  # from what is measured to the dimension line [mm]
GAP_MM: Final = 1.5  # between what is measured and an extension line [mm]
BEYOND_MM: Final = 1.5  # extension lines run on past the dimension line [mm]
STROKE_MM: Final = 2.0
FIGURE_MM: Final = 0.9  # from the dimension line to its figure [mm]
ROOM_MM: Final = AWAY_MM + 6.0
"""Room that dimensions need around what they measure [mm]."""
NOT_MEASURED: Final = ("tree", "hedge", "people", "note")


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """
    One dimension on the page.

    Parameters
    ----------
    ends : ndarray, shape (2, 2)
        What is measured [m on the page].
    outward : ndarray, shape (2,)
        Unit vector from there to the dimension line.
    length : float
        The true length [m].
    name : str
        "x", "y" or "height".
    """

    ends: np.ndarray
    outward: np.ndarray
    length: float
    name: str


def overall_dimensions(diagram: DiagramLayers) -> list[Dimension]:
    """
    Measure the box that is square to the base line around all that is built.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.

    Returns
    -------
    list of Dimension
        Along the base line, across it, and in height; those that have no length are left out.
    """
    box = measured_box(diagram)
    if box is None:
        return []
    corners, sizes = box
    page = page_of(corners, diagram.view)
    middle = page[:4].mean(axis=0)
    lowest = int(np.lexsort((page[:4, 0], np.round(page[:4, 1], 6)))[0])
    found = []
    for step in (1, 3):
        ends = np.array([page[lowest], page[(lowest + step) % 4]])
        name = "x" if {lowest, (lowest + step) % 4} in ({0, 1}, {2, 3}) else "y"
        found.append(
            Dimension(ends=ends, outward=_away(ends, middle), length=sizes["xy".index(name)], name=name)
        )
    side = int(np.lexsort((page[:4, 1], np.round(page[:4, 0], 6)))[0])
    upright = np.array([page[side], page[side + 4]])
    found.append(Dimension(ends=upright, outward=_away(upright, middle), length=sizes[2], name="height"))
    order = ("x", "y", "height")
    seen = [one for one in found if one.length > 0 and np.ptp(one.ends, axis=0).max() > 0]
    return sorted(seen, key=lambda one: order.index(one.name))


def measured_box(diagram: DiagramLayers) -> tuple[np.ndarray, np.ndarray] | None:
    """
    Box square to the base line around all that is built.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.

    Returns
    -------
    corners : ndarray, shape (8, 3)
        In the local plane, the lower four first and anticlockwise [m].
    sizes : ndarray, shape (3,)
        Along the base line, across it, and in height [m].

    None when nothing is built.
    """
    plan, faces, view = diagram.plan, diagram.faces, diagram.view
    plan = plan[~plan["role"].isin(NOT_MEASURED)]
    built = faces[~faces["role"].isin(NOT_MEASURED)]
    if not len(plan) or not len(built):
        return None
    turned = plan.geometry
    c, s = cos_deg(view.turn), sin_deg(view.turn)
    xy = turned.get_coordinates().to_numpy() @ np.array([[c, -s], [s, c]])
    low, high = xy.min(axis=0), xy.max(axis=0)
    bottom, top = float(built["level_min"].min()), float(built["level_max"].max())
    square = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    c, s = cos_deg(view.base_line), sin_deg(view.base_line)
    local = square @ np.array([[c, s], [-s, c]]) + (view.origin_x, view.origin_y)
    corners = np.concatenate([np.column_stack([local, np.full(4, level)]) for level in (bottom, top)])
    return corners, np.array([*(high - low), top - bottom])


def _away(ends: np.ndarray, middle: np.ndarray) -> np.ndarray:
    along = ends[1] - ends[0]
    across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-12)
    return across if (ends.mean(axis=0) - middle) @ across > 0 else -across


def dimension_strokes(dimension: Dimension, scale: float) -> np.ndarray:
    """
    Lines of a dimension: two extension lines, the dimension line, two oblique strokes.

    Parameters
    ----------
    dimension : Dimension
        What is measured.
    scale : float
        The x of 1:x.

    Returns
    -------
    ndarray, shape (5, 2, 2)
        End points; the dimension line is the third [m on the page].
    """
    mm = scale / 1000
    out = dimension.outward
    line = dimension.ends + AWAY_MM * mm * out
    extensions = [
        np.array([end + GAP_MM * mm * out, end + (AWAY_MM + BEYOND_MM) * mm * out]) for end in dimension.ends
    ]
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    oblique = (along + out) / np.sqrt(2) * STROKE_MM * mm / 2
    strokes = [np.array([end - oblique, end + oblique]) for end in line]
    return np.array([*extensions, line, *strokes])


def figure_of(
    line: np.ndarray, outward: np.ndarray, size: np.ndarray, mm: float
) -> tuple[np.ndarray, np.ndarray]:
    """
    Where the figure of a dimension stands: above its line, or level and outside where it is too long.

    Parameters
    ----------
    line : ndarray, shape (2, 2)
        The dimension line [m on the page].
    outward : ndarray, shape (2,)
        Unit vector away from what is measured.
    size : ndarray, shape (2,)
        Length and height of the figure [m on the page].
    mm : float
        A millimetre of paper [m on the page].

    Returns
    -------
    start, way : ndarray, shape (2,)
        Where it begins, and the unit vector along it.

    Examples
    --------
    >>> upright, left = np.array([[0.0, 0.0], [0.0, 30.0]]), np.array([-1.0, 0.0])
    >>> start, way = figure_of(upright, left, np.array([10.0, 2.0]), 1.0)
    >>> start.round(1).tolist(), way.tolist()
    ([-0.9, 10.0], [0.0, 1.0])
    >>> start, way = figure_of(upright / 5, left, np.array([10.0, 2.0]), 1.0)
    >>> start.round(1).tolist(), way.tolist()
    ([-11.9, 2.0], [1.0, 0.0])
    """
    forward = line if reads_forward(line) else line[::-1]
    length = float(np.hypot(*(forward[1] - forward[0])))
    along, middle = (forward[1] - forward[0]) / length, forward.mean(axis=0)
    if length >= size[0] + STROKE_MM * mm:
        above = np.array([-along[1], along[0]])
        return middle - along * size[0] / 2 + FIGURE_MM * mm * above, along
    reach = float(np.abs(outward) @ size / 2) + (FIGURE_MM + STROKE_MM / 2) * mm
    return middle + reach * outward - size / 2, np.array([1.0, 0.0])


def reads_forward(line: np.ndarray) -> bool:
    """
    Whether a text along a line, shape (2, 2), is read from the bottom or from the right of the sheet.

    Examples
    --------
    >>> reads_forward(np.array([[0.0, 0.0], [0.0, 5.0]])), reads_forward(np.array([[4.0, 0.0], [0.0, 1.0]]))
    (True, False)
    """
    along = line[1] - line[0]
    return bool(along[0] > 1e-9 or (abs(along[0]) <= 1e-9 and along[1] > 0))
