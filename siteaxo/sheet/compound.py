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

from ..ragged import spread

MOST_POINTS: Final = 20_000
"""Points to one path of lines; more make rasterising slow."""


class Compound:
    """
    Outlines of many areas, or many lines, of which any number are made one path.

    Parameters
    ----------
    geometries : array of shapely geometries, shape (n,)
        Areas may touch but not overlap.
    closed : bool
        Whether areas are looked at, holes left open, or lines; all else is left out.

    Examples
    --------
    >>> two = Compound(shapely.box([0, 2], 0, [1, 3], 1), closed=True)
    >>> len(two.path(np.array([1])).vertices), len(two.path().vertices)
    (5, 10)
    """

    def __init__(self, geometries: Any, *, closed: bool) -> None:
        every = np.asarray(geometries, dtype=object)
        parts, owner = shapely.get_parts(every, return_index=True)
        kind = shapely.GeometryType.POLYGON if closed else shapely.GeometryType.LINESTRING
        wanted = (shapely.get_type_id(parts) == kind) & ~shapely.is_empty(parts)
        parts, owner = parts[wanted], owner[wanted]
        if closed:
            parts, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
            owner = owner[part]
        self.points, string = shapely.get_coordinates(parts, return_index=True)
        self.start = np.searchsorted(owner[string], np.arange(len(every) + 1))
        starts = np.flatnonzero(np.diff(string, prepend=-1))
        self.codes = np.full(len(string), Path.LINETO, dtype=Path.code_type)
        self.codes[starts] = Path.MOVETO
        if closed and len(string):
            self.codes[np.append(starts[1:], len(string)) - 1] = Path.CLOSEPOLY

    def path(self, rows: np.ndarray | None = None) -> Path | None:
        """
        Make one path of some of them.

        Parameters
        ----------
        rows : ndarray of int, optional
            Which; all when left out.

        Returns
        -------
        matplotlib.path.Path or None
            None when there is nothing to draw.
        """
        points, codes = self.points, self.codes
        if rows is not None:
            chosen = spread(self.start[rows], self.start[rows + 1] - self.start[rows])
            points, codes = points[chosen], codes[chosen]
        return Path(points, codes) if len(points) else None


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
    return Compound(areas, closed=True).path()


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
    return Compound(lines, closed=False).path()


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
