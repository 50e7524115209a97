"""
Shadows as a quiet tone over what they fall on.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE
from ..solids.linked import linked
from ..solids.stack import Stack
from ..view.shadow import Shadows
from .colours import tone
from .offset import offset
from .rows import Rows, rows_of

DARK: Final = tone(0.24, 0.030, 265)
"""Tone of shadows: a dark, slightly blue grey."""
OPACITY: Final = 0.24
OWN_OPACITY: Final = 0.10
"""The tones of dark sides tell already that they are turned from the light."""
SLIT_MM: Final = 0.25
"""Light between shadows is drawn where it is wider than this on paper [mm]."""
SHARP: Final[dict[str, Any]] = {"join_style": "mitre", "mitre_limit": 10.0}
"""How shadows keep their corners while they grow and shrink."""


def shadow_rows(
    stack: Stack,
    shadows: Shadows,
    *,
    own: bool = True,
    fill: str = DARK,
    opacity: float = OPACITY,
    own_opacity: float = OWN_OPACITY,
) -> Rows:
    """
    Make rows of shadows.

    Parameters
    ----------
    stack : Stack
        The solids.
    shadows : Shadows
        What lies in the dark.
    own : bool
        Show the dark sides of things too, not only the shadows they cast. Crowns show
        none: their facets would show, and their tones tell light from dark.
    fill : str
        Tone of shadows, ``"#rrggbb"``.
    opacity, own_opacity : float
        How strongly cast shadows cover what they fall on, and how much dark sides are
        darkened, 0 to 1.

    Returns
    -------
    Rows
        ``kind`` is "cast", or "own" for faces that are turned from the light.
    """
    faces = stack.scene.faces
    crown = faces.part[shadows.face] == PART_CODE["crown"]
    row = np.flatnonzero(~shadows.own | (own & ~crown))
    face = shadows.face[row]
    return rows_of(
        stack,
        stack.solid_feature[faces.solid[face]],
        shadows.polygon[row],
        kind=np.where(shadows.own[row], "own", "cast").astype(object),
        fill=fill,
        opacity=np.where(shadows.own[row], own_opacity, opacity),
    )


def without_slits(shadows: Any, faces: Any, *, scale: float) -> Any:
    """
    Close slits of light between shadows that would be hairlines on paper.

    Through a gap of a few centimetres between two houses the sun draws a line of light that is
    hardly there: it is half a degree wide, and some metres away its edges are softer than the line
    is broad.

    Parameters
    ----------
    shadows : GeoDataFrame
        With ``kind`` "cast" or "own".
    faces : GeoDataFrame
        What is seen of faces.
    scale : float
        The x of 1:x.

    Returns
    -------
    GeoDataFrame
        The same rows; cast shadows are larger by the slits between their parts.

    References
    ----------
    The sun's disc is 0.53° wide on average (from memory).
    """
    shapes = np.asarray(shadows.geometry.array, dtype=object).copy()
    row = np.flatnonzero(shadows["kind"].to_numpy(dtype=str) == "cast")
    slit, between = _slits(shapes[row], SLIT_MM * scale / 2000)
    if not len(slit):
        return shadows
    rows, place = np.unique(row[between], return_inverse=True)
    seen = np.asarray(faces.geometry.array, dtype=object)
    some, face = shapely.STRtree(seen).query(shapely.point_on_surface(shapes[rows]), predicate="within")
    slit = shapely.multipolygons(slit, indices=place)[some]
    lit, place = shapely.get_parts(shapely.intersection(slit, seen[face]), return_index=True)
    area = shapely.get_dimensions(lit) == 2
    if area.any():
        rows, place = np.unique(rows[some[place[area]]], return_inverse=True)
        more = shapely.geometrycollections(lit[area], indices=place)
        shapes[rows] = shapely.union_all(np.column_stack([shapes[rows], more]), axis=1)
    return shadows.set_geometry(shapes, crs=shadows.crs)


def _slits(dark: np.ndarray, half: float) -> tuple[np.ndarray, np.ndarray]:
    """
    What is narrower than twice *half* and has dark parts to both sides.

    Parts grow by *half*, so that they meet across it, and shrink again together.

    Returns
    -------
    slit : ndarray of Polygon, shape (k,)
    row : ndarray of int, shape (k,)
        The place in *dark* of each, ascending.
    """
    part, row = shapely.get_parts(dark, return_index=True)
    grown = offset(part, half, **SHARP)
    one, other = shapely.STRtree(grown).query(grown, predicate="intersects")
    alike = row[one] == row[other]
    knot = linked(len(part), one[alike], other[alike])
    order = np.argsort(knot, kind="stable")
    first, place = np.unique(knot[order], return_inverse=True)
    bare = shapely.multipolygons(part[order], indices=place)
    wide = shapely.union_all(shapely.geometrycollections(grown[order], indices=place)[:, None], axis=1)
    closed = offset(wide, -half * (1 + 1e-6), **SHARP)
    some = np.flatnonzero(shapely.area(closed) - shapely.area(bare) >= 2 * half**2)
    slit, place = shapely.get_parts(shapely.difference(closed[some], bare[some]), return_index=True)
    large = shapely.area(slit) >= 4 * half**2  # not the tips of what is wide
    return slit[large], row[first[some[place[large]]]]
