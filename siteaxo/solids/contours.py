"""
Contours: lines of equal level on a surface of triangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..checks import finite
from ..errors import LevelError
from ..ragged import spread
from .mesh import edge_keys
from .tin import Tin


@dataclass(frozen=True, kw_only=True)
class Contours:
    """
    Contour lines.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Level of each [m].
    line : ndarray of LineString with Z, shape (n,)
        As long as possible; closed ones end where they begin [m].
    """

    level: np.ndarray
    line: np.ndarray

    def __len__(self) -> int:
        return len(self.level)

    @property
    def pieces(self) -> tuple[np.ndarray, np.ndarray]:
        """Their straight pieces in plan, found sooner than long lines, and the level of each."""
        xy, line = shapely.get_coordinates(self.line, return_index=True)
        follows = np.flatnonzero(line[1:] == line[:-1])
        ends = np.stack([xy[follows], xy[follows + 1]], axis=1)
        return shapely.linestrings(ends), self.level[line[follows]]


def contours(tin: Tin, levels: np.ndarray) -> Contours:
    """
    Draw contours on a surface.

    A point at a contour's own level counts as above it: an edge that lies level is drawn
    where the surface falls away from it, and level triangles only along their lower side.

    Parameters
    ----------
    tin : Tin
        The surface.
    levels : array_like, shape (n,)
        Levels [m].

    Returns
    -------
    Contours
        In order of level; levels that the surface does not reach have none.
    """
    levels = np.unique(np.asarray(levels, dtype=float))
    ends, number = _segments(tin, levels)
    line, level = [], []
    for k in np.unique(number):  # a handful of levels
        mine = shapely.linestrings(ends[number == k])
        parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(mine)))
        line.append(shapely.force_3d(parts, levels[k]))
        level.append(np.full(len(parts), levels[k]))
    if not line:
        return Contours(level=np.zeros(0), line=np.zeros(0, dtype=object))
    return Contours(level=np.concatenate(level), line=np.concatenate(line))


def contour_levels(low: float, high: float, interval: float) -> np.ndarray:
    """
    Whole multiples of an interval between two levels.

    Raises
    ------
    LevelError
        If *interval* is not above zero.

    Examples
    --------
    >>> contour_levels(0.3, 1.6, 0.5).tolist()
    [0.5, 1.0, 1.5]
    """
    step = finite(interval, "contour interval", LevelError)
    if step <= 0:
        raise LevelError(
            f"The contour interval must be above zero, not {interval!r}.",
            field="contour_interval",
            value=interval,
        )
    first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
    return np.arange(first, last + 1) * step


def _segments(tin: Tin, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pieces of contours, one for each triangle they cross, each once: (k, 2, 2) and the level's number."""
    z = tin.xyz[:, 2][tin.triangle]
    first = np.searchsorted(levels, z.min(axis=1), side="right")
    count = np.maximum(np.searchsorted(levels, z.max(axis=1), side="right") - first, 0)
    row = np.repeat(np.arange(len(tin)), count)
    number = spread(first, count)
    above = z[row] >= levels[number][:, None]
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    corner = tin.triangle[row]
    at = np.arange(len(row))
    tip = corner[at, lone]
    sides = [corner[at, (lone + k) % 3] for k in (1, 2)]
    ends = np.stack([_crossing(tin, tip, side, levels[number]) for side in sides], axis=1)
    real = np.flatnonzero((ends[:, 0] != ends[:, 1]).any(axis=1))
    level_edge = (tin.xyz[sides[0], 2] == levels[number]) & (tin.xyz[sides[1], 2] == levels[number])
    key = np.where(level_edge, edge_keys(np.stack(sides, axis=1), len(tin.xyz)), -1 - at)
    names = np.column_stack([number, key])[real]
    once = real[np.unique(names, axis=0, return_index=True)[1]] if len(real) else real
    return ends[once], number[once]


def _crossing(tin: Tin, one: np.ndarray, other: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Where edges reach levels: the same from whichever triangle one looks, shape (k, 2)."""
    low, high = np.minimum(one, other), np.maximum(one, other)
    begin, end = tin.xyz[low], tin.xyz[high]
    share = ((level - begin[:, 2]) / (end[:, 2] - begin[:, 2]))[:, None]
    xy = begin[:, :2] + share * (end - begin)[:, :2]
    xy = np.where((level == begin[:, 2])[:, None], begin[:, :2], xy)
    return np.where((level == end[:, 2])[:, None], end[:, :2], xy)
