"""
Ground as a solid, and sheets draped over it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..angles import cos_deg
from .bedding import make_ground_beds
from .contours import contour_levels, contours
from .edges import Edges
from .faces import PART_CODE, Faces, areas, from_quads, join, normals
from .grounding import draped_heights
from .making import Job, Made, together
from .mesh import edge_keys
from .network import NEAR
from .rings import assemble
from .slivers import lent_normals, met_faces
from .tin import Tin

CREASE: Final = 20.0  # facets of ground that meet at less than this show no line [degrees]
SAME: Final = 1e-9  # levels nearer than this are equal [m]
THIN: Final = 1e-6  # a slab thinner than this is a sheet [m]
SLAB: Final = 0.1  # under ground that lies level at the lowest level [m]


def make_ground(job: Job, rows: np.ndarray) -> Made:
    """Make the ground, cut open where something stands in it, down to the lowest level."""
    if job.ground is None or not len(job.ground):
        return Made(faces=join([]), row=np.zeros(0, dtype=np.int64))
    bottom = min(float(job.features.base.min()), float(job.ground.xyz[:, 2].min()))
    inner = np.setdiff1d(edge_keys(job.ground.edge, len(job.ground.xyz)), _border_keys(job.ground))
    low = job.ground.xyz[np.stack(np.divmod(inner, len(job.ground.xyz))), 2] <= bottom + THIN
    slab = SLAB if low.all(axis=0).any() else 0.0  # or else its two sides would be one
    made = Made(faces=ground_faces(job.ground, bottom - slab), row=rows[:1])
    return together([made, make_ground_beds(job, int(rows[0]), bottom - slab)])


def _border_keys(tin: Tin) -> np.ndarray:
    return edge_keys(tin.border, len(tin.xyz))


def make_drapes(job: Job, rows: np.ndarray) -> Made:
    """Lay footprints over the ground as sheets, or as slabs where they have a height."""
    footprints, row = job.polygons(rows)
    if job.ground is None or job.whole_ground is None or not len(rows):
        return Made(faces=join([]), row=np.zeros(0, dtype=np.int64))
    lying = drapes(job.ground, footprints)
    height = draped_heights(job.features, row, job.whole_ground)
    there = np.flatnonzero([len(tin) > 0 for tin in lying])
    faces = [drape_faces(lying[k], height[k], number) for number, k in enumerate(there)]
    return Made(faces=join(faces), row=row[there])


def drapes(tin: Tin, footprints: np.ndarray) -> list[Tin]:
    """
    Cut footprints out of the ground, each for itself.

    Parameters
    ----------
    tin : Tin
        The ground.
    footprints : ndarray of Polygon, shape (n,)
        In plan [m].

    Returns
    -------
    list of Tin, length n
        Without triangles where there is no ground.
    """
    cut = tin.with_lines(shapely.boundary(footprints))
    middle = shapely.points(cut.centroid[:, :2])
    triangle, item = shapely.STRtree(footprints).query(middle, predicate="within")
    order = np.lexsort((triangle, item))
    start = np.searchsorted(item[order], np.arange(1, len(footprints)))
    return [cut.take(own) for own in np.split(triangle[order], start)]


def ground_faces(tin: Tin, bottom: float | None, *, solid: int = 0) -> Faces:
    """
    Make faces of a surface of triangles.

    Parameters
    ----------
    tin : Tin
        The surface.
    bottom : float or None
        Level down to which it is closed; a sheet seen from both sides when None [m].
    solid : int
        Number of the solid.

    Returns
    -------
    Faces
        Triangles as "slope"; upright sides along the border, and a level "soffit".
    """
    own = np.full(len(tin), solid)
    top = from_quads(tin.xyz[tin.triangle], solid=own, part=PART_CODE["slope"], two_sided=bottom is None)
    if bottom is None:
        return top
    low = np.column_stack([tin.xyz[:, :2], np.full(len(tin.xyz), bottom)])
    soffit = from_quads(low[tin.triangle[:, ::-1]], solid=own, part=PART_CODE["soffit"])
    return join([top, _sides(tin.xyz, low, tin.border, solid), soffit])


def drape_faces(tin: Tin, height: float, solid: int) -> Faces:
    """
    Make a sheet on the ground, or a slab of even height upon it.

    Parameters
    ----------
    tin : Tin
        The ground under it.
    height : float
        Height above the ground; 0 for a sheet [m].
    solid : int
        Number of the solid.
    """
    if height <= THIN:
        return ground_faces(tin, None, solid=solid)
    own, high = np.full(len(tin), solid), tin.xyz + np.array([0.0, 0.0, height])
    top = from_quads(high[tin.triangle], solid=own, part=PART_CODE["slope"])
    soffit = from_quads(tin.xyz[tin.triangle[:, ::-1]], solid=own, part=PART_CODE["soffit"])
    return join([top, _sides(high, tin.xyz, tin.border, solid), soffit])


def _sides(high: np.ndarray, low: np.ndarray, border: np.ndarray, solid: int) -> Faces:
    """Upright faces under border edges, as triangles where they have no height at one end."""
    here, there = border.T
    corners = np.stack([low[here], low[there], high[there], high[here]], axis=1)
    count = len(border)
    return assemble(
        corners.reshape(-1, 3),
        face=np.repeat(np.arange(count), 4),
        place=np.tile(np.arange(4), count),
        solid=np.full(count, solid),
        part=np.full(count, PART_CODE["side"]),
    )


def ground_edges(
    edges: Edges, faces: Faces, solids: np.ndarray, levels: np.ndarray
) -> tuple[Edges, np.ndarray]:
    """
    Let facets of ground run into one another, and contours show.

    Parameters
    ----------
    edges : Edges
        Edges of all solids.
    faces : Faces
        Their faces.
    solids : ndarray of int
        The solids that are ground, or draped over it.
    levels : ndarray, shape (n,)
        Levels of the contours that are edges of it [m].

    Returns
    -------
    edges : Edges
        The same, smooth where two facets meet at less than a crease, and never along a
        contour; facets too narrow to be seen are passed over.
    contour : ndarray of bool, shape (e,)
        Which of them are contours.
    """
    first = edges.member_start[:-1]
    normal, size = normals(faces), areas(faces)
    smooth, face = edges.smooth.copy(), edges.face.copy()
    for part in ("side", "slope"):
        pair, one, other, length = _between(edges, faces, solids, PART_CODE[part])
        lent = lent_normals(normal, size, length, one, other)
        smooth[pair] |= (lent[one] * lent[other]).sum(axis=1) > cos_deg(CREASE)
        face[first[pair]], face[first[pair] + 1] = met_faces(size, length, one, other)
    level = (np.abs(normal[:, :2]) < SAME).all(axis=1)
    z, end = edges.start[pair, 2], edges.end[pair, 2]
    drawn = (np.abs(z - end) <= SAME) & np.isin(z, levels) & ~(level[one] & level[other])
    smooth[pair[drawn]] = False
    contour = np.zeros(len(edges), dtype=bool)
    contour[pair[drawn]] = True
    return replace(edges, face=face, smooth=smooth), contour


def _between(
    edges: Edges, faces: Faces, solids: np.ndarray, part: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Edges between two faces of one part of some solids, these two faces, and the lengths of the edges."""
    first = edges.member_start[:-1]
    pair = np.flatnonzero((np.diff(edges.member_start) == 2) & np.isin(edges.solid, solids))
    one, other = edges.face[first[pair]], edges.face[first[pair] + 1]
    alike = (faces.part[one] == part) & (faces.part[other] == part)
    pair = pair[alike]
    length = np.sqrt(((edges.end - edges.start)[pair] ** 2).sum(axis=1))
    return pair, one[alike], other[alike], length


