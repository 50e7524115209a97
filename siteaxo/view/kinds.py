"""
What each visible dash is: profile, edge, foot, or a seam that is not drawn.

Beside a line, on either side, lies the face that is nearest there: one of the edge's
own, or a foreign one that touches the edge and rises faster toward the viewer, unless
its own hides that. Contacts are found in one dimension, by clipping the edge,
moved a hair aside, against the faces whose planes contain it; a dash is parted where
what lies beside it changes. With a face on one side only a line is a *profile*. Between
two faces of its own solid it is an *edge*, or a *seam* where the solid is smooth; between
its own and a foreign face a *foot* where the two form a valley, a *seam* where they are
coplanar and of one group, an *edge* otherwise. Where both sides belong to others, those
draw what is to be drawn. Lines along which faces cross are edges, too, but for faces of
one group that cross at a grazing angle, as two surveys of one wall do.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import shapely

from ..angles import cos_deg
from ..ragged import spread
from ..solids.edges import LEVEL
from .contacts import Touching, many_cornered
from .dashes import Dashes, PageEdges
from .depth import Hiding
from .order import in_order, starts
from .page import PageFaces
from .pieces import Pieces, inside, near_pieces
from .tolerance import Tolerance

KINDS: Final = ("profile", "edge", "foot", "seam")
PROFILE, EDGE, FOOT, SEAM = range(4)
GRAZING: Final = 1.0  # faces of one group that cross at less are surveys of one surface [degrees]


@dataclass(frozen=True, kw_only=True)
class Beside:
    """
    Faces that lie beside edges, one row for each stretch.

    Parameters
    ----------
    edge, face : ndarray of int, shape (n,)
        The edge, and the face beside it.
    left, own : ndarray of bool, shape (n,)
        On which side, and whether the face is one of the edge's own.
    begin, end : ndarray, shape (n,)
        The stretch, 0 to 1 along the edge.
    rise : ndarray, shape (n,)
        How fast the face comes nearer away from the edge [m per m].
    """

    edge: np.ndarray
    face: np.ndarray
    left: np.ndarray
    own: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    rise: np.ndarray

    @classmethod
    def joined(cls, tables: list[Beside]) -> Beside:
        """Several tables one after another, sorted by edge."""
        columns = {f.name: np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(cls)}
        order = np.argsort(columns["edge"], kind="stable")
        return cls(**{name: column[order] for name, column in columns.items()})


def kinds_of(
    dashes: Dashes,
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    rank: np.ndarray,
    group: np.ndarray,
    tolerance: Tolerance,
    touching: Touching,
    hiding: Hiding,
) -> tuple[Dashes, np.ndarray]:
    """
    Tell the kind of each dash, parting dashes where it changes.

    Parameters
    ----------
    dashes : Dashes
        Visible dashes.
    edges, page, pieces
        The drawing on the page.
    rank, group : ndarray, shape (m,)
        Rank of each page face among coplanar ones; of one group they show no seam.
    tolerance : Tolerance
        For contacts.
    touching : Touching
        Faces with corners in the planes of others.
    hiding : Hiding
        Which face hides which.

    Returns
    -------
    dashes : Dashes
        The same dashes, some of them in parts.
    kind : ndarray of int, shape (d,)
        Index into KINDS.
    """
    drawn = np.zeros(len(edges), dtype=bool)
    drawn[dashes.edge] = True
    edge, face = _contacts(drawn, edges, page, tolerance, touching)
    foreign = [_touching(edge, face, left, edges, page, pieces, tolerance) for left in (True, False)]
    beside = Beside.joined([_own(drawn, edges, page), *foreign])
    start = starts(beside.edge, len(edges))
    parts, origin = _parted(dashes, beside, start, edges.length, tolerance)
    left, right = _nearest(parts, beside, start, rank, hiding)
    kind = _classified(parts.edge, left, right, beside, edges, page, group)
    return _rejoined(parts, kind, origin)


def _own(drawn: np.ndarray, edges: PageEdges, page: PageFaces) -> Beside:
    """Each edge's own front faces."""
    rows = np.flatnonzero(drawn[edges.member_edge])
    edge, face, left = edges.member_edge[rows], edges.member_face[rows], edges.left[rows]
    return Beside(
        edge=edge,
        face=face,
        left=left,
        own=np.ones(len(rows), dtype=bool),
        begin=np.zeros(len(rows)),
        end=np.ones(len(rows)),
        rise=_along(page.slope.take(face, axis=0), _aside(edges, edge, left)),
    )


