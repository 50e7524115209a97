"""
A little kit for drawing figures: limbs, heads and cloth as smooth polygons.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely import Polygon

Point = tuple[float, float]

FACETS: Final = 4  # corners to a quarter of a circle
FINE: Final = 0.002  # outlines may leave their curve by this share of a figure's height [-]
GRID: Final = 2.0**-20  # pieces that meet share corners on this grid
SPECK: Final = 2e-4  # pieces no larger than this are left out, heights squared


def limb(*joints: tuple[float, float, float]) -> Polygon:
    """
    A limb: straight between its joints, as thick at each as it is there.

    Parameters
    ----------
    *joints : tuple of float
        Across, up and half the thickness of each joint.
    """
    round_joints = [shapely.Point(x, y).buffer(r, quad_segs=FACETS) for x, y, r in joints]
    bones = [shapely.convex_hull(shapely.union(one, other)) for one, other in pairwise(round_joints)]
    return shapely.union_all(bones)


def disc(x: float, y: float, across: float, up: float | None = None, lean: float = 0.0) -> Polygon:
    """
    A disc or an oval.

    Parameters
    ----------
    x, y : float
        Its centre.
    across, up : float
        Half its width and half its height; a circle where only one is given.
    lean : float
        How far it leans over, anticlockwise [degrees].
    """
    angle = np.arange(4 * FACETS) * (np.pi / (2 * FACETS))
    local = np.column_stack([across * np.cos(angle), (up or across) * np.sin(angle)])
    sine, cosine = np.sin(np.radians(lean)), np.cos(np.radians(lean))
    return Polygon(local @ np.array([[cosine, sine], [-sine, cosine]]) + [x, y])


def cloth(*corners: Point, bends: Sequence[int] = ()) -> Polygon:
    """
    A piece of cloth: a closed curve that runs near its corners.

    Parameters
    ----------
    *corners : tuple of float
        Across and up, in order round the piece.
    bends : sequence of int
        Corners that stay sharp.

    References
    ----------
    G. Chaikin, "An algorithm for high-speed curve generation", Computer Graphics and
    Image Processing 3 (1974) (from memory).
    """
    ring = np.array(corners, dtype=float)
    sharp = np.isin(np.arange(len(ring)), bends)
    for _ in range(2):
        ahead = np.roll(ring, -1, axis=0)
        first, second = 0.75 * ring + 0.25 * ahead, 0.25 * ring + 0.75 * ahead
        first[sharp] = ring[sharp]
        second[np.roll(sharp, -1)] = ring[np.roll(np.arange(len(ring)), -1)][np.roll(sharp, -1)]
        kept = np.stack([~sharp | True, ~np.roll(sharp, -1)], axis=1).ravel()
        ring = np.stack([first, second], axis=1).reshape(-1, 2)[kept]
        sharp = np.stack([sharp, np.zeros_like(sharp)], axis=1).ravel()[kept]
    return Polygon(ring)


def ring(x: float, y: float, radius: float, thick: float) -> Polygon:
    """A wheel's rim: a circle with a hole."""
    outer, inner = (shapely.Point(x, y).buffer(r, quad_segs=6) for r in (radius, radius - thick))
    return shapely.difference(outer, inner)


def rod(*points: Point, thick: float) -> Polygon:
    """A rod of even thickness along straight pieces."""
    return shapely.LineString(points).buffer(thick / 2, quad_segs=2, cap_style="flat", join_style="mitre")


def layered(*pieces: tuple[str, Polygon]) -> tuple[tuple[str, Polygon], ...]:
    """
    Lay pieces over one another, the last on top, so that none overlaps another.

    Parameters
    ----------
    *pieces : tuple of str and Polygon
        What each is (skin, upper, lower, ...) and its shape.

    Returns
    -------
    tuple of (str, Polygon)
        Single polygons, simplified; pieces of one kind that meet are one, and what is
        covered, and specks, are left out.
    """
    above: Polygon = Polygon()
    shown: dict[str, list[Polygon]] = {}
    for word, piece in reversed(pieces):
        smooth = shapely.set_precision(shapely.simplify(piece, FINE), GRID)
        shown.setdefault(word, []).append(shapely.difference(smooth, above, grid_size=GRID))
        above = shapely.union(above, smooth, grid_size=GRID)
    whole = [(word, shapely.union_all(parts, grid_size=GRID)) for word, parts in shown.items()]
    singles = [(word, part) for word, shape in whole for part in shapely.get_parts(shape)]
    return tuple((word, part) for word, part in singles if part.area > SPECK)


def mirrored(piece: Polygon, about: float = 0.0) -> Polygon:
    """The same piece, turned over left to right."""
    return shapely.transform(piece, lambda xy: (xy - [about, 0.0]) * [-1.0, 1.0] + np.array([about, 0.0]))


def moved(piece: Polygon, across: float, up: float = 0.0) -> Polygon:
    """The same piece elsewhere."""
    return shapely.transform(piece, lambda xy: xy + np.array([across, up]))


def scaled(piece: Polygon, factor: float) -> Polygon:
    """The same piece, larger or smaller about the stand point."""
    return shapely.transform(piece, lambda xy: xy * factor)
