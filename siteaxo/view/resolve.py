"""
From faces and a view to a drawing: what is seen of every face and every edge.

A small scene is drawn in one piece; a large one in tiles, each by the same steps, with
the same result. Lines of neighbouring tiles are compared once all are there.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..keeping import Store, kept
from ..solids.scene import Scene
from .crowded import TooManyPairsError, smaller
from .drawn import Progress, drawn, drawn_tile
from .finishing import Drawing, Part, finished
from .hands import Draw, Hands
from .kept import Named, flat, in_whole, named, raised, tile_key
from .projection import View
from .tiles import SIZE, cut_out, index_of, plan_tiles, tile_of
from .tolerance import Tolerance

__all__ = ["Drawing", "Progress", "resolve"]

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
                parts = [drawn(scene, view, origin, limits, threads=threads, say=say)]
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


def _some(
    scene: Scene, view: View, origin: np.ndarray, limits: Tolerance, only: np.ndarray, say: Progress
) -> Part:
    """Draw some solids as the core of a tile of their own."""
    index = index_of(scene)
    piece = cut_out(scene, index, *tile_of(scene, index, view, origin, limits, np.flatnonzero(only)))
    return drawn_tile(piece, view, origin, limits, say).numbered(piece.solid, piece.face, piece.edge)


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
    with Hands(threads, len(scene.rank), view, origin, limits) as hands:
        say("tiles", 0.0)
        whole = None if store is None else named(scene)
        index = index_of(scene) if whole is None else whole.index
        plan = plan_tiles(scene, index, view, origin, limits, size=tile, steady=store is not None)

        def work(number: int, draw: Draw) -> Part:
            core, halo = plan[number]
            if whole is not None and store is not None:
                key = tile_key(whole, core, halo, view, origin, limits)
                return _kept(whole, core, halo, key, store, draw)
            piece = cut_out(scene, index, core, halo)
            return draw(piece).numbered(piece.solid, piece.face, piece.edge)

        return hands.all_of(len(plan), work, say)


def _kept(whole: Named, core: np.ndarray, halo: np.ndarray, key: str, store: Store, draw: Draw) -> Part:
    """Draw one tile, or take it from those that are kept."""

    def make() -> Part:
        return draw(cut_out(whole.scene, whole.index, core, halo))

    return kept(store, key, make, flat, raised).numbered(*in_whole(whole, core, halo))
