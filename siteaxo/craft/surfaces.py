"""
The planes of visible faces: axes to lay patterns along, and the way from there to the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..angles import cos_deg, sin_deg
from ..diagram.layers import PLANE_COLUMNS, ViewRecord

LEVEL: Final = 0.9999  # faces whose normal rises by more are level [-]


@dataclass(frozen=True, kw_only=True)
class Surfaces:
    """
    Planes of faces with two axes each.

    A point (a, b) of a plane lies on the page at ``origin + a * along + b * up``.

    Parameters
    ----------
    origin, along, up : ndarray, shape (f, 2)
        Where each plane's anchor and its two unit axes land on the page [m]. The first axis
        is level; the second is square to it in the plane, and rises where the plane does.
    """

    origin: np.ndarray
    along: np.ndarray
    up: np.ndarray

    def __len__(self) -> int:
        return len(self.origin)

    def take(self, rows: np.ndarray) -> Surfaces:
        """Some of the planes."""
        return Surfaces(origin=self.origin[rows], along=self.along[rows], up=self.up[rows])

    def to_page(self, ab: np.ndarray, face: np.ndarray) -> np.ndarray:
        """Bring points of planes onto the page, shape (n, k, 2) [m]."""
        return (
            self.origin[face, None] + ab[..., :1] * self.along[face, None] + ab[..., 1:] * self.up[face, None]
        )

    def from_page(self, xy: np.ndarray, face: np.ndarray) -> np.ndarray:
        """Bring page points into planes, shape (n, 2) [m]."""
        offset = xy - self.origin[face]
        along, up = self.along[face], self.up[face]
        area = along[:, 0] * up[:, 1] - along[:, 1] * up[:, 0]
        a = (offset[:, 0] * up[:, 1] - offset[:, 1] * up[:, 0]) / area
        b = (along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]) / area
        return np.column_stack([a, b])

    def spread_on_page(self, angle: float) -> np.ndarray:
        """
        How far apart lines 1 m apart in the plane come to lie on the page, shape (f,).

        Parameters
        ----------
        angle : float
            Direction of the lines in the plane [degrees anticlockwise from the first axis].
        """
        c, s = cos_deg(angle), sin_deg(angle)
        run, step = c * self.along + s * self.up, c * self.up - s * self.along
        area = np.abs(run[:, 0] * step[:, 1] - run[:, 1] * step[:, 0])
        return area / np.hypot(*run.T)

    def boxes(self, polygons: np.ndarray, angle: float) -> np.ndarray:
        """
        Boxes of page polygons in axes turned within each plane.

        Parameters
        ----------
        polygons : ndarray of Polygon or MultiPolygon, shape (f,)
            One on each plane.
        angle : float
            Turn of the axes [degrees anticlockwise].

        Returns
        -------
        ndarray, shape (f, 4)
            Least along, least across, greatest along, greatest across [m].
        """
        xy, face = shapely.get_coordinates(polygons, return_index=True)
        ab = self.from_page(xy, face)
        c, s = cos_deg(angle), sin_deg(angle)
        turned = ab @ np.array([[c, -s], [s, c]])
        start = np.searchsorted(face, np.arange(len(polygons)))
        return np.column_stack(
            [np.minimum.reduceat(turned, start, axis=0), np.maximum.reduceat(turned, start, axis=0)]
        )


def has_planes(faces: Any) -> bool:
    """Whether faces carry the planes that they lie in."""
    return all(column in faces.columns for column in PLANE_COLUMNS)


def surfaces_of(faces: Any, plan: Any, view: ViewRecord, along: float | str = "base line") -> Surfaces:
    """
    Lay axes into the planes of faces.

    Level faces have their first axis along the base line, the longest edge of their feature,
    or at an angle to the base line, and their anchor in the corner of the feature's box in
    those axes. What slopes or stands has its first axis along its contour and its anchor at
    its lowest level.

    Parameters
    ----------
    faces : GeoDataFrame
        With PLANE_COLUMNS, layer, source_id and level_min, and ``lift_m`` where they are lifted.
    plan : GeoDataFrame
        Footprints on the turned plan.
    view : ViewRecord
        The view.
    along : float or str
        "base line", "longest edge", or degrees anticlockwise from the base line.

    Returns
    -------
    Surfaces
    """
    normal = faces[[f"normal_{axis}" for axis in "xyz"]].to_numpy(dtype=float)
    offset = faces["offset"].to_numpy(dtype=float)
    level = normal[:, 2] > LEVEL
    angle, corner = _laid_out(faces, plan, view, along)
    first = np.column_stack([-normal[:, 1], normal[:, 0], np.zeros(len(normal))])
    first[level] = np.column_stack([_cosines(angle[level] + view.base_line), np.zeros(int(level.sum()))])
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(normal, first)
    foot = normal * offset[:, None]
    rise = np.where(level, 1.0, second[:, 2])
    lowest = faces["level_min"].to_numpy(dtype=float)
    lowest = lowest + faces["lift_m"].to_numpy(dtype=float) if "lift_m" in faces else lowest
    up = (lowest - view.drawn_in_place - foot[:, 2]) / rise
    up = np.where(level, corner[:, 1], up)
    across = np.where(level, corner[:, 0], 0.0)
    anchor = foot + across[:, None] * first + up[:, None] * second
    page = view.matrix[:2].T
    return Surfaces(origin=anchor @ page, along=first @ page, up=second @ page)


def _cosines(angle: np.ndarray) -> np.ndarray:
    turn = np.radians(angle)
    return np.column_stack([np.cos(turn), np.sin(turn)])


def _laid_out(faces: Any, plan: Any, view: ViewRecord, along: float | str) -> tuple[np.ndarray, np.ndarray]:
    """Angle to the base line, and corner in axes of that angle, of the feature of every face."""
    keys = pd.MultiIndex.from_frame(plan[["layer", "source_id"]])
    code, unique = keys.factorize()
    wanted = unique.get_indexer(pd.MultiIndex.from_frame(faces[["layer", "source_id"]]))
    shapes = np.asarray(plan.geometry.array, dtype=object)
    if along == "longest edge":
        angle = longest_edges(shapes, code, len(unique)) - view.turn
    else:
        angle = np.full(len(unique), 0.0 if isinstance(along, str) else float(along))
    xy, owner = shapely.get_coordinates(shapes, return_index=True)
    axis = _cosines(angle + view.turn)[code[owner]]
    corner = np.full((len(unique), 2), np.inf)
    np.minimum.at(corner[:, 0], code[owner], (xy * axis).sum(axis=1))
    np.minimum.at(corner[:, 1], code[owner], xy[:, 1] * axis[:, 0] - xy[:, 0] * axis[:, 1])
    known = wanted >= 0
    face_angle, face_corner = np.zeros(len(faces)), np.zeros((len(faces), 2))
    face_angle[known], face_corner[known] = angle[wanted[known]], corner[wanted[known]]
    return face_angle, face_corner


def longest_edges(shapes: np.ndarray, code: np.ndarray, count: int) -> np.ndarray:
    """
    Direction of each feature's longest edge, within 90°.

    Parameters
    ----------
    shapes : ndarray of Polygon or MultiPolygon, shape (n,)
        Footprints.
    code : ndarray of int, shape (n,)
        The feature of each.
    count : int
        How many features there are.

    Returns
    -------
    ndarray, shape (count,)
        Degrees anticlockwise from the first axis.
    """
    polygons, owner = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(polygons, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    step = np.diff(xy, axis=0)
    feature = code[owner[part[ring[1:]]]]
    length = np.where(np.diff(ring) == 0, np.round(np.hypot(*step.T), 6), -1.0)
    bearing = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
    bearing = (bearing + 90.0) % 180.0 - 90.0
    order = np.lexsort((-np.arange(len(length)), length, feature))
    last = np.flatnonzero(np.diff(feature[order], append=-1))
    angle = np.zeros(count)
    angle[feature[order[last]]] = bearing[order[last]]
    return angle
