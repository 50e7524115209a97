"""
Lines no wider than a fifth of what they outline is on paper.

A post of 12 cm is 0.24 mm across at 1:500. With lines of 0.35 mm on both sides it would be a
black bar, so the lines of what is thin are stepped down the series: the width of a line is at
most a fifth of how far its feature reaches across it, on paper, so that more than half of a post
keeps its tone. A style may draw the lines of what is less than three of their usual widths across
in another ink.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..diagram.outline import covered
from ..solids.chips import chips
from ..view.crossings import Outlines
from ..view.rings import rings_of
from .covering import furthest_before
from .folds import LYING
from .lines import LINE_SERIES_MM, no_wider
from .owners import Owners

ACROSS: Final = 5.0
"""What a line outlines is at least this many line widths across."""
SLIGHT: Final = 3.0
"""What is fewer of its usual line widths across may be drawn in another ink."""
SLACK: Final = 0.02
"""Share by which sizes may fall short, for seams between faces."""
MOST: Final = 0.75
"""Share of the lines of a canopy, by length, with which the rest goes."""
HANDED_ON: Final = 6  # times that a size is handed on from line to line, half way round a trunk's foot
NEAR: Final = 1e-4  # ends nearer than this are one corner [m]


def narrowed(
    width_mm: np.ndarray,
    lines: Any,
    faces: Any,
    owners: Owners,
    *,
    outlines: np.ndarray,
    scale: float,
    told: bool = False,
) -> tuple[np.ndarray, np.ndarray]:
    """
    Narrow the lines of thin things.

    Parameters
    ----------
    width_mm : ndarray, shape (n,)
        Widths of the series [mm].
    lines : GeoDataFrame, n rows
        With ``role``; only straight lines are narrowed, and of what lies on the ground not the
        outline of the site.
    faces : GeoDataFrame
        What is seen of faces.
    owners : Owners
        The feature of each line and face.
    outlines : ndarray of str, shape (n,)
        What each line outlines, "" for nothing in particular.
    scale : float
        The x of 1:x.
    told : bool
        Lines that are of the narrowest width already are looked at too.

    Returns
    -------
    width_mm : ndarray of float, shape (n,)
        Widths of the series. A line that is itself shorter than six widths is as narrow
        as those that it meets, so that the ends of posts have no blobs.
    thin : ndarray of bool, shape (n,)
        Lines of those looked at whose features are less than three of the widths given across.
    """
    width, slight = np.asarray(width_mm, dtype=float), np.zeros(len(width_mm), dtype=bool)
    if not len(lines) or not len(faces):
        return width, slight
    shapes = np.asarray(faces.geometry.array, dtype=object)
    reach = ACROSS * width * scale / 1000
    own, line_code = owners.face, owners.line
    length = shapely.length(shapes)
    thin = 2 * shapely.area(shapes) < float(reach.max()) * length
    thin = np.isin(own, own[thin])
    edges = np.asarray(lines.geometry.array, dtype=object)
    straight = shapely.get_num_coordinates(edges) == 2
    border = lines["role"].isin(LYING | {"terrace"}).to_numpy() & (outlines != "")
    looked = told | (width > LINE_SERIES_MM[0])  # what is narrowest can get no narrower
    rows = np.flatnonzero(np.isin(line_code, own[thin]) & straight & looked & ~border)
    if not len(rows):
        return width, slight
    ends = shapely.get_coordinates(edges[rows]).reshape(-1, 2, 2)
    size = size_across(ends, reach[rows], line_code[rows], shapes[thin], own[thin])
    beams = np.flatnonzero((lines["role"] == "canopy").to_numpy()[rows])
    size[beams] = _as_most(size[beams], ends[beams], reach[rows[beams]], line_code[rows[beams]])
    size = _as_neighbours(size, ends, reach[rows], line_code[rows])
    size = size * (1 + SLACK) * 1000 / scale
    slight[rows] = size / SLIGHT < width[rows]
    width = width.copy()
    width[rows] = no_wider(width[rows], size / ACROSS)
    return width, slight


def _as_most(size: np.ndarray, ends: np.ndarray, reach: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Where most of a canopy is thin no line is wider than its median: beams before others seem wide."""
    thin = size * (1 + SLACK) < reach
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    table = pd.DataFrame({"thin": length * thin, "all": length, "size": np.where(thin, size, np.nan)})
    grouped = table.groupby(code)
    total = grouped[["thin", "all"]].transform("sum")
    most = (total["thin"] >= MOST * total["all"]).to_numpy()
    return np.where(most, np.minimum(size, grouped["size"].transform("median").to_numpy()), size)


