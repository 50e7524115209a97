"""
Solids that hide a face with all they have are subtracted once, as their silhouette.

Where every front face of a solid that overlaps a face also hides it, whole and not by a
tie, the union of those front faces hides it too; what the solid shows elsewhere does
not overlap the face, so the whole silhouette may be taken. Of a solid that hides one of
its own faces, only the faces that do so are merged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .depth import Hiding
from .merging import merged
from .page import PageFaces
from .shapes import Shapes
from .tolerance import GRID


@dataclass(frozen=True, kw_only=True)
class Hiders:
    """
    What hides each face.

    Parameters
    ----------
    hidden : ndarray of int, shape (q,)
        Rows of the page faces that are hidden.
    by : ndarray of int, shape (q,)
        What hides each, as a row of the shapes.
    shapes : Shapes
        Whatever hides.
    """

    hidden: np.ndarray
    by: np.ndarray
    shapes: Shapes

    def __len__(self) -> int:
        return len(self.hidden)

    def take(self, rows: np.ndarray) -> Hiders:
        """Some of the rows, in the order given."""
        return Hiders(hidden=self.hidden[rows], by=self.by[rows], shapes=self.shapes)

    def put(self, rows: np.ndarray, polygons: np.ndarray) -> Hiders:
        """The same, with polygons as what hides in some rows."""
        by = self.by.copy()
        by[rows] = len(self.shapes) + np.arange(len(rows))
        return Hiders(hidden=self.hidden, by=by, shapes=Shapes.joined([self.shapes, Shapes.of(polygons)]))


def with_silhouettes(page: PageFaces, hiding: Hiding, core: np.ndarray | None = None) -> Hiders:
    """
    Replace several faces of one solid by its silhouette.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    hiding : Hiding
        Which face hides which.
    core : ndarray of bool, shape (m,), optional
        Only what hides these faces is wanted; all when left out.

    Returns
    -------
    Hiders
    """
    solid = page.faces.solid
    wanted = np.arange(len(hiding.hidden)) if core is None else np.flatnonzero(core[hiding.hidden])
    order = wanted[np.lexsort((solid[hiding.hider[wanted]], hiding.hidden[wanted]))]
    hidden, maker = hiding.hidden[order], solid[hiding.hider[order]]
    part = np.flatnonzero(hiding.partial)
    faces = Hiders(hidden=hiding.hidden, by=hiding.hider, shapes=page.shapes)
    faces = faces.put(part, hiding.region[part]).take(order)
    if not len(order):
        return faces
    new = np.concatenate([[True], (hidden[1:] != hidden[:-1]) | (maker[1:] != maker[:-1])])
    first = np.flatnonzero(new)
    count = np.diff(np.append(first, len(order)))
    whole = ~hiding.tie[order] & ~hiding.partial[order]
    all_whole = np.minimum.reduceat(whole, first)
    group = (count > 1) & all_whole & ~_hides_back(page, hiding, hidden[first], maker[first])
    group &= maker[first] != solid[hidden[first]]
    several = np.flatnonzero((count > 1) & all_whole & ~group)  # of the face's own solid, mostly
    some = np.repeat(np.isin(np.arange(len(first)), several), count)
    own, sure = merged(
        page, hiding.hider[order[some]], np.repeat(np.arange(len(several)), count[several]), len(several)
    )
    several, own = several[sure], own.take(np.flatnonzero(sure))
    chosen = first[group]
    group[several] = True
    single = ~np.repeat(group, count)
    makers, place = np.unique(maker[chosen], return_inverse=True)
    tables = [faces.shapes, silhouettes(page, makers), own]
    shift = np.cumsum([len(table) for table in tables])
    return Hiders(
        hidden=np.concatenate([hidden[single], hidden[chosen], hidden[first[several]]]),
        by=np.concatenate([faces.by[single], shift[0] + place, shift[1] + np.arange(len(several))]),
        shapes=Shapes.joined(tables),
    )


def _hides_back(page: PageFaces, hiding: Hiding, face: np.ndarray, solid: np.ndarray) -> np.ndarray:
    """Whether any face of *solid* lies behind *face* on the page."""
    top = int(page.faces.solid.max(initial=0)) + 1
    behind = np.unique(hiding.hider * top + page.faces.solid[hiding.hidden])
    asked = face * top + solid
    place = np.minimum(np.searchsorted(behind, asked), len(behind) - 1)
    return behind[place] == asked


def silhouettes(page: PageFaces, solids: np.ndarray) -> Shapes:
    """
    Union of the front faces of each solid.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    solids : ndarray of int, shape (s,)
        Sorted, each once.

    Returns
    -------
    Shapes, s of them
        Merged along shared sides; where that is not plain, their union on the grid.
    """
    if not len(solids):
        return Shapes.of(np.empty(0, dtype=object))
    chosen = np.zeros(int(page.faces.solid.max()) + 1, dtype=bool)
    chosen[solids] = True
    rows = np.flatnonzero(chosen[page.faces.solid])
    rows = rows[np.argsort(page.faces.solid[rows], kind="stable")]
    owner = np.searchsorted(solids, page.faces.solid[rows])
    shapes, sure = merged(page, rows, owner, len(solids))
    rest = np.flatnonzero(~sure)
    if not len(rest):
        return shapes
    count = np.bincount(owner, minlength=len(solids))
    return shapes.put(rest, Shapes.of(united(page.polygon[rows], np.cumsum(count) - count, count, rest)))


def united(polygon: np.ndarray, start: np.ndarray, count: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """
    Unite runs of polygons, in batches of about one length.

    Parameters
    ----------
    polygon : ndarray of Polygon, shape (n,)
        All of them.
    start, count : ndarray of int, shape (r,)
        Where each run starts and how long it is.
    chosen : ndarray of int, shape (c,)
        Which runs.

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (c,)
    """
    unions = np.empty(len(chosen), dtype=object)
    size = np.ceil(np.log2(np.maximum(count[chosen], 1)))
    for step in np.unique(size):
        batch = np.flatnonzero(size == step)
        begin, many = start[chosen[batch]], count[chosen[batch]]
        column = np.arange(int(many.max()))
        there = column < many[:, None]
        padded = np.full(there.shape, None, dtype=object)
        padded[there] = polygon[(begin[:, None] + column)[there]]
        unions[batch] = shapely.union_all(padded, axis=1, grid_size=GRID)
    return unions
