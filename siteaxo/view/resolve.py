"""
From faces and a view to a drawing: what is seen of every face and every edge.

A small scene is drawn in one piece; a large one in tiles, each by the same steps, with
the same result. Lines of neighbouring tiles are compared once all are there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import replace
from threading import Event
from typing import Final

import numpy as np
import shapely

from ..errors import CancelledError
from ..keeping import Store, kept
from ..solids.scene import Scene
from .candidates import box_pairs, overlapping
from .contacts import touching_pairs
from .crowded import TooManyPairsError, smaller
from .depth import who_hides_whom
from .finishing import Drawing, Part, finished
from .hidden import visible_parts
from .kept import Named, flat, in_whole, named, own_numbers, raised, tile_key
from .kinds import kinds_of
from .page import onto_page
from .pieces import pieces_of
from .projection import View
from .splitting import edges_onto_page, split
from .tiles import SIZE, Index, cut_out, index_of, plan_tiles, tile_of
from .tolerance import Tolerance

__all__ = ["Drawing", "Progress", "resolve"]

Progress = Callable[[str, float], None]

KEPT_SHARE: Final = 3
"""Tiles that are kept have this share of the solids of others: fewer are drawn again, not many more drawn."""


def resolve(
    scene: Scene,
    view: View,
    *,
    origin: np.ndarray,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    tile: int | None = SIZE,
    only: np.ndarray | None = None,
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
        drawn in one piece. Where too many faces meet in a tile, smaller ones are taken,
        but none when None.
    only : ndarray of bool, shape (s,), optional
        Solids that are drawn, in one piece; the others only hide them.
    store : Store, optional
        Where tiles are kept for the next time. Tiles are then smaller, and parted so that
        few of them change when a solid does.
    progress : callable, optional
        Called as ``progress(stage, share)`` from the calling thread; it may raise to
        stop the work.

    Returns
    -------
    Drawing

    Raises
    ------
    TooManyPairsError
        If more faces overlap than can be compared, even in small tiles.
    """
    limits = tolerance or Tolerance()
    say = progress or (lambda stage, share: None)
    size = tile if tile is None or store is None else max(tile // KEPT_SHARE, 1)
    parts = None
    while parts is None:
        try:
            if only is not None:
                parts = [_some(scene, view, origin, limits, only, say)]
            elif size is None or len(scene.rank) <= 2 * size:
                parts = [_whole(scene, view, origin, limits, threads, say)]
            else:
                parts = _tiled(scene, view, origin, limits, threads, size, say, store)
        except TooManyPairsError:
            size = smaller(size, len(scene.rank))
            if size is None or only is not None:
                raise
    say("lines", 0.0)
    drawing = finished(scene, parts, limits)
    say("lines", 1.0)
    return drawing


def _whole(
    scene: Scene, view: View, origin: np.ndarray, limits: Tolerance, threads: int, say: Progress
) -> Part:
    return _drawn(scene, view, origin, limits, threads=threads, say=say)


def _some(
    scene: Scene, view: View, origin: np.ndarray, limits: Tolerance, only: np.ndarray, say: Progress
) -> Part:
    """Draw some solids as the core of a tile of their own."""
    index = index_of(scene)
    core, halo = tile_of(scene, index, view, origin, limits, np.flatnonzero(only))
    return _tile(scene, index, view, origin, limits, core, halo, say)


def _tiled(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    threads: int,
    tile: int,
    say: Progress,
    store: Store | None,
) -> list[Part]:
    """Draw all tiles, a few at a time, and return their parts in order."""
    say("tiles", 0.0)
    whole = None if store is None else named(scene)
    index = index_of(scene) if whole is None else whole.index
    plan = plan_tiles(scene, index, view, origin, limits, size=tile, steady=store is not None)
    stop = Event()

    def go_on(stage: str, share: float) -> None:
        if stop.is_set():
            raise CancelledError("Another tile, or the caller, has stopped the drawing.")

    def work(core: np.ndarray, halo: np.ndarray) -> Part:
        if whole is not None and store is not None:
            return _kept(whole, view, origin, limits, core, halo, store, go_on)
        return _tile(scene, index, view, origin, limits, core, halo, go_on)

    if threads <= 1:
        parts = []
        for number, (core, halo) in enumerate(plan):
            parts.append(work(core, halo))
            say("tiles", (number + 1) / len(plan))
        return parts
    return _in_threads(work, plan, threads, say, stop)


def _in_threads(
    work: Callable[[np.ndarray, np.ndarray], Part],
    plan: Sequence[tuple[np.ndarray, np.ndarray]],
    threads: int,
    say: Progress,
    stop: Event,
) -> list[Part]:
    """Run tiles in threads; whatever stops the caller, or one of them, stops all at their next step."""
    found: dict[int, Part] = {}
    waiting: Iterator[tuple[int, tuple[np.ndarray, np.ndarray]]] = iter(enumerate(plan))
    running: dict[Future[Part], int] = {}
    with ThreadPoolExecutor(threads) as pool:
        try:
            while len(found) < len(plan):
                while len(running) < 2 * threads and (following := next(waiting, None)) is not None:
                    number, (core, halo) = following
                    running[pool.submit(work, core, halo)] = number
                done, _ = wait(running, timeout=0.5, return_when=FIRST_COMPLETED)
                for future in done:
                    found[running.pop(future)] = future.result()
                say("tiles", len(found) / len(plan))
        except BaseException:
            stop.set()
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
    say: Progress,
) -> Part:
    """Draw one tile, its faces and edges numbered as in the whole scene."""
    piece = cut_out(scene, index, core, halo)
    part = _drawn(piece.scene, view, origin, limits, threads=1, core=piece.core, say=say)
    return _numbered(part, piece.face, piece.edge)


