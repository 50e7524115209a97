"""
Levels as surveyed, made into one surface: spot levels, contours, breaklines, patches.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import shapely

from ..errors import GeometryError
from .exact import on_grid
from .network import Conflict, network
from .plateaus import Rounded, rounded
from .tin import Tin, origin_of

STEPS: Final = 24  # how finely an outline beyond the levels is divided, to a side of the site [-]
SLIVER: Final = 1e-6  # an area beyond the levels smaller than this share is nothing [-]


def _none() -> np.ndarray:
    return np.zeros(0, dtype=object)


@dataclass(frozen=True, kw_only=True)
class Survey:
    """
    Levels of the ground from all sources.

    Parameters
    ----------
    breaklines : ndarray of LineString with Z, shape (a,)
        Lines along which the ground folds: kerbs, tops and toes of banks [m].
    patches : ndarray of Polygon with Z, shape (b,)
        Pieces of surface, such as the triangles of another model [m].
    contours : ndarray of LineString with Z, shape (c,)
        Lines of equal level [m].
    spots : ndarray, shape (d, 3)
        Spot levels [m].
    """

    breaklines: np.ndarray = field(default_factory=_none)
    patches: np.ndarray = field(default_factory=_none)
    contours: np.ndarray = field(default_factory=_none)
    spots: np.ndarray = field(default_factory=lambda: np.zeros((0, 3)))

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """Numbers of breaklines, patches, contours and spots; inputs are numbered in this order."""
        return len(self.breaklines), len(self.patches), len(self.contours), len(self.spots)


@dataclass(frozen=True, kw_only=True)
class Surface:
    """
    A surface and what was noticed in making it.

    Parameters
    ----------
    tin : Tin
        The surface.
    conflict : Conflict
        Places where inputs give different levels, numbered as in ``Survey.counts``.
    plateaus : Rounded
        The triangulation with the spots added within last contours.
    beyond : float
        Area asked for that lies beyond all levels [m²].
    """

    tin: Tin
    conflict: Conflict
    plateaus: Rounded
    beyond: float


def surface_of(survey: Survey, *, area: shapely.Geometry | None = None, round_off: bool = True) -> Surface:
    """
    Triangulate a survey.

    Breaklines, sides of patches and contours become edges. Levels go before one another in
    the order breaklines, patches, contours, spots.

    Parameters
    ----------
    survey : Survey
        The levels.
    area : Polygon or MultiPolygon, optional
        What the surface is to cover [m]; all that the levels span when not given, or the
        patches alone where there is nothing else. Beyond the levels it takes the level of
        the nearest place.
    round_off : bool
        Whether the inside of a last contour gets a spot; it stays level otherwise.

    Returns
    -------
    Surface

    Raises
    ------
    GeometryError
        If there are fewer than three levels, or all lie on one line.

    Examples
    --------
    >>> spots = np.array([[0.0, 0, 1], [4, 0, 2], [0, 3, 1]])
    >>> surface_of(Survey(spots=spots)).tin.level_at([[2, 0]]).tolist()
    [1.5]
    """
    lines, owner = _lines_of(survey)
    spots = np.asarray(survey.spots, dtype=float).reshape(-1, 3)
    _check(lines, spots)
    shift = origin_of(np.concatenate([shapely.get_coordinates(lines), spots[:, :2]]))
    by = np.append(shift, 0.0)
    local, near = _moved(lines, -shift), spots - by
    asked = None if area is None else _moved(area, -shift)
    surface = _triangulated(survey, local, near, owner, round_off=round_off)
    tin, beyond = surface.tin, 0.0
    if asked is None and not survey.counts[0] + survey.counts[2] + survey.counts[3]:
        asked = shapely.union_all(shapely.force_2d(_moved(survey.patches, -shift)))
    if area is not None:
        beyond = float(shapely.area(shapely.difference(asked, tin.outline)))
    if asked is not None and beyond > SLIVER * shapely.area(asked):
        more = np.concatenate([near, _beyond(tin, asked)])
        tin = _triangulated(survey, local, more, owner, round_off=round_off).tin
    tin = tin if asked is None else tin.within(asked)
    return replace(
        surface,
        tin=Tin(xyz=tin.xyz + by, triangle=tin.triangle),
        conflict=replace(surface.conflict, xy=surface.conflict.xy + shift),
        plateaus=replace(surface.plateaus, spot=surface.plateaus.spot + by),
        beyond=beyond,
    )


def _lines_of(survey: Survey) -> tuple[np.ndarray, np.ndarray]:
    """All lines with Z, in order of precedence, and the number of the input of each."""
    rings, patch = shapely.get_rings(survey.patches, return_index=True)
    xyz, ring = shapely.get_coordinates(rings, include_z=True, return_index=True)
    rings = shapely.linestrings(xyz, indices=ring) if len(rings) else rings
    first, second, _, _ = np.cumsum(survey.counts)
    owner = [np.arange(first), first + patch, second + np.arange(len(survey.contours))]
    return np.concatenate([survey.breaklines, rings, survey.contours]), np.concatenate(owner)


def _check(lines: np.ndarray, spots: np.ndarray) -> None:
    xyz = np.concatenate([shapely.get_coordinates(lines, include_z=True), spots])
    if not np.isfinite(xyz).all():
        raise GeometryError("A level or coordinate of the ground is missing or not finite.")
    if len(np.unique(xyz[:, :2], axis=0)) < 3:
        raise GeometryError("The ground needs levels at three places at least.")


def _moved(geometry: Any, by: np.ndarray) -> Any:
    return shapely.transform(
        geometry, lambda xyz: xyz + np.append(by, np.zeros(xyz.shape[1] - 2)), include_z=True
    )


def _triangulated(
    survey: Survey, lines: np.ndarray, spots: np.ndarray, owner: np.ndarray, *, round_off: bool
) -> Surface:
    """Node and triangulate; spots beyond those of the survey have no number of their own."""
    net = network(lines, spots)
    number = np.concatenate([owner, sum(survey.counts[:3]) + np.arange(len(spots))])
    _, second, third, _ = np.cumsum(survey.counts)
    source = number[net.source]
    contour = (source >= second) & (source < third)
    plateaus = rounded(net.xy, net.level, net.segment, contour, spots=round_off)
    conflict = replace(net.conflict, kept=number[net.conflict.kept], dropped=number[net.conflict.dropped])
    tin = Tin(xyz=np.column_stack([plateaus.xy, plateaus.level]), triangle=plateaus.triangle)
    return Surface(tin=tin, conflict=conflict, plateaus=plateaus, beyond=0.0)


def _beyond(tin: Tin, area: shapely.Geometry) -> np.ndarray:
    """Places along an outline that lie beyond a surface, with the level nearest to each, shape (n, 3)."""
    left, bottom, right, top = shapely.bounds(area)
    outline = shapely.segmentize(shapely.boundary(area), max(right - left, top - bottom) / STEPS)
    xy = np.unique(on_grid(shapely.get_coordinates(outline)), axis=0)
    off = xy[np.isnan(tin.level_at(xy))]
    return np.column_stack([off, tin.level_at(off, beyond=True)])
