"""
Earthwork: volumes of cut and fill.

A difference is what is there less what is wanted: where it is positive earth is cut, where
it is negative earth is filled in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..errors import LevelError
from ..solids.tin import Tin


@dataclass(frozen=True, kw_only=True)
class Earthwork:
    """
    Volumes of earth.

    Parameters
    ----------
    cut, fill : float
        Both positive [m³].

    Examples
    --------
    >>> Earthwork(cut=5.0, fill=2.0).net
    3.0
    """

    cut: float
    fill: float

    @property
    def net(self) -> float:
        """Cut less fill: what is left over, negative where earth is wanting [m³]."""
        return self.cut - self.fill


def triangle_volumes(area: ArrayLike, difference: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """
    Volumes of cut and fill over triangles, split where the difference is zero.

    Parameters
    ----------
    area : array_like, shape (t,)
        Area of each triangle in plan [m²].
    difference : array_like, shape (t, 3)
        Existing less proposed level at its corners [m].

    Returns
    -------
    cut, fill : ndarray, shape (t,)
        Both positive [m³].

    References
    ----------
    A prism with a slanting top has the volume area × mean height; where one corner lies
    on the other side of zero it cuts off a pyramid with the share
    h²/((h − h₁)(h − h₂)) of the area and the mean height h/3.

    Examples
    --------
    >>> cut, fill = triangle_volumes([18.0], [[1.0, -1.0, -1.0]])
    >>> round(float(cut[0]), 9), round(float(fill[0]), 9)
    (1.5, 7.5)
    """
    size, h = np.asarray(area, dtype=float), np.asarray(difference, dtype=float).reshape(-1, 3)
    net = size * h.mean(axis=1)
    above = h > 0
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    row = np.arange(len(h))
    tip, one, other = h[row, lone], h[row, (lone + 1) % 3], h[row, (lone + 2) % 3]
    mixed = above.any(axis=1) & ~above.all(axis=1) & (tip != 0)
    apart = np.where(mixed, (tip - one) * (tip - other), 1.0)
    pyramid = np.where(mixed, size * tip**3 / (3 * apart), 0.0)
    cut = np.where(mixed, np.where(tip > 0, pyramid, net - pyramid), np.maximum(net, 0.0))
    return cut, cut - net


def between_surfaces(existing: Tin, proposed: Tin) -> Earthwork:
    """
    Volumes between two surfaces, where both are.

    Parameters
    ----------
    existing, proposed : Tin
        What is there and what is wanted.

    Returns
    -------
    Earthwork
    """
    lines = shapely.linestrings(proposed.xyz[proposed.edge][:, :, :2])
    both = existing.with_lines(lines)
    middle = shapely.points(both.centroid[:, :2])
    row, triangle = proposed.tree.query(middle, predicate="intersects")
    row, first = np.unique(row, return_index=True)
    corner = both.xyz[both.triangle[row]]
    wanted = [proposed.level_on(triangle[first], corner[:, k, :2]) for k in range(3)]
    cut, fill = triangle_volumes(both.plan_area[row], corner[:, :, 2] - np.stack(wanted, axis=1))
    return Earthwork(cut=float(cut.sum()), fill=float(fill.sum()))


def to_levels(existing: Tin, footprints: np.ndarray, level: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """
    Volumes between a surface and level footprints, such as terraces.

    Parameters
    ----------
    existing : Tin
        What is there.
    footprints : ndarray of Polygon, shape (n,)
        In plan; each is taken for itself [m].
    level : array_like, shape (n,)
        Their levels [m].

    Returns
    -------
    cut, fill : ndarray, shape (n,)
        Both positive; zero where a footprint lies off the surface [m³].
    """
    levels = np.asarray(level, dtype=float)
    return to_planes(existing, footprints, lambda item, xy: levels[item])


def to_planes(
    existing: Tin, footprints: np.ndarray, level_at: Callable[[np.ndarray, np.ndarray], np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """
    Volumes between a surface and plane footprints, which may fall.

    Parameters
    ----------
    existing : Tin
        What is there.
    footprints : ndarray of Polygon, shape (n,)
        In plan; each is taken for itself [m].
    level_at : callable
        Called with footprints, shape (m,), and points, shape (m, 2); gives their levels [m].

    Returns
    -------
    cut, fill : ndarray, shape (n,)
        Both positive; zero where a footprint lies off the surface [m³].
    """
    footprints = np.asarray(footprints, dtype=object)
    laid = existing.with_lines(shapely.boundary(footprints))
    middle = shapely.points(laid.centroid[:, :2])
    row, item = shapely.STRtree(footprints).query(middle, predicate="within")
    corner = laid.xyz[laid.triangle[row]]
    wanted = [level_at(item, corner[:, k, :2]) for k in range(3)]
    cut, fill = triangle_volumes(laid.plan_area[row], corner[:, :, 2] - np.stack(wanted, axis=1))
    return np.bincount(item, cut, len(footprints)), np.bincount(item, fill, len(footprints))


def grid_volumes(difference: ArrayLike, *, cell_area: float) -> Earthwork:
    """
    Volumes over a grid by the mean of the four corners of each cell.

    Parameters
    ----------
    difference : array_like, shape (rows, columns)
        Existing less proposed level at the corners of the cells [m].
    cell_area : float
        Area of one cell [m²].

    Returns
    -------
    Earthwork
        A cell with cut and fill is shared out by the squares of their sums of depths.

    Raises
    ------
    LevelError
        If the grid has no cell, or a difference is not finite.

    References
    ----------
    Four-point method, common practice in earthwork; over cells of one sign it is
    A/4 · (Σh₁ + 2Σh₂ + 3Σh₃ + 4Σh₄), with each depth counted as often as cells meet there.

    Examples
    --------
    >>> grid_volumes([[1, 2, 3], [2, 3, 4], [3, 4, 5]], cell_area=100.0).cut
    1200.0
    """
    h = np.asarray(difference, dtype=float)
    if h.ndim != 2 or min(h.shape) < 2 or not np.isfinite(h).all():
        raise LevelError(
            "A grid of differences needs two rows and two columns at least, all finite.", field="difference"
        )
    corners = np.stack([h[:-1, :-1], h[1:, :-1], h[1:, 1:], h[:-1, 1:]])
    up, down = np.maximum(corners, 0.0).sum(axis=0), np.maximum(-corners, 0.0).sum(axis=0)
    whole = np.where(up + down > 0, up + down, 1.0)
    share = cell_area / 4
    return Earthwork(
        cut=float((share * up**2 / whole).sum()),
        fill=float((share * down**2 / whole).sum()),
    )


def average_end_area(station: ArrayLike, area: ArrayLike) -> float:
    """
    Volume between cross sections by the average of each two areas.

    Parameters
    ----------
    station : array_like, shape (n,)
        Distances along the line, ascending [m].
    area : array_like, shape (n,)
        Areas of cut, or of fill, there [m²].

    Returns
    -------
    float
        Between a section and one of no area it is a pyramid, a third of base × length [m³].

    Raises
    ------
    LevelError
        If stations do not ascend, or an area is negative.

    Examples
    --------
    >>> average_end_area([0, 10, 16], [8, 12, 0])
    124.0
    """
    along, size = np.asarray(station, dtype=float), np.asarray(area, dtype=float)
    if along.shape != size.shape or not (np.diff(along) > 0).all() or not (size >= 0).all():
        raise LevelError("Stations must ascend, each with an area that is not negative.", field="station")
    one, other = size[:-1], size[1:]
    mean = np.where((one == 0) | (other == 0), (one + other) / 3, (one + other) / 2)
    return float((np.diff(along) * mean).sum())


def prismoidal(length: float, first: float, middle: float, last: float) -> float:
    """
    Volume of a prismoid from its end areas and the area midway.

    Parameters
    ----------
    length : float
        Distance between the ends [m].
    first, middle, last : float
        Areas [m²].

    Returns
    -------
    float
        length / 6 × (first + 4 middle + last) [m³].

    References
    ----------
    Prismoidal formula, exact for all solids whose sections are quadratic along the way.

    Examples
    --------
    >>> prismoidal(3.0, 2.0, 2.0, 2.0)
    6.0
    """
    return length / 6 * (first + 4 * middle + last)
