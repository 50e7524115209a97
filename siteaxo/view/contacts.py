"""
Faces that touch: pairs of which one has a side in the plane of the other.

Only there can a line have something foreign beside it that is not in front of it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..ragged import spread
from ..solids.faces import per_face
from .page import PageFaces
from .tolerance import Tolerance

MANY_CORNERS = 64  # faces with more are not tried corner by corner
FAR = 64  # times the depth tolerance: what touches is no farther apart on the site, in any view


class Touching(NamedTuple):
    """Faces, sorted; another in whose plane each has corners; and how many."""

    face: np.ndarray
    plane: np.ndarray
    corners: np.ndarray

    def but_crossing(self, pairs: np.ndarray, count: int) -> Touching:
        """The same without faces that touch another in two corners, where they cross it; pairs (c, 2)."""
        crossing = np.sort(
            np.concatenate([pairs[:, 0] * count + pairs[:, 1], pairs[:, 1] * count + pairs[:, 0]])
        )
        if not len(crossing):
            return self
        asked = self.face * count + self.plane
        known = crossing[np.minimum(np.searchsorted(crossing, asked), len(crossing) - 1)] == asked
        rows = np.flatnonzero((self.corners > 2) | ~known)
        return Touching(self.face[rows], self.plane[rows], self.corners[rows])


def touching_pairs(page: PageFaces, first: np.ndarray, second: np.ndarray, tolerance: Tolerance) -> Touching:
    """
    Find the faces that have at least two corners in the plane of another.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    first, second : ndarray of int, shape (p,)
        Unordered pairs whose boxes meet on the page.
    tolerance : Tolerance
        Corners no farther from a plane than its depth lie in it.

    Returns
    -------
    Touching
        Faces of very many corners are left out as ``face``.
    """
    first, second = _near(page, first, second, FAR * tolerance.depth)
    face, plane = np.concatenate([first, second]), np.concatenate([second, first])
    start = page.faces.vertex_start
    few = np.flatnonzero(~many_cornered(page)[face])
    face, plane = face[few], plane[few]
    count = start[face + 1] - start[face]
    vertex, pair = spread(start[face], count), np.repeat(np.arange(len(face)), count)
    lead = page.depth_at(plane[pair], page.xy.take(vertex, axis=0)) - page.depth[vertex]
    corners = np.bincount(pair[np.abs(lead) <= tolerance.depth], minlength=len(face))
    rows = np.flatnonzero(corners >= 2)
    rows = rows[np.argsort(face[rows], kind="stable")]
    return Touching(face[rows], plane[rows], corners[rows])


def many_cornered(page: PageFaces) -> np.ndarray:
    """Faces of very many corners, shape (m,)."""
    return np.diff(page.faces.vertex_start) > MANY_CORNERS


def _near(
    page: PageFaces, first: np.ndarray, second: np.ndarray, margin: float
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of faces whose boxes on the site are no farther apart than a margin."""
    start = page.faces.vertex_start
    for column in np.ascontiguousarray(page.faces.xyz.T):
        low, high = per_face(column, start, np.minimum), per_face(column, start, np.maximum)
        nearer, farther = (
            np.maximum(low.take(first), low.take(second)),
            np.minimum(high.take(first), high.take(second)),
        )
        apart = nearer - farther
        near = np.flatnonzero(apart <= margin)
        first, second = first[near], second[near]
    return first, second
