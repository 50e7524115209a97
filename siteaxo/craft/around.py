"""
What lies near what on the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
import shapely


@dataclass(frozen=True, kw_only=True)
class Around:
    """
    What lies near what on the page.

    Parameters
    ----------
    box : ndarray of Polygon, shape (u,)
        Box of each unit, empty for those that are not on the page.
    tree : STRtree
        Of these.
    near : float
        What is no farther away lies near [m].
    """

    box: np.ndarray
    tree: shapely.STRtree
    near: float

    @classmethod
    def of(cls, sides: np.ndarray, unit: np.ndarray, count: int, near: float) -> Self:
        """Take the boxes of solids together by unit; *sides* are left, bottom, right, top, shape (4, s)."""
        box = np.full((4, count), np.nan)
        for one, side, least in zip(box, sides, (np.fmin, np.fmin, np.fmax, np.fmax), strict=True):
            least.at(one, unit, side)
        shapes = _boxes(box)
        return cls(box=shapes, tree=shapely.STRtree(shapes), near=near)

    def grown(self, units: np.ndarray, times: int) -> np.ndarray:
        """Units, what lies near them, and near that, so many times; bool, shape (u,)."""
        for _ in range(times):
            units = units | self._near(self.box[units])
        return units

    def of_boxes(self, sides: np.ndarray) -> np.ndarray:
        """What lies near some boxes on the page; bool, shape (u,)."""
        return self._near(_boxes(sides))

    def _near(self, boxes: np.ndarray) -> np.ndarray:
        found = self.tree.query(boxes, predicate="dwithin", distance=self.near)[1]
        return np.bincount(found, minlength=len(self.box)) > 0


def _boxes(sides: np.ndarray) -> np.ndarray:
    there = np.isfinite(sides[0])
    boxes = np.full(len(there), shapely.Polygon(), dtype=object)
    boxes[there] = shapely.box(*sides[:, there])
    return boxes
