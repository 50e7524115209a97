"""
Page faces cut into convex pieces of at most four sides, as half planes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..solids.faces import spread
from .page import PageFaces

SIDES = 4
MANY = 16  # a face of more pieces is searched with a tree


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """
    Convex pieces, sorted by their face.

    Parameters
    ----------
    start : ndarray of int, shape (m + 1,)
        Where the pieces of each face start.
    corner : ndarray, shape (p, 4, 2)
        Corners anticlockwise, the last repeated where there are three [m].
    side : ndarray, shape (p, 4, 3)
        Unit half planes: ``side @ (x, y, 1)`` is the distance inside of each side [m];
        1 everywhere for a missing side.
    box : ndarray, shape (p, 4)
        Left, bottom, right, top [m].
    whole : ndarray of bool, shape (m,)
        Whether a face is one piece.
    """

    start: np.ndarray
    corner: np.ndarray
    side: np.ndarray
    box: np.ndarray
    whole: np.ndarray

    @property
    def face(self) -> np.ndarray:
        """Face of each piece, shape (p,)."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))


def pieces_of(page: PageFaces) -> Pieces:
    """
    Cut page faces into convex pieces.

    Triangles and convex quadrilaterals stay whole; all others are triangulated with
    their holes.
    """
    simple, corners = _simple(page)
    rest = np.flatnonzero(~simple)
    triangles, owner = shapely.get_parts(
        shapely.constrained_delaunay_triangles(page.polygon[rest]), return_index=True
    )
    cut = shapely.get_coordinates(shapely.orient_polygons(triangles)).reshape(-1, 4, 2)
    cut[:, 3] = cut[:, 2]
    face = np.concatenate([np.flatnonzero(simple), rest[owner]])
    order = np.argsort(face, kind="stable")
    corner = np.concatenate([corners, cut])[order]
    start = np.searchsorted(face[order], np.arange(len(page) + 1))
    return Pieces(
        start=start,
        corner=corner,
        side=_half_planes(corner),
        box=np.concatenate([corner.min(axis=1), corner.max(axis=1)], axis=1),
        whole=simple,
    )


def near_pieces(
    pieces: Pieces, face: np.ndarray, xy: np.ndarray, margin: float
) -> tuple[np.ndarray, np.ndarray]:
    """
    Pair segments with the pieces of given faces whose boxes they meet.

    Parameters
    ----------
    pieces : Pieces
        The pieces.
    face : ndarray of int, shape (n,)
        A face for each segment.
    xy : ndarray, shape (n, 2, 2)
        Ends of the segments [m].
    margin : float
        By how much a box may be missed [m].

    Returns
    -------
    row, piece : ndarray of int, shape (k,)
        Segment and piece. Faces of very many pieces are searched with a tree.
    """
    count = np.diff(pieces.start)[face]
    few, many = np.flatnonzero(count <= MANY), np.flatnonzero(count > MANY)
    row = np.repeat(few, count[few])
    piece = spread(pieces.start[face[few]], count[few])
    low, high = xy.min(axis=1) - margin, xy.max(axis=1) + margin
    near = ((low[row] <= pieces.box[piece, 2:]) & (high[row] >= pieces.box[piece, :2])).all(axis=1)
    row, piece = row[near], piece[near]
    if not len(many):
        return row, piece
    wide = np.unique(face[many])
    inside = spread(pieces.start[wide], pieces.start[wide + 1] - pieces.start[wide])
    tree = shapely.STRtree(shapely.box(*pieces.box[inside].T))
    item, found = tree.query(shapely.box(*low[many].T, *high[many].T))
    owner = np.repeat(wide, pieces.start[wide + 1] - pieces.start[wide])
    right = owner[found] == face[many[item]]
    return (
        np.concatenate([row, many[item[right]]]),
        np.concatenate([piece, inside[found[right]]]),
    )


def _simple(page: PageFaces) -> tuple[np.ndarray, np.ndarray]:
    """Which faces are triangles or convex quadrilaterals, and their corners anticlockwise."""
    first = page.faces.vertex_start
    count = np.diff(first)
    small = np.flatnonzero((count <= SIDES) & (np.diff(page.faces.face_start) == 1))
    last = count[small, None] - 1
    steps = np.minimum(np.arange(SIDES), last)
    steps = np.where(page.flipped[small, None], np.maximum(last - np.arange(SIDES), 0), steps)
    corner = page.xy[first[small, None] + steps]
    ahead = np.roll(corner, -1, axis=1) - corner
    turn = (
        ahead[:, :, 0] * np.roll(ahead, -1, axis=1)[:, :, 1]
        - ahead[:, :, 1] * np.roll(ahead, -1, axis=1)[:, :, 0]
    )
    convex = (turn >= 0).all(axis=1)
    simple = np.zeros(len(page), dtype=bool)
    simple[small[convex]] = True
    return simple, corner[convex]


def _half_planes(corner: np.ndarray) -> np.ndarray:
    along = np.roll(corner, -1, axis=1) - corner
    length = np.hypot(along[..., 0], along[..., 1])
    there = length > 0
    inward = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    inward = inward / np.where(there, length, 1.0)[..., None]
    offset = np.where(there, -(inward * corner).sum(axis=-1), 1.0)
    return np.concatenate([inward, offset[..., None]], axis=-1)
