"""
Areas for people: the ground inside them, and how many people each is to show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..source.features import Features
from .walkable import Ground


@dataclass(frozen=True, kw_only=True)
class Peopled:
    """
    Ground that people are shown on.

    Parameters
    ----------
    polygon : ndarray of Polygon or MultiPolygon, shape (k,)
        Relative to the ground's origin [m].
    piece : ndarray of int, shape (k,)
        The piece of ground of each.
    density : ndarray of float, shape (k,)
        People wanted there, NaN where nothing is said [1/m²].
    """

    polygon: np.ndarray
    piece: np.ndarray
    density: np.ndarray

    def holds(self, xy: np.ndarray) -> np.ndarray:
        """Rows of the points, shape (n, 2), that lie on it, ascending."""
        tree = shapely.STRtree(self.polygon)
        return np.unique(tree.query(shapely.points(xy), predicate="intersects")[0])


def peopled(features: Features, ground: Ground) -> Peopled:
    """
    Find the ground inside the areas for people; all of it where a site has no such areas.

    Where areas overlap, the later one counts.

    Parameters
    ----------
    features : Features
        The site's features; areas for people have the role "people".
    ground : Ground
        Where people can stand.

    Returns
    -------
    Peopled
    """
    areas = np.flatnonzero(
        (features.of_role("name") == "people") & (shapely.get_dimensions(features.geometry) == 2)
    )
    if not len(areas):
        every = np.arange(len(ground))
        return Peopled(polygon=ground.polygon, piece=every, density=np.full(len(every), np.nan))
    shapes = _apart(shapely.transform(features.geometry[areas], lambda xy: xy - ground.origin))
    piece, area = shapely.STRtree(shapes).query(ground.polygon, predicate="intersects")
    inside = shapely.intersection(ground.polygon[piece], shapes[area])
    real = shapely.area(inside) > 0
    return Peopled(
        polygon=inside[real], piece=piece[real], density=features.density[areas[area[real]]].astype(float)
    )


def _apart(shapes: np.ndarray) -> np.ndarray:
    """Areas, each less those that come after it."""
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    later = second > first
    covered = np.full(len(shapes), shapely.Polygon(), dtype=object)
    for row in np.unique(first[later]):
        covered[row] = shapely.union_all(shapes[second[later & (first == row)]])
    return shapely.difference(shapes, covered)
