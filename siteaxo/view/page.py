"""
Faces brought onto the page: polygons of those that face the viewer, with depth planes.

Coordinates are taken relative to one local origin, sent through the view's matrix and
rounded to a power-of-two grid, so that equal corners stay equal. Planes are kept as
coefficients about the mean of each face's vertices, from its Newell normal; overlays
happen in two dimensions only.

The grid is coarser than the spacing of floating-point numbers up to 2²⁹ m, half a million
kilometres, from the page's origin: 10 km away doubles are 2⁻⁴⁰ m apart, so that a corner
lies within half a step of the grid, 0.03 µm each way, there as at the origin. Where lines
meet at a shallow angle θ, that becomes 0.04 µm / sin θ along them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from ..ragged import spread
from ..solids.faces import PART_CODE, Faces, newell, normals, per_face, take
from .projection import View
from .rings import Rings
from .shapes import Shapes
from .tolerance import GRID, Tolerance

STEEP: Final = 100.0  # depth per metre on the page of what is turned away from the viewer [-]
STEEP_GROUND: Final = 1e4
"""
The same for needles of the ground, which stand as steep as they like; its depth is told to half a millimetre
even so.
"""
NEEDLE: Final = 0.01  # share of the width of what is edge-on below which any face is a line [-]


@dataclass(frozen=True, kw_only=True)
class PageFaces:
    """
    Faces that can be seen in a view, if nothing hides them.

    Parameters
    ----------
    faces : Faces
        The faces concerned, m of them.
    index : ndarray of int, shape (m,)
        Where each stands in the whole Faces table.
    xy : ndarray, shape (v, 2)
        Page coordinates of their vertices [m].
    depth : ndarray, shape (v,)
        Depth of their vertices, greater is nearer [m].
    polygon : ndarray of Polygon, shape (m,)
        Page polygons.
    mended : ndarray of int
        Rows whose polygons are not simply their rings, because rounding made sides cross.
    area : ndarray, shape (m,)
        Their areas [m²].
    box : ndarray, shape (m, 4)
        Left, bottom, right, top [m].
    plane : ndarray, shape (m, 5)
        Mean x, mean y, depth there, and depth per metre to the right and up the page.
    normal : ndarray, shape (m, 3)
        Unit outward normals on the site, turned toward the viewer.
    flipped : ndarray of bool, shape (m,)
        Whether the rings run clockwise on the page.
    warp : ndarray, shape (m,)
        Greatest distance in depth of a vertex from its face's plane [m].
    """

    faces: Faces
    index: np.ndarray
    xy: np.ndarray
    depth: np.ndarray
    polygon: np.ndarray
    mended: np.ndarray
    area: np.ndarray
    box: np.ndarray
    plane: np.ndarray
    normal: np.ndarray
    flipped: np.ndarray
    warp: np.ndarray

    def __len__(self) -> int:
        return len(self.index)

    @cached_property
    def plane_columns(self) -> np.ndarray:
        """The columns of *plane* one by one, shape (5, m)."""
        return np.ascontiguousarray(self.plane.T)

    @cached_property
    def shapes(self) -> Shapes:
        """The polygons as rings."""
        count, first = np.diff(self.faces.face_start), self.faces.face_start[:-1]
        outer = np.zeros(len(self.faces.ring_start) - 1, dtype=bool)
        outer[first] = True
        rings = Rings(xy=self.xy, start=self.faces.ring_start, row=np.repeat(np.arange(len(self)), count))
        shapes = Shapes.made_of(rings.inside_left(outer), self.area, self.polygon)
        return shapes.put(self.mended, Shapes.of(self.polygon[self.mended]))

    @cached_property
    def box_columns(self) -> np.ndarray:
        """Left, bottom, right, top of each, shape (4, m) [m]."""
        return np.ascontiguousarray(self.box.T)

    @cached_property
    def slope(self) -> np.ndarray:
        """Depth per metre to the right and up the page, shape (m, 2)."""
        return np.ascontiguousarray(self.plane[:, 3:])

    def depth_at(self, rows: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """
        Depth of the planes of *rows* at page points.

        Parameters
        ----------
        rows : ndarray of int, shape (n,)
            Faces.
        xy : ndarray, shape (n, ..., 2)
            One or more page points each [m].

        Returns
        -------
        ndarray, shape (n, ...)
        """
        shape = (len(rows),) + (1,) * (xy.ndim - 2)
        x0, y0, d0, right, up = (column.take(rows).reshape(shape) for column in self.plane_columns)
        return d0 + right * (xy[..., 0] - x0) + up * (xy[..., 1] - y0)


def onto_page(faces: Faces, view: View, origin: np.ndarray, tolerance: Tolerance) -> PageFaces:
    """
    Project faces and keep those that are turned toward the viewer.

    Parameters
    ----------
    faces : Faces
        All faces of the scene.
    view : View
        The view.
    origin : ndarray, shape (3,)
        Local origin, which lands at the origin of the page [m].
    tolerance : Tolerance
        Faces narrower than its width on the page are edge-on and left out.

    Returns
    -------
    PageFaces
    """
    page = rounded_columns(faces.xyz, view, origin)
    signed, outline = _shoelace(faces, page)
    facing = (signed * view.handedness > 0) | faces.two_sided
    index = np.flatnonzero(facing & ~_edge_on(faces, page, signed, outline, tolerance))
    kept = take(faces, index)
    page = page.take(spread(faces.vertex_start[index], np.diff(faces.vertex_start)[index]), axis=1)
    plane, warp = _planes(kept, page)
    xy = np.ascontiguousarray(page[:2].T)
    polygon, mended = _polygons(kept, xy)
    normal = normals(kept)
    behind = signed[index] * view.handedness < 0
    normal[behind] *= -1
    return PageFaces(
        faces=kept,
        index=index,
        xy=xy,
        depth=page[2],
        polygon=polygon,
        mended=mended,
        area=np.abs(signed[index]),
        box=_boxes(kept, page),
        plane=plane,
        normal=normal,
        flipped=signed[index] < 0,
        warp=warp,
    )


def rounded_page(xyz: np.ndarray, view: View, origin: np.ndarray) -> np.ndarray:
    """Page coordinates on the grid, and depth, of site points; shape (n, 3) [m]."""
    return np.ascontiguousarray(rounded_columns(xyz, view, origin).T)


def rounded_columns(xyz: np.ndarray, view: View, origin: np.ndarray) -> np.ndarray:
    """The same as :func:`rounded_page`, coordinate by coordinate; shape (3, n) [m]."""
    page = np.array(view.columns(*(xyz[:, k] - origin[k] for k in range(3))))
    page[:2] *= 1 / GRID
    np.rint(page[:2], out=page[:2])
    page[:2] *= GRID
    return page


def _shoelace(faces: Faces, page: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Signed page area and length of outline of each face."""
    start = faces.vertex_start
    first, after = start[faces.vertex_face], faces.next_vertex
    x, y = (column - column[first] for column in page[:2])
    next_x, next_y = x[after], y[after]
    cross = x * next_y - y * next_x
    right, up = next_x - x, next_y - y
    step = np.sqrt(right * right + up * up)
    return per_face(cross, start, np.add) / 2, per_face(step, start, np.add)


