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
from .cutting import LEVEL, MOSTLY, STRAY, cut_open, is_area, let_in, share_of
from .notes import note


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
    let_in(features, geometry, base, top)
    sunken = cut_open(features, geometry, top, findings)
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
            sunken |= cut_open(features, geometry, top, findings)
    sunken |= cut_open(features, geometry, top, findings)
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
    carries = features.of_role("supports").astype(bool) & np.isfinite(top) & is_area(geometry)
    carriers = np.flatnonzero(carries & (features.order < features.order[rows[0]]))
    if len(carriers):
        item, below = shapely.STRtree(geometry[carriers]).query(geometry[rows], predicate="intersects")
        below = carriers[below]
        share = share_of(geometry[rows[item]], geometry[below])
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
        findings.append(note(features, int(row), "straddles", message, value=f"{top[under]:.3f}"))


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
        findings.append(note(features, int(row), "nothing-below", message, value=f"{lowest:.3f}"))


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
