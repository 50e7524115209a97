"""
Many geometries made into one path.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

import numpy as np
import shapely
from matplotlib.path import Path

MOST_POINTS: Final = 20_000
"""Points to one path of lines; more make rasterising slow."""


def area_path(areas: Any) -> Path | None:
    """
    Make one path of many polygons, holes left open.

    Parameters
    ----------
    areas : array of Polygon or MultiPolygon, shape (n,)
        They may touch but not overlap.

    Returns
    -------
    matplotlib.path.Path or None
        None when there is nothing to fill.
    """
    polygons = _parts(areas, "Polygon")
    rings = shapely.get_rings(shapely.orient_polygons(polygons))
    return _path(rings, closed=True)


def line_path(lines: Any) -> Path | None:
    """
    Make one path of many lines.

    Parameters
    ----------
    lines : array of LineString or MultiLineString, shape (n,)

    Returns
    -------
    matplotlib.path.Path or None
        None when there is nothing to draw.
    """
    return _path(_parts(lines, "LineString"), closed=False)


def _parts(geometries: Any, kind: str) -> np.ndarray:
    """Single parts of one kind of geometry, empty ones left out."""
    parts = shapely.get_parts(np.asarray(geometries, dtype=object))
    wanted = {"Polygon": shapely.GeometryType.POLYGON, "LineString": shapely.GeometryType.LINESTRING}[kind]
    return np.asarray(parts[(shapely.get_type_id(parts) == wanted) & ~shapely.is_empty(parts)])


def _path(strings: np.ndarray, *, closed: bool) -> Path | None:
    """Join the coordinates of many strings or rings into one path."""
    if not len(strings):
        return None
    points, owner = shapely.get_coordinates(strings, return_index=True)
    starts = np.flatnonzero(np.diff(owner, prepend=-1))
    codes = np.full(len(points), Path.LINETO, dtype=Path.code_type)
    codes[starts] = Path.MOVETO
    if closed:
        codes[np.append(starts[1:], len(points)) - 1] = Path.CLOSEPOLY
    return Path(points, codes)


def in_parts(path: Path | None) -> Iterator[Path]:
    """
    Cut a path of many lines into several where it is long.

    Parameters
    ----------
    path : matplotlib.path.Path or None
        The path.

    Yields
    ------
    matplotlib.path.Path
        Parts of whole lines, of about ``MOST_POINTS`` points or fewer.
    """
    if path is None:
        return
    codes, vertices = np.asarray(path.codes), np.asarray(path.vertices)
    starts = np.flatnonzero(codes == Path.MOVETO)
    bins = np.append(starts[1:], len(codes)) // MOST_POINTS
    cuts = [*starts[np.flatnonzero(np.diff(bins, prepend=-1))].tolist(), len(codes)]
    for begin, end in pairwise(cuts):
        yield Path(vertices[begin:end], codes[begin:end])
