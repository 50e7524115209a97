"""
Places where faces hide one another in a circle, so that none of them would show.

Within the tolerance rank decides who is in front, beyond it depth does. Where surveys of one wall lie a
hair apart, one may hide another by its rank, that a third, and the third the first by its depth. What is
covered must show something: such a place is given to the nearest of the faces there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from .depth import Hiding
from .hidden import VisibleFaces
from .overlay import Redone, checked_difference, checked_intersection, polygonal
from .page import PageFaces
from .tolerance import Tolerance
from .unions import united

TURNS: Final = 8  # faces that may share one hole


def doubtful(page: PageFaces, hiding: Hiding, tree: shapely.STRtree) -> np.ndarray:
    """
    Faces at places where one may be part of a circle.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    hiding : Hiding
        Which face hides which.
    tree : shapely.STRtree
        A tree of the page polygons.

    Returns
    -------
    ndarray of bool, shape (m,)
    """
    found = np.zeros(len(page), dtype=bool)
    if hiding.against.any():
        found[tree.query(_overlaps(page, hiding), predicate="intersects")[1]] = True
    return found


def opened(
    page: PageFaces, hiding: Hiding, visible: VisibleFaces, tree: shapely.STRtree, limits: Tolerance
) -> VisibleFaces:
    """
    Show the nearest face where faces hide one another in a circle.

    Only where a face hides one that is in part before it is looked for what shows nothing: there is no
    circle without.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    hiding : Hiding
        Which face hides which.
    visible : VisibleFaces
        What is left of them; right at least of those that are :func:`doubtful`.
    tree : shapely.STRtree
        A tree of the page polygons.
    limits : Tolerance
        Places narrower than a tenth of its page length are left.

    Returns
    -------
    VisibleFaces
        The same where there is no circle; what was opened counts as redone.
    """
    if not hiding.against.any():
        return visible
    holes = _unseen(page, hiding, visible.polygon, tree, limits)
    for _ in range(TURNS):
        if not len(holes):
            break
        owner = _nearest(page, tree, holes)
        shown = checked_intersection(page.polygon[owner], holes)
        visible = _with(visible, owner, shown)
        holes = _wide(checked_difference(holes, shown)[0], limits)
    return visible


def _overlaps(page: PageFaces, hiding: Hiding) -> np.ndarray:
    """Where faces hide what is in part before them."""
    rows = np.flatnonzero(hiding.against)
    return checked_intersection(hiding.region[rows], page.polygon[hiding.hidden[rows]])


def _unseen(
    page: PageFaces, hiding: Hiding, seen: np.ndarray, tree: shapely.STRtree, limits: Tolerance
) -> np.ndarray:
    """Polygons, apart from one another, of which nothing is seen; most are shown by one of the two faces."""
    rows = np.flatnonzero(hiding.against)
    bare = _overlaps(page, hiding)
    for face in (hiding.hider[rows], hiding.hidden[rows]):
        bare, _ = checked_difference(bare, seen[face])
    bare = _wide(bare, limits)
    place, face = tree.query(bare, predicate="intersects")
    order = np.argsort(place, kind="stable")
    shown = checked_intersection(bare[place[order]], seen[face[order]])
    bare = _wide(checked_difference(bare, united(shown, place[order], len(bare)))[0], limits)
    return _wide(united(bare, np.zeros(len(bare), dtype=np.int64), 1), limits)


def _wide(shapes: np.ndarray, limits: Tolerance) -> np.ndarray:
    """The polygons that shapes consist of, but for those that are too narrow to count."""
    parts = shapely.get_parts(polygonal(shapes))
    return parts[2 * shapely.area(parts) > limits.page / 10 * shapely.length(parts)]


def _nearest(page: PageFaces, tree: shapely.STRtree, holes: np.ndarray) -> np.ndarray:
    """The nearest face at a point of each hole."""
    points = shapely.point_on_surface(holes)
    hole, face = tree.query(points, predicate="intersects")
    depth = page.depth_at(face, shapely.get_coordinates(points)[hole])
    order = np.lexsort((depth, hole))
    return face[order[np.flatnonzero(np.diff(hole[order], append=-1))]]


def _with(visible: VisibleFaces, owner: np.ndarray, shown: np.ndarray) -> VisibleFaces:
    """The visible parts with more of some faces."""
    faces, place = np.unique(owner, return_inverse=True)
    polygon, taken = visible.polygon.copy(), visible.hidden_area.copy()
    group = np.concatenate([np.arange(len(faces)), place])
    order = np.argsort(group, kind="stable")
    polygon[faces] = united(np.concatenate([polygon[faces], shown])[order], group[order], len(faces))
    np.subtract.at(taken, owner, shapely.area(shown))
    redone = Redone(**vars(visible.redone))
    redone.add(0, len(shown), 0.0)
    return replace(visible, polygon=polygon, hidden_area=taken, redone=redone)
