"""
The Faces table: planar polygons of solids, as flat arrays.

Vertices lie in one array; rings point into it, faces point into the rings. The first
ring of a face is its outer ring, anticlockwise as seen from outside the solid; the
others are holes, clockwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..ragged import spread

PARTS: Final = ("top", "side", "tread", "riser", "slope", "roof", "floor", "soffit", "crown")
PART_CODE: Final = {name: code for code, name in enumerate(PARTS)}


@dataclass(frozen=True, kw_only=True)
class Faces:
    """
    Planar faces of solids.

    Parameters
    ----------
    xyz : ndarray, shape (v, 3)
        Vertices; rings are not closed [m].
    ring_start : ndarray of int, shape (r + 1,)
        Where each ring starts in *xyz*.
    face_start : ndarray of int, shape (f + 1,)
        Where each face starts in the rings.
    solid : ndarray of int, shape (f,)
        The solid each face belongs to.
    part : ndarray of int, shape (f,)
        Index into PARTS.
    two_sided : ndarray of bool, shape (f,)
        Seen from behind as well (sheets without thickness).
    """

    xyz: np.ndarray
    ring_start: np.ndarray
    face_start: np.ndarray
    solid: np.ndarray
    part: np.ndarray
    two_sided: np.ndarray

    def __len__(self) -> int:
        return len(self.solid)

    @property
    def ring_face(self) -> np.ndarray:
        """Face of each ring, shape (r,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.face_start))

    @property
    def vertex_face(self) -> np.ndarray:
        """Face of each vertex, shape (v,)."""
        return np.repeat(self.ring_face, np.diff(self.ring_start))

    @property
    def vertex_start(self) -> np.ndarray:
        """Where each face starts in *xyz*, shape (f + 1,)."""
        return self.ring_start[self.face_start]

    @property
    def next_vertex(self) -> np.ndarray:
        """The vertex after each one on its ring, shape (v,)."""
        following = np.arange(1, len(self.xyz) + 1)
        ends = self.ring_start[1:] - 1
        following[ends] = self.ring_start[:-1]
        return following


def per_face(values: np.ndarray, start: np.ndarray, how: np.ufunc) -> np.ndarray:
    """
    Reduce values of vertices to one per face.

    Parameters
    ----------
    values : ndarray, shape (v,) or (v, k)
        One row a vertex.
    start : ndarray of int, shape (f + 1,)
        Where each face starts; every face has at least one vertex.
    how : numpy.ufunc
        ``np.minimum``, ``np.maximum`` or ``np.add``.

    Returns
    -------
    ndarray, shape (f,) or (f, k)

    Examples
    --------
    >>> per_face(np.array([1.0, 4, 2]), np.array([0, 2, 3]), np.maximum).tolist()
    [4.0, 2.0]
    """
    if len(start) < 2:
        return np.zeros((0, *values.shape[1:]), dtype=values.dtype)
    return how.reduceat(values, start[:-1], axis=0)


