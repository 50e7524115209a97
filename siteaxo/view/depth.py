"""
Who is in front, for every pair of faces that overlap on the page.

The difference of two depth planes is linear over the page, so its range over an overlap
is bounded first by the common box, then by the corners of each face, then by what of one
lies within the other if that is convex, and only pairs that are still unclear are
intersected. Where the planes cross inside the overlap, each
face hides the other on its side of the crossing, and the crossing is a line of the
drawing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..ragged import spread
from .convex import SIDES, clipped
from .overlay import checked_intersection
from .page import PageFaces
from .tolerance import Tolerance

MANY_CORNERS = 64  # faces with more are not bounded corner by corner
HAIR = 0.1  # times the depth tolerance: less in front does not part two faces
DUST = 0.01  # times the depth tolerance: less in front is rounding
ALIKE = 0.99  # cosine between faces that may lie in one plane


@dataclass(frozen=True, kw_only=True)
class Hiding:
    """
    Which face hides which, and where.

    Parameters
    ----------
    hider, hidden : ndarray of int, shape (p,)
        Rows of the page faces.
    region : ndarray of Polygon, shape (p,)
        What the hider covers: its own polygon, or the part of it that is in front.
    tie : ndarray of bool, shape (p,)
        Whether the two lie in one plane, so that rank alone decided.
    partial : ndarray of bool, shape (p,)
        Whether only a part of the hider is in front.
    against : ndarray of bool, shape (p,)
        Whether the hider lies behind in part, by less than counts or than rank may decide.
    crossing : ndarray, shape (c, 2, 2)
        Page segments along which two faces cross [m].
    crossing_faces : ndarray of int, shape (c, 2)
        The two.
    """

    hider: np.ndarray
    hidden: np.ndarray
    region: np.ndarray
    tie: np.ndarray
    partial: np.ndarray
    against: np.ndarray
    crossing: np.ndarray
    crossing_faces: np.ndarray

    def hides(self, face: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Whether each face hides the other beside it, all over where they overlap, shape (n,)."""
        asked = np.zeros(1 + max(int(a.max(initial=0)) for a in (other, self.hidden)), dtype=bool)
        asked[other] = True
        known = np.flatnonzero(asked[self.hidden] & ~self.partial)
        many = len(asked)
        keys = np.sort(self.hider[known] * many + self.hidden[known])
        if not len(keys):
            return np.zeros(len(face), dtype=bool)
        wanted = face * many + other
        return keys[np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)] == wanted

    def crossings_of(self, core: np.ndarray) -> Hiding:
        """The same, with only the crossings whose first face is one of the *core*."""
        keep = core[self.crossing_faces[:, 0]]
        return replace(self, crossing=self.crossing[keep], crossing_faces=self.crossing_faces[keep])

    def with_pairs_of(self, other: Hiding) -> Hiding:
        """The same, with the pairs of another, whose crossings are left out."""
        columns = ("hider", "hidden", "region", "tie", "partial", "against")
        return replace(
            self, **{name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in columns}
        )


def who_hides_whom(
    page: PageFaces, first: np.ndarray, second: np.ndarray, rank: np.ndarray, tolerance: Tolerance
) -> Hiding:
    """
    Sort out overlapping pairs by depth.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    first, second : ndarray of int, shape (p,)
        Overlapping pairs.
    rank : ndarray, shape (m,)
        Of two faces in one plane, the one with the higher rank hides the other; equal
        ranks go by row.
    tolerance : Tolerance
        Depths that differ by no more than its depth are equal.

    Returns
    -------
    Hiding
    """
    low, high, unclear, overlap = _ranges(page, first, second, tolerance)
    meeting = low <= high  # of all but overlaps that proved empty
    tie = meeting & _within(low, high, tolerance)
    tie[tie] = _alike(page, first[tie], second[tie])
    split = (low[unclear] < -tolerance.depth) & (high[unclear] > tolerance.depth)
    cut, overlap = unclear[split], overlap[split]
    clear = meeting.copy()
    clear[cut] = False
    later = (rank[second] > rank[first]) | ((rank[second] == rank[first]) & (second > first))
    second_wins = np.where(tie, later, high > -low)
    against = np.where(second_wins, -low, high) > DUST * tolerance.depth
    hider = np.where(second_wins, second, first)[clear]
    hidden = np.where(second_wins, first, second)[clear]
    parts, segments = _cut(page, first[cut], second[cut], overlap)
    return Hiding(
        hider=np.concatenate([hider, second[cut], first[cut]]),
        hidden=np.concatenate([hidden, first[cut], second[cut]]),
        region=np.concatenate([page.polygon[hider], *parts]),
        tie=np.concatenate([tie[clear], np.zeros(2 * len(cut), dtype=bool)]),
        partial=np.arange(len(hider) + 2 * len(cut)) >= len(hider),
        against=np.concatenate([against[clear], np.zeros(2 * len(cut), dtype=bool)]),
        crossing=segments[0],
        crossing_faces=np.column_stack([first[cut], second[cut]])[segments[1]],
    )


