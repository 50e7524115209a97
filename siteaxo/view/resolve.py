"""
From faces and a view to a drawing: what is seen of every face and every edge.

A small scene is drawn in one piece; a large one in tiles, each by the same steps, with
the same result. Lines of neighbouring tiles are compared once all are there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..keeping import Store
from ..solids.scene import Scene
from .candidates import box_pairs, overlapping
from .coincident import without_doubles
from .contacts import touching_pairs
from .dashes import Dashes, PageEdges
from .depth import who_hides_whom
from .hidden import VisibleFaces, visible_parts
from .kept import flat, own_numbers, raised, tile_key
from .kinds import FOOT, PROFILE, SEAM, kinds_of
from .page import PageFaces, onto_page
from .pieces import pieces_of
from .projection import View
from .splitting import edges_onto_page, split
from .tiles import SIZE, Index, Piece, cut_out, index_of, plan_tiles
from .tolerance import Tolerance

Progress = Callable[[str, float], None]

KEPT_SHARE: Final = 10
"""Tiles that are kept have this share of the solids of others: fewer are drawn again."""


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
class _Part:
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


def resolve(
    scene: Scene,
    view: View,
    *,
    origin: np.ndarray,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    tile: int | None = SIZE,
    store: Store | None = None,
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
        How many tiles, or overlays of one tile, are worked on at once.
    tile : int or None
        Solids to a tile; scenes of up to twice as many, and all scenes when None, are
        drawn in one piece.
    store : Store, optional
        Where tiles are kept for the next time. Tiles are then smaller, and parted so that
        few of them change when a solid does.
    progress : callable, optional
        Called as ``progress(stage, share)`` from the calling thread; it may raise to
        stop the work.

    Returns
    -------
    Drawing
    """
    limits = tolerance or Tolerance()
    say = progress or (lambda stage, share: None)
    if tile is None or len(scene.rank) <= 2 * tile:
        parts = [_whole(scene, view, origin, limits, threads, say)]
    else:
        parts = _tiled(scene, view, origin, limits, threads, tile, say, store)
    say("lines", 0.0)
    drawing = _finished(scene, parts, limits)
    say("lines", 1.0)
    return drawing


def _whole(
    scene: Scene, view: View, origin: np.ndarray, limits: Tolerance, threads: int, say: Progress
) -> _Part:
    return _drawn(scene, view, origin, limits, threads=threads, say=say)


def _tiled(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    threads: int,
    tile: int,
    say: Progress,
    store: Store | None,
) -> list[_Part]:
    """Draw all tiles, a few at a time, and return their parts in order."""
    say("tiles", 0.0)
    index = index_of(scene)
    size, steady = (tile, False) if store is None else (tile // KEPT_SHARE, True)
    plan = plan_tiles(scene, index, view, origin, limits, size=size, steady=steady)

    def work(core: np.ndarray, halo: np.ndarray) -> _Part:
        return _tile(scene, index, view, origin, limits, core, halo, store)

    if threads <= 1:
        parts = []
        for number, (core, halo) in enumerate(plan):
            parts.append(work(core, halo))
            say("tiles", (number + 1) / len(plan))
        return parts
    return _in_threads(work, plan, threads, say)


def _in_threads(
    work: Callable[[np.ndarray, np.ndarray], _Part],
    plan: Sequence[tuple[np.ndarray, np.ndarray]],
    threads: int,
    say: Progress,
) -> list[_Part]:
    """Run tiles in threads; whatever stops the caller stops the tiles not yet begun."""
    found: dict[int, _Part] = {}
    waiting: Iterator[tuple[int, tuple[np.ndarray, np.ndarray]]] = iter(enumerate(plan))
    running: dict[Future[_Part], int] = {}
    with ThreadPoolExecutor(threads) as pool:
        while len(found) < len(plan):
            while len(running) < 2 * threads and (following := next(waiting, None)) is not None:
                number, (core, halo) = following
                running[pool.submit(work, core, halo)] = number
            done, _ = wait(running, timeout=0.5, return_when=FIRST_COMPLETED)
            for future in done:
                found[running.pop(future)] = future.result()
            try:
                say("tiles", len(found) / len(plan))
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    return [found[number] for number in range(len(plan))]


def _tile(
    scene: Scene,
    index: Index,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    core: np.ndarray,
    halo: np.ndarray,
    store: Store | None,
) -> _Part:
    """Draw one tile, its faces and edges numbered as in the whole scene."""
    piece = cut_out(scene, index, core, halo)
    if store is None:
        part, edge = _drawn(piece.scene, view, origin, limits, threads=1, core=piece.core), piece.edge
    else:
        part, edge = _kept(piece, view, origin, limits, store)
    source = part.edges.source
    numbered = np.where(source >= 0, edge[np.maximum(source, 0)] if len(edge) else source, -1)
    return replace(
        part,
        face=piece.face[part.face],
        edges=replace(part.edges.without_members(), source=numbered),
        page=None,
    )


def _kept(
    piece: Piece, view: View, origin: np.ndarray, limits: Tolerance, store: Store
) -> tuple[_Part, np.ndarray]:
    """Draw one tile, or take it from those that are kept; and its edges as rows of the whole scene."""
    own = own_numbers(piece)
    key = tile_key(own, piece.core, view, origin, limits)
    found = store.get(key)
    if found is not None:
        part = _Part(**raised(found))
    else:
        drawn = _drawn(own.scene, view, origin, limits, threads=1, core=piece.core)
        part = replace(drawn, edges=drawn.edges.without_members(), page=None)
        store.put(key, flat(part))
    solid = own.solids[part.edges.solid] if len(own.solids) else part.edges.solid
    return replace(part, edges=replace(part.edges, solid=solid)), own.edge


def _drawn(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    *,
    threads: int,
    core: np.ndarray | None = None,
    say: Progress = lambda stage, share: None,
) -> _Part:
    """Draw a scene, or the core of a tile."""
    say("project", 0.0)
    page = onto_page(scene.faces, view, origin, limits)
    pieces = pieces_of(page)
    tree = shapely.STRtree(page.polygon)
    rank, group = scene.rank[page.faces.solid], scene.group[page.faces.solid]
    wanted = np.ones(len(page), dtype=bool) if core is None else core[page.index]
    say("pairs", 0.0)
    meeting = box_pairs(page, wanted, tree)
    touching = touching_pairs(page, *meeting, limits)
    first, second = overlapping(page, pieces, *meeting)
    say("depth", 0.0)
    hiding = who_hides_whom(page, first, second, rank, limits).crossings_of(wanted)
    say("faces", 0.0)
    visible = visible_parts(
        page, hiding, core=wanted, threads=threads, tick=lambda share: say("faces", share)
    )
    say("edges", 0.0)
    edges = edges_onto_page(scene.edges, page, hiding, view, origin, len(scene.faces))
    seen, hidden = split(edges, page, pieces, hiding, limits)
    say("kinds", 0.0)
    dashes, kind = kinds_of(seen, edges, page, pieces, rank, group, limits, touching)
    mine = np.flatnonzero(wanted)
    return _Part(
        face=page.index[mine],
        area=page.area[mine],
        visible=visible.take(mine),
        edges=edges,
        dashes=dashes,
        kind=kind,
        hidden=hidden,
        hidden_seam=edges.seam[hidden.edge],
        pairs=len(first),
        warp=float(page.warp[mine].max(initial=0.0)),
        page=page,
    )


def _finished(scene: Scene, parts: list[_Part], limits: Tolerance) -> Drawing:
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
