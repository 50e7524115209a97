"""
Patterns that are not units: random courses, boards, and the textures of loose and growing ground.

All of them are random in a repeatable way: every number is drawn from the place that it
belongs to, so that a pattern stays where it is whatever else is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from ..ragged import spread
from .bonds import Family, Joints, joints_of

COURSES: Final = (0.45, 0.6, 0.3, 0.45, 0.6, 0.45, 0.3, 0.6)
"""Widths of courses of random flags, over and over, as shares of 0.45 [m]."""


def drawn(*place: np.ndarray, salt: int = 0) -> np.ndarray:
    """
    Random numbers of places: the same for the same whole numbers, wherever they are asked for.

    Parameters
    ----------
    *place : ndarray of int, shape (n,)
        Whole numbers that say where.
    salt : int
        Another salt gives another number.

    Returns
    -------
    ndarray of float, shape (n,)
        Evenly spread from 0 up to but not including 1.
    """
    value = np.full(np.shape(place[0]), np.uint64(salt) + np.uint64(0x9E3779B97F4A7C15), dtype=np.uint64)
    for number in place:
        value = value * np.uint64(0xBF58476D1CE4E5B9) + np.asarray(number, dtype=np.int64).view(np.uint64)
        value = (value ^ (value >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        value = (value ^ (value >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        value = value ^ (value >> np.uint64(31))
    return (value >> np.uint64(11)).astype(float) / 2.0**53


def random_courses(length: float, width: float, boxes: np.ndarray) -> Joints:
    """
    Lay flags in courses of several widths, each course with joints at random.

    Parameters
    ----------
    length, width : float
        Mean length of a flag and mean width of a course [m].
    boxes : ndarray, shape (f, 4)
        Least along, least across, greatest along, greatest across [m].

    Returns
    -------
    Joints
    """
    face, course, low, high = course_bands(width, boxes)
    box = boxes[face]
    level = _level(box[:, 0], box[:, 2], low, face)
    begin = np.floor(box[:, 0] / length).astype(np.int64) - 1
    joints = np.floor(box[:, 2] / length).astype(np.int64) + 2 - begin
    row, joint = np.repeat(np.arange(len(face)), joints), spread(begin, joints)
    at = (joint + 0.25 + 0.5 * drawn(course[row], joint, salt=1)) * length
    within = (at > box[row, 0]) & (at < box[row, 2])
    row, at = row[within], at[within]
    upright = Joints(
        ab=np.stack([np.column_stack([at, low[row]]), np.column_stack([at, high[row]])], axis=1),
        face=face[row],
    )
    return Joints.joined([level, upright])


def course_bands(width: float, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """
    Courses of random flags that meet boxes.

    Parameters
    ----------
    width : float
        Mean width of a course [m].
    boxes : ndarray, shape (f, 4)
        Least along, least across, greatest along, greatest across [m].

    Returns
    -------
    face, course : ndarray of int, shape (n,)
        The box each belongs to, and its number.
    low, high : ndarray, shape (n,)
        Where it lies across [m].
    """
    widths = np.array(COURSES) * width / np.mean(COURSES)
    total, edges = widths.sum(), np.concatenate([[0.0], np.cumsum(widths)[:-1]])
    per = len(widths)
    first = np.floor(boxes[:, 1] / total).astype(np.int64) * per
    last = (np.floor(boxes[:, 3] / total).astype(np.int64) + 1) * per
    count = last - first + 1
    face, course = np.repeat(np.arange(len(boxes)), count), spread(first, count)
    low = edges[course % per] + course // per * total
    high = low + widths[course % per]
    meets = (high > boxes[face, 1]) & (low < boxes[face, 3])
    return face[meets], course[meets], low[meets], high[meets]


def boards(length: float, width: float, boxes: np.ndarray) -> Joints:
    """
    Lay boards side by side, their butt joints at random.

    Parameters are those of :func:`random_courses`, for the length and width of a board.
    """
    level = joints_of(Family(angle=0.0, spacing=width, pitch=width), boxes)
    first = np.floor(boxes[:, 1] / width).astype(np.int64)
    count = np.floor(boxes[:, 3] / width).astype(np.int64) - first + 1
    face, board = np.repeat(np.arange(len(boxes)), count), spread(first, count)
    box = boxes[face]
    shift = drawn(board, salt=2)
    begin = np.ceil(box[:, 0] / length - shift).astype(np.int64)
    joints = np.maximum(np.floor(box[:, 2] / length - shift).astype(np.int64) - begin + 1, 0)
    row = np.repeat(np.arange(len(face)), joints)
    at = (spread(begin, joints) + shift[row]) * length
    low = board[row] * width
    ends = np.stack([np.column_stack([at, low]), np.column_stack([at, low + width])], axis=1)
    return Joints.joined([level, Joints(ab=ends, face=face[row])])


def _level(begin: np.ndarray, end: np.ndarray, at: np.ndarray, face: np.ndarray) -> Joints:
    return Joints(ab=np.stack([np.column_stack([begin, at]), np.column_stack([end, at])], axis=1), face=face)


def scattered(spacing: float, boxes: np.ndarray, *, salt: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Scatter one point into every cell of a square grid.

    Parameters
    ----------
    spacing : float
        Side of a cell [m].
    boxes : ndarray, shape (f, 4)
        Least a, least b, greatest a, greatest b [m].
    salt : int
        For another scatter.

    Returns
    -------
    ab : ndarray, shape (n, 2)
        Points; no two nearer than a fifth of the spacing [m].
    face : ndarray of int, shape (n,)
        Face of each.
    cell : ndarray of int, shape (n, 2)
        Cell of each, for drawing further numbers.
    """
    low = np.floor(boxes[:, :2] / spacing).astype(np.int64)
    size = np.floor(boxes[:, 2:] / spacing).astype(np.int64) - low + 1
    count = size.prod(axis=1)
    face = np.repeat(np.arange(len(boxes)), count)
    number = spread(np.zeros(len(boxes), dtype=np.int64), count)
    cell = low[face] + np.column_stack([number % size[face, 0], number // size[face, 0]])
    jitter = np.column_stack([drawn(*cell.T, salt=salt), drawn(*cell.T, salt=salt + 1)])
    return (cell + 0.1 + 0.8 * jitter) * spacing, face, cell


def gravel(spacing: float, mark: float, boxes: np.ndarray) -> Joints:
    """
    Stipple: short strokes in all directions, little longer than they are wide.

    Parameters
    ----------
    spacing : float
        Distance of the marks [m].
    mark : float
        Length of a mark [m].
    boxes : ndarray, shape (f, 4)
        Least a, least b, greatest a, greatest b [m].
    """
    at, face, cell = scattered(spacing, boxes, salt=10)
    turn = 2 * np.pi * drawn(*cell.T, salt=12)
    half = 0.5 * mark * np.column_stack([np.cos(turn), np.sin(turn)])
    return Joints(ab=np.stack([at - half, at + half], axis=1), face=face)


def soil(spacing: float, mark: float, boxes: np.ndarray) -> Joints:
    """Strokes of several lengths in all directions. Parameters as for :func:`gravel`."""
    at, face, cell = scattered(spacing, boxes, salt=20)
    turn = np.pi * drawn(*cell.T, salt=22)
    half = 0.5 * mark * (0.6 + 1.6 * drawn(*cell.T, salt=23))
    step = half[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return Joints(ab=np.stack([at - step, at + step], axis=1), face=face)


def water(spacing: float, mark: float, boxes: np.ndarray) -> Joints:
    """Level strokes of several lengths, some left out. Parameters as for :func:`gravel`."""
    cells = boxes / np.array([3.0, 1.0, 3.0, 1.0])
    at, face, cell = scattered(spacing, cells, salt=30)
    kept = drawn(*cell.T, salt=32) < 0.6
    at, face, cell = at[kept] * [3.0, 1.0], face[kept], cell[kept]
    half = np.column_stack([mark * (0.6 + 1.2 * drawn(*cell.T, salt=33)), np.zeros(len(at))])
    return Joints(ab=np.stack([at - half, at + half], axis=1), face=face)


def grass(spacing: float, mark: float, boxes: np.ndarray) -> Joints:
    """Tufts of three blades, the middle one twice as high. Parameters as for :func:`gravel`."""
    at, face, cell = scattered(spacing, boxes, salt=40)
    kept = drawn(*cell.T, salt=42) < 0.7
    at, face = np.repeat(at[kept], 3, axis=0), np.repeat(face[kept], 3)
    blades = (
        0.5
        * mark
        * np.array([[[-0.5, 0.0], [-0.9, 1.1]], [[0.0, 0.0], [0.1, 2.0]], [[0.5, 0.0], [1.0, 1.2]]])
    )
    return Joints(ab=at[:, None] + np.tile(blades, (len(at) // 3, 1, 1)), face=face)


TEXTURES: Final[Mapping[str, Callable[[float, float, np.ndarray], Joints]]] = MappingProxyType(
    {"gravel": gravel, "soil": soil, "water": water, "grass": grass}
)
"""Textures by name; their size is one on paper, not on site."""
COURSED: Final[Mapping[str, Callable[[float, float, np.ndarray], Joints]]] = MappingProxyType(
    {"random courses": random_courses, "boards": boards}
)
"""Patterns of units of several sizes, by name."""
