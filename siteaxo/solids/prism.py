"""
Upright prisms: a footprint raised from its base to its top, courtyards included.

A prism without height is one sheet, seen from both sides.
"""

from __future__ import annotations

import numpy as np
import shapely

from .faces import PART_CODE, Faces, from_quads, join, take

FLAT = 1e-9  # a prism lower than this has no walls [m]


def prisms(
    footprints: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    solid: np.ndarray,
    top_part: np.ndarray | None = None,
) -> Faces:
    """
    Raise footprints to prisms with tops, sides and soffits.

    Parameters
    ----------
    footprints : ndarray of Polygon, shape (n,)
        Valid 2D polygons; rings of any direction [m].
    base, top : ndarray, shape (n,)
        Levels, top not below base [m].
    solid : ndarray of int, shape (n,)
        Solid of each prism.
    top_part : ndarray of int, shape (n,), optional
        Part code of each upper face; "top" when not given.

    Returns
    -------
    Faces
        Tops first, then sides, then soffits.
    """
    if not len(footprints):
        return join([])
    upper_part = np.full(len(footprints), PART_CODE["top"]) if top_part is None else top_part
    rings = Rings(shapely.orient_polygons(shapely.force_2d(footprints)))
    raised = np.flatnonzero(top - base > FLAT)
    tops = rings.lid(np.arange(len(footprints)), top, solid, upper_part, two_sided=top - base <= FLAT)
    sides = rings.walls(raised, base, top, solid)
    soffits = rings.lid(raised, base, solid, np.full(len(footprints), PART_CODE["soffit"]), upside_down=True)
    return join([tops, sides, soffits])


class Rings:
    """Open rings of oriented polygons as flat arrays, with faces made from them."""

    def __init__(self, polygons: np.ndarray) -> None:
        _, xy, (closed_start, poly_start) = shapely.to_ragged_array(np.asarray(polygons, dtype=object))
        last = np.zeros(len(xy), dtype=bool)
        last[closed_start[1:] - 1] = True
        self.xy = xy[~last]
        self.ring_start = closed_start - np.arange(len(closed_start))
        self.poly_start = np.asarray(poly_start)
        ring_poly = np.repeat(np.arange(len(polygons)), np.diff(self.poly_start))
        self.vertex_poly = np.repeat(ring_poly, np.diff(self.ring_start))

    def lid(
        self,
        chosen: np.ndarray,
        level: np.ndarray,
        solid: np.ndarray,
        part: np.ndarray,
        *,
        two_sided: np.ndarray | None = None,
        upside_down: bool = False,
    ) -> Faces:
        """Horizontal faces of the chosen polygons at their levels."""
        xyz = np.column_stack([self.xy, level[self.vertex_poly]])
        whole = Faces(
            xyz=_reversed_rings(xyz, self.ring_start) if upside_down else xyz,
            ring_start=self.ring_start,
            face_start=self.poly_start,
            solid=np.asarray(solid, dtype=np.int64),
            part=np.asarray(part, dtype=np.int8),
            two_sided=np.zeros(len(level), dtype=bool) if two_sided is None else two_sided,
        )
        return whole if len(chosen) == len(level) else take(whole, chosen)

    def walls(
        self,
        raised: np.ndarray,
        base: np.ndarray,
        top: np.ndarray,
        solid: np.ndarray,
        *,
        inward: bool = False,
    ) -> Faces:
        """One upright quad per ring segment of the raised polygons; *inward* ones look into them."""
        following = np.arange(1, len(self.xy) + 1)
        following[self.ring_start[1:] - 1] = self.ring_start[:-1]
        keep = np.zeros(len(base), dtype=bool)
        keep[raised] = True
        here = np.flatnonzero(keep[self.vertex_poly])
        there, poly = following[here], self.vertex_poly[here]
        corners = np.empty((len(here), 4, 3))
        corners[:, 0, :2] = corners[:, 3, :2] = self.xy[here]
        corners[:, 1, :2] = corners[:, 2, :2] = self.xy[there]
        corners[:, :2, 2] = base[poly][:, None]
        corners[:, 2:, 2] = top[poly][:, None]
        if inward:
            corners = corners[:, ::-1]
        return from_quads(corners, solid=np.asarray(solid)[poly], part=PART_CODE["side"])


def _reversed_rings(xyz: np.ndarray, ring_start: np.ndarray) -> np.ndarray:
    """Turn each ring round, so that a face looks the other way."""
    counts = np.diff(ring_start)
    mirrored = np.repeat(ring_start[:-1] + ring_start[1:] - 1, counts) - np.arange(len(xyz))
    return xyz[mirrored]