def size_across(
    ends: np.ndarray, reach: np.ndarray, code: np.ndarray, polygons: np.ndarray, own: np.ndarray
) -> np.ndarray:
    """
    How far features reach to both sides of the middle of lines.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points of lines [m].
    reach : ndarray, shape (n,)
        How far is looked to either side [m].
    code : ndarray of int, shape (n,)
        The feature of each line.
    polygons : ndarray of Polygon or MultiPolygon, shape (f,)
        Parts of features that do not overlap.
    own : ndarray of int, shape (f,)
        The feature of each.

    Returns
    -------
    ndarray, shape (n,)
        As far as the feature is seen without a gap, and at most twice what is looked for; of a
        line with the feature on either side the nearer end counts, so that a line within a
        member is finer than those around it; 0 where nothing of it lies beside [m].

    Examples
    --------
    >>> post = np.array([shapely.box(0, 0, 0.12, 3.0)])
    >>> sides = np.array([[[0, 0], [0, 3]], [[0, 3], [0.12, 3]]])
    >>> size_across(sides, np.ones(2), np.zeros(2), post, np.zeros(1)).round(3).tolist()
    [0.12, 1.0]
    """
    middle, step = ends.mean(axis=1), ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    aside = np.column_stack([-step[:, 1], step[:, 0]])
    aside *= (reach / np.where(length > 0, length, 1.0))[:, None]
    ray = np.stack([middle - aside, middle + aside], axis=1)
    polygons, part = chips(polygons)
    line, face = shapely.STRtree(polygons).query(shapely.linestrings(ray))
    mine = np.flatnonzero(code[line] == own[part][face])
    sides = Outlines.of(rings_of(polygons), len(polygons))
    found = covered(ray, line[mine], face[mine], sides)
    begin, end = ((2 * share - 1) * reach[found.edge] for share in (found.begin, found.end))
    ahead, back = (_unbroken(found.edge, *way, reach, len(ends)) for way in ((begin, end), (-end, -begin)))
    within = np.minimum(ahead, back) > SLACK * reach
    return np.where(within, np.minimum(ahead, back), ahead + back)


def _unbroken(
    line: np.ndarray, begin: np.ndarray, end: np.ndarray, reach: np.ndarray, count: int
) -> np.ndarray:
    """How far stretches cover each line's ray from 0 on without a gap."""
    begin = np.maximum(begin, 0.0)
    rows = np.flatnonzero(end > 0)
    rows = rows[np.lexsort((begin[rows], line[rows]))]
    line, begin, end = line[rows], begin[rows], end[rows]
    gap = np.cumsum(begin > np.maximum(furthest_before(line, end), 0.0) + SLACK * reach[line])
    first = np.searchsorted(line, line)
    before = np.where(first > 0, gap[first - 1], 0)
    kept = gap == before
    size = np.zeros(count)
    np.maximum.at(size, line[kept], end[kept])
    return size


def _as_neighbours(size: np.ndarray, ends: np.ndarray, reach: np.ndarray, code: np.ndarray) -> np.ndarray:
    """
    Short lines take the least size of those of their feature that they meet.

    Those that are shorter than wide take it from one to the next, as around the foot of a trunk.
    """
    across, up = np.rint(ends.reshape(-1, 2) / NEAR).astype(np.int64).T
    feature = np.repeat(code, 2)
    order = np.lexsort((up, across, feature))
    new = np.zeros(len(order), dtype=bool)
    for column in (feature[order], across[order], up[order]):
        new[1:] |= column[1:] != column[:-1]
    corner = np.empty(len(order), dtype=np.int64)
    corner[order] = np.cumsum(new)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    dots = length < reach / ACROSS
    for short in (length < 2 * reach, *[dots] * (HANDED_ON if dots.any() else 0)):
        least = np.full(len(order), np.inf)
        np.minimum.at(least, corner, np.repeat(size, 2))
        size = np.where(short, least[corner].reshape(-1, 2).min(axis=1), size)
    return size
