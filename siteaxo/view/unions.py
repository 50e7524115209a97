"""
Unions of many polygons that mostly lie side by side, run by run.

Sides that two polygons of a run share are left out. What remains is parted where it
crosses and encloses cells, each wholly within any of the polygons or wholly outside.
How many polygons cover a cell is told at a point within it; the union is believed where
cells, each as often as it is covered, are as large as the polygons together. All other
runs are united on the grid, heap by heap where they are very many: people on a square
hardly meet one another.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import shapely

from ..solids.exact import as_complex
from ..solids.linked import linked
from .tolerance import GRID

EQUAL: Final = 1e-9  # areas of cells and of polygons may differ by this share [-]
LOOSE: Final = 256  # runs of so many polygons are parted into heaps that do not meet
TRIES: Final = 5  # points asked within a cell, until one lies on no side of a polygon

Collect = Callable[..., np.ndarray]


def united(polygon: np.ndarray, row: np.ndarray, count: int) -> np.ndarray:
    """
    Unite the polygons of each run.

    Parameters
    ----------
    polygon : ndarray of Polygon or MultiPolygon, shape (n,)
        All of them [m].
    row : ndarray of int, shape (n,)
        The run of each, ascending.
    count : int
        Number of runs.

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (count,)
        Empty where a run has no polygon.

    References
    ----------
    Regions of a plane by how often they are gone round: Weiler, "Polygon comparison using
    a graph representation", SIGGRAPH 1980 (from memory).

    Examples
    --------
    >>> squares = shapely.box([0, 1, 5], 0, [1, 2, 6], 1)
    >>> shapely.area(united(squares, np.array([0, 0, 1]), 2)).tolist()
    [2.0, 1.0]
    """
    parts, owner = shapely.get_parts(polygon, return_index=True)
    row = row[owner]
    union, sure = _by_cells(parts, row, count)
    rest = np.flatnonzero(~sure)
    left = np.flatnonzero(~sure[row])
    union[rest] = united_on_grid(parts[left], np.searchsorted(rest, row[left]), len(rest))
    return union


def united_on_grid(polygon: np.ndarray, row: np.ndarray, count: int) -> np.ndarray:
    """
    Unite the polygons of each run with coordinates snapped to the grid; arguments as of :func:`united`.

    Polygons that meet no other of very many stay as they are.
    """
    most = max(len(polygon), 1)
    name, heap, size = np.unique(
        row * most + _heaps(polygon, row, count), return_inverse=True, return_counts=True
    )
    run, order = name // most, np.argsort(heap, kind="stable")
    shape = _gathered(polygon[order], heap[order], len(name), shapely.geometrycollections)
    whole = np.bincount(run, minlength=count)[run] == 1  # the heap is all of its run
    several = np.flatnonzero(whole | (size > 1))
    shape[several] = shapely.unary_union(shape[several][:, None], axis=1, grid_size=GRID)
    parts, owner = shapely.get_parts(shape[~whole], return_index=True)
    parts, part = shapely.get_parts(parts, return_index=True)  # a heap of one is a collection still
    real = np.flatnonzero(~shapely.is_empty(parts))
    union = _gathered(parts[real], run[~whole][owner[part[real]]], count, shapely.multipolygons)
    union[run[whole]] = shape[whole]
    return union


def _heaps(polygon: np.ndarray, row: np.ndarray, count: int) -> np.ndarray:
    """Heaps of what may meet, in runs of very many polygons; all of another run are one heap, 0."""
    many = np.flatnonzero(np.bincount(row, minlength=count)[row] >= LOOSE)
    wide = shapely.box(*(shapely.bounds(polygon[many]) + GRID * np.array([-1, -1, 1, 1])).T)
    one, other = shapely.STRtree(wide).query(wide)
    near = np.flatnonzero((one < other) & (row[many[one]] == row[many[other]]))
    heap = np.zeros(len(polygon), dtype=np.int64)
    heap[many] = linked(len(many), one[near], other[near])
    return heap


def _by_cells(polygon: np.ndarray, row: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Union of each run by the cells that unshared sides enclose, and where it means something."""
    try:
        cell, owner = _cells(polygon, row, count)
        times = _times_covered(cell, owner, polygon, row)
        area = shapely.area(cell)
        whole = np.bincount(row, shapely.area(polygon), count)
        sure = np.abs(np.bincount(owner, times * area, count) - whole) <= EQUAL * whole
        slit = area <= GRID * shapely.length(cell)  # between sides that meet but for rounding
        kept = np.flatnonzero(sure[owner] & ((times > 0) | slit))
        collected = _gathered(cell[kept], owner[kept], count, shapely.geometrycollections)
        union = shapely.coverage_union_all(collected[:, None], axis=1)
    except shapely.GEOSException:
        return np.full(count, None, dtype=object), np.zeros(count, dtype=bool)
    return union, sure & shapely.is_valid(union)


