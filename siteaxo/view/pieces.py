"""
Page faces cut into convex pieces of at most four sides, as half planes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from ..ragged import spread
from .order import starts
from .page import PageFaces

SIDES = 4
HALVED = (5, 6)  # corners of faces that are cut in two where that can be done
BROAD = 1e-6  # twice the area that a half has at least at either end of the cut [m²]
MANY = 256  # a face of more pieces is searched with a tree


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """
    Convex pieces, sorted by their face.

    Parameters
    ----------
    start : ndarray of int, shape (m + 1,)
        Where the pieces of each face start.
    corner : ndarray, shape (2, 4, p)
        Coordinates of corners anticlockwise, the last repeated where there are three [m].
    side : ndarray, shape (4, 3, p)
        Unit half planes: the second index times (x, y, 1), added up, is the distance inside of
        each side [m]; 1 everywhere for a missing side.
    box : ndarray, shape (4, p)
        Left, bottom, right, top [m].
    whole : ndarray of bool, shape (m,)
        Whether a face is one piece.
    """

    start: np.ndarray
    corner: np.ndarray
    side: np.ndarray
    box: np.ndarray
    whole: np.ndarray

    @cached_property
    def face_box(self) -> np.ndarray:
        """Left, bottom, right, top of each face, shape (4, m); inside out where there is none [m]."""
        box = np.full((4, len(self.start) - 1), np.inf)
        box[2:] *= -1
        there = np.flatnonzero(self.start[1:] > self.start[:-1])
        for k, how in enumerate((np.minimum, np.minimum, np.maximum, np.maximum)):
            if len(there):
                box[k, there] = how.reduceat(self.box[k], self.start[there])
        return box

    @property
    def face(self) -> np.ndarray:
        """Face of each piece, shape (p,)."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))


def pieces_of(page: PageFaces) -> Pieces:
    """
    Cut page faces into convex pieces.

    Triangles and convex quadrilaterals stay whole; faces of five or six corners, such as
    angles, are cut in two where that can be done; all others are triangulated with their
    holes.
    """
    whole, quads = _whole(page)
    halved, halves = _halved(page)
    simple = np.zeros(len(page), dtype=bool)
    simple[whole] = simple[halved] = True
    rest = np.flatnonzero(~simple)
    triangles, owner = shapely.get_parts(
        shapely.constrained_delaunay_triangles(page.polygon[rest]), return_index=True
    )
    cut = shapely.get_coordinates(triangles).reshape(-1, 4, 2)
    (ax, ay), (bx, by) = ((cut[:, k] - cut[:, 0]).T for k in (1, 2))
    wrong = ax * by - ay * bx < 0
    cut[wrong, 1:3] = cut[wrong, 2:0:-1]
    cut[:, 3] = cut[:, 2]
    face = np.concatenate([whole, np.repeat(halved, 2), rest[owner]])
    order = np.argsort(face, kind="stable")
    corner = np.ascontiguousarray(np.concatenate([quads, halves, cut]).take(order, axis=0).transpose(2, 1, 0))
    start = starts(face, len(page))
    return Pieces(
        start=start,
        corner=corner,
        side=_half_planes(corner),
        box=np.concatenate([corner.min(axis=1), corner.max(axis=1)]),
        whole=np.diff(start) == 1,
    )