def _edge_on(
    faces: Faces, page: np.ndarray, signed: np.ndarray, outline: np.ndarray, tolerance: Tolerance
) -> np.ndarray:
    """
    Which faces are edge-on: narrow on the page because they are turned away from the viewer.

    Those that are narrow themselves, such as facets of a curve and needles of the ground, are not:
    together they may be wide.
    """
    width = 2 * np.abs(signed) / np.where(outline > 0, outline, 1.0)
    edge_on = width < tolerance.width
    narrow = np.flatnonzero(edge_on & (width >= NEEDLE * tolerance.width))
    some = take(faces, narrow)
    corner = spread(faces.vertex_start[narrow], np.diff(faces.vertex_start)[narrow])
    normal = newell(some, page.T[corner])[1]
    steep = np.where(some.part == PART_CODE["slope"], STEEP_GROUND, STEEP)
    edge_on[narrow] = np.hypot(normal[:, 0], normal[:, 1]) > steep * np.abs(normal[:, 2])
    return edge_on | (signed == 0)


def _planes(faces: Faces, page: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    mean, normal = newell(faces, page.T)
    slope = -normal[:, :2] / normal[:, 2:]
    face = faces.vertex_face
    x, y, depth = (column[face] for column in np.ascontiguousarray(mean.T))
    right, up = np.ascontiguousarray(slope.T)
    flat = depth + ((page[0] - x) * right[face] + (page[1] - y) * up[face])
    warp = per_face(np.abs(page[2] - flat), faces.vertex_start, np.maximum)
    return np.column_stack([mean, slope]), warp


def _boxes(faces: Faces, page: np.ndarray) -> np.ndarray:
    start = faces.vertex_start
    sides = [(0, np.minimum), (1, np.minimum), (0, np.maximum), (1, np.maximum)]
    return np.column_stack([per_face(page[k], start, how) for k, how in sides])


def _polygons(faces: Faces, xy: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Polygons of faces, and rows of those that had to be mended."""
    if not len(faces):
        return np.empty(0, dtype=object), np.zeros(0, dtype=np.int64)
    counts = np.diff(faces.ring_start) + 1
    closed_start = np.concatenate([[0], np.cumsum(counts)])
    vertices = spread(faces.ring_start[:-1], counts)
    vertices[closed_start[1:] - 1] = faces.ring_start[:-1]
    polygon = shapely.from_ragged_array(
        shapely.GeometryType.POLYGON, xy.take(vertices, axis=0), (closed_start, faces.face_start)
    )
    corners, several = np.diff(faces.vertex_start), np.diff(faces.face_start) > 1
    unsure = several | (corners > 4)
    quads = np.flatnonzero((corners == 4) & ~several)
    unsure[quads[_turns_both_ways(xy[faces.vertex_start[quads, None] + np.arange(4)])]] = True
    doubtful = np.flatnonzero(unsure)
    broken = doubtful[~shapely.is_valid(polygon[doubtful])]
    if len(broken):  # rounding, or a face that is not planar, has made sides cross
        polygon[broken] = shapely.make_valid(polygon[broken], method="structure", keep_collapsed=False)
    return polygon, broken


def _turns_both_ways(quad: np.ndarray) -> np.ndarray:
    """Which quadrilaterals, shape (n, 4, 2), have corners that turn left and corners that turn right."""
    x, y = np.moveaxis(np.roll(quad, -1, axis=1) - quad, 2, 0)
    turn = x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)
    return np.asarray((turn > 0).any(axis=1) & (turn < 0).any(axis=1))
