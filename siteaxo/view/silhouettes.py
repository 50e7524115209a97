"""
Solids that hide a face with all they have are subtracted once, as their silhouette.

Where every front face of a solid that overlaps a face also hides it, whole and not by a
tie, the union of those front faces hides it too; what the solid shows elsewhere does
not overlap the face, so the whole silhouette may be taken. Of a solid that hides one of
its own faces, only the faces that do so are merged.
"""

from __future__ import annotations

import numpy as np
import shapely

from .depth import Hiding
from .merging import merged
from .page import PageFaces
from .tolerance import GRID


def with_silhouettes(
    page: PageFaces, hiding: Hiding, core: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
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
    hidden : ndarray of int, shape (q,)
        Rows of the faces that are hidden.
    region : ndarray of Polygon, shape (q,)
        What hides each.
    """
    solid = page.faces.solid
    wanted = np.arange(len(hiding.hidden)) if core is None else np.flatnonzero(core[hiding.hidden])
    order = wanted[np.lexsort((solid[hiding.hider[wanted]], hiding.hidden[wanted]))]
    hidden, maker = hiding.hidden[order], solid[hiding.hider[order]]
    if not len(order):
        return hidden, hiding.region[order]
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
    several, own = several[sure], own[sure]
    chosen = first[group]
    group[several] = True
    single = ~np.repeat(group, count)
    makers, place = np.unique(maker[chosen], return_inverse=True)
    shape = silhouettes(page, makers)
    return (
        np.concatenate([hidden[single], hidden[chosen], hidden[first[several]]]),
        np.concatenate([hiding.region[order][single], shape[place], own]),
    )


def _hides_back(page: PageFaces, hiding: Hiding, face: np.ndarray, solid: np.ndarray) -> np.ndarray:
    """Whether any face of *solid* lies behind *face* on the page."""
    top = int(page.faces.solid.max(initial=0)) + 1
    behind = np.unique(hiding.hider * top + page.faces.solid[hiding.hidden])
    asked = face * top + solid
    place = np.minimum(np.searchsorted(behind, asked), len(behind) - 1)
    return behind[place] == asked


def silhouettes(page: PageFaces, solids: np.ndarray) -> np.ndarray:
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
    ndarray of Polygon or MultiPolygon, shape (s,)
        Merged along shared sides; where that is not plain, their union on the grid.
    """
    if not len(solids):
        return np.empty(0, dtype=object)
    chosen = np.zeros(int(page.faces.solid.max()) + 1, dtype=bool)
    chosen[solids] = True
    rows = np.flatnonzero(chosen[page.faces.solid])
    rows = rows[np.argsort(page.faces.solid[rows], kind="stable")]
    owner = np.searchsorted(solids, page.faces.solid[rows])
    shape, sure = merged(page, rows, owner, len(solids))
    rest = np.flatnonzero(~sure)
    if len(rest):
        count = np.bincount(owner, minlength=len(solids))
        shape[rest] = united(page.polygon[rows], np.cumsum(count) - count, count, rest)
    return shape


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
