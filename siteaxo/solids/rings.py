"""
Faces put together from loose vertices.

A maker of solids says of each vertex which face it belongs to and where it comes on
that face's ring; the rings are sorted and cleaned here, for all faces at once.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from .faces import Faces

SAME: Final = 1e-9  # corners nearer to one another than this are one [m]


def assemble(
    xyz: np.ndarray, *, face: np.ndarray, place: np.ndarray, solid: np.ndarray, part: np.ndarray
) -> Faces:
    """
    Sort loose vertices into faces of one ring each.

    Parameters
    ----------
    xyz : ndarray, shape (v, 3)
        Vertices in any order [m].
    face : ndarray of int, shape (v,)
        The face of each, 0 to f − 1.
    place : ndarray, shape (v,)
        Where it comes on the ring, anticlockwise as seen from outside.
    solid, part : ndarray of int, shape (f,)
        Solid and part code of each face.

    Returns
    -------
    Faces
        Without repeated corners; faces with fewer than three are left out.

    Examples
    --------
    >>> square = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [1, 1, 0], [0, 1, 0]])
    >>> one = np.zeros(1, dtype=int)
    >>> table = assemble(square, face=np.zeros(5, int), place=np.arange(5), solid=one, part=one)
    >>> len(table), len(table.xyz)
    (1, 4)
    """
    order = np.lexsort((place, face))
    corner, face = np.asarray(xyz, dtype=float)[order], np.asarray(face)[order]
    corner, face = _without_repeats(corner, face)
    count = np.bincount(face, minlength=len(solid))
    real = count >= 3
    corner = corner[real[face]] if len(face) else corner
    kept = np.flatnonzero(real)
    return Faces(
        xyz=corner.reshape(-1, 3),
        ring_start=np.concatenate([[0], np.cumsum(count[kept])]).astype(np.int64),
        face_start=np.arange(len(kept) + 1),
        solid=np.asarray(solid, dtype=np.int64)[kept],
        part=np.asarray(part, dtype=np.int8)[kept],
        two_sided=np.zeros(len(kept), dtype=bool),
    )


def _without_repeats(corner: np.ndarray, face: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Drop each corner that is the same as the next one on its ring."""
    if not len(face):
        return corner, face
    last = np.append(face[1:] != face[:-1], True)
    first = np.flatnonzero(np.append(True, last[:-1]))
    following = np.arange(1, len(face) + 1)
    following[last] = first
    same = (np.abs(corner - corner[following]) <= SAME).all(axis=1)
    return corner[~same], face[~same]
