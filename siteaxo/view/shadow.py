"""
Shadows as exact polygons: what the viewer sees and the light does not.

The lit part of a face is its visible part in a parallel view from the light, found by
the same steps as any drawing. What the light does not see of a face is carried from
the light's page to the drawing's page by the face's own plane, an affine map, and cut
by what the viewer sees of it. So shadows on slopes, walls and steps need no case of
their own. Faces turned from the light are in shade whole.

Faces that lie in one plane do not shade one another. Corners that a shadow shares with
its face are given the very coordinates that the face has on the drawing's page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
import shapely

from ..keeping import Arrays, Store, digest, kept, pack, unpack
from ..solids.edges import edges_of
from ..solids.faces import Faces, join, normals, take
from ..solids.scene import Scene
from .candidates import overlapping_pairs
from .carried import carried, seen_of
from .depth import Hiding, who_hides_whom
from .hidden import visible_parts
from .kept import Named, named, tile_key
from .overlay import Redone, checked_difference
from .page import PageFaces, onto_page
from .pieces import pieces_of
from .projection import View
from .resolve import Drawing
from .sun import Sun
from .tiles import SIZE, cut_out, plan_tiles, rows_of_tile
from .tolerance import Tolerance

KEPT_SHARE: Final = 3
"""Tiles that are kept have this share of the solids of others: fewer are cast again, not many more cast."""
GRAZING: Final = 1e-3  # a face that meets the light at less than this sine is not lit [-]


@dataclass(frozen=True, kw_only=True)
class Shadows:
    """
    Parts of a drawing that no light reaches; they do not overlap.

    Parameters
    ----------
    face : ndarray of int, shape (k,)
        Faces, as rows of the scene's Faces, ascending.
    polygon : ndarray of Polygon or MultiPolygon, shape (k,)
        Visible parts in the dark, in page coordinates [m].
    own : ndarray of bool, shape (k,)
        Whether the face is turned from the light, so that it is dark by itself and whole.
    worst_balance : float
        How far lit and dark parts of a face differ from what is seen of it, at worst [m²].
    redone : Redone
        Overlays checked and redone in the light's view.
    """

    face: np.ndarray
    polygon: np.ndarray
    own: np.ndarray
    worst_balance: float
    redone: Redone

    def __len__(self) -> int:
        return len(self.face)


def cast_shadows(
    scene: Scene,
    drawing: Drawing,
    view: View,
    *,
    origin: np.ndarray,
    sun: Sun,
    casters: Faces | None = None,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    tile: int | None = SIZE,
    store: Store | None = None,
) -> Shadows:
    """
    Find the shadows on everything that a drawing shows.

    Parameters
    ----------
    scene : Scene
        The solids.
    drawing : Drawing
        The scene as resolved in *view*.
    view : View
        The view of the drawing.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    sun : Sun
        The sun, or a light of convention.
    casters : Faces, optional
        Faces that are not drawn but cast shadows; their solids are numbered from 0.
    tolerance : Tolerance, optional
        When two things count as equal.
    threads : int
        How many overlays run at once.
    tile : int or None
        Solids to a tile, as for drawing.
    store : Store, optional
        Where tiles are kept for the next time.

    Returns
    -------
    Shadows
    """
    limits = tolerance or Tolerance()
    seen = np.flatnonzero(~shapely.is_empty(drawing.visible.polygon))
    face, visible = drawing.face[seen], drawing.visible.polygon[seen]
    lit = _turned_to(scene.faces, face, view, sun)
    receiver = np.zeros(len(scene.faces), dtype=bool)
    receiver[face[lit]] = True
    order = np.argsort(face, kind="stable")

    def shown(rows: np.ndarray) -> np.ndarray:
        return visible[order[np.searchsorted(face[order], rows)]]

    work = _Work(view, origin, sun, limits, threads)
    parts = list(_parts(_with_casters(scene, casters), receiver, shown, work, tile, store))
    met = np.zeros(len(receiver), dtype=bool)
    met[np.concatenate([part.met for part in parts])] = True
    redone = Redone()
    for part in parts:
        redone.add(part.redone.checked, part.redone.redone, part.redone.worst)
    row, cast = (np.concatenate([getattr(part, name) for part in parts]) for name in ("row", "cast"))
    worst = max(part.worst for part in parts)
    return _gathered(face, visible, ~met[face], row, cast, worst, redone)


def _gathered(
    face: np.ndarray,
    visible: np.ndarray,
    own: np.ndarray,
    row: np.ndarray,
    cast: np.ndarray,
    worst: float,
    redone: Redone,
) -> Shadows:
    """Faces that are dark by themselves and those that others throw a shadow on, by row."""
    kept = ~shapely.is_empty(cast)
    number = np.concatenate([face[own], row[kept]])
    turn = np.argsort(number, kind="stable")
    return Shadows(
        face=number[turn],
        polygon=np.concatenate([visible[own], cast[kept]])[turn],
        own=np.repeat([True, False], [int(own.sum()), int(kept.sum())])[turn],
        worst_balance=worst,
        redone=redone,
    )


def _turned_to(faces: Faces, rows: np.ndarray, view: View, sun: Sun) -> np.ndarray:
    """Whether the side of each face that the viewer sees is turned to the light."""
    sight = np.linalg.inv(view.matrix)[:, 2]  # towards the viewer
    normal = normals(take(faces, rows))
    normal *= np.where(normal @ sight < 0, -1.0, 1.0)[:, None]
    return normal @ sun.direction > GRAZING


@dataclass(frozen=True)
class _Work:
    """What stays the same from tile to tile."""

    view: View
    origin: np.ndarray
    sun: Sun
    limits: Tolerance
    threads: int


@dataclass(frozen=True, kw_only=True)
class _Part:
    """Faces of a tile that the light meets, and what is dark of those that it does not see whole."""

    met: np.ndarray
    row: np.ndarray
    cast: np.ndarray
    redone: Redone
    worst: float = 0.0

    def numbered(self, face: np.ndarray) -> _Part:
        """Take the numbers of faces from those of the whole scene."""
        return replace(self, met=face[self.met], row=face[self.row])

    def flat(self) -> Arrays:
        """Write it as arrays."""
        redone = np.array([self.redone.checked, self.redone.redone, self.redone.worst], dtype=float)
        more = {"redone": redone, "worst": np.array(self.worst)}
        return {**pack(self.cast, "cast"), "met": self.met, "row": self.row, **more}

    @classmethod
    def raised(cls, arrays: Arrays) -> _Part:
        """Read it again."""
        checked, redone, worst = arrays["redone"].tolist()
        return cls(
            met=arrays["met"],
            row=arrays["row"],
            cast=unpack(arrays, "cast"),
            redone=Redone(checked=int(checked), redone=int(redone), worst=worst),
            worst=float(arrays["worst"]),
        )


def _parts(
    whole: Scene,
    receiver: np.ndarray,
    shown: Callable[[np.ndarray], np.ndarray],
    work: _Work,
    tile: int | None,
    store: Store | None,
) -> Iterator[_Part]:
    """The dark parts of a scene tile by tile, with the row of each face in the scene."""
    receiver = np.append(receiver, np.zeros(len(whole.faces) - len(receiver), dtype=bool))
    size = tile if tile is None or store is None else max(tile // KEPT_SHARE, 1)
    if size is None or len(whole.rank) <= 2 * size:
        yield _cut(_dark(whole.faces, receiver, work), shown, work)
        return
    own = named(whole)
    args = (whole, own.index, work.sun.view, work.origin, work.limits)
    for core, halo in plan_tiles(*args, size=size, steady=store is not None):
        _, face, _ = rows_of_tile(own.index, core, halo)
        wanted = receiver[face] & np.isin(whole.faces.solid[face], core)
        make = partial(_dark_of, own, core, halo, wanted, work)
        if store is None:
            yield _cut(make().numbered(face), shown, work)
            continue
        light = tile_key(own, core, halo, work.sun.view, work.origin, work.limits)
        key = digest("dark", light, wanted, np.asarray(work.view.matrix))
        dark = kept(store, key, make, _Part.flat, _Part.raised).numbered(face)
        seen = shown(dark.row)
        key = digest("seen", seen, dark.cast, work.limits.length)
        cut = kept(store, key, partial(_cut, dark, shown, work), _Part.flat, _Part.raised)
        yield replace(dark, cast=cut.cast, worst=cut.worst)


def _dark_of(own: Named, core: np.ndarray, halo: np.ndarray, wanted: np.ndarray, work: _Work) -> _Part:
    """Dark parts of one tile, its faces numbered by themselves."""
    return _dark(cut_out(own.scene, own.index, core, halo).scene.faces, wanted, work)


def _dark(faces: Faces, wanted: np.ndarray, work: _Work) -> _Part:
    """What the light does not see of faces that receive shadows, on the drawing's page."""
    page, redone = onto_page(faces, work.sun.view, work.origin, work.limits), Redone()
    lit = wanted[page.index]
    rows, dark = _dark_parts(page, lit, work.limits, work.threads, redone)
    cast = carried(dark, rows, page, work.sun, work.view, work.origin)
    return _Part(met=page.index[lit], row=page.index[rows], cast=cast, redone=redone)


