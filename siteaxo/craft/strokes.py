"""
Single strokes of foliage, as short lines on the page.

Every kind of stroke is made for many places at once: a place, a direction and a size
give a line of a few points.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

ARC: Final = 5  # points to a bow

Stroke = Callable[[np.ndarray, np.ndarray, np.ndarray, np.ndarray], np.ndarray]


def leaves(at: np.ndarray, outward: np.ndarray, size: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """
    Three bows of unequal width, swelling outward, as of a clump of leaves.

    Parameters
    ----------
    at : ndarray, shape (n, 2)
        Where the strokes are [m].
    outward : ndarray, shape (n, 2)
        Unit direction away from the middle of the crown, on the page.
    size : ndarray, shape (n,)
        Width of the strokes [m].
    chance : ndarray, shape (n, 4)
        Numbers that make each stroke its own, 0 to 1.

    Returns
    -------
    ndarray, shape (n, k, 2)
    """
    swell = _turned(outward, 60 * (chance[:, 0] - 0.5))
    along = np.stack([-swell[:, 1], swell[:, 0]], axis=1)
    share = 0.7 + 0.6 * np.stack([chance[:, 1], chance[:, 2], chance[:, 3]], axis=1)
    share /= share.sum(axis=1, keepdims=True)
    begin = np.cumsum(share, axis=1) - share - 0.5
    angle = np.linspace(0.0, np.pi, ARC)
    x = begin[:, :, None] + share[:, :, None] * (1 - np.cos(angle)) / 2
    y = 0.42 * share[:, :, None] * np.sin(angle) - 0.10 * (2 * x) ** 2
    return _placed(at, along, swell, size, _in_rows(x), _in_rows(y))


def bow(at: np.ndarray, outward: np.ndarray, size: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Two bows side by side, as of the leaves of a shrub or a hedge; parameters as of :func:`leaves`."""
    swell = _turned(outward, 80 * (chance[:, 0] - 0.5))
    along = np.stack([-swell[:, 1], swell[:, 0]], axis=1)
    cut = 0.38 + 0.24 * chance[:, 1]
    share = np.stack([cut, 1 - cut], axis=1)
    begin = np.stack([np.zeros_like(cut), cut], axis=1) - 0.5
    angle = np.linspace(0.0, np.pi, ARC)
    x = begin[:, :, None] + share[:, :, None] * (1 - np.cos(angle)) / 2
    y = 0.5 * share[:, :, None] * np.sin(angle)
    return _placed(at, along, swell, size, _in_rows(x), _in_rows(y))


def needles(at: np.ndarray, downward: np.ndarray, size: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Two needles that hang from one point; *downward* is the fall of the crown on the page."""
    fall = _turned(downward, 30 * (chance[:, 0] - 0.5))
    across = np.stack([-fall[:, 1], fall[:, 0]], axis=1)
    spread = 0.42 + 0.16 * chance[:, 1]
    ends = np.stack([-spread, np.zeros_like(spread), spread], axis=1)
    low = np.stack([0.8 + 0.4 * chance[:, 2], np.zeros_like(spread), 0.8 + 0.4 * chance[:, 3]], axis=1)
    return _placed(at, across, fall, size, ends, low)


def flame(at: np.ndarray, downward: np.ndarray, size: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """One upward stroke with a light bend; *downward* is the fall of the crown on the page."""
    rise = _turned(-downward, 16 * (chance[:, 0] - 0.5))
    aside = np.stack([-rise[:, 1], rise[:, 0]], axis=1)
    share = np.linspace(-0.5, 0.5, ARC)
    length = 1.2 + 0.9 * chance[:, 1]
    bend = 0.5 * (chance[:, 2] - 0.5)
    return _placed(at, aside, rise, size, bend[:, None] * (4 * share**2 - 1), length[:, None] * share)


STROKES: Final[Mapping[str, Stroke]] = MappingProxyType(
    {"deciduous": leaves, "conifer": needles, "columnar": flame, "shrub": bow, "hedge": bow}
)
"""Stroke of each kind of plant; palms have fronds instead."""


def _turned(direction: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Directions turned anticlockwise, by degrees each."""
    sine, cosine = np.sin(np.radians(angle)), np.cos(np.radians(angle))
    x, y = direction.T
    return np.stack([cosine * x - sine * y, sine * x + cosine * y], axis=1)


def _in_rows(bows: np.ndarray) -> np.ndarray:
    """Bows one after another, shape (n, bows × points)."""
    return bows.reshape(len(bows), bows.shape[1] * bows.shape[2])


def _placed(
    at: np.ndarray, x_axis: np.ndarray, y_axis: np.ndarray, size: np.ndarray, x: np.ndarray, y: np.ndarray
) -> np.ndarray:
    """Strokes drawn in axes of their own, put where they belong."""
    offset = x[:, :, None] * x_axis[:, None] + y[:, :, None] * y_axis[:, None]
    return at[:, None] + size[:, None, None] * offset
