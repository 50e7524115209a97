"""
Parts of a drawing joined: double lines and seams removed, the balance drawn up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..solids.scene import Scene
from .coincident import without_doubles
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
    """What one tile contributes: dashes with their kinds, doubles not yet removed."""

    face: np.ndarray
    area: np.ndarray
    visible: VisibleFaces
    edges: PageEdges
    dashes: Dashes
    kind: np.ndarray
    hidden: Dashes
    hidden_seam: np.ndarray
    pairs: int
    warp: float
    page: PageFaces | None = None


def finished(scene: Scene, parts: list[Part], limits: Tolerance) -> Drawing:
    """Join parts, which are used up, remove double lines and seams, and draw up the balance."""
    shift = np.cumsum([0] + [len(part.edges) for part in parts])
    dashes = Dashes.joined([p.dashes.moved(by) for p, by in zip(parts, shift, strict=False)])
    hidden = Dashes.joined([p.hidden.moved(by) for p, by in zip(parts, shift, strict=False)])
    kind = np.concatenate([part.kind for part in parts])
    visible = VisibleFaces.joined([part.visible for part in parts])
    face, area = (np.concatenate([getattr(part, name) for part in parts]) for name in ("face", "area"))
    seam = np.concatenate([part.hidden_seam for part in parts])
    tiles, pairs, warp = len(parts), sum(part.pairs for part in parts), max(part.warp for part in parts)
    page, tables = parts[0].page if len(parts) == 1 else None, [part.edges for part in parts]
    parts.clear()
    edges = PageEdges.joined(tables)
    ranks, place = np.unique(scene.rank, return_inverse=True)
    priority = _weight(kind) * len(ranks) + place[edges.solid[dashes.edge]]
    priority = priority * len(dashes) + np.arange(len(dashes))
    single, origin_dash = without_doubles(dashes, edges, priority, limits)
    report = {
        "faces": len(area),
        "tiles": tiles,
        "pairs": pairs,
        "crossings": int((edges.source < 0).sum()),
        **_face_balance(area, visible),
        **_edge_balance(edges, dashes, hidden, single),
        "worst_warp": warp,
    }
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
        report=report,
        page=page,
    )


def _weight(kind: np.ndarray) -> np.ndarray:
    """Order in which kinds give way to one another: seam, edge, foot, profile."""
    weight = np.ones(len(kind), dtype=np.int64)
    weight[kind == SEAM], weight[kind == FOOT], weight[kind == PROFILE] = 0, 2, 3
    return weight


def _face_balance(area: np.ndarray, visible: VisibleFaces) -> dict[str, float]:
    bare = shapely.area(visible.polygon)
    return {
        "overlays_checked": visible.redone.checked,
        "overlays_redone": visible.redone.redone,
        "face_area": float(area.sum()),
        "visible_area": float(bare.sum()),
        "worst_face_balance": float(np.abs(bare + visible.hidden_area - area).max(initial=0.0)),
    }


def _edge_balance(edges: PageEdges, seen: Dashes, hidden: Dashes, single: Dashes) -> dict[str, float]:
    length = edges.length

    def total(dashes: Dashes) -> float:
        return float(((dashes.end - dashes.begin) * length[dashes.edge]).sum())

    parts = Dashes.joined([seen, hidden])
    per_edge = np.bincount(parts.edge, parts.end - parts.begin, minlength=len(length))
    return {
        "edge_length": float(length.sum()),
        "visible_length": total(seen),
        "hidden_length": total(hidden),
        "drawn_length": total(single),
        "worst_edge_balance": float(np.abs(per_edge - 1).max(initial=0.0)),
    }
