"""
What each visible dash is: profile, edge, foot, or a seam that is not drawn.

An edge with a visible face on either side is an *edge*, or a *seam* where the two are
coplanar or belong to one smooth curve. An edge with a face on one side only is a
*profile* except along the stretches where another face touches it on its other side:
there it is a *foot* where the two form a valley, a *seam* where they are coplanar and
of one group, and an *edge* otherwise. Contacts are found in one dimension, by clipping
the edge against the faces whose planes contain it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..solids.edges import LEVEL
from ..solids.faces import spread
from .dashes import Dashes, PageEdges, inside
from .page import PageFaces
from .pieces import Pieces
from .tolerance import Tolerance

KINDS: Final = ("profile", "edge", "foot", "seam")
PROFILE, EDGE, FOOT, SEAM = range(4)
CHUNK: Final = 1 << 17


@dataclass(frozen=True, kw_only=True)
class Contacts:
    """Stretches of edges where a foreign face touches the open side."""

    edge: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    kind: np.ndarray
    strength: np.ndarray


def kinds_of(
    dashes: Dashes,
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    rank: np.ndarray,
    group: np.ndarray,
    tolerance: Tolerance,
    tree: shapely.STRtree | None = None,
) -> tuple[Dashes, np.ndarray]:
    """
    Tell the kind of each dash, parting dashes where it changes.

    Parameters
    ----------
    dashes : Dashes
        Visible dashes.
    edges, page, pieces
        The drawing on the page.
    rank : ndarray, shape (m,)
        Rank of each page face among coplanar ones.
    group : ndarray of int, shape (m,)
        Coplanar neighbours of one group show no seam.
    tolerance : Tolerance
        For contacts.
    tree : shapely.STRtree, optional
        A tree of the page polygons.

    Returns
    -------
    dashes : Dashes
        The same dashes, some of them in parts.
    kind : ndarray of int, shape (d,)
        Index into KINDS.
    """
    left, right = _beside(edges)
    both = (left >= 0) & (right >= 0)
    folded = np.full(len(edges), PROFILE)
    folded[both] = np.where(edges.smooth[both], SEAM, EDGE)
    single = np.flatnonzero(~both & ((left >= 0) | (right >= 0)))
    single = single[np.isin(single, dashes.edge)]
    search = tree or shapely.STRtree(page.polygon)
    contacts = _contacts(search, single, left, right, edges, page, pieces, rank, group, tolerance)
    return _parted(dashes, folded, contacts, edges.length, tolerance)


def _beside(edges: PageEdges) -> tuple[np.ndarray, np.ndarray]:
    """Front face to the left and to the right of each edge; -1 where there is none."""
    sides = []
    for wanted in (True, False):
        face = np.full(len(edges), -1)
        rows = edges.left == wanted
        face[edges.member_edge[rows]] = edges.member_face[rows]
        sides.append(face)
    return sides[0], sides[1]


def _contacts(
    tree: shapely.STRtree,
    single: np.ndarray,
    left: np.ndarray,
    right: np.ndarray,
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    rank: np.ndarray,
    group: np.ndarray,
    tolerance: Tolerance,
) -> Contacts:
    """Where foreign faces touch the open sides of edges with one front face."""
    found = []
    for cut in range(0, max(len(single), 1), CHUNK):
        some = single[cut : cut + CHUNK]
        row, face = tree.query(shapely.linestrings(edges.xy[some]))
        edge = some[row]
        own = np.maximum(left[edge], right[edge])
        lead = page.depth_at(face, edges.xy[edge]) - edges.depth[edge]
        touching = (np.abs(lead) <= tolerance.depth).all(axis=1) & (face != own)
        edge, face, own = edge[touching], face[touching], own[touching]
        found.append(_touching(edge, face, own, left, edges, page, pieces, rank, group, tolerance))
    return Contacts(**{name: np.concatenate([getattr(f, name) for f in found]) for name in vars(found[0])})


def _touching(
    edge: np.ndarray,
    face: np.ndarray,
    own: np.ndarray,
    left: np.ndarray,
    edges: PageEdges,
    page: PageFaces,
    pieces: Pieces,
    rank: np.ndarray,
    group: np.ndarray,
    tolerance: Tolerance,
) -> Contacts:
    along = edges.xy[edge, 1] - edges.xy[edge, 0]
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    outward = np.where((left[edge] >= 0)[:, None], -normal, normal)  # toward the open side
    slope = page.plane[:, 3:]
    lean = ((slope[face] - slope[own]) * outward).sum(axis=1)
    rises = (slope[face] * outward).sum(axis=1)
    kind = np.where(np.abs(lean) <= LEVEL, np.where(group[face] == group[own], SEAM, EDGE), EDGE)
    kind = np.where(lean > LEVEL, FOOT, kind)
    strength = np.lexsort((face, rank[face], np.round(rises, 6))).argsort()

    count = np.diff(pieces.start)[face]
    piece, row = spread(pieces.start[face], count), np.repeat(np.arange(len(face)), count)
    shifted = edges.xy[edge[row]] + (2 * tolerance.page * outward[row])[:, None, :]
    begin, end = inside(shifted, pieces.side[piece], 0.0)
    real = end > begin
    row = row[real]
    return Contacts(edge=edge[row], begin=begin[real], end=end[real], kind=kind[row], strength=strength[row])


def _parted(
    dashes: Dashes, folded: np.ndarray, contacts: Contacts, length: np.ndarray, tolerance: Tolerance
) -> tuple[Dashes, np.ndarray]:
    """Part dashes at the ends of contacts and give each part its kind."""
    order = np.argsort(contacts.edge, kind="stable")
    start = np.searchsorted(contacts.edge[order], np.arange(len(folded) + 1))
    count = np.diff(start)[dashes.edge]
    dash = np.repeat(np.arange(len(dashes)), count)
    contact = order[spread(start[dashes.edge], count)]
    cut_dash, cut = _cuts(dashes, dash, contacts, contact, length, tolerance)
    edge, begin, end, origin = _slices(dashes, cut_dash, cut)
    kind = folded[edge]

    count = np.diff(start)[edge]
    part = np.repeat(np.arange(len(edge)), count)
    contact = order[spread(start[edge], count)]
    middle = (begin + end)[part] / 2
    over = (contacts.begin[contact] <= middle) & (contacts.end[contact] >= middle)
    part, contact = part[over], contact[over]
    best = np.lexsort((contacts.strength[contact], part))
    kind[part[best]] = contacts.kind[contact[best]]  # the strongest is written last
    return _rejoined(Dashes(edge=edge, begin=begin, end=end), kind, origin)


def _cuts(
    dashes: Dashes,
    dash: np.ndarray,
    contacts: Contacts,
    contact: np.ndarray,
    length: np.ndarray,
    tolerance: Tolerance,
) -> tuple[np.ndarray, np.ndarray]:
    """Parameters at which dashes are parted; never nearer to an end than a shortest dash."""
    both = np.concatenate([dash, dash])
    cut = np.concatenate([contacts.begin[contact], contacts.end[contact]])
    margin = tolerance.dash / np.maximum(length[dashes.edge[both]], tolerance.dash)
    within = (cut > dashes.begin[both] + margin) & (cut < dashes.end[both] - margin)
    both, cut = both[within], cut[within]
    order = np.lexsort((cut, both))
    both, cut = both[order], cut[order]
    close = np.zeros(len(cut), dtype=bool)
    close[1:] = (both[1:] == both[:-1]) & (np.diff(cut) * length[dashes.edge[both[1:]]] < tolerance.dash)
    return both[~close], cut[~close]


def _slices(
    dashes: Dashes, cut_dash: np.ndarray, cut: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Dashes parted at sorted cuts: edge, begin, end, and the dash each part comes from."""
    parts = 1 + np.bincount(cut_dash, minlength=len(dashes))
    origin = np.repeat(np.arange(len(dashes)), parts)
    place = np.arange(len(cut)) + cut_dash  # the part that ends at each cut
    begin, end = dashes.begin[origin].copy(), dashes.end[origin].copy()
    end[place], begin[place + 1] = cut, cut
    return dashes.edge[origin], begin, end, origin


def _rejoined(parts: Dashes, kind: np.ndarray, origin: np.ndarray) -> tuple[Dashes, np.ndarray]:
    """Join neighbouring parts of one dash that turned out to be of one kind."""
    if not len(parts):
        return parts, kind
    new = np.concatenate([[True], (origin[1:] != origin[:-1]) | (kind[1:] != kind[:-1])])
    last = np.concatenate([new[1:], [True]])
    return Dashes(edge=parts.edge[new], begin=parts.begin[new], end=parts.end[last]), kind[new]