def near_pieces(
    pieces: Pieces, face: np.ndarray, xy: np.ndarray, margin: float, *, of: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Pair segments with the pieces of given faces whose boxes they meet.

    Parameters
    ----------
    pieces : Pieces
        The pieces.
    face : ndarray of int, shape (n,)
        A face for each segment.
    xy : ndarray, shape (s, 2, 2)
        Ends of the segments [m].
    margin : float
        By how much a box may be missed [m].
    of : ndarray of int, shape (n,), optional
        Which segment is meant beside each face; the n segments one by one when left out.

    Returns
    -------
    row, piece : ndarray of int, shape (k,)
        Place in *face*, and piece. Faces of very many pieces are searched with a tree.
    """
    which = np.arange(len(face)) if of is None else of
    x0, y0, x1, y1 = np.ascontiguousarray(xy.reshape(-1, 4).T)
    low, high = (([how(x0, x1), how(y0, y1)]) for how in (np.minimum, np.maximum))
    reach = [*(side - margin for side in low), *(side + margin for side in high)]
    near = _meeting(reach, which, pieces.face_box, face)
    count = np.diff(pieces.start)[face[near]]
    few, many = near[count <= MANY], near[count > MANY]
    row, piece = few, pieces.start[face[few]]
    if (count > 1).any():
        count = count[count <= MANY]
        row = np.repeat(few, count)
        piece = spread(piece, count)
        meets = _meeting(reach, which[row], pieces.box, piece)
        row, piece = row[meets], piece[meets]
    if not len(many):
        return row, piece
    wide = np.unique(face[many])
    within = spread(pieces.start[wide], pieces.start[wide + 1] - pieces.start[wide])
    tree = shapely.STRtree(shapely.box(*pieces.box[:, within]))
    item, found = tree.query(shapely.box(*(side[which[many]] for side in reach)))
    owner = np.repeat(wide, pieces.start[wide + 1] - pieces.start[wide])
    right = owner[found] == face[many[item]]
    return (
        np.concatenate([row, many[item[right]]]),
        np.concatenate([piece, within[found[right]]]),
    )


def _meeting(reach: Sequence[np.ndarray], which: np.ndarray, box: np.ndarray, item: np.ndarray) -> np.ndarray:
    """Places where one of some boxes (left, bottom, right, top) meets that of an item, a column of *box*."""
    left, bottom, right, top = reach
    rows = np.flatnonzero((left.take(which) <= box[2].take(item)) & (right.take(which) >= box[0].take(item)))
    which, item = which.take(rows), item.take(rows)
    meets = (bottom.take(which) <= box[3].take(item)) & (top.take(which) >= box[1].take(item))
    return rows[np.flatnonzero(meets)]


def inside(xy: np.ndarray, pieces: Pieces, piece: np.ndarray, margin: float) -> tuple[np.ndarray, np.ndarray]:
    """
    Parameter intervals of segments within convex pieces.

    Parameters
    ----------
    xy : ndarray, shape (n, 2, 2)
        Ends of the segments [m].
    pieces : Pieces
        The pieces.
    piece : ndarray of int, shape (n,)
        The piece for each segment.
    margin : float
        An end this near to a side lies on it [m].

    Returns
    -------
    begin, end : ndarray, shape (n,)
        Nothing is inside where end <= begin.
    """
    x0, y0, x1, y1 = np.ascontiguousarray(xy.reshape(-1, 4).T)
    begin, end = _reach(x0, y0, x1 - x0, y1 - y0, pieces, piece, margin)
    for half_plane in pieces.side:
        across, up, offset = (column.take(piece) for column in half_plane)
        first, last = across * x0 + up * y0 + offset, across * x1 + up * y1 + offset
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = first / (first - last)
        first_in, last_in = first > margin, last > margin
        first_out, last_out = first < -margin, last < -margin
        np.maximum(begin, np.where(first_out & last_in, crossing, begin), out=begin)
        np.minimum(end, np.where(first_in & last_out, crossing, end), out=end)
        end[(first_out | last_out) & ~first_in & ~last_in] = -1.0
    return begin, end


def _reach(
    x: np.ndarray,
    y: np.ndarray,
    right: np.ndarray,
    up: np.ndarray,
    pieces: Pieces,
    piece: np.ndarray,
    margin: float,
) -> tuple[np.ndarray, np.ndarray]:
    """How far pieces reach along segments: a sliver within the margin covers no more than itself."""
    square = right * right + up * up
    square[square == 0] = 1.0
    low, high = np.full(len(x), np.inf), np.full(len(x), -np.inf)
    for across, along in zip(*pieces.corner, strict=True):
        share = ((across.take(piece) - x) * right + (along.take(piece) - y) * up) / square
        np.minimum(low, share, out=low)
        np.maximum(high, share, out=high)
    snap = margin / np.sqrt(square)
    low[low <= snap] = 0.0
    high[high >= 1 - snap] = 1.0
    return low, high


def _whole(page: PageFaces) -> tuple[np.ndarray, np.ndarray]:
    """Faces that are triangles or convex quadrilaterals, and their corners anticlockwise."""
    count = np.diff(page.faces.vertex_start)
    rows = np.flatnonzero((count <= SIDES) & (np.diff(page.faces.face_start) == 1))
    corner = _corners(page, rows, np.minimum(np.arange(SIDES), count[rows, None] - 1))
    convex = np.flatnonzero((_turns(corner) >= 0).all(axis=1))
    return rows[convex], corner.take(convex, axis=0)


def _halved(page: PageFaces) -> tuple[np.ndarray, np.ndarray]:
    """
    Faces that a cut from one corner to another makes two convex pieces of, and those pieces.

    The cut begins at the corner that turns in, if there is one, and leaves a quadrilateral on
    one side, and on the other a triangle or another quadrilateral.
    """
    found = [(np.zeros(0, dtype=np.int64), np.zeros((0, SIDES, 2)))]
    count, single = np.diff(page.faces.vertex_start), np.diff(page.faces.face_start) == 1
    for many in HALVED:
        rows = np.flatnonzero((count == many) & single)
        turn = _turns(_corners(page, rows, np.broadcast_to(np.arange(many), (len(rows), many))))
        begin = (np.argmin(turn, axis=1) + 1) % many if len(rows) else rows
        step = np.concatenate([np.arange(SIDES), np.minimum(np.arange(SIDES) + SIDES - 1, many)])
        halves = _corners(page, rows, (begin[:, None] + step) % many).reshape(-1, 2, SIDES, 2)
        turn = _turns(halves.reshape(-1, SIDES, 2)).reshape(-1, 2, SIDES)
        broad = turn[:, :, -2:] > BROAD
        broad[:, 1, 0] |= many == SIDES + 1  # a triangle's last corner stands there twice
        good = np.flatnonzero((turn >= 0).all(axis=(1, 2)) & broad.all(axis=(1, 2)))
        found.append((rows[good], halves.take(good, axis=0).reshape(-1, SIDES, 2)))
    rows, halves = (np.concatenate(column) for column in zip(*found, strict=True))
    return rows, halves


def _corners(page: PageFaces, rows: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Corners of faces by their places, counted anticlockwise; shape (n, k, 2) for places (n, k)."""
    first, last = page.faces.vertex_start[rows, None], page.faces.vertex_start[rows + 1, None] - 1
    return page.xy.take(np.where(page.flipped[rows, None], last - place, first + place), axis=0)


def _turns(corner: np.ndarray) -> np.ndarray:
    """How much outlines turn left at the corner after each, as a cross product, shape (n, k) [m²]."""
    x, y = corner[:, :, 0], corner[:, :, 1]
    right, up = (np.roll(side, -1, axis=1) - side for side in (x, y))
    return np.asarray(right * np.roll(up, -1, axis=1) - up * np.roll(right, -1, axis=1))


def _half_planes(corner: np.ndarray) -> np.ndarray:
    """Unit half planes to the left of the sides of pieces, shape (4, 3, p)."""
    right, up = np.roll(corner, -1, axis=1) - corner
    length = np.hypot(right, up)
    there = length > 0
    length[~there] = 1.0
    across, along = -up / length, right / length
    offset = np.where(there, -(across * corner[0] + along * corner[1]), 1.0)
    return np.stack([across, along, offset], axis=1)
