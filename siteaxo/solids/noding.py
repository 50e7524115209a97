"""
Segments cut where they cross or touch one another, on a grid, so that they meet at common points only.

Ends and points that lie on a segment but for rounding come to lie on it. Crossings are then found
in pairs and rounded to the grid; a segment that runs through the cell of the grid around a
crossing is bent through it. What is bent may come to lie on a point that was beside it before; it is
cut there too, so that no segment of the result runs through an end of another.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from .exact import GRID, as_complex, on_grid, turn

NEAR: Final = 4 * GRID  # a point so near to a line lies on it [m]
_ROUNDS: Final = 4  # of looking for crossings; one round finds them all, and a second that none is left


def noded(segments: np.ndarray, points: np.ndarray, *, known: int = 0) -> np.ndarray:
    """
    Cut segments where they cross or touch one another, and where points lie on them.

    Parameters
    ----------
    segments : ndarray, shape (s, 2, 2)
        End points on the grid [m].
    points : ndarray, shape (m, 2)
        Points on the grid [m].
    known : int
        So many segments, the first ones, meet at their ends only; they are not led through ends of
        one another, however near these lie.

    Returns
    -------
    ndarray, shape (k, 2, 2)
        Pieces, each once.

    References
    ----------
    Hobby, Computational Geometry 13 (1999), snap rounding (from memory).

    Examples
    --------
    >>> cross = np.array([[[0.0, 0], [2, 2]], [[0, 2], [2, 0]]])
    >>> len(noded(cross, np.zeros((0, 2))))
    4
    """
    if not len(segments):
        return segments
    places = _once(np.concatenate([segments.reshape(-1, 2), points]))
    where, place = _lying_near(segments, places, known)
    pieces, changed = _bent(segments, where, place)
    same = np.delete(np.arange(len(segments)), np.unique(where))
    asked = np.concatenate([np.flatnonzero(same >= known), changed])
    for _ in range(_ROUNDS):
        one, other, at = _crossings(pieces, asked)
        touched, end = _lying_on(pieces, changed, places)
        if not len(one) and not len(touched):
            return _each_once(pieces)
        fresh = _once(at)
        through, place = _through_cells(pieces, fresh)
        where = np.concatenate([one, other, through, touched])
        pieces, changed = _bent(pieces, where, np.concatenate([at, at, place, end]))
        asked, places = changed, np.concatenate([places, fresh])
    return _by_library(pieces)


def _by_library(segments: np.ndarray) -> np.ndarray:
    """The same, one segment after another, where crossings are never done."""
    merged = shapely.union_all(shapely.linestrings(segments), grid_size=GRID)
    xy, part = shapely.get_coordinates(shapely.get_parts(merged), return_index=True)
    follows = np.flatnonzero(part[1:] == part[:-1])
    return np.stack([xy[follows], xy[follows + 1]], axis=1)


def _crossings(segments: np.ndarray, asked: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pairs of segments that cross between their ends, one of each pair among *asked*; and where."""
    lines, among = shapely.linestrings(segments), np.zeros(len(segments), dtype=bool)
    among[asked] = True
    row, other = shapely.STRtree(lines).query(lines[asked])
    one = asked[row]
    new = np.flatnonzero((one < other) | ~among[other])
    end = as_complex(segments)
    apart = (end[one[new], :, None] != end[other[new], None, :]).all(axis=(1, 2))
    one, other = one[new[apart]], other[new[apart]]
    (a, b), (p, q) = (segments[rows].transpose(1, 0, 2) for rows in (one, other))
    begin, end = turn(a, b, p), turn(a, b, q)
    rows = np.flatnonzero(begin * end < 0)
    a, b, p, q = a[rows], b[rows], p[rows], q[rows]
    cross = turn(p, q, a) * turn(p, q, b) < 0
    rows, p, q = rows[cross], p[cross], q[cross]
    share = begin[rows] / (begin[rows] - end[rows])
    return one[rows], other[rows], on_grid(p + (q - p) * share[:, None])


def _through_cells(segments: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Segments that run through the cell of the grid around places, and the place of each."""
    left, bottom, right, top = *(places - GRID / 2).T, *(places + GRID / 2).T
    tree = shapely.STRtree(shapely.linestrings(segments))
    place, segment = tree.query(shapely.box(left, bottom, right, top), predicate="intersects")
    inner = _between(segments[segment], places[place])
    return segment[inner], places[place[inner]]


def _lying_near(segments: np.ndarray, places: np.ndarray, known: int) -> tuple[np.ndarray, np.ndarray]:
    """Segments on which places lie between their ends, and the place of each."""
    new = np.flatnonzero(~np.isin(as_complex(places), as_complex(segments[:known])))
    lines, points = shapely.linestrings(segments), shapely.points(places)
    own, fresh = shapely.STRtree(points[new]).query(lines[:known], predicate="dwithin", distance=NEAR)
    other, any_ = shapely.STRtree(points).query(lines[known:], predicate="dwithin", distance=NEAR)
    segment, place = np.concatenate([own, known + other]), np.concatenate([new[fresh], any_])
    inner = _between(segments[segment], places[place])
    return segment[inner], places[place[inner]]


def _lying_on(segments: np.ndarray, rows: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Segments among *rows*, bent a moment ago, that now run through places, and the place of each."""
    lines = shapely.linestrings(segments[rows])
    one, place = shapely.STRtree(shapely.points(places)).query(lines, predicate="intersects")
    segment = rows[one]
    inner = _between(segments[segment], places[place])
    return segment[inner], places[place[inner]]


def _between(segments: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Whether places are no end of their segments."""
    return np.asarray(~(places[:, None] == segments).all(axis=2).any(axis=1))


def _bent(segments: np.ndarray, where: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Lead segments through places.

    Returns
    -------
    pieces : ndarray, shape (k, 2, 2)
        Segments that stay as they are, in their order, then the pieces of the others.
    rows : ndarray of int
        Which those are.
    """
    changed = np.zeros(len(segments), dtype=bool)
    changed[where] = True
    stays, some, number = segments[~changed], segments[changed], np.cumsum(changed) - 1
    begin = segments[where, 0]
    way = ((place - begin) * (segments[where, 1] - begin)).sum(axis=1)
    owner = np.concatenate([np.repeat(np.arange(len(some)), 2), number[where]])
    xy = np.concatenate([some.reshape(-1, 2), place])
    order = np.lexsort((np.concatenate([np.tile([-np.inf, np.inf], len(some)), way]), owner))
    xy, owner = xy[order], owner[order]
    follows = np.flatnonzero((owner[1:] == owner[:-1]) & (xy[1:] != xy[:-1]).any(axis=1))
    pieces = np.stack([xy[follows], xy[follows + 1]], axis=1)
    return np.concatenate([stays, pieces]), len(stays) + np.arange(len(pieces))


def _each_once(segments: np.ndarray) -> np.ndarray:
    """Segments without doubles, whichever way they run."""
    end = np.sort(as_complex(segments), axis=1)
    order = np.lexsort((end[:, 1], end[:, 0]))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (end[order[1:]] != end[order[:-1]]).any(axis=1)
    kept = end[order[new]]
    return np.stack([kept.real, kept.imag], axis=2)


def _once(points: np.ndarray) -> np.ndarray:
    """Points without doubles."""
    kept = np.unique(as_complex(points))
    return np.column_stack([kept.real, kept.imag])
