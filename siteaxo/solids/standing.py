"""
What stands on what, and what is cut open by what lies lower.

Levels are settled from the lowest up: first the features that state theirs, then, in
the order of the role table, those that take their base from what is under them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..errors import Finding, LevelError
from ..source.features import Features
from .carriers import stand
from .cutting import LEVEL, cut_open, is_area, let_in
from .grounding import RAKING, let_in_by_drop
from .planes import levels_at, range_over, sloping


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
    laid : ndarray of bool, shape (n,)
        Whether it lies on something that slopes, as even as a sheet.
    findings : tuple of Finding
        What was noticed.
    """

    features: Features
    support: np.ndarray
    sunken: np.ndarray
    laid: np.ndarray
    findings: tuple[Finding, ...]


def settle(features: Features, carried: np.ndarray | None = None) -> Settled:
    """
    Settle every level from the lowest up.

    Parameters
    ----------
    features : Features
        As read; lines already have their width, so all footprints are polygons or
        points.
    carried : ndarray of int, shape (n,), optional
        The feature each one is known to stand on already, -1 elsewhere.

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
    support = np.full(len(features), -1) if carried is None else carried.copy()
    laid = np.zeros(len(features), dtype=bool)
    findings: list[Finding] = []
    from_lowest = _from_lowest(features, base, top, base_from)
    let_in(features, geometry, base, top)
    sunken = cut_open(features, geometry, top, findings)
    flat = sunken & np.isnan(base)  # a pool with a water level only is a sheet
    base[flat], base_from[flat] = top[flat], "its own top"
    waiting = np.isnan(base)
    for order in np.unique(features.order[waiting]):
        rows = np.flatnonzero(waiting & (features.order == order))
        stand(features, geometry, base, top, rows, support, findings)
        base_from[rows] = _support_names(features, support[rows])
        dropped = _drop(features, base, base_from, rows[support[rows] >= 0])
        raised = rows[np.isnan(top[rows])]
        on_slope = raised[_lies_on_slope(features, raised, support)]
        features = _laid_on(features, geometry, on_slope, support, base, top)
        laid[on_slope] = True
        raised = raised[~laid[raised]]
        top[raised] = base[raised] + np.nan_to_num(features.height[raised])
        unsaid = raised[top_from[raised] == ""]
        top_from[unsaid], top_from[on_slope] = "height above base", "what it lies on"
        if dropped:  # what comes later stands on these, not on what they are let into
            sunken |= cut_open(features, geometry, top, findings)
    sunken |= cut_open(features, geometry, top, findings)
    _reach_down(features, geometry, base, top)
    _begin_lowest(base, top, from_lowest)
    _refuse_upside_down(features, base, top)
    settled = features.with_columns(
        geometry=geometry,
        base=base,
        top=top,
        height=np.where(laid, np.nan_to_num(features.height), top - base),
        base_from=base_from,
        top_from=top_from,
    )
    return Settled(features=settled, support=support, sunken=sunken, laid=laid, findings=tuple(findings))


def _from_lowest(features: Features, base: np.ndarray, top: np.ndarray, base_from: np.ndarray) -> np.ndarray:
    """Bring down to the lowest level that is stated what stands on nothing stated; return the rows."""
    stated = np.concatenate([base, top])
    stated = stated[np.isfinite(stated)]
    if not len(stated):
        if len(features) == 0:
            return np.zeros(0, dtype=np.int64)
        raise LevelError(
            "No feature states a level, so there is nothing to stand on. Give at least one layer "
            "a base or a top.",
            field="base",
        )
    lowest = stated.min()
    rows = np.flatnonzero(np.isnan(base) & ~features.below & (features.of_role("base") == "lowest"))
    base[rows], base_from[rows] = lowest, "lowest level of the site"
    open_top = rows[np.isnan(top[rows])]
    top[open_top] = lowest + np.nan_to_num(features.height[open_top])
    return rows


def _begin_lowest(base: np.ndarray, top: np.ndarray, rows: np.ndarray) -> None:
    """Let rows begin at the lowest level of all, so that nothing let into them lies below their foot."""
    if len(rows):
        base[rows] = np.nanmin(np.concatenate([base, top]))


def _lies_on_slope(features: Features, rows: np.ndarray, support: np.ndarray) -> np.ndarray:
    """Which rows follow the slope of what they lie on: surfaces but for water, hedges and walls."""
    follows = (features.of_role("flat") & features.of_role("slopes"))[rows].astype(bool)
    follows |= np.isin(features.of_role("name")[rows], RAKING)
    return follows & (support[rows] >= 0) & sloping(features)[support[rows]]


def _laid_on(
    features: Features,
    geometry: np.ndarray,
    rows: np.ndarray,
    support: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
) -> Features:
    """Give surfaces the slope of what they lie on; their base is its lowest level, less a drop."""
    if not len(rows):
        return features
    under = support[rows]
    xy, owner = shapely.get_coordinates(geometry[rows], return_index=True)
    at = levels_at(features, under[owner], xy, top)
    order = np.lexsort((at, owner))
    last = order[np.append(owner[order][1:] != owner[order][:-1], True)]
    low = range_over(features, under, geometry[rows], top)[0]
    top[rows] = at[last] + (base[rows] - low) + np.nan_to_num(features.height[rows])
    columns = {name: getattr(features, name).copy() for name in ("slope_x", "slope_y", "high_x", "high_y")}
    columns["slope_x"][rows], columns["slope_y"][rows] = features.slope_x[under], features.slope_y[under]
    columns["high_x"][rows], columns["high_y"][rows] = xy[last].T
    return features.with_columns(**columns)


def _reach_down(features: Features, geometry: np.ndarray, base: np.ndarray, top: np.ndarray) -> None:
    """Bring bases down to the lowest level of tops that slope."""
    rows = np.flatnonzero(sloping(features) & is_area(geometry))
    base[rows] = np.minimum(base[rows], range_over(features, rows, geometry[rows], top)[0])


def _drop(features: Features, base: np.ndarray, base_from: np.ndarray, rows: np.ndarray) -> bool:
    """Let surfaces with a drop down into what they lie on; say whether there are any."""
    rows = rows[let_in_by_drop(features)[rows]]
    base[rows] -= features.drop[rows] + np.nan_to_num(features.height[rows])
    base_from[rows] = [f"{name}, less its drop" for name in base_from[rows]]
    return bool(len(rows))


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
            f"top {top[row]:.3f} m. Correct its top, or give it a base of its own.",
            layer=features.layers[features.layer[row]].name,
            source_ids=features.source_id[wrong],
            field="top",
            value=f"{top[row]:.3f} m",
        )
    np.maximum(top, base, out=top)