def _ranges(
    page: PageFaces, first: np.ndarray, second: np.ndarray, tolerance: Tolerance
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """
    Range of the lead of each pair, as closely as it takes to know who is in front.

    Returns the ranges, (inf, -inf) where an overlap proved empty; the pairs that had to be
    intersected, and their overlaps.
    """

    def still_open(rows: np.ndarray) -> np.ndarray:
        return rows[_open(page, first[rows], second[rows], low[rows], high[rows], tolerance)]

    low, high = _range_over_box(page, first, second)
    unclear = still_open(np.arange(len(first)))
    low[unclear], high[unclear] = _range_at_corners(page, first[unclear], second[unclear])
    unclear = still_open(unclear)
    inner, least, most = _range_within(page, first[unclear], second[unclear])
    low[unclear[inner]], high[unclear[inner]] = least, most
    unclear = still_open(unclear)
    overlap = checked_intersection(page.polygon[first[unclear]], page.polygon[second[unclear]])
    low[unclear], high[unclear] = _range_over(page, first[unclear], second[unclear], overlap)
    return low, high, unclear, overlap


def _alike(page: PageFaces, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Whether faces are turned the same way: only then are those within the tolerance one surface."""
    return (page.normal[first] * page.normal[second]).sum(axis=1) > ALIKE


def _within(low: np.ndarray, high: np.ndarray, tolerance: Tolerance) -> np.ndarray:
    """Whether depths differ by no more than counts."""
    return (low >= -tolerance.depth) & (high <= tolerance.depth)


def _open(
    page: PageFaces,
    first: np.ndarray,
    second: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    tolerance: Tolerance,
) -> np.ndarray:
    """Whether it may be now the one, now the other that is in front, and the two are not one surface."""
    hair = HAIR * tolerance.depth
    both = (low < -hair) & (high > hair)
    near = np.flatnonzero(both & _within(low, high, tolerance))
    both[near] = ~_alike(page, first[near], second[near])
    return both


def _lead(page: PageFaces, first: np.ndarray, second: np.ndarray, xy: np.ndarray) -> np.ndarray:
    """How much nearer *second* is than *first* at page points."""
    return page.depth_at(second, xy) - page.depth_at(first, xy)


def _range_over_box(page: PageFaces, first: np.ndarray, second: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    one, two = page.box.take(first, axis=0), page.box.take(second, axis=0)
    low, high = np.maximum(one[:, :2], two[:, :2]), np.minimum(one[:, 2:], two[:, 2:])
    middle, half = (low + high) / 2, (high - low) / 2
    slope = page.slope.take(second, axis=0) - page.slope.take(first, axis=0)
    centre = _lead(page, first, second, middle)
    reach = np.abs(slope[:, 0]) * half[:, 0] + np.abs(slope[:, 1]) * half[:, 1]
    return centre - reach, centre + reach


def _range_at_corners(
    page: PageFaces, first: np.ndarray, second: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    ranges = [_corner_range(page, first, second, corners_of=whose) for whose in (first, second)]
    return np.maximum(ranges[0][0], ranges[1][0]), np.minimum(ranges[0][1], ranges[1][1])


def _corner_range(
    page: PageFaces, first: np.ndarray, second: np.ndarray, *, corners_of: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    low, high = np.full(len(first), -np.inf), np.full(len(first), np.inf)
    start = page.faces.vertex_start
    count = (start[1:] - start[:-1])[corners_of]
    few = np.flatnonzero(count <= MANY_CORNERS)
    if len(few):
        vertices = spread(start[corners_of[few]], count[few])
        pair = np.repeat(few, count[few])
        lead = _lead(page, first[pair], second[pair], page.xy.take(vertices, axis=0))
        runs = np.concatenate([[0], np.cumsum(count[few])[:-1]])
        low[few], high[few] = np.minimum.reduceat(lead, runs), np.maximum.reduceat(lead, runs)
    return low, high


def _range_within(
    page: PageFaces, first: np.ndarray, second: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pairs of which one is convex and some of the other lies within it, and the range over that."""
    few = (page.shapes.count == 1) & (page.shapes.corners <= SIDES)
    frame = np.where(few[second], second, first)
    rows = np.flatnonzero(few[frame])
    frames = page.shapes.take(frame[rows]).rings
    inner = clipped(page.shapes.take((first + second - frame)[rows]).rings, frames)
    keep = np.flatnonzero(frames.convex[inner.row])
    inner = inner.take(keep)
    if not len(inner):
        return rows[:0], np.zeros(0), np.zeros(0)
    pair = rows[np.repeat(inner.row, inner.count)]
    lead = _lead(page, first[pair], second[pair], inner.xy)
    heads = np.flatnonzero(np.diff(pair, prepend=-1))
    return pair[heads], np.minimum.reduceat(lead, heads), np.maximum.reduceat(lead, heads)


def _range_over(
    page: PageFaces, first: np.ndarray, second: np.ndarray, overlap: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Range of the lead over the corners of overlaps; (inf, -inf) where there is none."""
    low, high = np.full(len(first), np.inf), np.full(len(first), -np.inf)
    xy, pair = shapely.get_coordinates(overlap, return_index=True)
    if len(xy):
        lead = _lead(page, first[pair], second[pair], xy)
        heads = np.flatnonzero(np.concatenate([[True], pair[1:] != pair[:-1]]))
        low[pair[heads]] = np.minimum.reduceat(lead, heads)
        high[pair[heads]] = np.maximum.reduceat(lead, heads)
    return low, high


def _cut(
    page: PageFaces, first: np.ndarray, second: np.ndarray, overlap: np.ndarray
) -> tuple[tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """
    Cut overlaps along the line where the two planes cross.

    Returns the parts where *second* and where *first* is in front, and the segments of
    the crossing line with the pair each belongs to.
    """
    if not len(first):
        none = np.empty(0, dtype=object)
        return (none, none), (np.zeros((0, 2, 2)), np.zeros(0, dtype=np.int64))
    centre = np.column_stack([shapely.get_coordinates(shapely.centroid(overlap))])
    slope = page.plane[second, 3:] - page.plane[first, 3:]
    steep = np.hypot(slope[:, 0], slope[:, 1])[:, None]
    uphill = slope / steep
    box = shapely.bounds(overlap)
    reach = 2 * np.hypot(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1])[:, None] + 1.0
    foot = centre - uphill * (_lead(page, first, second, centre)[:, None] / steep)
    along = np.column_stack([-uphill[:, 1], uphill[:, 0]]) * reach
    line = np.stack([foot - along, foot + along], axis=1)
    ahead = np.stack(
        [foot - along, foot - along + uphill * reach, foot + along + uphill * reach, foot + along], 1
    )
    behind = np.stack(
        [foot - along, foot + along, foot + along - uphill * reach, foot - along - uphill * reach], 1
    )
    parts = tuple(checked_intersection(overlap, shapely.polygons(half)) for half in (ahead, behind))
    pieces, pair = shapely.get_parts(
        shapely.intersection(shapely.linestrings(line), overlap), return_index=True
    )
    straight = (shapely.get_type_id(pieces) == shapely.GeometryType.LINESTRING) & (shapely.length(pieces) > 0)
    ends = np.stack(
        [shapely.get_coordinates(shapely.get_point(pieces[straight], k)) for k in (0, -1)], axis=1
    )
    return (parts[0], parts[1]), (ends, pair[straight])
