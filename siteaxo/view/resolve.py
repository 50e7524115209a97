"""
From faces and a view to a drawing: what is seen of every face and every edge.

A small scene is drawn in one piece; a large one in tiles, each by the same steps, with
the same result. Lines of neighbouring tiles are compared once all are there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
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
    limits, say = tolerance or Tolerance(), progress or (lambda stage, share: None)
    how = How(view=view, origin=origin, limits=limits, threads=threads, tile=tile, say=say)
    keep = None if store is None or only is not None or len(scene.rank) < LEAST else store
    parts = None
    while parts is None:
        try:
            if only is not None:
                parts = [_some(scene, how, only)]
            else:
                parts = _anew(scene, how) if keep is None else [_again(scene, how, keep)]
        except TooManyPairsError:
            how = replace(how, tile=smaller(how.tile, len(scene.rank)))
            if how.tile is None or only is not None:
                raise
    say("lines", 0.0)
    drawing = finished(joined(scene, parts, limits), limits)
    say("lines", 1.0)
    return drawing


@dataclass(frozen=True, kw_only=True)
class How:
    """How a scene is drawn, as :func:`resolve` is told."""

    view: View
    origin: np.ndarray
    limits: Tolerance
    threads: int
    tile: int | None
    say: Progress


def _some(scene: Scene, how: How, only: np.ndarray) -> Part:
    """Draw some solids as the core of a tile of their own."""
    index, seen = index_of(scene), (how.view, how.origin, how.limits)
    piece = cut_out(scene, index, *tile_of(scene, index, *seen, np.flatnonzero(only)))
    return drawn_tile(piece, *seen, how.say).numbered(piece.solid, piece.face, piece.edge)


def _anew(scene: Scene, how: How) -> list[Part]:
    """Draw a whole scene, in tiles if it is large."""
    if how.tile is None or len(scene.rank) <= 2 * how.tile:
        return [drawn(scene, how.view, how.origin, how.limits, threads=how.threads, say=how.say)]
    return tiled(scene, index_of(scene), how)


def drawing_key(how: How) -> str:
    """The key under which a drawing is kept."""
    return digest("drawing", np.asarray(how.view.matrix), np.asarray(how.origin), how.limits.length)


def _again(scene: Scene, how: How, store: Store) -> Part:
    """Draw what has changed since the last time, or all, and keep it for the next time."""
    whole = named(scene)
    known = Known.of(whole, measures(scene, whole.index, how.view, how.origin))
    key = drawing_key(how)
    before, parts = store.get(key), None
    if before is not None:
        part, holds = still(before, whole, known, how.limits)
        if holds.all():
            return part
        if np.count_nonzero(~holds) <= AGAIN * len(holds):
            parts = [part, *tiled(scene, whole.index, how, only=~holds)]
    if parts is None:
        parts = [part.of_tile() for part in _anew(scene, how)]
    part = joined(scene, parts, how.limits)
    store.put(key, written(part, whole, known))
    return part


def tiled(scene: Scene, index: Index, how: How, only: np.ndarray | None = None) -> list[Part]:
    """Draw all solids, or only some, in tiles, a few at a time, and return their parts in order."""
    many, seen = (
        len(scene.rank) if only is None else np.count_nonzero(only),
        (how.view, how.origin, how.limits),
    )
    with Hands(how.threads, int(many), *seen) as hands:
        how.say("tiles", 0.0)
        plan = plan_tiles(scene, index, *seen, size=how.tile or SIZE, only=only)

        def work(number: int, draw: Draw) -> Part:
            piece = cut_out(scene, index, *plan[number])
            return draw(piece).numbered(piece.solid, piece.face, piece.edge)

        return hands.all_of(len(plan), work, how.say)
