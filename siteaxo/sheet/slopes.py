"""
Slopes that are worth a mark: planes that fall, how they lie on the page, and their levels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from ..craft.surfaces import has_planes
from ..diagram.layers import PLANE_COLUMNS, DiagramLayers, ViewRecord
from .levels import LEAST_MM2, SAME, joined_parts

SLOPING: Final = {
    "ramp": "slope",
    **dict.fromkeys(("ground", "terrace", "deck", "paving", "lawn", "path"), "top"),
}
"""Roles whose slopes are marked, and the part of each that slopes; surveyed ground has none."""
LEAST: Final = 0.005  # slopes gentler than 1:200 get no mark [-]
MOST: Final = 30


@dataclass(frozen=True, kw_only=True)
class SlopeRegion:
    """
    A connected area that falls evenly.

    Parameters
    ----------
    region : Polygon
        What is seen of it [m on the page].
    fall : ndarray, shape (2,)
        Direction on the page in which it falls, of length one.
    slope : float
        Fall by run [-].
    plane : ndarray, shape (3,)
        Level at the page's origin, and its change per metre to the right and up the page [m].
    low, high : float
        Levels of its two ends, seen or not [m].
    layer, source_id, role : str
        Of the largest face in it.
    """

    region: shapely.Polygon
    fall: np.ndarray
    slope: float
    plane: np.ndarray
    low: float
    high: float
    layer: str
    source_id: str
    role: str

    def levels_at(self, places: np.ndarray) -> np.ndarray:
        """Levels of places on the page, shape (..., 2) [m]."""
        return np.asarray(self.plane[0] + places @ self.plane[1:])


def slope_regions(diagram: DiagramLayers, scale: float) -> list[SlopeRegion]:
    """
    Join faces that lie side by side in one plane that falls.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    scale : float
        The x of 1:x.

    Returns
    -------
    list of SlopeRegion
        The largest first, not more than ``MOST``.
    """
    faces = diagram.faces
    if not has_planes(faces) or not len(faces):
        return []
    normal = faces[list(PLANE_COLUMNS[:3])].to_numpy(dtype=float)
    fall = (faces["level_max"] - faces["level_min"]).to_numpy(dtype=float)
    part = faces["role"].map(SLOPING).to_numpy() == faces["part"].to_numpy()
    chosen = part & (np.hypot(normal[:, 0], normal[:, 1]) >= LEAST * normal[:, 2]) & (normal[:, 2] > 0)
    own, normal = faces[chosen & (fall >= SAME)], normal[chosen & (fall >= SAME)]
    gradient = -normal[:, :2] / normal[:, 2:]
    height = own["offset"].to_numpy(dtype=float) / normal[:, 2]
    key = np.column_stack([np.round(gradient, 3), np.round(height, 2)]) + 0.0
    found = []
    for one in np.unique(key, axis=0):  # a handful of planes
        rows = own[(key == one).all(axis=1)]
        for piece, row in joined_parts(rows, LEAST_MM2 * (scale / 1000) ** 2, scale):
            found.append(_region(piece, row, diagram.view))
    found.sort(key=lambda region: (-round(region.region.area, 6), region.region.bounds))
    return found[:MOST]


def levels_on_page(row: Any, view: ViewRecord) -> np.ndarray:
    """
    Levels of a plane by places on the page: at its origin, and their change to the right and up, shape (3,).

    Parameters
    ----------
    row : Series
        A face with its plane, seen not edge-on.
    view : ViewRecord
        The view.
    """
    normal = np.array([row[name] for name in PLANE_COLUMNS[:3]], dtype=float)
    back = np.linalg.inv(np.array([*view.matrix[:2], normal]))[2]
    low = view.drawn_in_place - (float(row["lift_m"]) if "lift_m" in row else 0.0)
    return np.array([back[2] * float(row["offset"]) + low, back[0], back[1]])


def _region(piece: shapely.Polygon, row: Any, view: ViewRecord) -> SlopeRegion:
    normal = np.array([row[name] for name in PLANE_COLUMNS[:3]], dtype=float)
    gradient = -normal[:2] / normal[2]
    slope = float(np.hypot(*gradient))
    down = view.matrix[:2] @ np.array([*(-gradient), -(slope**2)])
    return SlopeRegion(
        region=piece,
        fall=down / max(float(np.hypot(*down)), 1e-12),
        slope=slope,
        plane=levels_on_page(row, view),
        low=float(row["level_min"]),
        high=float(row["level_max"]),
        layer=str(row["layer"]),
        source_id=str(row["source_id"]),
        role=str(row["role"]),
    )


def slope_words(slope: float) -> str:
    """
    Write a slope as one of rise to so much of run, to a tenth below 1:20.

    Examples
    --------
    >>> slope_words(1 / 12.5), slope_words(1 / 13), slope_words(0.0199)
    ('1:12.5', '1:13', '1:50')
    """
    run = 1 / slope
    return f"1:{run:.0f}" if run >= 20 else f"1:{run:.1f}".removesuffix(".0")
