"""
Upright prisms: a footprint raised from its base to its top, courtyards included.

A prism without height is one sheet, seen from both sides. Tops, and undersides that are
parallel to them, may slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .faces import PART_CODE, Faces, from_quads, join, take
from .rings import assemble

FLAT = 1e-9  # a prism lower than this has no walls [m]


def prisms(
    footprints: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    solid: np.ndarray,
    top_part: np.ndarray | None = None,
    slope: Slope | None = None,
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
    slope : Slope, optional
        How the tops slope; all are level when not given.

    Returns
    -------
    Faces
        Tops first, then sides, then soffits.
    """
    if not len(footprints):
        return join([])
    upper_part = np.full(len(footprints), PART_CODE["top"]) if top_part is None else top_part
    rings = Rings(shapely.orient_polygons(shapely.force_2d(footprints)))
    sheet = top - base <= FLAT
    raised, every = np.flatnonzero(~sheet), np.arange(len(footprints))
    under = np.full(len(footprints), PART_CODE["soffit"])
    if slope is None or not slope.falls.any():
        tops = rings.lid(every, top, solid, upper_part, two_sided=sheet)
        sides = rings.walls(raised, base, top, solid)
        return join([tops, sides, rings.lid(raised, base, solid, under, upside_down=True)])
    high = rings.levels(top, slope)
    low = np.where(
        slope.parallel[rings.vertex_poly], high - (top - base)[rings.vertex_poly], rings.levels(base)
    )
    tops = rings.lid(every, high, solid, upper_part, two_sided=sheet)
    return join(
        [
            tops,
            rings.sloped_walls(raised, low, high, solid),
            rings.lid(raised, low, solid, under, upside_down=True),
        ]
    )


@dataclass(frozen=True, kw_only=True)
class Slope:
    """
    Slopes of n tops.

    Parameters
    ----------
    rise : ndarray, shape (n, 2)
        Rise per metre east and north; 0 where a top lies level [-].
    high : ndarray, shape (n, 2)
        Where each reaches its level [m].
    parallel : ndarray of bool, shape (n,)
        Whether the underside lies parallel to the top, its height below it.
    """

    rise: np.ndarray
    high: np.ndarray
    parallel: np.ndarray

    @property
    def falls(self) -> np.ndarray:
        """Which of them slope, shape (n,)."""
        return (self.rise != 0).any(axis=1)


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
        """Faces of the chosen polygons at their levels, one a polygon or as in :meth:`levels`."""
        each = level if len(level) == len(self.xy) else self.levels(level)
        xyz = np.column_stack([self.xy, each])
        whole = Faces(
            xyz=_reversed_rings(xyz, self.ring_start) if upside_down else xyz,
            ring_start=self.ring_start,
            face_start=self.poly_start,
            solid=np.asarray(solid, dtype=np.int64),
            part=np.asarray(part, dtype=np.int8),
            two_sided=np.zeros(len(solid), dtype=bool) if two_sided is None else two_sided,
        )
        return whole if len(chosen) == len(solid) else take(whole, chosen)

    def levels(self, level: np.ndarray, slope: Slope | None = None) -> np.ndarray:
        """Level of every vertex, from one level a polygon, shape (v,)."""
        poly = self.vertex_poly
        each = level[poly]
        if slope is None:
            return each
        return each + ((self.xy - slope.high[poly]) * slope.rise[poly]).sum(axis=1)

    def sloped_walls(self, raised: np.ndarray, low: np.ndarray, high: np.ndarray, solid: np.ndarray) -> Faces:
        """Upright faces between levels of vertices, triangles where they have no height at one end."""
        here, there = self._segments(raised)
        corners = np.empty((len(here), 4, 3))
        corners[:, 0, :2] = corners[:, 3, :2] = self.xy[here]
        corners[:, 1, :2] = corners[:, 2, :2] = self.xy[there]
        corners[:, :, 2] = np.column_stack([low[here], low[there], high[there], high[here]])
        return assemble(
            corners.reshape(-1, 3),
            face=np.repeat(np.arange(len(here)), 4),
            place=np.tile(np.arange(4), len(here)),
            solid=np.asarray(solid)[self.vertex_poly[here]],
            part=np.full(len(here), PART_CODE["side"]),
        )

    def _segments(self, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Vertices of the chosen polygons, and the one after each on its ring."""
        following = np.arange(1, len(self.xy) + 1)
        following[self.ring_start[1:] - 1] = self.ring_start[:-1]
        keep = np.zeros(len(self.poly_start) - 1, dtype=bool)
        keep[chosen] = True
        here = np.flatnonzero(keep[self.vertex_poly])
        return here, following[here]

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
        here, there = self._segments(raised)
        poly = self.vertex_poly[here]
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
