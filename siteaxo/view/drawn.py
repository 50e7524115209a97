"""
A scene, or the core of a tile, drawn in one piece: the steps one after another.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from ..solids.scene import Scene
from .balance import Balance
from .candidates import box_pairs, overlapping
from .circles import doubtful, opened
from .coincident import doubles
from .contacts import touching_pairs
from .crowded import TooManyPairsError
from .depth import who_hides_whom
from .finishing import Part, priority_of, ranks
from .hidden import visible_parts
from .kinds import kinds_of
from .page import onto_page
from .pieces import pieces_of
from .projection import View
from .splitting import edges_onto_page, split
from .tiles import Piece
from .tolerance import Tolerance

Progress = Callable[[str, float], None]


def drawn(
    scene: Scene,
    view: View,
    origin: np.ndarray,
    limits: Tolerance,
    *,
    threads: int = 1,
    core: np.ndarray | None = None,
    say: Progress,
) -> Part:
    """
    Draw a scene, or the core of a tile.

    Parameters
    ----------
    scene : Scene
        The solids.
    view, origin, limits, threads
        As for :func:`.resolve.resolve`.
    core : ndarray of bool, shape (f,), optional
        Faces that are drawn; the others only hide them. All when left out.
    say : callable
        Called as ``say(stage, share)`` at every step; it may raise to stop the work.

    Returns
    -------
    Part
    """
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
    hiding = who_hides_whom(page, first, second, rank, limits)
    reduced = wanted if core is None else wanted | doubtful(page, hiding, tree)
    touching = touching.but_crossing(hiding.crossing_faces, len(page))  # also those of lines of other tiles
    hiding = hiding.crossings_of(wanted)
    further = reduced & ~wanted  # faces of other tiles may be part of a circle, or cross those of this one
    further[hiding.crossing_faces] |= ~wanted[hiding.crossing_faces]
    if further.any():
        meets = np.stack(box_pairs(page, further, tree))
        pairs = overlapping(page, pieces, *meets[:, ~wanted[meets].any(axis=0)])
        hiding = hiding.with_pairs_of(who_hides_whom(page, *pairs, rank, limits))
    say("faces", 0.0)
    visible = visible_parts(
        page, hiding, core=reduced, threads=threads, tick=lambda share: say("faces", share)
    )
    visible = opened(page, hiding, visible, tree, limits)
    say("edges", 0.0)
    edges = edges_onto_page(scene.edges, page, hiding, view, origin, len(scene.faces))
    seen, hidden = split(edges, page, pieces, hiding, limits)
    say("kinds", 0.0)
    dashes, kind = kinds_of(seen, edges, page, pieces, rank, group, limits, touching, hiding)
    say("lines", 0.0)
    priority = priority_of(kind, ranks(scene)[edges.solid[dashes.edge]])
    mine = np.flatnonzero(wanted)
    area, shown = page.area[mine], visible.take(mine)
    return Part(
        face=page.index[mine],
        area=area,
        visible=shown,
        edges=edges,
        dashes=dashes,
        kind=kind,
        hidden=hidden,
        hidden_seam=edges.seam[hidden.edge],
        double=doubles(dashes, edges, priority, limits),
        balance=Balance.of(area, shown, edges, dashes, hidden),
        pairs=len(first),
        warp=page.warp[mine],
        page=page,
    )


def drawn_tile(piece: Piece, view: View, origin: np.ndarray, limits: Tolerance, say: Progress) -> Part:
    """
    Draw one tile, all numbered as in its piece.

    Parameters
    ----------
    piece : Piece
        What the tile needs.
    view, origin, limits, say
        As for :func:`drawn`.

    Returns
    -------
    Part

    Raises
    ------
    TooManyPairsError
        If too many faces overlap; its solid is numbered as in the whole scene.
    """
    try:
        return drawn(piece.scene, view, origin, limits, core=piece.core, say=say).of_tile()
    except TooManyPairsError as error:
        error.solid = int(piece.solid[error.solid])
        raise
