"""
Cells of paving: the boxes of the units of each pattern.

Units are laid just as their pattern is drawn, each with its share of the joints round it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from ..ragged import spread
from .textures import course_bands, drawn

CLOSE: Final = 1e-6  # a unit this near to a side does not reach over it [m]

Cells = tuple[np.ndarray, np.ndarray]


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


CELLS: Final[Mapping[str, Callable[[float, float, np.ndarray], Cells]]] = MappingProxyType(
    {
        "stack bond": _stacked,
        "running bond": _running,
        "basket weave": _woven,
        "herringbone": _herringbone,
        "herringbone 45": _herringbone,
        "random courses": _courses,
        "boards": _boards,
    }
)
"""
Boxes of the units that meet given boxes, and which of them each belongs to, by pattern.

Each is called with length and width of a unit [m] and boxes of shape (n, 4), in axes that are turned
by ``OWN_TURN`` from those of the pattern: least along, least across, greatest along, greatest across [m].
"""
OWN_TURN: Final[Mapping[str, float]] = MappingProxyType({"herringbone 45": 45.0})
"""How far units lie turned from the axes of their pattern [degrees]; 0 for patterns not in it."""
