"""
Parts of a drawing joined: double lines and seams removed, the balance drawn up.

Each part knows which of its lines are double among themselves, so that only lines near the
borders of tiles are compared here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..solids.scene import Scene
from .balance import Balance, total_length
from .coincident import doubles, less_doubles
from .dashes import Dashes, PageEdges
from .hidden import VisibleFaces
from .kinds import FOOT, PROFILE, SEAM
from .page import PageFaces
from .tolerance import Tolerance


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
    double : Dashes
        Parts of its dashes that lie on nearer ones of its own (see :func:`.coincident.doubles`).
    balance : Balance
        Its sums.
    pairs : int
        How many pairs of its faces overlap.
    warp : float
        How far a corner lies from the plane of its face at most [m].
    """

    face: np.ndarray
    area: np.ndarray
    visible: VisibleFaces
    edges: PageEdges
    dashes: Dashes
    kind: np.ndarray
    hidden: Dashes
    hidden_seam: np.ndarray
    double: Dashes
    balance: Balance
    pairs: int
    warp: float
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


def finished(scene: Scene, parts: list[Part], limits: Tolerance) -> Drawing:
    """Join parts, which are used up, remove double lines and seams, and draw up the balance."""
    dashes, hidden = (
        Dashes.joined(_moved([getattr(p, name) for p in parts], [len(p.edges) for p in parts]))
        for name in ("dashes", "hidden")
    )
    double = _moved([part.double for part in parts], [len(part.dashes) for part in parts])
    near, tile = _near_borders(parts, limits)
    visible = VisibleFaces.joined([part.visible for part in parts])
    face, area, kind, seam = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("face", "area", "kind", "hidden_seam")
    )
    balance = Balance.joined([part.balance for part in parts])
    report = {"tiles": len(parts), "pairs": sum(part.pairs for part in parts)}
    warp, page = max(part.warp for part in parts), parts[0].page if len(parts) == 1 else None
    tables = [part.edges for part in parts]
    parts.clear()
    edges = PageEdges.joined(tables)
    some = dashes.take(near)
    priority = priority_of(kind[near], ranks(scene)[edges.solid[some.edge]])
    across = doubles(some, edges, priority, limits, tile=tile)
    double.append(replace(across, edge=near[across.edge]))
    single, origin_dash = less_doubles(dashes, edges, Dashes.joined(double), limits)
    kind = kind[origin_dash]
    drawn = kind != SEAM
    return Drawing(
        face=face,
        area=area,
        visible=visible,
        edges=edges,
        dashes=single.take(drawn),
        kind=kind[drawn],
        hidden=hidden.take(~seam),
        report={
            "faces": len(area),
            **report,
            "crossings": int((edges.source < 0).sum()),
            "overlays_checked": visible.redone.checked,
            "overlays_redone": visible.redone.redone,
            **vars(balance),
            "drawn_length": total_length(single, edges),
            "worst_warp": warp,
        },
        page=page,
    )


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
    """Ranks of solids, counted from zero without gaps, shape (s,)."""
    return np.asarray(np.unique(scene.rank, return_inverse=True)[1])


def _moved(tables: Sequence[Dashes], count: Sequence[int]) -> list[Dashes]:
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
