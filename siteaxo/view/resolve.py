"""
From faces and a view to a drawing: what is seen of every face and every edge.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from ..solids.scene import Scene
from .candidates import overlapping_pairs
from .coincident import without_doubles
from .dashes import Dashes, PageEdges, edges_onto_page, split
from .depth import who_hides_whom
from .hidden import VisibleFaces, visible_parts
from .kinds import FOOT, PROFILE, SEAM, kinds_of
from .page import PageFaces, onto_page
from .pieces import pieces_of
from .projection import View
from .tolerance import Tolerance

Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """
    A view of a scene with everything hidden removed.

    Parameters
    ----------
    page : PageFaces
        Faces turned toward the viewer.
    visible : VisibleFaces
        What is seen of each.
    edges : PageEdges
        Edges on the page.
    dashes : Dashes
        Visible lines, none twice.
    kind : ndarray of int, shape (d,)
        Kind of each, an index into ``kinds.KINDS``.
    hidden : Dashes
        Hidden lines.
    report : dict
        Counts and balances of the run.
    """

    page: PageFaces
    visible: VisibleFaces
    edges: PageEdges
    dashes: Dashes
    kind: np.ndarray
    hidden: Dashes
    report: dict[str, float]


def resolve(
    scene: Scene,
    view: View,
    *,
    origin: np.ndarray,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    progress: Progress | None = None,
) -> Drawing:
    """
    Draw a scene in a view with exact hidden-line removal.

    Parameters
    ----------
    scene : Scene
        The solids.
    view : View
        The view.
    origin : ndarray, shape (3,)
        Site point that lands at the page's origin [m].
    tolerance : Tolerance, optional
        When two things count as equal.
    threads : int
        How many overlays run at once.
    progress : callable, optional
        Called as ``progress(stage, share)``; it may raise to stop the work.

    Returns
    -------
    Drawing
    """
    limits = tolerance or Tolerance()
    say = progress or (lambda stage, share: None)
    say("project", 0.0)
    page = onto_page(scene.faces, view, origin, limits)
    pieces = pieces_of(page)
    rank, group = scene.rank[page.faces.solid], scene.group[page.faces.solid]
    say("pairs", 0.0)
    first, second = overlapping_pairs(page, pieces)
    say("depth", 0.0)
    hiding = who_hides_whom(page, first, second, rank, limits)
    visible = visible_parts(page, hiding, threads=threads, tick=lambda share: say("faces", share))
    say("edges", 0.0)
    edges = edges_onto_page(scene.edges, page, hiding, view, origin, len(scene.faces))
    seen, hidden = split(edges, page, pieces, hiding, limits)
    say("lines", 0.0)
    dashes, kind = kinds_of(seen, edges, page, pieces, rank, group, limits)
    solid = edges.solid[dashes.edge]
    priority = np.lexsort((np.arange(len(dashes)), scene.rank[solid], _weight(kind))).argsort()
    single, origin_dash = without_doubles(dashes, edges, priority, limits)
    drawn = kind[origin_dash] != SEAM
    say("lines", 1.0)
    return Drawing(
        page=page,
        visible=visible,
        edges=edges,
        dashes=single.take(drawn),
        kind=kind[origin_dash][drawn],
        hidden=hidden,
        report=_report(page, visible, edges, seen, hidden, single, len(first), hiding.crossing),
    )


def _weight(kind: np.ndarray) -> np.ndarray:
    """Order in which kinds give way to one another: seam, edge, foot, profile."""
    weight = np.ones(len(kind), dtype=np.int64)
    weight[kind == SEAM], weight[kind == FOOT], weight[kind == PROFILE] = 0, 2, 3
    return weight


def _report(
    page: PageFaces,
    visible: VisibleFaces,
    edges: PageEdges,
    seen: Dashes,
    hidden: Dashes,
    single: Dashes,
    pairs: int,
    crossing: np.ndarray,
) -> dict[str, float]:
    length = edges.length
    bare = shapely.area(visible.polygon)

    def total(dashes: Dashes) -> float:
        return float(((dashes.end - dashes.begin) * length[dashes.edge]).sum())

    per_edge = np.bincount(seen.edge, (seen.end - seen.begin), len(length))
    per_edge += np.bincount(hidden.edge, (hidden.end - hidden.begin), len(length))
    return {
        "faces": len(page),
        "pairs": pairs,
        "crossings": len(crossing),
        "overlays_checked": visible.redone.checked,
        "overlays_redone": visible.redone.redone,
        "face_area": float(page.area.sum()),
        "visible_area": float(bare.sum()),
        "worst_face_balance": float(np.abs(bare + visible.hidden_area - page.area).max(initial=0.0)),
        "edge_length": float(length.sum()),
        "visible_length": total(seen),
        "hidden_length": total(hidden),
        "drawn_length": total(single),
        "worst_edge_balance": float(np.abs(per_edge - 1).max(initial=0.0)),
        "worst_warp": float(page.warp.max(initial=0.0)),
    }