def _cut(dark: _Part, shown: Callable[[np.ndarray], np.ndarray], work: _Work) -> _Part:
    """Dark parts as far as the viewer sees them."""
    cast, worst = seen_of(shown(dark.row), dark.cast, work.limits)
    return replace(dark, cast=cast, worst=worst)


def _with_casters(scene: Scene, casters: Faces | None) -> Scene:
    """The faces of a scene and the casters, without edges."""
    bare = edges_of(take(scene.faces, np.zeros(0, dtype=np.int64)))
    if casters is None or not len(casters):
        return replace(scene, edges=bare)
    more = int(casters.solid.max()) + 1
    moved = replace(casters, solid=casters.solid + len(scene.rank))
    return Scene(
        faces=join([scene.faces, moved]),
        edges=bare,
        rank=np.append(scene.rank, scene.rank.max(initial=0) + 1 + np.arange(more)),
        group=np.append(scene.group, scene.group.max(initial=0) + 1 + np.arange(more)),
    )


def _dark_parts(
    page: PageFaces, wanted: np.ndarray, limits: Tolerance, threads: int, redone: Redone
) -> tuple[np.ndarray, np.ndarray]:
    """What the light does not see of the wanted faces: rows, and polygons on its page."""
    if not wanted.any():
        return np.zeros(0, dtype=np.int64), np.empty(0, dtype=object)
    pieces = pieces_of(page)
    first, second = overlapping_pairs(page, pieces, core=wanted)
    hiding = who_hides_whom(page, first, second, np.zeros(len(page)), limits)
    lit = visible_parts(page, _without_ties(hiding), core=wanted, threads=threads)
    redone.add(lit.redone.checked, lit.redone.redone, lit.redone.worst)
    rows = np.flatnonzero(wanted & (lit.hidden_area > limits.page**2))
    dark, _ = checked_difference(page.polygon[rows], lit.polygon[rows], redone)
    return rows, dark


def _without_ties(hiding: Hiding) -> Hiding:
    keep = ~hiding.tie
    columns = ("hider", "hidden", "region", "tie", "partial", "against")
    return replace(hiding, **{name: getattr(hiding, name)[keep] for name in columns})
