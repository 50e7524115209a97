"""
Shadows as a quiet tone over what they fall on.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE
from ..solids.stack import Stack
from ..view.shadow import Shadows
from .colours import tone
from .rows import Rows, rows_of

DARK: Final = tone(0.24, 0.030, 265)
"""Tone of shadows: a dark, slightly blue grey."""
OPACITY: Final = 0.24
OWN_OPACITY: Final = 0.10
"""The tones of dark sides tell already that they are turned from the light."""
SLIT_MM: Final = 0.25
"""Light between shadows is drawn where it is wider than this on paper [mm]."""
BESIDE: Final = 0.75
"""Share of the outline of light between shadows that lies along them; what lies along edges is less [-]."""


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
    parts, owner = shapely.get_parts(shapes[row], return_index=True)
    rings = np.bincount(owner, 1 + shapely.get_num_interior_rings(parts), len(row))
    row = row[rings > 1]  # light between shadows divides them or lies in a hole
    if not len(row):
        return shadows
    seen = np.asarray(faces.geometry.array, dtype=object)
    some, face = shapely.STRtree(seen).query(shapely.point_on_surface(shapes[row]), predicate="within")
    row = row[some]
    slits = _slits(shapely.difference(seen[face], shapes[row]), shapes[row], SLIT_MM * scale / 2000)
    more = np.flatnonzero(~shapely.is_empty(slits))
    shapes[row[more]] = shapely.union(shapes[row[more]], slits[more])
    return shadows.set_geometry(shapes, crs=shadows.crs)


def _slits(lit: np.ndarray, dark: np.ndarray, half: float) -> np.ndarray:
    """What of lit areas is narrower than twice *half* and lies between dark ones, shape (n,)."""
    wide = _grown(_grown(lit, -half), half * (1 + 1e-6))
    some = np.flatnonzero(shapely.area(lit) - shapely.area(wide) >= 2 * half**2)
    part, place = shapely.get_parts(shapely.difference(lit[some], wide[some]), return_index=True)
    large = shapely.area(part) >= 4 * half**2  # not the tips of what is wide
    part, owner = part[large], some[place[large]]
    outline = shapely.boundary(part)
    along = shapely.intersection(outline, _grown(dark[owner], half / 100))
    between = shapely.length(along) >= BESIDE * shapely.length(outline)
    found = np.full(len(lit), shapely.Polygon(), dtype=object)
    kept, place = np.unique(owner[between], return_inverse=True)
    if len(kept):
        parts = shapely.geometrycollections(part[between], indices=place)
        found[kept] = shapely.union_all(parts[:, None], axis=1)
    return found


def _grown(shapes: np.ndarray, by: float) -> np.ndarray:
    """Areas grown by a length, their corners kept sharp [m]."""
    return np.asarray(shapely.buffer(shapes, by, join_style="mitre", mitre_limit=10.0), dtype=object)
