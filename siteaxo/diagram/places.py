"""
Findings and retaining walls of a site as tables on its local plane.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import geopandas
import numpy as np
import pandas as pd
import shapely

from ..errors import Finding
from ..ragged import ragged
from ..solids.planes import levels_at
from ..solids.retaining import RetainingWalls, walls_between
from ..solids.stack import Stack
from ..source.features import Features
from .layers import ViewRecord
from .tables import PlacedFindings, extra_table, findings_table, table

WALL_COLUMNS: Final = (
    *("upper_layer", "upper_id", "lower_layer", "lower_id"),
    *("length", "height", "mean_height", "area", "climbed"),
    *("wall_layer", "wall_id", "thickness", "coping"),
)


def findings_on_plane(findings: Sequence[Finding], features: Features, crs: Any) -> geopandas.GeoDataFrame:
    """
    Put findings into a table with the place of each.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    features : Features
        The features of the site, with footprints.
    crs : pyproj.CRS
        The local plane.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns as in FINDING_COLUMNS beside ``geometry``, which is the place that a finding
        names, or else all parts of its feature; None for findings about a whole layer or
        site. What was set aside for want of a level is told at its middle.
    """
    places = _of_features(findings, features)
    named = [k for k, finding in enumerate(findings) if finding.place is not None]
    places[named] = shapely.points(np.array([findings[k].place for k in named]).reshape(-1, 2))
    frame = findings_table(findings)
    return PlacedFindings(frame, geometry=geopandas.array.from_shapely(places, crs=crs))


def finding_marks(findings: Sequence[Finding], stack: Stack, view: ViewRecord) -> geopandas.GeoDataFrame:
    """
    Put findings that have a place onto the page.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    stack : Stack
        The solids of the site.
    view : ViewRecord
        How it is drawn.

    Returns
    -------
    geopandas.GeoDataFrame
        Points in page metres, on the tops of the features that are meant. Beside
        EXTRA_COLUMNS: number, which is the finding's row in the table of findings, counted
        from 1, severity, code, field, value and message.
    """
    xyz = places_with_levels(findings, stack)
    there = np.flatnonzero(np.isfinite(xyz).all(axis=1))
    local = xyz[there] - np.array([view.origin_x, view.origin_y, view.drawn_in_place])
    told = [findings[int(k)] for k in there]
    texts = ("layer", "source_id", "severity", "code", "field", "value", "message")
    columns = {name: np.array([getattr(one, name) for one in told], dtype=object) for name in texts}
    points = shapely.points((local @ view.matrix.T)[:, :2])
    return extra_table(points, **columns, kind="finding", number=there + 1)


def places_with_levels(findings: Sequence[Finding], stack: Stack) -> np.ndarray:
    """
    A point on the site for each finding.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    stack : Stack
        The solids of the site.

    Returns
    -------
    ndarray, shape (n, 3)
        At the top of the feature that is meant, or else on the ground, or on the highest of
        what lies there; NaN where a finding has no place, or nothing lies there [m].
    """
    features = stack.features
    rows = _row_of(findings, features)
    xyz = np.full((len(findings), 3), np.nan)
    there = np.flatnonzero(rows >= 0)
    inside = shapely.point_on_surface(features.geometry[rows[there]])
    filled = ~shapely.is_empty(inside)
    there, inside = there[filled], inside[filled]
    xyz[there, :2] = shapely.get_coordinates(inside)
    named = [k for k, finding in enumerate(findings) if finding.place is not None]
    if named:
        xyz[named, :2] = np.array([findings[k].place for k in named])
    found = np.flatnonzero(np.isfinite(xyz[:, 0]) & (rows >= 0))
    xyz[found, 2] = levels_at(features, rows[found], xyz[found, :2])
    open_ = np.flatnonzero(np.isfinite(xyz[:, 0]) & ~np.isfinite(xyz[:, 2]))
    if len(open_) and stack.terrain is not None:
        xyz[open_, 2] = stack.terrain.tin.level_at(xyz[open_, :2], beyond=True)
    elif len(open_):
        xyz[open_, 2] = _highest_at(features, xyz[open_, :2])
    return xyz


def _highest_at(features: Features, xy: np.ndarray) -> np.ndarray:
    """Level of the highest of what carries at points, NaN where there is nothing, shape (n,) [m]."""
    carries = np.flatnonzero(features.of_role("supports").astype(bool))
    point, other = shapely.STRtree(features.geometry[carries]).query(shapely.points(xy), "intersects")
    level = np.full(len(xy), np.nan)
    np.fmax.at(level, point, levels_at(features, carries[other], xy[point]))
    return level


def _keys(findings: Sequence[Finding], features: Features) -> tuple[np.ndarray, np.ndarray]:
    """One number for each pair of layer and id, of findings (-1 for none) and of features."""
    names = np.array([key.name for key in features.layers] or [""], dtype=object)
    own = pd.MultiIndex.from_arrays([names[features.layer], features.source_id.astype(str)])
    code, distinct = own.factorize()
    wanted = pd.MultiIndex.from_arrays(
        [[finding.layer for finding in findings], [finding.source_id for finding in findings]]
    )
    return distinct.get_indexer(wanted), code


def _row_of(findings: Sequence[Finding], features: Features) -> np.ndarray:
    """The row of the feature of each finding, of several the one nearest to its place; -1 for none."""
    row = np.full(len(findings), -1)
    if not len(findings) or not len(features):
        return row
    wanted, code = _keys(findings, features)
    order = np.argsort(code, kind="stable")
    first, end = (np.searchsorted(code[order], wanted, side=side) for side in ("left", "right"))
    named = np.array([one.place is not None for one in findings], dtype=bool)
    place = shapely.points(np.array([one.place or (0.0, 0.0) for one in findings]))
    owner, number = ragged(np.where(wanted >= 0, end - first, 0))
    candidate = order[first[owner] + number]
    away = shapely.distance(features.geometry[candidate], place[owner])  # nan where it is empty
    near = np.where(named[owner] & np.isfinite(away), np.round(np.nan_to_num(away, posinf=0.0), 6), 0.0)
    best = np.lexsort((-number, features.top[candidate], -near, owner))
    row[owner[best]] = candidate[best]  # the nearest, of those the highest, is written last
    return row


def _of_features(findings: Sequence[Finding], features: Features) -> np.ndarray:
    """Geometry of the feature of each finding, all its parts together; None for none."""
    places = np.full(len(findings), None, dtype=object)
    if not len(findings) or not len(features):
        return places
    wanted, code = _keys(findings, features)
    order = np.argsort(code, kind="stable")
    whole = shapely.geometrycollections(features.geometry[order], indices=code[order])
    alone = np.bincount(code) == 1
    single = features.geometry[np.unique(code, return_index=True)[1]]
    whole = np.where(alone, single, shapely.unary_union(whole[:, None], axis=1))
    there = wanted >= 0
    places[there] = whole[wanted[there]]
    places[there & shapely.is_empty(places)] = None
    return places


def retaining_table(stack: Stack, crs: Any) -> geopandas.GeoDataFrame:
    """
    Put the walls between terraces into a table.

    Parameters
    ----------
    stack : Stack
        A site as solids.
    crs : pyproj.CRS
        The local plane.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns as in WALL_COLUMNS beside ``geometry``: lengths, heights, thickness and
        coping in metres, areas in square metres. See :class:`RetainingWalls`.
    """
    walls = walls_between(stack)
    features = stack.features
    names = np.array([*(key.name for key in features.layers), ""], dtype=object)
    layer = np.append(features.layer, len(features.layers))
    ids = np.append(features.source_id, "")  # the last row stands for no wall
    columns = {
        **_named("upper", walls.upper, names, layer, ids),
        **_named("lower", walls.lower, names, layer, ids),
        **_named("wall", walls.wall, names, layer, ids),
        **_figures(walls),
    }
    return table(columns, WALL_COLUMNS, walls.line).set_crs(crs)


def _named(
    word: str, row: np.ndarray, names: np.ndarray, layer: np.ndarray, ids: np.ndarray
) -> dict[str, np.ndarray]:
    return {f"{word}_layer": names[layer[row]], f"{word}_id": ids[row]}


def _figures(walls: RetainingWalls) -> dict[str, np.ndarray]:
    return {
        "length": walls.length,
        "height": walls.height,
        "mean_height": walls.area / np.where(walls.length > 0, walls.length, 1.0),
        "area": walls.area,
        "climbed": walls.climbed,
        "thickness": walls.thickness,
        "coping": walls.coping,
    }
