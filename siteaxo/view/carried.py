"""
Dark parts of faces carried from the light's page to the drawing's page, and cut by what is seen there.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..ragged import spread
from .overlay import polygonal
from .page import PageFaces, rounded_page
from .projection import View
from .sun import Sun
from .tolerance import GRID, Tolerance

FINE: Final = 2.0**-20  # shadows are cut on this grid of the drawing's page, a micrometre [m]


def carried(
    dark: np.ndarray,
    rows: np.ndarray,
    page: PageFaces,
    sun: Sun,
    view: View,
    origin: np.ndarray,
) -> np.ndarray:
    """Polygons on the light's page carried through the planes of their faces to the drawing's page."""
    if not len(rows):
        return dark
    from_light = np.linalg.inv(sun.view.matrix)
    xy, owner = shapely.get_coordinates(dark, return_index=True)
    face = rows[owner]
    depth = page.depth_at(face, xy)
    there = view.to_page(np.column_stack([xy, depth]) @ from_light.T)[:, :2]
    corner = spread(page.faces.vertex_start[rows], np.diff(page.faces.vertex_start)[rows])
    home = np.repeat(rows, np.diff(page.faces.vertex_start)[rows])
    place = _same_corner(face, xy, home, page.xy[corner])
    exact = rounded_page(page.faces.xyz[corner], view, origin)[:, :2]
    there[place >= 0] = exact[place[place >= 0]]
    return shapely.set_coordinates(dark.copy(), there)


def _same_corner(face: np.ndarray, xy: np.ndarray, home: np.ndarray, corner: np.ndarray) -> np.ndarray:
    """For each vertex of a face, which of the corners of that face it is; -1 for none."""
    keys = np.concatenate([np.column_stack([home, *_cells(corner)]), np.column_stack([face, *_cells(xy)])])
    name = np.unique(keys, axis=0, return_inverse=True)[1].ravel()
    known = np.full(int(name.max(initial=-1)) + 1, -1)
    known[name[: len(home)]] = np.arange(len(home))
    return known[name[len(home) :]]


def _cells(xy: np.ndarray) -> np.ndarray:
    return np.rint(xy / GRID).astype(np.int64).T


def seen_of(visible: np.ndarray, dark: np.ndarray, limits: Tolerance) -> tuple[np.ndarray, float]:
    """
    Visible parts in the dark, and how far lit and dark parts are from the whole at worst.

    The cut is made on a grid, so that what is thinner than a micrometre closes up.
    """
    if not len(visible):
        return visible, 0.0
    sound = _sound(dark)
    cast = polygonal(shapely.intersection(visible, sound, grid_size=FINE))
    lit = polygonal(shapely.difference(visible, sound, grid_size=FINE))
    off = np.abs(shapely.area(visible) - shapely.area(cast) - shapely.area(lit))
    return _without_slivers(cast, limits), float(off.max(initial=0.0))


def _sound(dark: np.ndarray) -> np.ndarray:
    """Shadows as valid areas; where GEOS cannot make them so, from corners on the grid of the cut."""
    try:
        valid = shapely.make_valid(dark, method="structure", keep_collapsed=False)
    except shapely.errors.GEOSException:
        near = shapely.set_precision(dark, FINE, mode="pointwise")
        valid = shapely.make_valid(near, method="structure", keep_collapsed=False)
    return polygonal(valid)


def _without_slivers(polygon: np.ndarray, limits: Tolerance) -> np.ndarray:
    """Leave out parts that are narrower than the page tolerance."""
    parts, owner = shapely.get_parts(polygon, return_index=True)
    broad = 2 * shapely.area(parts) >= limits.page * shapely.length(parts)
    kept = np.full(len(polygon), shapely.Polygon(), dtype=object)
    if broad.any():
        shapely.multipolygons(parts[broad], indices=owner[broad], out=kept)
    lone = np.flatnonzero(shapely.get_num_geometries(kept) == 1)
    kept[lone] = shapely.get_geometry(kept[lone], 0)
    return kept