def _aside(edges: PageEdges, edge: np.ndarray, left: np.ndarray) -> np.ndarray:
    """Unit directions away from edges, to the left or to the right, shape (n, 2)."""
    ends = edges.xy.take(edge, axis=0)
    right, up = ends[:, 1, 0] - ends[:, 0, 0], ends[:, 1, 1] - ends[:, 0, 1]
    length = edges.length[edge]
    way = np.where(left, 1.0, -1.0) / np.where(length > 0, length, 1.0)
    return np.column_stack([-up * way, right * way])


def _along(slope: np.ndarray, aside: np.ndarray) -> np.ndarray:
    """Slopes along directions, shape (n,) [m per m]."""
    return slope[:, 0] * aside[:, 0] + slope[:, 1] * aside[:, 1]


def _contacts(
    drawn: np.ndarray, edges: PageEdges, page: PageFaces, tolerance: Tolerance, touching: Touching
) -> tuple[np.ndarray, np.ndarray]:
    """Drawn edges and faces not their own in whose planes they lie."""
    more = np.flatnonzero(
        (touching.corners > 2) | ~_adjacent(edges, touching.face, touching.plane, len(page))
    )
    start = starts(touching.face[more], len(page))
    member = np.flatnonzero(drawn[edges.member_edge])
    count = (start[1:] - start[:-1])[edges.member_face[member]]
    edge = np.repeat(edges.member_edge[member], count)
    face = touching.plane[more][spread(start[edges.member_face[member]], count)]
    loose = edges.source < 0  # where faces cross, ends of edges are no corners of faces
    loose[edges.member_edge[many_cornered(page)[edges.member_face]]] = True
    apart = np.flatnonzero(loose & drawn)
    if len(apart):
        row, found = shapely.STRtree(page.polygon).query(shapely.linestrings(edges.xy[apart]))
        edge, face = np.concatenate([edge, apart[row]]), np.concatenate([face, found])
    ends, box = edges.xy.take(edge, axis=0), page.box.take(face, axis=0)
    lead = np.abs(page.depth_at(face, ends) - edges.depth.take(edge, axis=0))
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    beside = (lead[:, 0] <= tolerance.depth) & (lead[:, 1] <= tolerance.depth)
    for k in (0, 1):
        beside &= (low[:, k] <= box[:, 2 + k]) & (high[:, k] >= box[:, k])
    near = np.flatnonzero(beside)
    edge, face = edge[near], face[near]
    strange = ~edges.owns(edge, face)
    return edge[strange], face[strange]


def _adjacent(edges: PageEdges, face: np.ndarray, other: np.ndarray, count: int) -> np.ndarray:
    """Whether pairs of faces are the two members of one edge."""
    members = np.bincount(edges.member_edge, minlength=len(edges))
    first = (np.cumsum(members) - members)[members == 2]
    one, two = edges.member_face[first], edges.member_face[first + 1]
    known = np.sort(np.concatenate([one * count + two, two * count + one]))
    asked = face * count + other
    if not len(known):
        return np.zeros(len(asked), dtype=bool)
    return known[np.minimum(np.searchsorted(known, asked), len(known) - 1)] == asked


def _touching(
    edge: np.ndarray,
    face: np.ndarray,
    left: bool,
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    tolerance: Tolerance,
) -> Beside:
    aside = _aside(edges, edge, np.full(len(edge), left))
    moved = edges.xy.take(edge, axis=0) + (2 * tolerance.page * aside)[:, None, :]
    row, piece = near_pieces(pieces, face, moved, 0.0)
    begin, end = inside(moved.take(row, axis=0), pieces, piece, 0.0)
    real = end > begin
    row = row[real]
    return Beside(
        edge=edge[row],
        face=face[row],
        left=np.full(len(row), left),
        own=np.zeros(len(row), dtype=bool),
        begin=begin[real],
        end=end[real],
        rise=_along(page.slope.take(face[row], axis=0), aside.take(row, axis=0)),
    )