def newell(faces: Faces, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Vertex means and Newell normals of faces.

    Parameters
    ----------
    faces : Faces
        The faces.
    points : ndarray, shape (v, 3)
        Where their vertices are, on the site or on the page [m].

    Returns
    -------
    mean, normal : ndarray, shape (f, 3)
        The normal is twice the vector area, right for faces that are not convex and
        best for those that are not quite planar.

    References
    ----------
    Sutherland, Sproull & Schumacker, ACM Computing Surveys 6 (1974), who give the
    method to M. Newell (from memory).
    """
    start, face, after = faces.vertex_start, faces.vertex_face, faces.next_vertex
    count = np.diff(start)
    mean = [per_face(np.ascontiguousarray(points[:, k]), start, np.add) / count for k in range(3)]
    local = [points[:, k] - mean[k][face] for k in range(3)]
    ahead = [column[after] for column in local]
    normal = [
        per_face(local[i] * ahead[j] - local[j] * ahead[i], start, np.add)
        for i, j in ((1, 2), (2, 0), (0, 1))
    ]
    return np.column_stack(mean), np.column_stack(normal)


def normals(faces: Faces) -> np.ndarray:
    """Unit outward normals, shape (f, 3); zero for faces without area."""
    normal = newell(faces, faces.xyz)[1]
    length = np.sqrt(normal[:, 0] ** 2 + normal[:, 1] ** 2 + normal[:, 2] ** 2)
    return normal / np.where(length > 0, length, 1.0)[:, None]


def areas(faces: Faces) -> np.ndarray:
    """True areas, shape (f,) [m²]."""
    return np.sqrt((newell(faces, faces.xyz)[1] ** 2).sum(axis=1)) / 2


def from_quads(corners: np.ndarray, *, solid: np.ndarray, part: int, two_sided: bool = False) -> Faces:
    """
    Make faces of equal corner count.

    Parameters
    ----------
    corners : ndarray, shape (f, k, 3)
        Corners of each face, anticlockwise from outside [m].
    solid : ndarray of int, shape (f,)
        The solid of each.
    part : int
        Index into PARTS.
    two_sided : bool
        Whether they are seen from behind.

    Returns
    -------
    Faces
    """
    count, sides = corners.shape[:2]
    return Faces(
        xyz=np.ascontiguousarray(corners, dtype=float).reshape(-1, 3),
        ring_start=np.arange(count + 1) * sides,
        face_start=np.arange(count + 1),
        solid=np.asarray(solid, dtype=np.int64),
        part=np.full(count, part, dtype=np.int8),
        two_sided=np.full(count, two_sided),
    )


def join(tables: Sequence[Faces]) -> Faces:
    """
    Put several tables one after another.

    Examples
    --------
    >>> quad = from_quads(np.zeros((1, 4, 3)), solid=np.array([0]), part=0)
    >>> len(join([quad, quad]))
    2
    """
    if not tables:
        return from_quads(np.zeros((0, 4, 3)), solid=np.zeros(0, dtype=np.int64), part=0)
    vertex_shift = np.cumsum([0] + [len(t.xyz) for t in tables[:-1]])
    ring_shift = np.cumsum([0] + [len(t.ring_start) - 1 for t in tables[:-1]])
    return Faces(
        xyz=np.concatenate([t.xyz for t in tables]),
        ring_start=_shifted([t.ring_start for t in tables], vertex_shift),
        face_start=_shifted([t.face_start for t in tables], ring_shift),
        solid=np.concatenate([t.solid for t in tables]),
        part=np.concatenate([t.part for t in tables]),
        two_sided=np.concatenate([t.two_sided for t in tables]),
    )


def _shifted(starts: Sequence[np.ndarray], shifts: np.ndarray) -> np.ndarray:
    parts = [start[:-1] + shift for start, shift in zip(starts, shifts, strict=True)]
    return np.concatenate([*parts, [starts[-1][-1] + shifts[-1]]]).astype(np.int64)


def take(faces: Faces, chosen: np.ndarray) -> Faces:
    """
    Return some of the faces, in the order given.

    Parameters
    ----------
    faces : Faces
        Where to take them from.
    chosen : ndarray of int, shape (m,)
        Which.

    Returns
    -------
    Faces
    """
    chosen = np.asarray(chosen, dtype=np.int64)
    rings_of = np.diff(faces.face_start)[chosen]
    rings = spread(faces.face_start[chosen], rings_of)
    vertices_of = np.diff(faces.ring_start)[rings]
    vertices = spread(faces.ring_start[rings], vertices_of)
    return Faces(
        xyz=faces.xyz.take(vertices, axis=0),
        ring_start=np.concatenate([[0], np.cumsum(vertices_of)]),
        face_start=np.concatenate([[0], np.cumsum(rings_of)]),
        solid=faces.solid[chosen],
        part=faces.part[chosen],
        two_sided=faces.two_sided[chosen],
    )