def _kept(
    whole: Named,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    core: np.ndarray,
    halo: np.ndarray,
    store: Store,
    say: Progress,
) -> Part:
    """Draw one tile, or take it from those that are kept."""

    def make() -> Part:
        own = own_numbers(cut_out(whole.scene, whole.index, core, halo))
        part = _drawn(own.scene, view, origin, limits, threads=1, core=own.core, say=say)
        return replace(part, edges=part.edges.without_members(), page=None)

    key = tile_key(whole, core, halo, view, origin, limits)
    part = kept(store, key, make, flat, lambda arrays: Part(**raised(arrays)))
    solids, face, edge = in_whole(whole, core, halo)
    solid = solids[part.edges.solid] if len(solids) else part.edges.solid
    return _numbered(replace(part, edges=replace(part.edges, solid=solid)), face, edge)


def _numbered(part: Part, face: np.ndarray, edge: np.ndarray) -> Part:
    """A part with its faces and edges numbered as they stand in the whole scene."""
    source = part.edges.source
    numbered = np.where(source >= 0, edge[np.maximum(source, 0)] if len(edge) else source, -1)
    edges = replace(part.edges.without_members(), source=numbered)
    return replace(part, face=face[part.face], edges=edges, page=None)


def _drawn(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    *,
    threads: int,
    core: np.ndarray | None = None,
    say: Progress,
) -> Part:
    """Draw a scene, or the core of a tile."""
    say("project", 0.0)
    page = onto_page(scene.faces, view, origin, limits)
    pieces = pieces_of(page)
    tree = shapely.STRtree(page.polygon)
    rank, group = scene.rank[page.faces.solid], scene.group[page.faces.solid]
    wanted = np.ones(len(page), dtype=bool) if core is None else core[page.index]
    say("pairs", 0.0)
    meeting = box_pairs(page, wanted, tree)
    many = len(meeting[0]) if len(scene.edges) else 0  # what touches is asked for edges only
    touching = touching_pairs(page, meeting[0][:many], meeting[1][:many], limits)
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
    return Part(
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
