"""
What of upright faces stands free: neither against something else, nor inside it, nor in the ground.

Each face is looked at in its own plane, along its plan edge and upward. What lies just
outside it is taken away: the upright solids there between their base and top, faces of
flights, ramps and roofs that lie in the same plane and look the other way, and the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..solids.faces import Faces, areas, normals, per_face, take
from ..solids.planes import levels_at
from ..solids.stack import Stack
from ..solids.tin import Tin

OUTSIDE: Final = 1e-3  # how far outside a face is looked for what stands against it [m]
UPRIGHT: Final = 1e-6  # normals with a smaller upward part are level [-]
COVERING: Final = ("prism", "planter")  # forms that fill their footprint from base to top
COVERS_NOTHING: Final = ("water", "hedge", "people", "note")
FREE: Final = ("tree", "rail")  # forms whose faces are taken to stand free
DEEP: Final = 1e4  # as far down as the ground reaches [m]
SPECK: Final = 1e-9  # smaller pieces are rounding [m²]


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """
    What of upright faces stands free.

    Parameters
    ----------
    face : ndarray of int, shape (k,)
        Upright faces, as rows of the Faces table.
    area : ndarray, shape (k,)
        Area that stands free [m²].
    length : ndarray, shape (k,)
        Length in plan along which something of it stands free [m].
    """

    face: np.ndarray
    area: np.ndarray
    length: np.ndarray


@dataclass(frozen=True, kw_only=True)
class _Planes:
    """Upright faces in their own planes: along their plan edge, and upward from the site's datum."""

    faces: Faces
    along: np.ndarray
    normal: np.ndarray
    foot: np.ndarray
    span: np.ndarray
    polygon: np.ndarray

    @classmethod
    def of(cls, faces: Faces) -> _Planes:
        normal = normals(faces)[:, :2]
        normal = normal / np.hypot(*normal.T)[:, None]
        along = np.column_stack([-normal[:, 1], normal[:, 0]])
        start, face = faces.vertex_start, faces.vertex_face
        foot = faces.xyz[start[:-1], :2]
        way = ((faces.xyz[:, :2] - foot[face]) * along[face]).sum(axis=1)
        span = np.column_stack([per_face(way, start, np.minimum), per_face(way, start, np.maximum)])
        return cls(
            faces=faces,
            along=along,
            normal=normal,
            foot=foot,
            span=span,
            polygon=_polygons(faces, np.column_stack([way, faces.xyz[:, 2]])),
        )

    def beside(self, outward: float = OUTSIDE) -> np.ndarray:
        """Plan edges moved a little outward, or inward where below zero, shape (k,)."""
        ends = self.foot[:, None] + self.span[:, :, None] * self.along[:, None]
        return shapely.linestrings(ends + outward * self.normal[:, None])

    def way(self, row: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """How far along the plan edges of rows plan points lie, shape (n,) [m]."""
        return ((xy - self.foot[row]) * self.along[row]).sum(axis=1)


def _polygons(faces: Faces, xy: np.ndarray) -> np.ndarray:
    """Faces as polygons of given plane coordinates; upright faces have one ring."""
    return shapely.polygons(shapely.linearrings(xy, indices=faces.vertex_face))


def exposure(stack: Stack) -> Exposure:
    """
    Find what of the upright faces of a site stands free.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    Exposure
        Things nearer than a millimetre stand against one another. Water and hedges cover
        nothing. Faces of trees and rails are not looked at.
    """
    faces, form = stack.scene.faces, stack.features.of_role("form")
    row = stack.solid_feature[faces.solid]
    upright = (np.abs(normals(faces)[:, 2]) < UPRIGHT) & (areas(faces) > 0)
    upright &= ~np.isin(form[row], FREE) & (np.diff(faces.face_start) == 1)
    chosen = np.flatnonzero(upright)
    if not len(chosen):
        return Exposure(face=chosen, area=np.zeros(0), length=np.zeros(0))
    planes, own = _Planes.of(take(faces, chosen)), row[chosen]
    covers = [
        _by_footprints(stack, planes, own, outside=True),
        _by_footprints(stack, planes, own, outside=False),
        _by_faces(stack, planes, own, form),
    ]
    if stack.terrain is not None:
        covers.append(_by_ground(stack.terrain.tin, planes, form[own]))
    owner = np.concatenate([one for one, _ in covers])
    free = _less(planes.polygon, owner, np.concatenate([shapes for _, shapes in covers]))
    return Exposure(face=chosen, area=shapely.area(free), length=_lengths(free))


def _by_footprints(
    stack: Stack, planes: _Planes, own: np.ndarray, *, outside: bool
) -> tuple[np.ndarray, np.ndarray]:
    """What upright solids cover: those outside the faces, or of those that fill the same place the later."""
    features = stack.features
    fills = np.isin(features.of_role("form"), COVERING) & (features.top > features.base)
    fills &= ~np.isin(features.of_role("name"), COVERS_NOTHING)
    fills &= (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    rows = np.flatnonzero(fills)
    beside = planes.beside(OUTSIDE if outside else -OUTSIDE)
    face, item = shapely.STRtree(features.geometry[rows]).query(beside, predicate="intersects")
    other = rows[item]
    high = per_face(planes.faces.xyz[:, 2], planes.faces.vertex_start, np.maximum)
    low = per_face(planes.faces.xyz[:, 2], planes.faces.vertex_start, np.minimum)
    meets = (other != own[face]) & (features.base[other] < high[face]) & (features.top[other] > low[face])
    if not outside:
        order = features.order
        later = (order[other] > order[own[face]]) | ((order[other] == order[own[face]]) & (other > own[face]))
        meets &= later
    face, other = face[meets], other[meets]
    piece, part = shapely.get_parts(
        shapely.intersection(beside[face], features.geometry[other]), return_index=True
    )
    line = shapely.get_dimensions(piece) == 1
    piece, face, other = piece[line], face[part[line]], other[part[line]]
    low = features.base[other]
    corners = []
    for end in (0, -1):
        xy = shapely.get_coordinates(shapely.get_point(piece, end)).reshape(-1, 2)
        top = np.maximum(levels_at(features, other, xy), low)
        corners.append([np.column_stack([planes.way(face, xy), level]) for level in (low, top)])
    (low_here, top_here), (low_there, top_there) = corners
    return face, shapely.polygons(np.stack([low_here, low_there, top_there, top_here], axis=1))


def _by_faces(
    stack: Stack, planes: _Planes, own: np.ndarray, form: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What faces of other solids in the same planes cover; those that fill a footprint are done already."""
    other = np.flatnonzero(~np.isin(form[own], COVERING) & ~np.isin(form[own], FREE))
    ends = planes.foot[:, None] + planes.span[:, :, None] * planes.along[:, None]
    line = shapely.linestrings(ends)
    face, item = shapely.STRtree(line[other]).query(line, predicate="dwithin", distance=OUTSIDE)
    item = other[item]
    solid = planes.faces.solid
    against = (planes.normal[face] * planes.normal[item]).sum(axis=1) < -1 + 1e-9
    off = ((planes.foot[item] - planes.foot[face]) * planes.normal[face]).sum(axis=1)
    against &= (np.abs(off) <= OUTSIDE) & (solid[face] != solid[item])
    face, item = face[against], item[against]
    shift = planes.way(face, planes.foot[item])
    xy, polygon = shapely.get_coordinates(planes.polygon[item], return_index=True)
    turned = np.column_stack([shift[polygon] - xy[:, 0], xy[:, 1]])
    return face, shapely.polygons(shapely.linearrings(turned, indices=polygon)) if len(face) else _none()


def _by_ground(tin: Tin, planes: _Planes, form: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What lies below the ground; the ground's own sides are free."""
    rows = np.flatnonzero(~np.isin(form, ("terrain", "drape")))
    beside = planes.beside()
    item, triangle = tin.tree.query(beside[rows], predicate="intersects")
    piece = shapely.intersection(beside[rows[item]], tin.polygon[triangle])
    line = (shapely.get_dimensions(piece) == 1) & (shapely.get_num_geometries(piece) == 1)
    piece, face, triangle = piece[line], rows[item[line]], triangle[line]
    if not len(face):
        return face, _none()
    corners = []
    for end in (0, -1):
        xy = shapely.get_coordinates(shapely.get_point(piece, end))
        way = planes.way(face, xy)
        corners.append(
            (
                np.column_stack([way, np.full(len(way), -DEEP)]),
                np.column_stack([way, tin.level_on(triangle, xy)]),
            )
        )
    (low, high), (low_end, high_end) = corners
    return face, shapely.polygons(np.stack([low, low_end, high_end, high], axis=1))


def _none() -> np.ndarray:
    return np.empty(0, dtype=object)


def _less(whole: np.ndarray, owner: np.ndarray, cover: np.ndarray) -> np.ndarray:
    """Polygons less the union of what covers each."""
    real = (shapely.area(cover) > 0) if len(cover) else np.zeros(0, dtype=bool)
    owner, cover = owner[real], cover[real]
    if not len(owner):
        return whole
    order = np.argsort(owner, kind="stable")
    rows, place = np.unique(owner[order], return_inverse=True)
    groups = shapely.geometrycollections(cover[order], indices=place)
    free = whole.copy()
    free[rows] = shapely.difference(whole[rows], shapely.unary_union(groups[:, None], axis=1))
    return free


def _lengths(free: np.ndarray) -> np.ndarray:
    """Length of the shadow of polygons on their first axis, shape (k,) [m]."""
    part, owner = shapely.get_parts(free, return_index=True)
    real = shapely.area(part) > SPECK
    part, owner = part[real], owner[real]
    if not len(part):
        return np.zeros(len(free))
    box = shapely.bounds(part)
    order = np.lexsort((box[:, 0], owner))
    owner, low, high = owner[order], box[order, 0], box[order, 2]
    reach = np.empty(len(owner))  # how far right earlier parts of the same face reach
    first = np.concatenate([[True], owner[1:] != owner[:-1]])
    shift = owner * (float(high.max() - low.min()) + 1.0)
    reach[1:] = np.maximum.accumulate(high + shift)[:-1] - shift[1:]
    reach[first] = -np.inf
    fresh = np.maximum(high - np.maximum(low, reach), 0.0)
    return np.bincount(owner, fresh, len(free))
