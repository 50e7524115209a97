"""
Soft shade on crowns: crescents on the side that is turned from the light.

A crown's outline is moved toward the light on the page; what it then leaves uncovered is in
shade. So crowns are round without a facet showing, in a fixed number of tones.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..solids.faces import take
from ..solids.scene import Scene
from ..view.page import onto_page
from ..view.projection import View
from ..view.silhouettes import silhouettes
from ..view.tolerance import Tolerance
from .crowns import Plants

CRESCENTS: Final = ((1, 0.25), (3, 0.11))
"""Tone of each crescent, 0 lightest, and how far the outline is moved for it, as a share of its width."""
SMOOTH: Final = 0.006
"""Outlines are rounded by this share of their width, so that crescents end in a curve."""


def crescents(
    plants: Plants,
    seen: np.ndarray,
    scene: Scene,
    view: View,
    *,
    origin: np.ndarray,
    towards_light: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Find the shaded parts of crowns.

    Parameters
    ----------
    plants : Plants
        The plants; hedges have none.
    seen : ndarray of Polygon or MultiPolygon, shape (p,)
        What is seen of each [m on the page].
    scene : Scene
        Their solids.
    view : View
        The view.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    towards_light : ndarray, shape (3,)
        Unit vector towards the light.

    Returns
    -------
    area : ndarray of Polygon or MultiPolygon, shape (n,)
        Page polygons; the darker of a plant lie on the lighter [m].
    plant : ndarray of int, shape (n,)
        The plant of each.
    shade : ndarray of int, shape (n,)
        The tone of each.
    """
    rows = np.flatnonzero((plants.kind != "hedge") & ~shapely.is_empty(seen))
    if not len(rows):
        none = np.zeros(0, dtype=np.int64)
        return np.empty(0, dtype=object), none, none
    own = plants.take(rows)
    faces = take(scene.faces, np.flatnonzero(np.isin(scene.faces.solid, own.solid)))
    outline = silhouettes(onto_page(faces, view, origin, Tolerance()), own.solid).polygons()
    box = shapely.bounds(outline).reshape(-1, 4)
    width = np.minimum(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1])
    whole = shapely.buffer(shapely.buffer(outline, SMOOTH * width), -SMOOTH * width)
    way = view.to_page(towards_light[None])[0, :2]
    way = way / max(float(np.hypot(*way)), 1e-9)
    areas, owners, shades = [], [], []
    for shade, share in CRESCENTS:
        dark = shapely.difference(seen[rows], _moved(whole, share * width[:, None] * way))
        kept = np.flatnonzero(shapely.area(dark) > 0)
        areas.append(dark[kept])
        owners.append(rows[kept])
        shades.append(np.full(len(kept), shade))
    return np.concatenate(areas), np.concatenate(owners), np.concatenate(shades)


def _moved(shapes: np.ndarray, by: np.ndarray) -> np.ndarray:
    """Geometries moved, each by its own step."""
    xy, owner = shapely.get_coordinates(shapes, return_index=True)
    return shapely.set_coordinates(shapes.copy(), xy + by[owner])
