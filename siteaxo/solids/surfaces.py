"""
Levels of the surfaces that people walk on, at any point.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..source.features import Features
from .planes import levels_at
from .tin import Tin

THEMES: Final = ("ground", "surfaces")
OTHERS: Final = ("deck", "structure")  # roles whose tops are walked on as well
PROBE: Final = 0.15  # how far beyond an edge its neighbour is sounded [m]
PLACES: Final = (0.25, 0.5, 0.75)  # along an edge [-]
SLACK: Final = 0.05  # a neighbour so much above the top still counts as level with it [m]


@dataclass(frozen=True)
class Surfaces:
    """
    Level and sloping surfaces with their levels.

    Parameters
    ----------
    row : ndarray of int, shape (m,)
        Their rows in the features.
    features : Features
        All features.
    tree : shapely.STRtree
        Their footprints.
    ground : Tin or None
        Sloping ground around them.
    """

    row: np.ndarray
    features: Features
    tree: shapely.STRtree
    ground: Tin | None = None

    @classmethod
    def of(cls, features: Features, ground: Tin | None = None) -> Surfaces:
        """Collect the level surfaces among settled features, and the ground where it slopes."""
        walked = np.isin(features.of_role("theme"), THEMES) | np.isin(features.of_role("name"), OTHERS)
        walked &= features.of_role("supports").astype(bool) & (features.of_role("form") == "prism")
        area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
        row = np.flatnonzero(walked & area & np.isfinite(features.top))
        return cls(row, features, shapely.STRtree(features.geometry[row]), ground)

    def level_at(self, xy: np.ndarray, ceiling: np.ndarray) -> np.ndarray:
        """
        Level of the highest surface at points, below a ceiling.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
            Points in the local plane [m].
        ceiling : ndarray, shape (n,)
            Surfaces above it do not count [m].

        Returns
        -------
        ndarray, shape (n,)
            NaN where there is none [m].
        """
        level = np.full(len(xy), np.nan)
        if self.ground is not None and len(xy):
            level = self.ground.level_at(xy)
            level[level > ceiling] = np.nan
        if not len(self.row) or not len(xy):
            return level
        point, surface = self.tree.query(shapely.points(xy), predicate="intersects")
        found = levels_at(self.features, self.row[surface], np.asarray(xy)[point])
        below = found <= ceiling[point]
        np.fmax.at(level, point[below], found[below])
        return level


def sounded(
    surfaces: Surfaces, start: np.ndarray, end: np.ndarray, top: np.ndarray, *, reach: float = PROBE
) -> np.ndarray:
    """
    Levels of what lies beyond edges, sounded at three places along each.

    Parameters
    ----------
    surfaces : Surfaces
        What there is.
    start, end : ndarray, shape (n, 2)
        Edges; what lies to the right of them is sounded [m].
    top : ndarray, shape (n,)
        Nothing higher than this counts, but for a little slack [m].
    reach : float
        How far beyond the edge [m].

    Returns
    -------
    ndarray, shape (n, 3)
        NaN where there is nothing [m].
    """
    along = end - start
    length = np.hypot(*along.T)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.where(length > 0, length, 1.0)[:, None]
    place = np.array(PLACES)[None, :, None]
    points = start[:, None] + along[:, None] * place + reach * outward[:, None]
    ceiling = np.repeat(top + SLACK, len(PLACES))
    return surfaces.level_at(points.reshape(-1, 2), ceiling).reshape(-1, len(PLACES))


def misfit(level: np.ndarray, wanted: np.ndarray, rise: np.ndarray) -> np.ndarray:
    """
    How badly sounded levels agree with a wanted one, as shares of a rise.

    Parameters
    ----------
    level : ndarray, shape (n, k)
        Sounded levels; NaN counts half [m].
    wanted, rise : ndarray, shape (n,)
        What they should be, and the difference that counts as whole [m].

    Returns
    -------
    ndarray, shape (n,)
        0 fits, 1 does not [-].
    """
    off = np.abs(level - wanted[:, None]) / np.maximum(rise, 1e-6)[:, None]
    return np.where(np.isnan(off), 0.5, np.minimum(off, 1.0)).mean(axis=1)
