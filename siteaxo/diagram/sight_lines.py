"""
What is seen of lines that are no edges of anything: lift lines, and edges that cautions are about.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import shapely

from ..view.dashes import Dashes, complement
from .layers import PLANE_COLUMNS, ViewRecord

SLACK: Final = 0.02
"""What is nearer by less hides nothing of a line that lies on what is drawn [m]."""
GAP: Final = 0.5
"""A stretch so short, such as behind a post, is not told as hidden [m]."""


def seen_parts(
    page: np.ndarray,
    polygon: np.ndarray,
    depth_at: Callable[[np.ndarray, np.ndarray], np.ndarray],
    *,
    slack: float,
    shortest: float,
) -> Dashes:
    """
    Part straight lines where areas hide them.

    Parameters
    ----------
    page : ndarray, shape (n, 2, 3)
        Ends of the lines on the page, with their depth (greater is nearer) [m].
    polygon : ndarray of Polygon or MultiPolygon, shape (m,)
        Areas on the page [m].
    depth_at : callable
        Called with rows of these, shape (k,), and page points, shape (k, 2, 2), for their depth there.
    slack : float
        An area hides a line where it is nearer by more [m].
    shortest : float
        What is seen of a line is no shorter, unless all of it is [m].

    Returns
    -------
    Dashes
        What is seen, as parameters along each line.
    """
    ends, depth = page[:, :, :2], page[:, :, 2]
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    lines = shapely.linestrings(ends)
    line, face = shapely.STRtree(polygon).query(lines, predicate="intersects")
    pieces, row = shapely.get_parts(shapely.intersection(lines[line], polygon[face]), return_index=True)
    straight = (shapely.get_type_id(pieces) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(pieces)
    pieces, line, face = pieces[straight], line[row[straight]], face[row[straight]]
    if not len(pieces):
        every = np.arange(len(page))
        return Dashes(edge=every, begin=np.zeros(len(page)), end=np.ones(len(page)))
    along = ends[line, 1] - ends[line, 0]
    spots = np.stack([shapely.get_coordinates(shapely.get_point(pieces, k)) for k in (0, -1)], axis=1)
    t = ((spots - ends[line, None, 0]) * along[:, None]).sum(axis=2) / (along**2).sum(axis=1)[:, None]
    t = np.sort(t, axis=1)
    spots = ends[line, None, 0] + t[..., None] * along[:, None]
    own = depth[line, 0, None] + t * (depth[line, 1] - depth[line, 0])[:, None]
    hiding, begin, end = _nearer(t, depth_at(face, spots) - own - slack)
    order = np.argsort(line[hiding], kind="stable")
    covered = Dashes(edge=line[hiding][order], begin=begin[order], end=end[order])
    return complement(covered, length, shortest)[0]


def _nearer(t: np.ndarray, lead: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where along intervals a linear lead is above zero: which intervals, begin and end."""
    rows = np.flatnonzero((lead > 0).any(axis=1))
    (t0, t1), (a, b) = t[rows].T, lead[rows].T
    cross = np.where(a != b, t0 - a * (t1 - t0) / np.where(a != b, b - a, 1.0), t0)
    return rows, np.where(a > 0, t0, cross), np.where(b > 0, t1, cross)


def seen_of_edges(edges: np.ndarray, faces: Any, view: ViewRecord) -> np.ndarray:
    """
    What is seen of lines along edges of what is drawn.

    Parameters
    ----------
    edges : ndarray of LineString or MultiLineString, shape (n,)
        On the page, with their depth as Z [m].
    faces : GeoDataFrame
        The visible faces of a drawing; without the planes of faces everything counts as seen.
    view : ViewRecord
        Its view.

    Returns
    -------
    ndarray of MultiLineString, shape (n,)
        Without Z; empty where nothing is seen [m].
    """
    parts, owner = shapely.get_parts(edges, return_index=True)
    xyz, part = shapely.get_coordinates(parts, include_z=True, return_index=True)
    joined = np.flatnonzero(part[1:] == part[:-1])
    joined = joined[(xyz[joined, :2] != xyz[joined + 1, :2]).any(axis=1)]
    page, row = np.stack([xyz[joined], xyz[joined + 1]], axis=1), owner[part[joined]]
    found = np.full(len(edges), shapely.MultiLineString(), dtype=object)
    if not len(page):
        return found
    begin, end, line = np.zeros(len(page)), np.ones(len(page)), np.arange(len(page))
    if len(faces) and all(name in faces for name in PLANE_COLUMNS):
        plane = faces[list(PLANE_COLUMNS)].to_numpy(dtype=float)
        shapes = np.asarray(faces.geometry.array, dtype=object)
        seen = seen_parts(page, shapes, _depth_of(plane, view.matrix), slack=SLACK, shortest=GAP)
        line, begin, end = _joined(seen, np.hypot(*(page[:, 1] - page[:, 0])[:, :2].T))
    start, run = page[line, 0, :2], (page[:, 1] - page[:, 0])[line, :2]
    pieces = shapely.linestrings(np.stack([start + begin[:, None] * run, start + end[:, None] * run], axis=1))
    rows, place = np.unique(row[line], return_inverse=True)
    found[rows] = shapely.line_merge(shapely.multilinestrings(pieces, indices=place))
    return found


def _depth_of(plane: np.ndarray, matrix: np.ndarray) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Depth of planes, shape (m, 4), where lines of sight meet them; those seen edge-on hide nothing."""
    sides = np.concatenate([np.broadcast_to(matrix[:2], (len(plane), 2, 3)), plane[:, None, :3]], axis=1)
    there = np.abs(np.linalg.det(sides)) > 1e-9
    back = np.zeros_like(sides)
    back[there] = np.linalg.inv(sides[there])

    def depth_at(rows: np.ndarray, spots: np.ndarray) -> np.ndarray:
        offset = np.broadcast_to(plane[rows, 3][:, None, None], (*spots.shape[:2], 1))
        xyz = np.einsum("kij,kpj->kpi", back[rows], np.concatenate([spots, offset], axis=2))
        return np.where(there[rows][:, None], xyz @ matrix[2], -np.inf)

    return depth_at


def _joined(seen: Dashes, length: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rows, begins and ends of what is seen, short gaps closed; in their order along each line."""
    first = np.append(True, seen.edge[1:] != seen.edge[:-1])[: len(seen)]
    gap = np.append(np.inf, (seen.begin[1:] - seen.end[:-1]) * length[seen.edge[1:]])[: len(seen)]
    opens = np.flatnonzero(first | (gap >= GAP))
    last = np.append(opens[1:] - 1, len(seen) - 1)[: len(opens)]
    return seen.edge[opens], seen.begin[opens], seen.end[last]