def _parted(
    dashes: Dashes, beside: Beside, start: np.ndarray, length: np.ndarray, tolerance: Tolerance
) -> tuple[Dashes, np.ndarray]:
    """Part dashes where contacts begin or end; the dash each part comes from."""
    count = np.diff(start)[dashes.edge]
    dash, stretch = np.repeat(np.arange(len(dashes)), count), spread(start[dashes.edge], count)
    both = np.concatenate([dash, dash])
    cut = np.concatenate([beside.begin[stretch], beside.end[stretch]])
    margin = tolerance.dash / np.maximum(length[dashes.edge[both]], tolerance.dash)
    within = (cut > dashes.begin[both] + margin) & (cut < dashes.end[both] - margin)
    both, cut = both[within], cut[within]
    order = np.lexsort((cut, both))
    both, cut = both[order], cut[order]
    close = np.zeros(len(cut), dtype=bool)
    close[1:] = (both[1:] == both[:-1]) & (np.diff(cut) * length[dashes.edge[both[1:]]] < tolerance.dash)
    both, cut = both[~close], cut[~close]

    origin = np.repeat(np.arange(len(dashes)), 1 + np.bincount(both, minlength=len(dashes)))
    place = np.arange(len(cut)) + both  # the part that ends at each cut
    begin, end = dashes.begin[origin].copy(), dashes.end[origin].copy()
    end[place], begin[place + 1] = cut, cut
    return Dashes(edge=dashes.edge[origin], begin=begin, end=end), origin


def _nearest(
    parts: Dashes, beside: Beside, start: np.ndarray, rank: np.ndarray, hiding: Hiding
) -> tuple[np.ndarray, np.ndarray]:
    """Row of *beside* that is seen to the left and to the right of each part; -1 for none."""
    count = np.diff(start)[parts.edge]
    part, row = np.repeat(np.arange(len(parts)), count), spread(start[parts.edge], count)
    middle = (parts.begin + parts.end)[part] / 2
    over = (beside.begin[row] <= middle) & (beside.end[row] >= middle)
    part, row = part[over], row[over]
    side = 2 * part + beside.left[row]
    place = np.empty(len(rank), dtype=np.int64)
    place[np.argsort(rank, kind="stable")] = np.arange(len(rank))
    order = in_order(place[beside.face[row]])
    side, row = side[order], row[order]  # the highest comes last
    top = np.full(2 * len(parts), -np.inf)
    np.maximum.at(top, side, beside.rise[row])
    level = beside.rise[row] >= top[side] - LEVEL * (1 + np.abs(top[side]))
    best = np.full(2 * len(parts), -1)
    best[side[level]] = row[level]  # of faces in one plane, the rank decides
    own = np.flatnonzero(beside.own[row])
    over = own[hiding.hides(beside.face[row[own]], beside.face[best[side[own]]])]
    best[side[over]] = row[over]
    return best[1::2], best[::2]


def _classified(
    edge: np.ndarray,
    left: np.ndarray,
    right: np.ndarray,
    beside: Beside,
    edges: PageEdges,
    page: PageFaces,
    group: np.ndarray,
) -> np.ndarray:
    kind = np.full(len(edge), PROFILE)
    two = np.flatnonzero((left >= 0) & (right >= 0))
    edge, left, right = edge[two], left[two], right[two]
    one, other = beside.face[left], beside.face[right]
    own = beside.own[left].astype(int) + beside.own[right]
    aside = _aside(edges, edge, np.zeros(len(edge), dtype=bool))
    valley = _along(page.slope.take(other, axis=0) - page.slope.take(one, axis=0), aside) > LEVEL
    crossing = edges.source[edge] < 0
    cosine = (page.normal.take(one, axis=0) * page.normal.take(other, axis=0)).sum(axis=1)
    level = cosine > np.where(crossing, cos_deg(GRAZING), 1 - LEVEL**2 / 2)
    seam = level & (group[one] == group[other])
    found = np.where(valley & ~level, FOOT, np.where(seam, SEAM, EDGE))
    found = np.where(own == 2, np.where(edges.smooth[edge] | (crossing & seam), SEAM, EDGE), found)
    kind[two] = np.where((own == 0) | (one == other), SEAM, found)
    return kind


def _rejoined(parts: Dashes, kind: np.ndarray, origin: np.ndarray) -> tuple[Dashes, np.ndarray]:
    """Join neighbouring parts of one dash that turned out to be of one kind."""
    if not len(parts):
        return parts, kind
    new = np.concatenate([[True], (origin[1:] != origin[:-1]) | (kind[1:] != kind[:-1])])
    last = np.concatenate([new[1:], [True]])
    return Dashes(edge=parts.edge[new], begin=parts.begin[new], end=parts.end[last]), kind[new]
