"""
Solids that hide a face with all they have are subtracted once, as their silhouette.

Where every front face of a solid that overlaps a face also hides it, whole and not by a
tie, the union of those front faces hides it too; what the solid shows elsewhere does
not overlap the face, so the whole silhouette may be taken. Of a solid that hides one of
its own faces, or that hides others but in part, only the faces that hide are merged.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from .depth import Hiding
from .merging import merged
from .page import PageFaces
from .shapes import Shapes
from .unions import united

MANY: Final = 16  # from this many faces on they are united whatever it takes


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
    hider = hiding.hider[wanted]
    order = wanted[np.lexsort((hider, solid[hider], hiding.hidden[wanted]))]  # however pairs were found
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
    chosen = first[group]
    single = ~np.repeat(group, count)
    makers, place = np.unique(maker[chosen], return_inverse=True)
    some = np.flatnonzero(whole & single)
    several, rows, joined = _joined(page, hiding.hider[order[some]], (np.cumsum(new) - 1)[some])
    single[some[rows]] = False
    tables = [faces.shapes, silhouettes(page, makers), joined]
    shift = np.cumsum([len(table) for table in tables])
    return Hiders(
        hidden=np.concatenate([hidden[single], hidden[chosen], hidden[first[several]]]),
        by=np.concatenate([faces.by[single], shift[0] + place, shift[1] + np.arange(len(several))]),
        shapes=Shapes.joined(tables),
    )


def _joined(page: PageFaces, face: np.ndarray, run: np.ndarray) -> tuple[np.ndarray, np.ndarray, Shapes]:
    """Runs of several faces that can be merged, which rows they are of, and their union."""
    rows = np.flatnonzero(np.bincount(run)[run] > 1)
    several, owner = np.unique(run[rows], return_inverse=True)
    shapes, sure = _merged(page, face[rows], owner, least=MANY)
    return several[sure], rows[sure[owner]], shapes.take(np.flatnonzero(sure))


def _merged(page: PageFaces, rows: np.ndarray, owner: np.ndarray, *, least: int) -> tuple[Shapes, np.ndarray]:
    """Union of the faces of each owner; where that is not plain, only of *least* faces or more."""
    count = np.bincount(owner)
    shapes, sure = merged(page, rows, owner, len(count))
    rest = np.flatnonzero(~sure & (count >= least))
    if not len(rest):
        return shapes, sure
    sure[rest] = True
    left = np.flatnonzero(np.isin(owner, rest))
    union = united(page.polygon[rows[left]], np.searchsorted(rest, owner[left]), len(rest))
    return shapes.put(rest, Shapes.of(union)), sure


def _hides_back(page: PageFaces, hiding: Hiding, face: np.ndarray, solid: np.ndarray) -> np.ndarray:
    """Whether any face of *solid* lies behind *face* on the page."""
    top = int(page.faces.solid.max(initial=0)) + 1
    behind = np.sort(hiding.hider * top + page.faces.solid[hiding.hidden])
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
    """
    if not len(solids):
        return Shapes.of(np.empty(0, dtype=object))
    chosen = np.zeros(int(page.faces.solid.max()) + 1, dtype=bool)
    chosen[solids] = True
    rows = np.flatnonzero(chosen[page.faces.solid])
    rows = rows[np.argsort(page.faces.solid[rows], kind="stable")]
    owner = np.searchsorted(solids, page.faces.solid[rows])
    return _merged(page, rows, owner, least=1)[0]
