"""
Terraces that do not meet: overlaps, gaps and slivers.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding, some_ids
from ..source.features import Features
from .notes import note
from .pairs import on_pairs

GRID: Final = 1e-4  # what is narrower counts as touching [m]
WIDE: Final = 0.5  # gaps wider than this are meant [m]
THIN: Final = 0.1  # a terrace narrower than this is a sliver [m]
LEVEL: Final = 1e-3  # levels that differ by no more are one [m]
WHOLE: Final = 0.99  # share of a terrace that lies within another where it stands upon it [-]


def look_at_terraces(features: Features) -> tuple[Finding, ...]:
    """
    Find terraces that overlap, leave gaps, or are slivers.

    Parameters
    ----------
    features : Features
        With levels settled and footprints cut open.

    Returns
    -------
    tuple of Finding
    """
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    prism = features.of_role("form") == "prism"
    rows = np.flatnonzero((features.of_role("theme") == "ground") & area & prism)
    if not len(rows):
        return ()
    others = np.flatnonzero(area & (features.of_role("theme") != "ground"))
    return (*_overlaps(features, rows), *_gaps(features, rows, others), *_slivers(features, rows))


def mean_width(polygons: np.ndarray) -> np.ndarray:
    """
    Width of a long rectangle of the same area and outline as each polygon [m].

    Examples
    --------
    >>> mean_width(np.array([shapely.box(0, 0, 10, 0.5)])).tolist()
    [0.5]
    """
    half, size = shapely.length(polygons) / 2, shapely.area(polygons)
    return (half - np.sqrt(np.maximum(half**2 - 4 * size, 0.0))) / 2


def _overlaps(features: Features, rows: np.ndarray) -> Iterable[Finding]:
    footprint = features.geometry[rows]
    one, other = shapely.STRtree(footprint).query(footprint, predicate="intersects")
    top = features.top[rows]
    above = (top[one] > top[other]) | ((top[one] == top[other]) & (one > other))
    one, other = one[above], other[above]
    common = on_pairs(shapely.intersection, footprint, one, other)
    size = shapely.area(common)
    smaller = np.minimum(shapely.area(footprint[one]), shapely.area(footprint[other]))
    upon = (size >= WHOLE * smaller) & (top[one] - top[other] > LEVEL)  # or at other levels all over
    doubled = np.abs(features.base[rows[one]] - features.base[rows[other]]) <= LEVEL  # told elsewhere
    partly = (size > GRID * shapely.length(common)) & ~upon & ((size < WHOLE * smaller) | ~doubled)
    for k in np.flatnonzero(partly):
        upper, lower = int(rows[one[k]]), int(rows[other[k]])
        message = (
            f"It overlaps {features.name_of(upper)} by {size[k]:.4g} m²; there that one, at "
            f"{features.top[upper]:.3f} m, is seen. Trim one to the other."
        )
        place = shapely.get_coordinates(shapely.point_on_surface(common[k]))[0]
        yield note(features, lower, "terraces-overlap", message, value=f"{size[k]:.4g} m²", place=place)


def _gaps(features: Features, rows: np.ndarray, others: np.ndarray) -> Iterable[Finding]:
    """Slits between terraces and narrow holes in them that nothing else fills."""
    footprint = features.geometry[rows]
    whole = shapely.union_all(footprint, grid_size=GRID / 10)
    wider = shapely.buffer(whole, WIDE / 2, join_style="mitre")
    closed = shapely.buffer(wider, -WIDE / 2, join_style="mitre")
    open_ = _areal(shapely.difference(closed, whole, grid_size=GRID / 10))
    near = others[shapely.intersects(features.geometry[others], open_)]
    filled = _areal(shapely.union_all(features.geometry[near], grid_size=GRID / 10))
    gap = shapely.get_parts(shapely.difference(open_, filled, grid_size=GRID / 10))
    gap = gap[shapely.area(gap) > GRID * shapely.length(gap)]
    if not len(gap):
        return
    item, beside = shapely.STRtree(footprint).query(gap, predicate="dwithin", distance=2 * GRID)
    width = mean_width(gap)
    for k in range(len(gap)):
        near = rows[beside[item == k]]
        if len(near) < 2 and not shapely.get_num_interior_rings(footprint).any():
            continue  # a notch in one outline is meant
        ids = some_ids(features.source_id[near])
        message = (
            f"Between terraces {ids} a gap {width[k]:.3f} m wide on the mean, {shapely.area(gap[k]):.4g} m², "
            "shows what lies below. Move their sides together."
        )
        place = shapely.get_coordinates(shapely.point_on_surface(gap[k]))[0]
        yield note(features, int(near[0]), "terrace-gap", message, value=f"{width[k]:.3f} m", place=place)


def _areal(geometry: shapely.Geometry) -> shapely.MultiPolygon:
    """The areas of a geometry, without the lines to which slits have closed on the grid."""
    parts = shapely.get_parts(geometry)
    return shapely.multipolygons(parts[shapely.get_dimensions(parts) == 2])


def _slivers(features: Features, rows: np.ndarray) -> Iterable[Finding]:
    parts, owner = shapely.get_parts(features.geometry[rows], return_index=True)
    width = mean_width(parts)
    for k in np.flatnonzero(width < THIN):
        message = f"A piece of it is only {width[k]:.3f} m wide on the mean. Take it into its neighbour."
        place = shapely.get_coordinates(shapely.point_on_surface(parts[k]))[0]
        yield note(
            features, int(rows[owner[k]]), "terrace-sliver", message, value=f"{width[k]:.3f} m", place=place
        )