def _cells(polygon: np.ndarray, row: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """What the sides of each run enclose that no two of its polygons share, and the run of each cell."""
    ends, owner = _unshared(polygon, row)
    lines = _gathered(shapely.linestrings(ends), owner, count, shapely.multilinestrings)
    net = shapely.unary_union(lines[:, None], axis=1)
    cells, owner = shapely.get_parts(shapely.polygonize(net[:, None]), return_index=True)
    return cells, owner


def _unshared(polygon: np.ndarray, row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sides that do not belong to just two polygons of a run, shape (s, 2, 2), and their runs, ascending."""
    rings, part = shapely.get_rings(polygon, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    begin = np.flatnonzero(ring[1:] == ring[:-1])
    place = np.unique(as_complex(xy), return_inverse=True)[1].ravel()
    low, high = np.minimum(place[begin], place[begin + 1]), np.maximum(place[begin], place[begin + 1])
    run = row[part[ring[begin]]]
    order = np.lexsort((high, low, run))
    named = np.stack([run[order], low[order], high[order]])
    new = np.append(True, (named[:, 1:] != named[:, :-1]).any(axis=0))[: len(order)]
    often = np.diff(np.append(np.flatnonzero(new), len(order)))
    kept = order[new][(often != 2) & (low[order[new]] != high[order[new]])]
    return np.stack([xy[begin[kept]], xy[begin[kept] + 1]], axis=1), run[kept]


def _times_covered(cell: np.ndarray, owner: np.ndarray, polygon: np.ndarray, row: np.ndarray) -> np.ndarray:
    """How many polygons of its own run cover each cell, told at a point that lies on no side of any."""
    tree, times = shapely.STRtree(polygon), np.zeros(len(cell))
    asked, shape = np.arange(len(cell)), cell
    for number in range(TRIES):
        inner = shapely.point_on_surface(shape)
        touching, within = (
            np.bincount(at[row[by] == owner[asked[at]]], minlength=len(asked))
            for at, by in (tree.query(inner, predicate=how) for how in ("intersects", "within"))
        )
        times[asked] = within
        again = np.flatnonzero(touching != within)
        if not len(again):
            break
        asked, shape = asked[again], _half(shape[again], inner[again], left=number % 2 == 0)
    return times


def _half(shape: np.ndarray, place: np.ndarray, *, left: bool) -> np.ndarray:
    """What of shapes lies left of places on the page, or below them."""
    box, (x, y) = shapely.bounds(shape).T, shapely.get_coordinates(place).T
    return shapely.intersection(
        shape, shapely.box(box[0], box[1], x if left else box[2], box[3] if left else y)
    )


def _gathered(geometry: np.ndarray, row: np.ndarray, count: int, make: Collect) -> np.ndarray:
    """Geometries of each row as one; an empty collection where there is none."""
    found = np.full(count, shapely.GeometryCollection(), dtype=object)
    rows, place = np.unique(row, return_inverse=True)
    if len(rows):
        found[rows] = make(geometry, indices=place)
    return found
