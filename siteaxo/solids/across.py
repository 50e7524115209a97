"""
Features that reach across terraces: split along their edges, or whole on the highest.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import Finding, some_ids
from ..source.features import Features
from .cutting import LEVEL, STRAY, is_area, united
from .notes import note
from .pairs import on_pairs
from .planes import range_over

SPLIT: Final = "split"
WHOLE: Final = "whole"
LAID: Final = ("lawn", "paving", "path")  # roles that are split unless their layer says otherwise
GRID: Final = 1e-5  # pieces are cut on this grid [m]
NARROW: Final = 0.01  # pieces narrower than this stay with a neighbour [m]


def laid_across(features: Features) -> tuple[Features, np.ndarray, tuple[Finding, ...]]:
    """
    Split features that reach across terraces along the terraces' edges.

    Only what takes its base from below is split, and has no top of its own.

    Parameters
    ----------
    features : Features
        With footprints; levels not settled yet.

    Returns
    -------
    features : Features
        One row for each piece; pieces share the id of their feature.
    row : ndarray of int, shape (m,)
        The row each comes from.
    findings : tuple of Finding
        What was split.
    """
    whole = np.arange(len(features))
    waiting = np.flatnonzero(_how(features, SPLIT, LAID) & _open(features) & np.isnan(features.top))
    carrier, region, level = _carriers(features)
    if not len(waiting) or not len(carrier):
        return features, whole, ()
    item, other = shapely.STRtree(region).query(features.geometry[waiting], predicate="intersects")
    piece = _wide(shapely.intersection(features.geometry[waiting[item]], region[other], grid_size=GRID))
    share = shapely.area(piece) / shapely.area(features.geometry[waiting[item]])
    item, other, piece = (column[share > STRAY] for column in (item, other, piece))
    split = _differs(item, level[other], features.slope_x[carrier[other]], len(waiting))
    split |= _reaches_beyond(features, waiting, item, piece)
    cut = np.flatnonzero(split[item])
    if not len(cut):
        return features, whole, ()
    row, geometry = _pieces(features, waiting, item[cut], piece[cut])
    gone = np.unique(row)
    names = features.source_id[carrier[other]]
    findings = [_told(features, int(r), int((row == r).sum()), names[waiting[item] == r]) for r in gone]
    kept = np.setdiff1d(whole, gone)
    source = np.concatenate([kept, row])
    order = np.argsort(source, kind="stable")
    parted = features.take(source[order])
    shapes = np.concatenate([features.geometry[kept], geometry])[order]
    return parted.with_columns(geometry=shapes), source[order], tuple(findings)


def on_the_highest(features: Features) -> np.ndarray:
    """Which features are to stand whole on the highest terrace under them, shape (n,)."""
    return _how(features, WHOLE, ())


def _how(features: Features, word: str, usual: tuple[str, ...]) -> np.ndarray:
    said = [(key.across or (SPLIT if key.role.name in usual else "")) == word for key in features.layers]
    return np.array(said, dtype=bool)[features.layer]


def _open(features: Features) -> np.ndarray:
    prism = features.of_role("form") == "prism"
    return features.below & np.isnan(features.base) & prism & is_area(features.geometry)


def _carriers(features: Features) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Terraces, the part of each that no higher one covers, and their levels."""
    ground = (features.of_role("theme") == "ground") & (features.of_role("form") == "prism")
    rows = np.flatnonzero(ground & is_area(features.geometry) & np.isfinite(features.top))
    return rows, uppermost(features, rows), features.top[rows]


def uppermost(features: Features, rows: np.ndarray, *, grid: float = GRID) -> np.ndarray:
    """
    The part of each footprint that no higher one covers.

    A smaller one that lies lower within another counts as let into it.
    """
    geometry, top = features.geometry[rows], features.top
    region = geometry.copy()
    one, other = shapely.STRtree(geometry).query(geometry, predicate="intersects")
    one, other = one[one != other], other[one != other]
    common = on_pairs(shapely.intersection, geometry, one, other)
    size = shapely.area(common)
    one, other, common, size = (column[size > 0] for column in (one, other, common, size))
    mine = sum(range_over(features, rows[one], common, top)) / 2
    its = sum(range_over(features, rows[other], common, top)) / 2
    area = shapely.area(geometry)
    inner = (size > 0.5 * area[other]) & (area[other] < area[one])
    outer = (size > 0.5 * area[one]) & (area[one] < area[other])
    covers = np.where(inner, np.abs(its - mine) > LEVEL, (its > mine + LEVEL) & ~outer)
    covered, cover = one[covers], other[covers]
    under, lid = united(geometry[cover], covered)
    region[under] = shapely.difference(geometry[under], lid, grid_size=grid)
    return region


def _wide(pieces: np.ndarray) -> np.ndarray:
    """Pieces without lines and points."""
    area = shapely.get_dimensions(pieces) == 2
    return np.where(area, pieces, shapely.Polygon())


def _differs(item: np.ndarray, level: np.ndarray, slope: np.ndarray, count: int) -> np.ndarray:
    """Which features lie on carriers of more than one level, or of more than one slope."""
    differs = np.zeros(count, dtype=bool)
    for values in (level, slope):
        low, high = np.full(count, np.inf), np.full(count, -np.inf)
        np.minimum.at(low, item, values)
        np.maximum.at(high, item, values)
        differs |= high - low > LEVEL
    return differs


def _reaches_beyond(features: Features, rows: np.ndarray, item: np.ndarray, piece: np.ndarray) -> np.ndarray:
    """Which features lie on terraces in part only, and on the surface of the ground beyond."""
    if not (features.of_role("form") == "terrain").any():
        return np.zeros(len(rows), dtype=bool)
    carried = np.bincount(item, shapely.area(piece), len(rows)) / shapely.area(features.geometry[rows])
    return (carried > STRAY) & (carried < 1 - STRAY)


def _pieces(
    features: Features, rows: np.ndarray, item: np.ndarray, piece: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pieces on terraces, and what is left of each feature beyond them, as single polygons."""
    cut, whole = united(piece, item)
    rest = _wide(shapely.difference(features.geometry[rows[cut]], whole))
    every = np.concatenate([piece, rest])
    part, owner = shapely.get_parts(every, return_index=True)
    row = rows[np.concatenate([item, cut])][owner]
    kept = (shapely.get_dimensions(part) == 2) & (2 * shapely.area(part) > NARROW * shapely.length(part))
    return row[kept], shapely.orient_polygons(part[kept])


def _told(features: Features, row: int, count: int, names: np.ndarray) -> Finding:
    message = (
        f"It reaches across terraces {some_ids(dict.fromkeys(names))} and is split along their edges into "
        f"{count} pieces, each on its own. Say across = 'whole' to keep it whole on the highest."
    )
    return note(features, row, "split-across", message, value=str(count), severity="info")
