"""
Visible and hidden parts of straight edges, in one dimension and numpy only.

What can hide an edge is what hides one of its own front faces. An edge never hides
behind its own faces: they are excluded by topology, not by a tolerance. For every
convex piece of an occluder the edge's parameter interval is clipped by the piece's
sides and by the linear lead in depth; the intervals are merged and complemented.

End points within the page tolerance of a side count as on it, and a side counts as
covered, so that of two lines at one place the nearer is drawn. Crossings in the middle
of an edge are left where they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ..solids.edges import Edges
from ..solids.faces import spread
from .depth import Hiding
from .page import PageFaces, rounded_page
from .pieces import SIDES, Pieces, near_pieces
from .projection import View
from .tolerance import Tolerance

CHUNK = 1 << 18


@dataclass(frozen=True, kw_only=True)
class PageEdges:
    """
    Edges on the page with their front faces.

    Parameters
    ----------
    xy : ndarray, shape (e, 2, 2)
        End points [m].
    depth : ndarray, shape (e, 2)
        Their depths [m].
    source : ndarray of int, shape (e,)
        Row of the Edges table; -1 for lines where two faces cross.
    solid : ndarray of int, shape (e,)
        The solid.
    smooth : ndarray of bool, shape (e,)
        Whether no line shows where both faces are seen.
    member_edge, member_face : ndarray of int, shape (k,)
        Front faces of the edges: edge row and page-face row, sorted by edge.
    left : ndarray of bool, shape (k,)
        Whether the face lies to the left of the edge on the page.
    """

    xy: np.ndarray
    depth: np.ndarray
    source: np.ndarray
    solid: np.ndarray
    smooth: np.ndarray
    member_edge: np.ndarray
    member_face: np.ndarray
    left: np.ndarray

    def __len__(self) -> int:
        return len(self.source)

    @property
    def length(self) -> np.ndarray:
        """Page lengths, shape (e,) [m]."""
        return np.hypot(*(self.xy[:, 1] - self.xy[:, 0]).T)

    @property
    def seam(self) -> np.ndarray:
        """Smooth edges with their two faces both turned to the viewer or both away, shape (e,)."""
        return self.smooth & (np.bincount(self.member_edge, minlength=len(self)) != 1)

    def owns(self, edge: np.ndarray, face: np.ndarray) -> np.ndarray:
        """Whether each face is a front face of the edge beside it, shape (n,)."""
        start = np.searchsorted(self.member_edge, np.arange(len(self) + 1))
        own = np.zeros(len(edge), dtype=bool)
        last = max(len(self.member_face) - 1, 0)
        for k in range(int(np.diff(start).max(initial=0))):
            at = start[edge] + k
            own |= (at < start[edge + 1]) & (self.member_face[np.minimum(at, last)] == face)
        return own

    def without_members(self) -> PageEdges:
        """The same edges, their faces forgotten."""
        none = np.zeros(0, dtype=np.int64)
        return replace(self, member_edge=none, member_face=none, left=none.astype(bool))

    @classmethod
    def joined(cls, tables: Sequence[PageEdges]) -> PageEdges:
        """Several tables one after another; members are kept only where there is one."""
        if len(tables) == 1:
            return tables[0]
        bare = [table.without_members() for table in tables]
        return cls(**{f.name: np.concatenate([getattr(t, f.name) for t in bare]) for f in fields(cls)})


@dataclass(frozen=True, kw_only=True)
class Dashes:
    """
    Parts of edges.

    Parameters
    ----------
    edge : ndarray of int, shape (d,)
        Row of the page edges, not descending.
    begin, end : ndarray, shape (d,)
        Parameters along the edge, 0 to 1 [-].
    """

    edge: np.ndarray
    begin: np.ndarray
    end: np.ndarray

    def __len__(self) -> int:
        return len(self.edge)

    def xy(self, edges: PageEdges) -> np.ndarray:
        """End points on the page, shape (d, 2, 2) [m]."""
        start, step = edges.xy[self.edge, 0], edges.xy[self.edge, 1] - edges.xy[self.edge, 0]
        ends = [
            np.where(t[:, None] == 1, start + step, start + t[:, None] * step) for t in (self.begin, self.end)
        ]
        return np.stack(ends, axis=1)

    def take(self, rows: np.ndarray) -> Dashes:
        """Some of the dashes."""
        return Dashes(edge=self.edge[rows], begin=self.begin[rows], end=self.end[rows])

    def moved(self, shift: int) -> Dashes:
        """The same dashes of edges that stand *shift* rows later."""
        return replace(self, edge=self.edge + shift)

    @classmethod
    def joined(cls, tables: Sequence[Dashes]) -> Dashes:
        """Several tables one after another."""
        return cls(**{f.name: np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(cls)})


def edges_onto_page(
    edges: Edges, page: PageFaces, hiding: Hiding, view: View, origin: np.ndarray, count: int
) -> PageEdges:
    """
    Bring edges onto the page and add the lines where faces cross.

    Parameters
    ----------
    edges : Edges
        Edges of the solids.
    page : PageFaces
        Faces on the page.
    hiding : Hiding
        For the crossings.
    view, origin
        As for the faces.
    count : int
        Number of faces in the whole Faces table.

    Returns
    -------
    PageEdges
        All edges, crossings last. Edges without front faces have no members.
    """
    row = np.full(count, -1)
    row[page.index] = np.arange(len(page))
    member_face, member_edge = row[edges.face], edges.member_edge
    seen = member_face >= 0
    member_face, member_edge = member_face[seen], member_edge[seen]
    left = edges.forward[seen] ^ page.flipped[member_face]
    ends = np.stack([rounded_page(points, view, origin) for points in (edges.start, edges.end)], axis=1)
    crossing, faces = hiding.crossing, hiding.crossing_faces
    extra = len(edges) + np.arange(len(crossing))
    return PageEdges(
        xy=np.concatenate([ends[:, :, :2], crossing]),
        depth=np.concatenate([ends[:, :, 2], page.depth_at(faces[:, 0], crossing)]),
        source=np.concatenate([np.arange(len(edges)), np.full(len(extra), -1)]),
        solid=np.concatenate([edges.solid, page.faces.solid[faces[:, 0]]]),
        smooth=np.concatenate([edges.smooth, np.zeros(len(extra), dtype=bool)]),
        member_edge=np.concatenate([member_edge, np.repeat(extra, 2)]),
        member_face=np.concatenate([member_face, faces.ravel()]),
        left=np.concatenate([left, np.tile([True, False], len(extra))]),
    )


def split(
    edges: PageEdges, page: PageFaces, pieces: Pieces, hiding: Hiding, tolerance: Tolerance
) -> tuple[Dashes, Dashes]:
    """
    Part every edge into what is seen and what is not.

    Returns
    -------
    visible, hidden : Dashes
        Together they are the whole of every edge.
    """
    covered = _covered(edges, page, pieces, hiding, tolerance)
    behind = np.ones(len(edges), dtype=bool)
    behind[edges.member_edge] = False
    whole = np.flatnonzero(behind)
    ones = Dashes(edge=whole, begin=np.zeros(len(whole)), end=np.ones(len(whole)))
    return complement(Dashes.joined([covered, ones]), edges.length, tolerance.dash)


def complement(covered: Dashes, length: np.ndarray, shortest: float) -> tuple[Dashes, Dashes]:
    """
    Merge covered intervals and part each edge into bare and covered dashes.

    Parameters
    ----------
    covered : Dashes
        Intervals in any order, overlapping or not.
    length : ndarray, shape (e,)
        Length of every edge [m].
    shortest : float
        Bare dashes shorter than this count as covered, unless the edge is bare whole [m].

    Returns
    -------
    bare, covered : Dashes
    """
    count = len(length)
    order = np.lexsort((covered.begin, covered.edge))
    edge, begin, end = covered.edge[order], covered.begin[order], covered.end[order]
    reach = _running_max(edge, end)
    first = np.concatenate([[True], edge[1:] != edge[:-1]])[: len(edge)]
    last = np.concatenate([first[1:], [True]])[: len(edge)]
    untouched = np.ones(count, dtype=bool)
    untouched[edge] = False
    free = np.flatnonzero(untouched)
    gap_edge = np.concatenate([edge, edge[last], free])
    gap_begin = np.concatenate([np.where(first, 0.0, np.roll(reach, 1)), reach[last], np.zeros(len(free))])
    gap_end = np.concatenate([begin, np.ones(int(last.sum())), np.ones(len(free))])
    long = (gap_end - gap_begin) * length[gap_edge] >= shortest
    long[len(gap_edge) - len(free) :] = True
    long &= gap_end > gap_begin
    rows = np.flatnonzero(long)
    rows = rows[np.lexsort((gap_begin[rows], gap_edge[rows]))]
    bare = Dashes(edge=gap_edge[rows], begin=gap_begin[rows], end=gap_end[rows])
    return bare, _gaps_of(bare, count)


def _gaps_of(bare: Dashes, count: int) -> Dashes:
    """What sorted, disjoint dashes leave of every edge."""
    per_edge = np.bincount(bare.edge, minlength=count)
    slot = np.cumsum(per_edge + 1) - (per_edge + 1)  # one more gap than dashes
    place = slot[bare.edge] + np.arange(len(bare)) - np.repeat(np.cumsum(per_edge) - per_edge, per_edge)
    begin, end = np.zeros(len(bare) + count), np.ones(len(bare) + count)
    end[place], begin[place + 1] = bare.begin, bare.end
    real = end > begin
    return Dashes(edge=np.repeat(np.arange(count), per_edge + 1)[real], begin=begin[real], end=end[real])


def _running_max(group: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Greatest value so far within each run of equal *group*, exactly (by ranks)."""
    if not len(value):
        return value
    order = np.argsort(value, kind="stable")
    rank = np.empty(len(value), dtype=np.int64)
    rank[order] = np.arange(len(value))
    best = np.maximum.accumulate(group * len(value) + rank) - group * len(value)
    return value[order[best]]


