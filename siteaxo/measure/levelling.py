"""
Cut and fill between the ground of a site and its terraces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..solids.planes import levels_at, sloping
from ..solids.stack import Stack
from ..solids.tin import Tin, join_tins
from ..source.features import Features
from .covered import uncovered
from .earthwork import between_surfaces, to_planes

BANKED = 1e-9  # surfaces that differ by no more are one [m]


@dataclass(frozen=True, kw_only=True)
class Levelling:
    """
    Volumes of earth by feature.

    Parameters
    ----------
    cut, fill : ndarray, shape (n,)
        For each row of the features [m³]: terraces, each where no higher one lies on it,
        and, in the row of sloping ground, the banks around what is let into it. NaN for
        all other features.
    """

    cut: np.ndarray
    fill: np.ndarray


def levelling(stack: Stack, drawn_ground: np.ndarray | None = None) -> Levelling | None:
    """
    Measure the earth that is moved to make the terraces.

    Parameters
    ----------
    stack : Stack
        The solids.
    drawn_ground : ndarray of object, shape (g,), optional
        Footprints of level ground before anything was let into it, in the order of the
        features; holes are filled where it is left out.

    Returns
    -------
    Levelling or None
        None where there is no ground, or no terrace.
    """
    features = stack.features
    name = features.of_role("name")
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    rows = np.flatnonzero((name == "terrace") & area)
    if not len(rows):
        return None
    bare = uncovered(features, rows)

    def wanted(item: np.ndarray, xy: np.ndarray) -> np.ndarray:
        return levels_at(features, rows[item], xy)

    cut, fill = np.full((2, len(features)), np.nan)
    if stack.terrain is not None:
        cut[rows], fill[rows] = to_planes(stack.terrain.surveyed, bare, wanted)
        ground = np.flatnonzero(features.of_role("form") == "terrain")
        banks = _banks(stack.terrain.surveyed, stack.terrain.tin, bare)
        cut[ground[:1]], fill[ground[:1]] = banks
        return Levelling(cut=cut, fill=fill)
    ground = np.flatnonzero((name == "ground") & area)
    if not len(ground):
        return None
    shapes = _filled(features.geometry[ground])
    if drawn_ground is not None and len(drawn_ground) == len(ground):
        shapes = drawn_ground
    if sloping(features)[np.concatenate([rows, ground])].any():
        whole = _surface(features, ground, uncovered(features, ground, shapes))
        cut[rows], fill[rows] = to_planes(whole, bare, wanted)
    else:
        cut[rows], fill[rows] = _on_level_ground(
            bare, features.top[rows], uncovered(features, ground, shapes), features.top[ground]
        )
    return Levelling(cut=cut, fill=fill)


def _filled(shapes: np.ndarray) -> np.ndarray:
    """Polygons without their holes."""
    return shapely.polygons(shapely.get_exterior_ring(shapes))


def _on_level_ground(
    shapes: np.ndarray, level: np.ndarray, ground: np.ndarray, top: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Common area by difference of level."""
    item, under = shapely.STRtree(ground).query(shapes, predicate="intersects")
    volume = shapely.area(shapely.intersection(shapes[item], ground[under])) * (top[under] - level[item])
    cut = np.bincount(item, np.maximum(volume, 0.0), len(shapes))
    return cut, np.bincount(item, np.maximum(-volume, 0.0), len(shapes))


def _surface(features: Features, row: np.ndarray, shapes: np.ndarray) -> Tin:
    """Pieces of ground, some of which fall, as a surface of triangles."""
    triangle, piece = shapely.get_parts(shapely.constrained_delaunay_triangles(shapes), return_index=True)
    xy = shapely.get_coordinates(shapely.orient_polygons(triangle)).reshape(-1, 4, 2)[:, :3]
    level = levels_at(features, np.repeat(row[piece], 3), xy.reshape(-1, 2))
    xyz = np.column_stack([xy.reshape(-1, 2), level])
    return join_tins([Tin(xyz=xyz, triangle=np.arange(len(xyz)).reshape(-1, 3))])


def _banks(surveyed: Tin, graded: Tin, terraces: np.ndarray) -> tuple[float, float]:
    """Cut and fill of what lies outside the terraces."""
    same = surveyed is graded
    if same or not len(surveyed) or not len(graded):
        return 0.0, 0.0
    whole = shapely.union_all(terraces)
    moved = between_surfaces(surveyed.within(whole, outside=True), graded.within(whole, outside=True))
    return moved.cut, moved.fill
