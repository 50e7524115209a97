"""
A large scene in tiles that are drawn one by one, with the same result.

The core of a tile are solids that lie near one another on the page; its halo are the
solids whose page box meets that of one of the core and whose nearest point is not behind
all of it. Nothing else can hide or touch a part of the core. Solids wider than a tile are
the core of a tile of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..ragged import spread
from ..solids.edges import Edges
from ..solids.faces import take
from ..solids.scene import Scene
from .blocks import blocks_of
from .order import in_order, starts
from .page import rounded_columns
from .projection import View
from .tolerance import Tolerance

SIZE: Final = 2500  # solids to a tile
BATCH: Final = 1000  # solids measured at once


@dataclass(frozen=True, kw_only=True)
class Index:
    """Where the faces and edges of each solid stand in a scene, and where each face stands among them."""

    face_order: np.ndarray
    face_start: np.ndarray
    face_place: np.ndarray
    edge_order: np.ndarray
    edge_start: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Piece:
    """
    The part of a scene that one tile needs.

    Parameters
    ----------
    scene : Scene
        Faces of core and halo, edges of the core; solids, ranks and groups numbered from 0,
        in their order.
    core : ndarray of bool, shape (f,)
        Which faces belong to the core.
    solid, face, edge : ndarray of int
        Where its solids, faces and edges stand in the whole scene.
    """

    scene: Scene
    core: np.ndarray
    solid: np.ndarray
    face: np.ndarray
    edge: np.ndarray


def index_of(scene: Scene) -> Index:
    """Sort out which faces and edges belong to which solid."""
    face_order, edge_order = in_order(scene.faces.solid), in_order(scene.edges.solid)
    face_place = np.empty(len(face_order), dtype=np.int64)
    face_place[face_order] = np.arange(len(face_order))
    return Index(
        face_order=face_order,
        face_start=starts(scene.faces.solid, len(scene.rank)),
        face_place=face_place,
        edge_order=edge_order,
        edge_start=starts(scene.edges.solid, len(scene.rank)),
    )


def plan_tiles(
    scene: Scene,
    index: Index,
    view: View,
    origin: np.ndarray,
    tolerance: Tolerance,
    *,
    size: int = SIZE,
    steady: bool = False,
    only: np.ndarray | None = None,
) -> Plan:
    """
    Divide the solids of a scene into tiles.

    Parameters
    ----------
    scene : Scene
        The scene.
    index : Index
        Its index.
    view, origin, tolerance
        As for drawing.
    size : int
        Solids to a core at the most.
    steady : bool
        Part them at round coordinates, so that most tiles stay what they are when a solid
        changes, rather than into parts of equal numbers.
    only : ndarray of bool, shape (s,), optional
        Solids that are to be in cores; all when left out.

    Returns
    -------
    Plan
        The cores are disjoint and together are all, or those wanted.
    """
    sides = measures(scene, index, view, origin)
    wanted = np.isfinite(sides[0]) if only is None else np.isfinite(sides[0]) & only
    solids = np.flatnonzero(wanted)
    left, bottom, right, top = sides[:4, solids]
    side = np.sqrt((right.max() - left.min()) * (top.max() - bottom.min()) * size / max(len(solids), 1))
    wide = np.maximum(right - left, top - bottom) > max(side, 1e-9)
    middle = (sides[:2] + sides[2:4]) / 2
    part = _blocks if steady else _parted
    cores = [core for some in (solids[~wide], solids[wide]) for core in part(some, middle, size)]
    return Plan(cores=cores, sides=sides, tolerance=tolerance)


@dataclass(frozen=True, kw_only=True)
class Plan(Sequence[tuple[np.ndarray, np.ndarray]]):
    """
    The tiles of a scene: sorted arrays of solids, a core and a halo each, found when asked for.

    Parameters
    ----------
    cores : list of ndarray of int
        Solids of the cores.
    sides : ndarray, shape (6, s)
        Left, bottom, right, top, farthest and nearest of all solids on the page [m].
    tolerance : Tolerance
        As for drawing.
    """

    cores: list[np.ndarray]
    sides: np.ndarray
    tolerance: Tolerance

    def __len__(self) -> int:
        return len(self.cores)

    def __getitem__(self, number: int) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[override]
        core = self.cores[number]
        return core, _halo(core, self.sides, self.tolerance)


def tile_of(
    scene: Scene, index: Index, view: View, origin: np.ndarray, tolerance: Tolerance, solids: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """
    Make a tile of given solids.

    Parameters
    ----------
    scene, index, view, origin, tolerance
        As for :func:`plan_tiles`.
    solids : ndarray of int, shape (k,)
        What its core is; those without faces are left out.

    Returns
    -------
    core, halo : ndarray of int
    """
    sides = measures(scene, index, view, origin)
    core = solids[np.isfinite(sides[0, solids])]
    return core, _halo(core, sides, tolerance) if len(core) else np.zeros(0, dtype=np.int64)


def measures(scene: Scene, index: Index, view: View, origin: np.ndarray) -> np.ndarray:
    """Left, bottom, right, top, farthest and nearest of each solid on the page, shape (6, s) [m]."""
    count, corner = len(scene.rank), scene.faces.vertex_start
    sides = np.full((6, count), np.nan)
    for begin in range(0, count, BATCH):
        end = min(begin + BATCH, count)
        face = index.face_order[index.face_start[begin] : index.face_start[end]]
        many = corner[face + 1] - corner[face]
        page = rounded_columns(scene.faces.xyz.take(spread(corner[face], many), axis=0), view, origin)
        faces = index.face_start[begin : end + 1] - index.face_start[begin]
        there = np.flatnonzero(np.diff(faces))
        if len(there):
            start = np.append(0, np.cumsum(many))[faces[there]]
            for k, column in zip((0, 1, 4), page, strict=True):
                sides[k, begin + there] = np.minimum.reduceat(column, start)
                sides[k + 1 if k == 4 else k + 2, begin + there] = np.maximum.reduceat(column, start)
    return sides


def _blocks(solids: np.ndarray, middle: np.ndarray, size: int) -> list[np.ndarray]:
    """Part a set of solids at round coordinates."""
    return [solids[rows] for rows in blocks_of(middle[:, solids].T, size)]


def _parted(solids: np.ndarray, middle: np.ndarray, size: int) -> list[np.ndarray]:
    """Part a set of solids across its longer extent, again and again, into as few as are small enough."""
    many = -(-len(solids) // size)
    if many <= 1:
        return [solids] if many else []
    place = max((column[solids] for column in middle), key=np.ptp)
    cut = len(solids) * (many // 2) // many
    here = np.partition(place, cut)[cut]
    low = place < here
    low[np.flatnonzero(place == here)[: cut - np.count_nonzero(low)]] = True
    return [*_parted(solids[low], middle, size), *_parted(solids[~low], middle, size)]


def _halo(core: np.ndarray, sides: np.ndarray, tolerance: Tolerance) -> np.ndarray:
    """Solids that may hide or touch those of a core; those without faces, not numbers, never do."""
    left, bottom, right, top, far, near = sides
    margin, behind = 10 * tolerance.page, 2 * tolerance.depth
    meets = (left <= right[core].max() + margin) & (right >= left[core].min() - margin)
    meets &= (bottom <= top[core].max() + margin) & (top >= bottom[core].min() - margin)
    meets &= near >= far[core].min() - behind
    meets[core] = False
    halo = np.flatnonzero(meets)
    around = shapely.box(left[halo] - margin, bottom[halo] - margin, right[halo] + margin, top[halo] + margin)
    item, one = shapely.STRtree(shapely.box(*sides[:4, core])).query(around)
    meets[halo] = False
    meets[halo[item[near[halo[item]] >= far[core[one]] - behind]]] = True
    return np.flatnonzero(meets)


def cut_out(scene: Scene, index: Index, core: np.ndarray, halo: np.ndarray) -> Piece:
    """
    Take from a scene what one tile needs.

    Parameters
    ----------
    scene : Scene
        The whole scene.
    index : Index
        Its index.
    core, halo : ndarray of int
        Solids.

    Returns
    -------
    Piece
    """
    solids, face, edge = rows_of_tile(index, core, halo)
    faces = take(scene.faces, face)
    members = edges_at(scene.edges, edge)
    members = replace(members, face=_places(scene, index, solids, members.face))
    rank, group = (np.unique(of[solids], return_inverse=True)[1] for of in (scene.rank, scene.group))
    return Piece(
        scene=Scene(
            faces=replace(faces, solid=np.searchsorted(solids, faces.solid)),
            edges=replace(members, solid=np.searchsorted(solids, members.solid)),
            rank=rank,
            group=group,
        ),
        core=np.isin(faces.solid, core),
        solid=solids,
        face=face,
        edge=edge,
    )


def rows_of_tile(
    index: Index, core: np.ndarray, halo: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where the solids, faces and edges of a tile, numbered by themselves, stand in the whole scene."""
    solids = np.union1d(core, halo)
    face = rows_of(index.face_order, index.face_start, solids)
    return solids, face, rows_of(index.edge_order, index.edge_start, core)


def rows_of(order: np.ndarray, start: np.ndarray, solids: np.ndarray) -> np.ndarray:
    """Rows of some solids, by the places at which the rows of each begin."""
    return order[spread(start[solids], start[solids + 1] - start[solids])]


def _places(scene: Scene, index: Index, solids: np.ndarray, face: np.ndarray) -> np.ndarray:
    """Where faces stand among those of some solids, one solid after another; theirs are among these."""
    owner = scene.faces.solid[face]
    many = index.face_start[solids + 1] - index.face_start[solids]
    first = (np.cumsum(many) - many)[np.searchsorted(solids, owner)]
    return first + index.face_place[face] - index.face_start[owner]


def edges_at(edges: Edges, rows: np.ndarray) -> Edges:
    """Some edges; a member of one may be a face of another solid."""
    first = edges.member_start[rows]
    count = edges.member_start[rows + 1] - first
    members = spread(first, count)
    return Edges(
        start=edges.start.take(rows, axis=0),
        end=edges.end.take(rows, axis=0),
        solid=edges.solid[rows],
        member_start=np.concatenate([[0], np.cumsum(count)]),
        face=edges.face[members],
        forward=edges.forward[members],
        smooth=edges.smooth[rows],
    )