def _covered(
    edges: PageEdges, page: PageFaces, pieces: Pieces, hiding: Hiding, tolerance: Tolerance
) -> Dashes:
    """Intervals of edges that lie behind an occluder."""
    order = np.argsort(hiding.hidden, kind="stable")
    start = np.searchsorted(hiding.hidden[order], np.arange(len(page) + 1))
    occluders = np.diff(start)[edges.member_face]
    found: list[Dashes] = []
    bounds = np.searchsorted(np.cumsum(occluders), np.arange(0, max(int(occluders.sum()), 1), CHUNK))
    for begin, end in zip(bounds, [*bounds[1:], len(occluders)], strict=True):
        members = np.arange(begin, end)
        pair = order[spread(start[edges.member_face[members]], occluders[members])]
        edge = np.repeat(edges.member_edge[members], occluders[members])
        found.append(_behind(edges, page, pieces, hiding, tolerance, edge, pair))
    return Dashes.joined(found)


def _behind(
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    hiding: Hiding,
    tolerance: Tolerance,
    edge: np.ndarray,
    pair: np.ndarray,
) -> Dashes:
    """Intervals of edges behind the hiders of given pairs."""
    foreign = ~edges.owns(edge, hiding.hider[pair])
    edge, pair = edge[foreign], pair[foreign]
    row, piece = near_pieces(pieces, hiding.hider[pair], edges.xy[edge], tolerance.page)
    edge, pair = edge[row], pair[row]
    begin, end = inside(edges.xy[edge], pieces, piece, tolerance.page)
    there = np.flatnonzero(end > begin)
    edge, pair, begin, end = edge[there], pair[there], begin[there], end[there]
    hider = hiding.hider[pair]
    lead = page.depth_at(hider, edges.xy[edge]) - edges.depth[edge]
    begin, end = _nearer(begin, end, lead, hiding.tie[pair], tolerance.depth)
    there = np.flatnonzero(end > begin)
    return Dashes(edge=edge[there], begin=begin[there], end=end[there])


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
    begin, end = _reach(xy, pieces.corner[piece], margin)
    side = pieces.side[piece]
    for k in range(SIDES):
        distance = (xy * side[:, None, k, :2]).sum(axis=2) + side[:, k, 2, None]
        level = np.where(np.abs(distance) <= margin, 0.0, distance)
        span = distance[:, 0] - distance[:, 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = distance[:, 0] / span
        entering = (level[:, 0] < 0) & (level[:, 1] > 0)
        leaving = (level[:, 0] > 0) & (level[:, 1] < 0)
        outside = (level <= 0).all(axis=1) & (level < 0).any(axis=1)
        begin = np.where(entering, np.maximum(begin, crossing), begin)
        end = np.where(leaving, np.minimum(end, crossing), end)
        end[outside] = -1.0
    return begin, end


def _reach(xy: np.ndarray, corner: np.ndarray, margin: float) -> tuple[np.ndarray, np.ndarray]:
    """How far pieces reach along segments: a sliver within the margin covers no more than itself."""
    along = xy[:, 1] - xy[:, 0]
    square = (along**2).sum(axis=1)
    square = np.where(square > 0, square, 1.0)
    share = ((corner - xy[:, None, 0]) * along[:, None]).sum(axis=2) / square[:, None]
    snap = margin / np.sqrt(square)
    low, high = share.min(axis=1), share.max(axis=1)
    return np.where(low <= snap, 0.0, low), np.where(high >= 1 - snap, 1.0, high)


def _nearer(
    begin: np.ndarray, end: np.ndarray, lead: np.ndarray, tie: np.ndarray, margin: float
) -> tuple[np.ndarray, np.ndarray]:
    """Restrict intervals to where the lead in depth is positive, but for ties."""
    slope = lead[:, 1] - lead[:, 0]
    at_begin, at_end = lead[:, 0] + begin * slope, lead[:, 0] + end * slope
    with np.errstate(divide="ignore", invalid="ignore"):
        zero = -lead[:, 0] / slope
    rising = (at_begin < -margin) & (at_end > margin)
    falling = (at_begin > margin) & (at_end < -margin)
    ahead = tie | (np.maximum(at_begin, at_end) > margin)
    new_begin = np.where(~tie & rising, zero, begin)
    new_end = np.where(~tie & falling, zero, end)
    return new_begin, np.where(ahead, new_end, -1.0)
