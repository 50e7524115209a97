"""
Visible and hidden parts of straight edges, in one dimension and numpy only.

What can hide an edge is what hides one of its own front faces. An edge never hides
behind its own faces: they are excluded by topology, not by a tolerance. Nor does it
behind a face that lies in the plane of the one of them and behind the other. For every
convex piece of an occluder the edge's parameter interval is clipped by the piece's
sides and by the linear lead in depth; the intervals are merged and complemented.

End points within the page tolerance of a side count as on it, and a side counts as
covered, so that of two lines at one place the nearer is drawn. Crossings in the middle
of an edge are left where they are.
"""

from __future__ import annotations

import numpy as np

from ..ragged import spread
from ..solids.edges import Edges
from .dashes import Dashes, PageEdges, complement
from .depth import Hiding
from .order import in_order, starts
from .page import PageFaces, rounded_columns
from .pieces import Pieces, inside, near_pieces
from .projection import View
from .tolerance import Tolerance

CHUNK = 1 << 16


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
    ends = np.stack([rounded_columns(points, view, origin) for points in (edges.start, edges.end)])
    order = np.lexsort(hiding.crossing_faces.T[::-1])
    crossing, faces = hiding.crossing[order], hiding.crossing_faces[order]
    extra = len(edges) + np.arange(len(crossing))
    return PageEdges(
        xy=np.concatenate([ends[:, :2].transpose(2, 0, 1), crossing]),
        depth=np.concatenate([ends[:, 2].T, page.depth_at(faces[:, 0], crossing)]),
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
        Together they are the whole of every edge. Edges that are a point on the page, such as those
        shorter than its grid, are not seen.
    """
    covered = _covered(edges, page, pieces, hiding, tolerance)
    behind = np.ones(len(edges), dtype=bool)
    behind[edges.member_edge] = False
    whole = np.flatnonzero(behind | (edges.length == 0))
    ones = Dashes(edge=whole, begin=np.zeros(len(whole)), end=np.ones(len(whole)))
    return complement(Dashes.joined([covered, ones]), edges.length, tolerance.dash)


def _covered(
    edges: PageEdges, page: PageFaces, pieces: Pieces, hiding: Hiding, tolerance: Tolerance
) -> Dashes:
    """Intervals of edges that lie behind an occluder."""
    order = in_order(hiding.hidden)
    start = starts(hiding.hidden, len(page))
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
    row, piece = near_pieces(pieces, hiding.hider[pair], edges.xy, tolerance.page, of=edge)
    edge, pair = edge[row], pair[row]
    foreign = np.flatnonzero(~edges.owns(edge, hiding.hider[pair]) & ~_backed(edges, hiding, edge, pair))
    edge, pair, piece = edge[foreign], pair[foreign], piece[foreign]
    begin, end = inside(edges.xy.take(edge, axis=0), pieces, piece, tolerance.page)
    there = np.flatnonzero(end > begin)
    edge, pair, begin, end = edge[there], pair[there], begin[there], end[there]
    lead = page.depth_at(hiding.hider[pair], edges.xy.take(edge, axis=0)) - edges.depth.take(edge, axis=0)
    begin, end = _nearer(begin, end, lead, hiding.tie[pair], tolerance.depth)
    there = np.flatnonzero(end > begin)
    return Dashes(edge=edge[there], begin=begin[there], end=end[there])


def _backed(edges: PageEdges, hiding: Hiding, edge: np.ndarray, pair: np.ndarray) -> np.ndarray:
    """Whether the hider of each pair hides by its rank alone and is itself hidden by a face of the edge."""
    backed = np.zeros(len(edge), dtype=bool)
    tied = np.flatnonzero(hiding.tie[pair])
    if not len(tied):
        return backed
    hider = hiding.hider[pair[tied]]
    start, end = edges.member_start[edge[tied]], edges.member_start[edge[tied] + 1]
    for k in range(int((end - start).max())):
        rows = np.flatnonzero(start + k < end)
        backed[tied[rows]] |= hiding.hides(edges.member_face[start[rows] + k], hider[rows])
    return backed


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
