"""
Many views of one scene: what each shows of every face, and where plan edges fall on one another.

Only faces are looked at, no lines. Views are worked on side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..solids.edges import Edges
from ..solids.faces import PART_CODE, Faces, areas, normals, per_face
from ..solids.scene import Scene
from .projection import View
from .resolve import resolve
from .tolerance import Tolerance

Progress = Callable[[str, float], None]

NARROW: Final = 15.0  # plan edges nearer than this to the image of the vertical fall on others [degrees]
UPRIGHT: Final = 1e-6  # normals with a smaller upward part are level [-]


@dataclass(frozen=True, kw_only=True)
class Look:
    """
    What one view shows of the faces of a scene.

    Parameters
    ----------
    facing : ndarray, shape (f,)
        Area of each face on the page as if nothing were before it; 0 where it is turned
        away or seen edge-on [m²].
    visible : ndarray, shape (f,)
        Area of what is seen of it on the page [m²].
    face : ndarray of int, shape (k,)
        Faces of which something is seen.
    polygon : ndarray of Polygon or MultiPolygon, shape (k,)
        What is seen of them [m on the page]; empty where pictures are not kept.
    coincidence : float
        See :func:`coincidence`.
    """

    facing: np.ndarray
    visible: np.ndarray
    face: np.ndarray
    polygon: np.ndarray
    coincidence: float

    @property
    def share(self) -> np.ndarray:
        """Share of each face that is seen, shape (f,) [0 to 1]; 0 where it is turned away."""
        turned = self.facing > 0
        return np.where(turned, np.minimum(self.visible / np.where(turned, self.facing, 1.0), 1.0), 0.0)


def look_from(
    scene: Scene,
    views: Sequence[View],
    *,
    origin: np.ndarray,
    tolerance: Tolerance | None = None,
    threads: int = 2,
    pictures: bool = True,
    progress: Progress | None = None,
) -> list[Look]:
    """
    See what views show of the faces of a scene.

    Parameters
    ----------
    scene : Scene
        The solids; their edges are not looked at.
    views : sequence of View
        The views, squared up.
    origin : ndarray, shape (3,)
        Site point that lands at the page's origin [m].
    tolerance : Tolerance, optional
        When two things count as equal.
    threads : int
        How many views are worked on at once.
    pictures : bool
        Keep the outlines of what is seen.
    progress : callable, optional
        Called as ``progress("views", share)``.

    Returns
    -------
    list of Look
        One for each view, in their order; the same for any number of threads.
    """
    bare = replace(scene, edges=_no_edges())
    say = progress or (lambda stage, share: None)
    limits = tolerance or Tolerance()

    def one(view: View) -> Look:
        return _look(bare, view, origin, limits, pictures)

    say("views", 0.0)
    if threads <= 1:
        found = []
        for number, view in enumerate(views, start=1):
            found.append(one(view))
            say("views", number / len(views))
        return found
    with ThreadPoolExecutor(threads) as pool:
        running = [pool.submit(one, view) for view in views]
        try:
            for number, _ in enumerate(as_completed(running), start=1):
                say("views", number / len(views))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return [future.result() for future in running]


def _look(scene: Scene, view: View, origin: np.ndarray, tolerance: Tolerance, pictures: bool) -> Look:
    drawing = resolve(scene, view, origin=origin, tolerance=tolerance, threads=1)
    seen, polygon = np.zeros((2, len(scene.faces))), drawing.visible.polygon
    seen[0, drawing.face] = drawing.area
    seen[1, drawing.face] = shapely.area(polygon)
    shows = np.flatnonzero(~shapely.is_empty(polygon) & pictures)
    return Look(
        facing=seen[0],
        visible=seen[1],
        face=drawing.face[shows],
        polygon=polygon[shows],
        coincidence=coincidence(scene.faces, view),
    )


def _no_edges() -> Edges:
    none = np.zeros(0, dtype=np.int64)
    return Edges(
        start=np.zeros((0, 3)),
        end=np.zeros((0, 3)),
        solid=none,
        member_start=np.zeros(1, dtype=np.int64),
        face=none,
        forward=none.astype(bool),
        smooth=none.astype(bool),
    )


def coincidence(faces: Faces, view: View, *, narrow: float = NARROW) -> float:
    """
    Share of the plan edges of upright faces that fall, or all but fall, on one another.

    An upright face whose plan edge is drawn along the image of the vertical is edge-on:
    its upper and its lower edge, and the verticals between them, are one line.

    Parameters
    ----------
    faces : Faces
        Faces of the scene; upright sides and risers count, each by the length of its
        plan edge.
    view : View
        The view, squared up.
    narrow : float
        Edges drawn at this angle to the image of the vertical count nothing, those along
        it count whole, those between in proportion [degrees].

    Returns
    -------
    float
        0 where no edge is drawn near the vertical, 1 where all are [-].

    References
    ----------
    ISO 5456-3:1996 §5.3 advises against turns of 0°, 90° and 180° (from memory).

    Examples
    --------
    >>> from siteaxo.solids.prism import prisms
    >>> from siteaxo.view.projection import planometric
    >>> square = prisms(np.array([shapely.box(0, 0, 1, 1)]), np.zeros(1), np.ones(1), solid=np.zeros(1, int))
    >>> [round(coincidence(square, planometric(t)), 3) for t in (0, 10, 45)]
    [0.5, 0.167, 0.0]
    """
    along, length = plan_edges(faces)
    if not length.sum() > 0:
        return 0.0
    page, rise = along @ view.matrix[:2, :2].T, view.matrix[:2, 2]
    size = np.hypot(*page.T) * np.hypot(*rise)
    if not size.any():  # seen straight from above: upright faces are all edge-on
        return 1.0
    sine = np.abs(page[:, 0] * rise[1] - page[:, 1] * rise[0]) / np.where(size > 0, size, 1.0)
    angle = np.where(size > 0, np.degrees(np.arcsin(np.minimum(sine, 1.0))), 0.0)
    return float((length * np.maximum(1 - angle / narrow, 0.0)).sum() / length.sum())


def plan_edges(faces: Faces) -> tuple[np.ndarray, np.ndarray]:
    """
    Directions and lengths in plan of upright sides and risers.

    Parameters
    ----------
    faces : Faces
        Faces of a scene.

    Returns
    -------
    along : ndarray, shape (k, 2)
        Unit vectors.
    length : ndarray, shape (k,)
        From the first to the last point of each face in that direction [m].
    """
    normal = normals(faces)
    upright = np.isin(faces.part, (PART_CODE["side"], PART_CODE["riser"]))
    upright &= (np.abs(normal[:, 2]) < UPRIGHT) & (areas(faces) > 0)
    along = np.column_stack([-normal[:, 1], normal[:, 0]])
    way = (faces.xyz[:, :2] * along[faces.vertex_face]).sum(axis=1)
    start = faces.vertex_start
    extent = per_face(way, start, np.maximum) - per_face(way, start, np.minimum)
    return along[upright], extent[upright]
