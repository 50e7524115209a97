"""
Pairs of page faces whose insides overlap.

Boxes first (one bulk query of a tree), then separating axes for convex pieces, then the
library's own predicate for faces of very many pieces. Contacts thinner than ``THIN`` do not count.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import shapely

from ..ragged import spread
from .crowded import TooManyPairsError
from .page import PageFaces
from .pieces import SIDES, Pieces
from .tolerance import THIN

CHUNK = 1 << 15
MOST_PIECES = 36  # pairs of pieces of two faces; faces of more are left to the library
QUERY = 20_000  # faces asked for at once
MOST_PAIRS = 30_000_000  # about 1 GiB of pairs


def in_chunks(function: Callable[..., np.ndarray], *columns: np.ndarray, size: int = CHUNK) -> np.ndarray:
    """Apply a row-wise function to a bounded number of rows at a time."""
    count = len(columns[0])
    if count <= size:
        return function(*columns)
    cuts = range(0, count, size)
    return np.concatenate([function(*(column[cut : cut + size] for column in columns)) for cut in cuts])


def overlapping_pairs(
    page: PageFaces, pieces: Pieces, *, core: np.ndarray | None = None, tree: shapely.STRtree | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the unordered pairs of faces that overlap on the page.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    pieces : Pieces
        Their convex pieces.
    core : ndarray of bool, shape (m,), optional
        Only pairs with at least one of these faces are wanted; all when left out.
    tree : shapely.STRtree, optional
        A tree of the page polygons.

    Returns
    -------
    first, second : ndarray of int, shape (p,)
        Rows of *page*, ``first < second``; pairs within one solid are included.
    """
    return overlapping(page, pieces, *box_pairs(page, core, tree))


def overlapping(
    page: PageFaces, pieces: Pieces, first: np.ndarray, second: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Of pairs of faces, those that overlap on the page by more than a contact."""
    wide = np.flatnonzero(_boxes_overlap(page.box_columns, first, second))
    first, second = first[wide], second[wide]
    count = np.diff(pieces.start)
    small = count[first] * count[second] <= MOST_PIECES
    meet = np.zeros(len(first), dtype=bool)
    rows = np.flatnonzero(small)
    meet[rows] = in_chunks(partial(_pieces_overlap, pieces), first[rows], second[rows])
    rest = np.flatnonzero(~small)
    meet[rest] = _overlap(page.polygon, first[rest], second[rest])
    return first[meet], second[meet]


def _pieces_overlap(pieces: Pieces, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Whether any piece of one face overlaps any of the other."""
    count = np.diff(pieces.start)
    many, other = count[first], count[second]
    if (many == 1).all() and (other == 1).all():
        return _convex_overlap(pieces, pieces.start[first], pieces.start[second])
    pair = np.repeat(np.arange(len(first)), many * other)
    step = spread(np.zeros(len(first), dtype=np.int64), many * other)
    width = other[pair]
    one = pieces.start[first][pair] + step // width
    two = pieces.start[second][pair] + step % width
    near = np.flatnonzero(_boxes_overlap(pieces.box, one, two))
    meet = np.zeros(len(first), dtype=bool)
    meet[pair[near[_convex_overlap(pieces, one[near], two[near])]]] = True
    return meet


def _boxes_overlap(box: np.ndarray, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Whether boxes, the columns of *box*, overlap by more than a contact."""
    left, bottom, right, top = box
    meet = np.minimum(right.take(one), right.take(two)) - np.maximum(left.take(one), left.take(two)) > THIN
    meet &= np.minimum(top.take(one), top.take(two)) - np.maximum(bottom.take(one), bottom.take(two)) > THIN
    return meet


def _convex_overlap(pieces: Pieces, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Whether no side of either convex piece has the whole of the other outside."""
    meet = ~_beyond_a_side(pieces, one, two)
    rows = np.flatnonzero(meet)
    meet[rows] = ~_beyond_a_side(pieces, two[rows], one[rows])
    return meet


def box_pairs(
    page: PageFaces, core: np.ndarray | None = None, tree: shapely.STRtree | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Unordered pairs, as :func:`overlapping_pairs`, of faces whose boxes meet."""
    core = np.ones(len(page), dtype=bool) if core is None else core
    inner, search = np.flatnonzero(core), tree or shapely.STRtree(page.polygon)
    found, count = [np.zeros((2, 0), dtype=np.int64)], 0
    for cut in range(0, len(inner), QUERY):
        item, other = search.query(page.polygon[inner[cut : cut + QUERY]])
        item = inner[cut + item]
        once = (item < other) | ((item > other) & ~core[other])
        found.append(np.stack([np.minimum(item, other)[once], np.maximum(item, other)[once]]))
        count += found[-1].shape[1]
        if count > MOST_PAIRS:
            faces = np.bincount(page.faces.solid[np.concatenate(found, axis=1)].ravel())
            raise TooManyPairsError.of(MOST_PAIRS, solid=int(faces.argmax()))
    first, second = np.concatenate(found, axis=1)
    return first, second


def _beyond_a_side(pieces: Pieces, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Whether all corners of pieces lie outside one of the sides of others."""
    x, y = ([column.take(two) for column in columns] for columns in pieces.corner)
    beyond = np.zeros(len(one), dtype=bool)
    for half_plane in pieces.side:
        across, up, offset = (column.take(one) for column in half_plane)
        reach = across * x[0] + up * y[0]
        for k in range(1, SIDES):
            np.maximum(reach, across * x[k] + up * y[k], out=reach)
        beyond |= reach + offset <= THIN
    return beyond


def _overlap(polygon: np.ndarray, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Whether the insides of general polygons meet."""
    many_sided = shapely.get_num_coordinates(polygon)
    swap = many_sided[first] < many_sided[second]
    a, b = np.where(swap, second, first), np.where(swap, first, second)
    order = np.argsort(a, kind="stable")
    shapely.prepare(polygon[np.unique(a)])
    result = np.zeros(len(a), dtype=bool)
    meeting = order[shapely.intersects(polygon[a[order]], polygon[b[order]])]
    result[meeting] = ~shapely.touches(polygon[a[meeting]], polygon[b[meeting]])
    return result
