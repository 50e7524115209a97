"""
From faces and a view to a drawing: what is seen of every face and every edge.

A small scene is drawn in one piece; a large one in tiles, each by the same steps, with
the same result. Lines of neighbouring tiles are compared once all are there.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..keeping import Store, digest
from ..solids.scene import Scene
from .crowded import TooManyPairsError, smaller
from .drawn import Progress, drawn, drawn_tile
from .earlier import Known, still, written
from .finishing import Drawing, Part, finished, joined
from .hands import Draw, Hands
from .kept import named
from .projection import View
from .tiles import SIZE, Index, cut_out, index_of, measures, plan_tiles, tile_of
from .tolerance import Tolerance

__all__ = ["Drawing", "Progress", "resolve"]

LEAST: Final = 500
"""Scenes of so many solids and more are kept for the next time [-]."""
AGAIN: Final = 0.5
"""A drawing is made anew where more than this share of its solids would be drawn again [-]."""


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
        How many tiles, or overlays of one tile, are worked on at once. The tiles of scenes of
        20 000 solids or more are drawn by this process and by worker processes that it starts,
        no more than there are processors; those of smaller scenes, and all where no process can
        be started, by threads. The drawing is the same to the last bit.
    tile : int or None
        Solids to a tile; scenes of up to twice as many, and all scenes when None, are
        drawn in one piece. Where too many faces meet in a tile, smaller ones are taken,
        but none when None.
    only : ndarray of bool, shape (s,), optional
        Solids that are drawn, in one piece; the others only hide them.
    store : Store, optional
        Where the drawing of a scene of 500 solids or more is kept for the next time, when
        only what has changed, and what meets it on the page, is drawn again.
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
    size, parts = tile, None
    keep = None if store is None or only is not None or len(scene.rank) < LEAST else store
    while parts is None:
        try:
            if only is not None:
                parts = [_some(scene, view, origin, limits, only, say)]
            elif keep is not None:
                parts = [_again(scene, view, origin, limits, threads, size, say, keep)]
            else:
                parts = _anew(scene, view, origin, limits, threads, size, say)
        except TooManyPairsError:
            size = smaller(size, len(scene.rank))
            if size is None or only is not None:
                raise
    say("lines", 0.0)
    drawing = finished(joined(scene, parts, limits), limits)
    say("lines", 1.0)
    return drawing


def _some(
    scene: Scene, view: View, origin: np.ndarray, limits: Tolerance, only: np.ndarray, say: Progress
) -> Part:
    """Draw some solids as the core of a tile of their own."""
    index = index_of(scene)
    piece = cut_out(scene, index, *tile_of(scene, index, view, origin, limits, np.flatnonzero(only)))
    return drawn_tile(piece, view, origin, limits, say).numbered(piece.solid, piece.face, piece.edge)


def _anew(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    threads: int,
    size: int | None,
    say: Progress,
) -> list[Part]:
    """Draw a whole scene, in tiles if it is large."""
    if size is None or len(scene.rank) <= 2 * size:
        return [drawn(scene, view, origin, limits, threads=threads, say=say)]
    return _tiled(scene, index_of(scene), view, origin, limits, threads, size, say)


def _again(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    threads: int,
    size: int | None,
    say: Progress,
    store: Store,
) -> Part:
    """Draw what has changed since the last time, or all, and keep it for the next time."""
    whole = named(scene)
    known = Known.of(whole, measures(scene, whole.index, view, origin))
    key = digest("drawing", np.asarray(view.matrix), np.asarray(origin), limits.length)
    before, parts = store.get(key), None
    if before is not None:
        part, holds = still(before, whole, known, limits)
        if holds.all():
            return part
        if np.count_nonzero(~holds) <= AGAIN * len(holds):
            how = view, origin, limits, threads, size or SIZE, say
            parts = [part, *_tiled(scene, whole.index, *how, only=~holds)]
    if parts is None:
        parts = [part.of_tile() for part in _anew(scene, view, origin, limits, threads, size, say)]
    part = joined(scene, parts, limits)
    store.put(key, written(part, whole, known))
    return part


def _tiled(
    scene: Scene,
    index: Index,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    threads: int,
    tile: int,
    say: Progress,
    only: np.ndarray | None = None,
) -> list[Part]:
    """Draw all tiles, a few at a time, and return their parts in order."""
    many = len(scene.rank) if only is None else int(np.count_nonzero(only))
    with Hands(threads, many, view, origin, limits) as hands:
        say("tiles", 0.0)
        plan = plan_tiles(scene, index, view, origin, limits, size=tile, only=only)

        def work(number: int, draw: Draw) -> Part:
            piece = cut_out(scene, index, *plan[number])
            return draw(piece).numbered(piece.solid, piece.face, piece.edge)

        return hands.all_of(len(plan), work, say)
