"""
Parts of a drawing joined: double lines and seams removed, the balance drawn up.

Each part knows which of its lines are double among themselves, so that only lines near the
borders of tiles are compared here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ..solids.scene import Scene
from .balance import Balance, total_length
from .coincident import doubles, less_doubles
from .dashes import Dashes, Doubles, PageEdges
from .hidden import VisibleFaces
from .kinds import FOOT, PROFILE, SEAM
from .order import in_order
from .page import PageFaces
from .tolerance import Tolerance

D = TypeVar("D", bound=Dashes)


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """
    A view of a scene with everything hidden removed.

    Parameters
    ----------
    face : ndarray of int, shape (m,)
        Faces turned toward the viewer, as rows of the scene's Faces.
    area : ndarray, shape (m,)
        Their whole areas on the page [m²].
    visible : VisibleFaces
        What is seen of each.
    edges : PageEdges
        Edges on the page.
    dashes : Dashes
        Visible lines, none twice.
    kind : ndarray of int, shape (d,)
        Kind of each, an index into ``kinds.KINDS``.
    hidden : Dashes
        Hidden lines, seams left out.
    report : dict
        Counts and balances of the run.
    page : PageFaces or None
        The faces on the page; None where the scene was drawn in tiles.
    """

    face: np.ndarray
    area: np.ndarray
    visible: VisibleFaces
    edges: PageEdges
    dashes: Dashes
    kind: np.ndarray
    hidden: Dashes
    report: dict[str, float]
    page: PageFaces | None = None


@dataclass(frozen=True, kw_only=True)
class Part:
    """
    What one tile contributes: dashes with their kinds, and which of them are double.

    Parameters
    ----------
    face, area, visible, edges, dashes, kind, hidden, page
        As for a drawing; ``dashes`` with doubles, ``hidden`` with seams.
    hidden_seam : ndarray of bool
        Which of the hidden lines are seams.
    double : Doubles
        Parts of its dashes that lie on nearer ones of its own.
    balance : Balance
        Its sums.
    pairs : int
        How many pairs of its faces overlap; none of those that were drawn before.
    warp : ndarray, shape (m,)
        How far a corner of each face lies from its plane at most [m].
    tiles : int
        In how many pieces it was drawn.
    """

    face: np.ndarray
    area: np.ndarray
    visible: VisibleFaces
    edges: PageEdges
    dashes: Dashes
    kind: np.ndarray
    hidden: Dashes
    hidden_seam: np.ndarray
    double: Doubles
    balance: Balance
    pairs: int
    warp: np.ndarray
    tiles: int = 1
    page: PageFaces | None = None

    def of_tile(self) -> Part:
        """The same without what only a drawing in one piece keeps."""
        return replace(self, edges=self.edges.without_members(), page=None)

    def numbered(self, solid: np.ndarray, face: np.ndarray, edge: np.ndarray) -> Part:
        """The same with solids, faces and edges numbered as they stand in the whole scene."""
        source = self.edges.source
        source = np.where(source >= 0, edge[np.maximum(source, 0)] if len(edge) else source, -1)
        edges = replace(self.edges, source=source, solid=solid[self.edges.solid])
        return replace(self, face=face[self.face], edges=edges)


def joined(scene: Scene, parts: list[Part], limits: Tolerance) -> Part:
    """Make one of several parts, which are used up: in the order of the scene, their lines compared."""
    dashes, hidden = (
        Dashes.joined(_moved([getattr(p, name) for p in parts], [len(p.edges) for p in parts]))
        for name in ("dashes", "hidden")
    )
    double = [*_moved([part.double for part in parts], [len(part.dashes) for part in parts])]
    near, tile = _near_borders(parts, limits)
    visible = VisibleFaces.joined([part.visible for part in parts])
    face, area, warp, kind, seam = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("face", "area", "warp", "kind", "hidden_seam")
    )
    balance = Balance.joined([part.balance for part in parts])
    pairs, tiles = (sum(getattr(part, name) for part in parts) for name in ("pairs", "tiles"))
    page, tables = parts[0].page if len(parts) == 1 else None, [part.edges for part in parts]
    parts.clear()
    order = _in_scene(tables)
    edges, place = PageEdges.joined(tables, order), _inverse(order)
    dashes, row = _placed(dashes, place)
    hidden, hidden_row = _placed(hidden, place)
    stands, kind, first = _inverse(row), kind[row], in_order(face)
    near, tile = (column[np.argsort(stands[near])] for column in (stands[near], tile))
    some = dashes.take(near)
    priority = priority_of(kind[near], ranks(scene)[edges.solid[some.edge]])
    across = doubles(some, edges, priority, limits, tile=tile)
    return Part(
        face=face[first],
        area=area[first],
        warp=warp[first],
        visible=visible.take(first),
        edges=edges,
        dashes=dashes,
        kind=kind,
        hidden=hidden,
        hidden_seam=seam[hidden_row],
        double=Doubles.joined([*(one.numbered(stands) for one in double), across.numbered(near)]),
        balance=balance,
        pairs=pairs,
        tiles=tiles,
        page=page,
    )


def finished(part: Part, limits: Tolerance) -> Drawing:
    """Remove double lines and seams, and draw up the balance."""
    single, origin_dash = less_doubles(part.dashes, part.edges, part.double, limits)
    kind = part.kind[origin_dash]
    drawn, redone = kind != SEAM, part.visible.redone
    return Drawing(
        face=part.face,
        area=part.area,
        visible=part.visible,
        edges=part.edges,
        dashes=single.take(drawn),
        kind=kind[drawn],
        hidden=part.hidden.take(~part.hidden_seam),
        report={
            "faces": len(part.area),
            "tiles": part.tiles,
            "pairs": part.pairs,
            "crossings": int((part.edges.source < 0).sum()),
            "overlays_checked": redone.checked,
            "overlays_redone": redone.redone,
            **vars(part.balance),
            "drawn_length": total_length(single, part.edges),
            "worst_warp": float(part.warp.max(initial=0.0)),
        },
        page=part.page,
    )


def _in_scene(tables: list[PageEdges]) -> np.ndarray:
    """Order of page edges: as they stand in the scene, then where faces cross, by solid and place."""
    source, solid = (
        np.concatenate([getattr(table, name) for table in tables]) for name in ("source", "solid")
    )
    crossing = np.flatnonzero(source < 0)
    if len(crossing):
        xy = np.concatenate([table.xy[table.source < 0] for table in tables]).reshape(-1, 4)
        crossing = crossing[np.lexsort((*xy.T, solid[crossing]))]
    rows = np.flatnonzero(source >= 0)
    return np.concatenate([rows[in_order(source[rows])], crossing])


def _placed(dashes: Dashes, place: np.ndarray) -> tuple[Dashes, np.ndarray]:
    """Dashes of edges that stand elsewhere now, in the order of these; and which row each was."""
    edge = place[dashes.edge]
    row = in_order(edge)
    return Dashes(edge=edge[row], begin=dashes.begin[row], end=dashes.end[row]), row


def _inverse(order: np.ndarray) -> np.ndarray:
    """Where each row stands in an order."""
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    return place


def priority_of(kind: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """
    Which of two lines at one place is kept: by kind, then by rank, then the later.

    Parameters
    ----------
    kind : ndarray of int, shape (d,)
        Kind of each dash. Kinds give way to one another in this order: seam, edge, foot, profile.
    rank : ndarray of int, shape (d,)
        Rank of the solid of each, not below zero.

    Returns
    -------
    ndarray of int, shape (d,)

    Examples
    --------
    >>> priority_of(np.array([PROFILE, SEAM, FOOT, FOOT]), np.array([5, 5, 7, 5])).argsort().tolist()
    [1, 3, 2, 0]
    """
    weight = np.ones(len(kind), dtype=np.int64)
    weight[kind == SEAM], weight[kind == FOOT], weight[kind == PROFILE] = 0, 2, 3
    many = int(rank.max(initial=0)) + 1
    return (weight * many + rank) * len(kind) + np.arange(len(kind))


def ranks(scene: Scene) -> np.ndarray:
    """Ranks of solids, counted from zero, of those of one rank the later the higher; shape (s,)."""
    return _inverse(np.argsort(scene.rank, kind="stable"))


def _moved(tables: Sequence[D], count: Sequence[int]) -> list[D]:
    """Dashes of several tables, whose edges stand one after another."""
    shift = np.cumsum([0, *count[:-1]])
    return [table.moved(by) for table, by in zip(tables, shift, strict=True)]


def _near_borders(parts: Sequence[Part], limits: Tolerance) -> tuple[np.ndarray, np.ndarray]:
    """Dashes where another part has some too, as rows of those of all parts, and the part of each."""
    margin = 10 * limits.page
    boxes = [_boxes(part) for part in parts] if len(parts) > 1 else []
    bounds = [_bounds(box) for box in boxes]
    shift = np.cumsum([0, *(len(part.dashes) for part in parts)])
    found = [np.zeros((2, 0), dtype=np.int64)]
    for number, box in enumerate(boxes):
        others = [one for k, one in enumerate(bounds) if k != number and _meet(bounds[number], one, margin)]
        near = np.zeros(box.shape[1], dtype=bool)
        for one in others:
            near |= _meet(box, one, margin)
        rows = np.flatnonzero(near[parts[number].dashes.edge])
        found.append(np.stack([rows + shift[number], np.full(len(rows), number)]))
    rows, tile = np.concatenate(found, axis=1)
    return rows, tile


def _boxes(part: Part) -> np.ndarray:
    """Left, bottom, right and top of the edges of a part, shape (4, e) [m]."""
    x0, y0, x1, y1 = np.ascontiguousarray(part.edges.xy.reshape(-1, 4).T)
    return np.stack([np.minimum(x0, x1), np.minimum(y0, y1), np.maximum(x0, x1), np.maximum(y0, y1)])


def _bounds(box: np.ndarray) -> np.ndarray:
    """The box of boxes, inside out where there are none, shape (4,) [m]."""
    return np.concatenate([box[:2].min(axis=1, initial=np.inf), box[2:].max(axis=1, initial=-np.inf)])


def _meet(box: np.ndarray, other: np.ndarray, margin: float) -> np.ndarray:
    """Whether boxes meet another, or all but meet it."""
    return np.asarray(
        (box[0] <= other[2] + margin)
        & (box[2] >= other[0] - margin)
        & (box[1] <= other[3] + margin)
        & (box[3] >= other[1] - margin)
    )
