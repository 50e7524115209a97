"""
What stands on what, and what is cut open by what lies lower.

Levels are settled from the lowest up: first the features that state theirs, then, in
the order of the role table, those that take their base from what is under them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import Finding, LevelError
from ..source.features import Features
from .widths import CLIMBING

LEVEL: Final = 1e-3  # levels that differ by less are equal [m]
MOSTLY: Final = 0.5  # share of a footprint that must lie on a support [-]
NEARLY: Final = 1e-6  # sides nearer than this coincide [m]
STRAY: Final = 0.01  # share below which an overlap is a sliver [-]


@dataclass(frozen=True, kw_only=True)
class Settled:
    """
    Features with all levels known.

    Parameters
    ----------
    features : Features
        With base and top filled in and footprints cut open where others lie lower.
    support : ndarray of int, shape (n,)
        The feature each one stands on, -1 where its base was stated.
    sunken : ndarray of bool, shape (n,)
        Whether it cut something open.
    findings : tuple of Finding
        What was noticed.
    """

    features: Features
    support: np.ndarray
    sunken: np.ndarray
    findings: tuple[Finding, ...]


def settle(features: Features) -> Settled:
    """
    Settle every level from the lowest up.

    Parameters
    ----------
    features : Features
        As read; lines already have their width, so all footprints are polygons or
        points.

    Returns
    -------
    Settled

    Raises
    ------
    LevelError
        If no feature states a level, or a top comes out below its base.
    """
    base, top = features.base.copy(), features.top.copy()
    base_from, top_from = features.base_from.copy(), features.top_from.copy()
    geometry = features.geometry.copy()
    support = np.full(len(features), -1)
    findings: list[Finding] = []
    _from_lowest(features, base, top, base_from)
    _let_in(features, geometry, base, top)
    sunken = _cut_open(features, geometry, top, findings)
    flat = sunken & np.isnan(base)  # a pool with a water level only is a sheet
    base[flat], base_from[flat] = top[flat], "its own top"
    waiting = np.isnan(base)
    for order in np.unique(features.order[waiting]):
        rows = np.flatnonzero(waiting & (features.order == order))
        _stand(features, geometry, base, top, rows, support, findings)
        base_from[rows] = _support_names(features, support[rows])
        dropped = _drop(features, base, base_from, rows[support[rows] >= 0])
        raised = rows[np.isnan(top[rows])]
        top[raised] = base[raised] + np.nan_to_num(features.height[raised])
        top_from[raised] = "height above base"
        if dropped:  # what comes later stands on these, not on what they are let into
            sunken |= _cut_open(features, geometry, top, findings)
    sunken |= _cut_open(features, geometry, top, findings)
    _refuse_upside_down(features, base, top)
    settled = features.with_columns(
        geometry=geometry,
        base=base,
        top=top,
        height=top - base,
        base_from=base_from,
        top_from=top_from,
    )
    return Settled(features=settled, support=support, sunken=sunken, findings=tuple(findings))


def _from_lowest(features: Features, base: np.ndarray, top: np.ndarray, base_from: np.ndarray) -> None:
    """Bring down to the lowest level what stands on nothing stated."""
    stated = np.concatenate([base, top])
    stated = stated[np.isfinite(stated)]
    if not len(stated):
        if len(features) == 0:
            return
        raise LevelError(
            "No feature states a level, so there is nothing to stand on. Give at least one layer "
            "a base or a top."
        )
    lowest = stated.min()
    rows = np.isnan(base) & ~features.below & (features.of_role("base") == "lowest")
    base[rows], base_from[rows] = lowest, "lowest level of the site"
    open_top = rows & np.isnan(top)
    top[open_top] = lowest + np.nan_to_num(features.height[open_top])


def _drop(features: Features, base: np.ndarray, base_from: np.ndarray, rows: np.ndarray) -> bool:
    """Let surfaces with a drop down into what they lie on; say whether there are any."""
    let_in = (features.of_role("flat") & features.of_role("cuts"))[rows].astype(bool)
    rows = rows[let_in & (np.nan_to_num(features.drop[rows]) > 0)]
    base[rows] -= features.drop[rows] + np.nan_to_num(features.height[rows])
    base_from[rows] = [f"{name}, less its drop" for name in base_from[rows]]
    return bool(len(rows))


def _let_in(features: Features, geometry: np.ndarray, base: np.ndarray, top: np.ndarray) -> None:
    """Open surfaces up where flights and ramps climb through them from below."""
    climbs = np.isin(features.of_role("form"), CLIMBING) & np.isfinite(base) & _is_area(geometry)
    rows = np.flatnonzero(climbs)
    surfaces = np.flatnonzero(features.of_role("cuts").astype(bool) & np.isfinite(top) & _is_area(geometry))
    if not len(rows) or not len(surfaces):
        return
    inner, outer = shapely.STRtree(geometry[surfaces]).query(geometry[rows], predicate="intersects")
    inner, outer = rows[inner], surfaces[outer]
    lower = base[inner] < top[outer] - LEVEL
    inner, outer = inner[lower], outer[lower]
    through = _share(geometry[inner], geometry[outer]) > STRAY
    _open_up(geometry, inner[through], outer[through])


def _open_up(geometry: np.ndarray, inner: np.ndarray, outer: np.ndarray) -> None:
    """Take the inner footprints out of the outer ones; sides that nearly coincide are made one."""
    for row in np.unique(outer):  # a handful of surfaces, each cut once
        cutter = shapely.union_all(geometry[inner[outer == row]])
        left = shapely.difference(shapely.snap(geometry[row], cutter, NEARLY), cutter)
        parts = shapely.get_parts(left)
        wide = shapely.area(parts) > NEARLY * shapely.length(parts)
        geometry[row] = left if wide.all() else shapely.union_all(parts[wide])


def _cut_open(
    features: Features, geometry: np.ndarray, top: np.ndarray, findings: list[Finding]
) -> np.ndarray:
    """
    Open up surfaces where a smaller one lies lower within them.

    A surface is cut by one that lies mostly within it, is smaller, and has a lower top.
    Returns which features did the cutting.
    """
    rows = np.flatnonzero(features.of_role("cuts").astype(bool) & np.isfinite(top) & _is_area(geometry))
    cutter = np.zeros(len(features), dtype=bool)
    if len(rows) < 2:
        return cutter
    inner, outer = shapely.STRtree(geometry[rows]).query(geometry[rows], predicate="intersects")
    inner, outer = rows[inner], rows[outer]
    lower = top[inner] < top[outer] - LEVEL
    inner, outer = inner[lower], outer[lower]
    area = shapely.area(geometry)
    shared = shapely.area(shapely.intersection(geometry[inner], geometry[outer]))
    within = (shared > MOSTLY * area[inner]) & (area[inner] < area[outer])
    inner, outer = inner[within], outer[within]
    cutter[inner] = True
    _open_up(geometry, inner, outer)
    message = "It is wholly cut away by lower surfaces within it and is not drawn."
    gone = [int(row) for row in np.unique(outer) if geometry[row].is_empty]
    findings += [_finding(features, row, "cut-away", f"{top[row]:g}", message) for row in gone]
    return cutter
    inner, outer = shapely.STRtree(geometry[rows]).query(geometry[rows], predicate="intersects")
    inner, outer = rows[inner], rows[outer]
    lower = top[inner] < top[outer] - LEVEL
    inner, outer = inner[lower], outer[lower]
    area = shapely.area(geometry)
    shared = shapely.area(shapely.intersection(geometry[inner], geometry[outer]))
    within = (shared > MOSTLY * area[inner]) & (area[inner] < area[outer])
    inner, outer = inner[within], outer[within]
    cutter[inner] = True
    _open_up(geometry, inner, outer)
    for row in np.unique(outer):
        if geometry[row].is_empty:
            findings.append(
                _finding(
                    features,
                    int(row),
                    "cut-away",
                    f"{top[row]:g}",
                    "It is wholly cut away by lower surfaces within it and is not drawn.",
                )
            )
    return cutter


def _stand(
    features: Features,
    geometry: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    rows: np.ndarray,
    support: np.ndarray,
    findings: list[Finding],
) -> None:
    """Give each of *rows* the level of the highest thing under most of it."""
    carries = features.of_role("supports").astype(bool) & np.isfinite(top) & _is_area(geometry)
    carriers = np.flatnonzero(carries & (features.order < features.order[rows[0]]))
    if len(carriers):
        item, below = shapely.STRtree(geometry[carriers]).query(geometry[rows], predicate="intersects")
        below = carriers[below]
        share = _share(geometry[rows[item]], geometry[below])
        score = np.lexsort((top[below], share > MOSTLY))  # enough first, then the highest
        chosen, chosen_share = np.full(len(rows), -1), np.zeros(len(rows))
        chosen[item[score]], chosen_share[item[score]] = below[score], share[score]
        weak = (chosen_share <= MOSTLY) & (chosen >= 0)
        if weak.any():  # nothing carries half of it: the widest support
            widest = np.argsort(share, kind="stable")
            widest = widest[np.isin(item[widest], np.flatnonzero(weak))]
            chosen[item[widest]], chosen_share[item[widest]] = below[widest], share[widest]
        support[rows] = chosen
        other = (
            (share > STRAY)
            & (np.abs(top[below] - top[chosen[item]]) > LEVEL)
            & (top[below] > top[chosen[item]])
        )
        _note_straddling(features, rows, np.unique(item[other]), support, top, findings)
    there = support[rows] >= 0
    base[rows[there]] = top[support[rows[there]]]
    _note_nothing_below(features, base, top, rows[~there], findings)


def _share(geometry: np.ndarray, support: np.ndarray) -> np.ndarray:
    """Share of each footprint that lies on a support; 1 for points on it."""
    area = shapely.area(geometry)
    common = shapely.area(shapely.intersection(geometry, support))
    return np.where(area > 0, common / np.where(area > 0, area, 1.0), 1.0)


def _note_straddling(
    features: Features,
    rows: np.ndarray,
    items: np.ndarray,
    support: np.ndarray,
    top: np.ndarray,
    findings: list[Finding],
) -> None:
    for row in rows[items]:
        under = support[row]
        message = (
            f"It also reaches under something higher; it stands on {features.name_of(under)} at "
            f"{top[under]:.3f} m, which carries most of it."
        )
        findings.append(_finding(features, int(row), "straddles", f"{top[under]:.3f}", message))


def _note_nothing_below(
    features: Features, base: np.ndarray, top: np.ndarray, rows: np.ndarray, findings: list[Finding]
) -> None:
    if not len(rows):
        return
    lowest = np.nanmin(np.concatenate([base, top]))
    base[rows] = lowest
    for row in rows:
        message = (
            f"Nothing lies under it, so it stands at the lowest level, {lowest:.3f} m. "
            "Give it a base level, or draw what it stands on."
        )
        findings.append(_finding(features, int(row), "nothing-below", f"{lowest:.3f}", message))


def _support_names(features: Features, support: np.ndarray) -> np.ndarray:
    names = np.full(len(support), "lowest level of the site", dtype=object)
    there = support >= 0
    names[there] = [f"top of {features.name_of(row)}" for row in support[there]]
    return names


def _refuse_upside_down(features: Features, base: np.ndarray, top: np.ndarray) -> None:
    wrong = np.flatnonzero(top < base - LEVEL)
    if len(wrong):
        row = int(wrong[0])
        raise LevelError(
            f"{len(wrong)} features come out with their top below their base; the first is "
            f"{features.name_of(row)}: base {base[row]:.3f} m ({features.base_from[row] or 'from below'}), "
            f"top {top[row]:.3f} m. Correct its top, or give it a base of its own."
        )
    np.maximum(top, base, out=top)


def _is_area(geometry: np.ndarray) -> np.ndarray:
    return (shapely.get_dimensions(geometry) == 2) & ~shapely.is_empty(geometry)


def _finding(features: Features, row: int, code: str, value: str, message: str) -> Finding:
    return Finding(
        severity="warning",
        code=code,
        layer=features.layers[features.layer[row]].name,
        source_id=str(features.source_id[row]),
        value=value,
        message=message,
    )