@dataclass(frozen=True, kw_only=True)
class Relief:
    """
    The ground with the contours that are drawn on it.

    Parameters
    ----------
    tin : Tin
        Contours are edges of it, their points at exactly their levels.
    levels : ndarray, shape (n,)
        Levels of the contours [m].
    """

    tin: Tin
    levels: np.ndarray

    @classmethod
    def of(cls, tin: Tin, interval: float | None) -> Relief:
        """
        Draw contours on a surface.

        Parameters
        ----------
        tin : Tin
            The surface.
        interval : float or None
            Step of the contours, none when None [m].

        Raises
        ------
        LevelError
            If *interval* is not above zero.
        """
        z = tin.xyz[:, 2]
        if interval is None or not len(z):
            return cls(tin=tin, levels=np.zeros(0))
        levels = contour_levels(float(z.min()), float(z.max()), interval)
        lines = contours(tin, levels)
        cut = tin.with_lines(shapely.force_2d(lines.line))
        piece, at = lines.pieces
        vertex, one = shapely.STRtree(piece).query(
            shapely.points(cut.xyz[:, :2]), predicate="dwithin", distance=4 * NEAR
        )
        nearest = np.argsort(-np.abs(cut.xyz[vertex, 2] - at[one]), kind="stable")
        level = cut.xyz[:, 2].copy()
        level[vertex[nearest]] = at[one[nearest]]  # the nearest level is written last
        return cls(tin=cut.with_levels(level), levels=levels)
