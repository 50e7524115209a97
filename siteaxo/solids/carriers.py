"""
What carries what: the highest thing under most of it, or else the water that it lies on.

A rail drawn on the edge between two levels is meant to guard it: it stands on the higher.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .across import on_the_highest
from .cutting import LEVEL, MOSTLY, STRAY, is_area, share_of
from .notes import note
from .planes import range_over, sloping
from .upon import lies_upon

ALONG: Final = 0.35
"""A rail along the edge between two levels stands on the higher, if that has so much of its footprint [-]."""


def stand(
    features: Features,
    geometry: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    rows: np.ndarray,
    support: np.ndarray,
    findings: list[Finding],
) -> None:
    """
    Give each of some features of one role the level of the highest thing under most of it.

    Parameters
    ----------
    features : Features
        All features.
    geometry : ndarray of object, shape (n,)
        Their footprints, cut open so far [m].
    base, top : ndarray, shape (n,)
        Their levels so far; bases of *rows* are filled in [m].
    rows : ndarray of int, shape (m,)
        The features that take their base from below.
    support : ndarray of int, shape (n,)
        What each stands on, filled in for *rows*: -1 where there is nothing, and no water.
    findings : list of Finding
        What is noticed is added.
    """
    carries = features.of_role("supports").astype(bool) & np.isfinite(top) & is_area(geometry)
    carriers = np.flatnonzero(carries & (features.order < features.order[rows[0]]))
    if len(carriers):
        item, below = shapely.STRtree(geometry[carriers]).query(geometry[rows], predicate="intersects")
        below = carriers[below]
        share = share_of(geometry[rows[item]], geometry[below])
        bears = ~lies_upon(features, geometry, rows[item], below, share)
        item, below, share = item[bears], below[bears], share[bears]
        local = top[below].copy()
        falls = np.flatnonzero(sloping(features)[below])
        common = shapely.intersection(geometry[rows[item[falls]]], geometry[below[falls]])
        local[falls] = range_over(features, below[falls], common, top)[0]
        whole = on_the_highest(features)[rows]
        guard = features.of_role("form")[rows[item]] == "rail"
        enough = share > np.select([whole[item], guard], [STRAY, ALONG], MOSTLY)
        score = np.lexsort((local, enough))  # enough first, then the highest
        chosen = np.full(len(rows), -1)
        chosen[item[score]] = below[score]
        firm = np.zeros(len(rows), dtype=bool)
        firm[item[enough]] = True
        weak = ~firm & (chosen >= 0) & ~whole
        if weak.any():  # nothing carries half of it: the widest support
            widest = np.argsort(share, kind="stable")
            widest = widest[np.isin(item[widest], np.flatnonzero(weak))]
            chosen[item[widest]] = below[widest]
        support[rows] = chosen
        mine = np.full(len(rows), np.nan)
        picked = below == chosen[item]
        mine[item[picked]] = local[picked]
        built = features.of_role("form")[rows[item]] != "none"  # areas for people reach under seats
        other = built & (share > STRAY) & (local > mine[item] + LEVEL)
        _note_straddling(features, rows, np.unique(item[other]), support, top, findings)
        kept = whole[item] & (share > STRAY) & (local < mine[item] - LEVEL)
        _note_kept_whole(features, rows[np.unique(item[kept])], support, top, findings)
    bare = rows[support[rows] < 0]
    support[bare] = water_under(features, geometry, bare, np.isfinite(top))
    there = support[rows] >= 0
    carried = rows[there]
    base[carried] = range_over(features, support[carried], geometry[carried], top)[0]
    _note_nothing_below(features, base, top, rows[~there], findings)


def water_under(
    features: Features, geometry: np.ndarray, rows: np.ndarray, known: np.ndarray | bool = True
) -> np.ndarray:
    """
    Find the water under most of features, where nobody walks and things yet float or stand.

    Parameters
    ----------
    features : Features
        All features.
    geometry : ndarray of object, shape (n,)
        Their footprints [m].
    rows : ndarray of int, shape (m,)
        The features.
    known : ndarray of bool, shape (n,)
        What may be taken.

    Returns
    -------
    ndarray of int, shape (m,)
        -1 where there is none.
    """
    found = np.full(len(rows), -1)
    water = features.of_role("cuts").astype(bool) & ~features.of_role("supports").astype(bool)
    water = np.flatnonzero(water & known & is_area(geometry))
    if not len(water) or not len(rows):
        return found
    item, below = shapely.STRtree(geometry[water]).query(geometry[rows], predicate="intersects")
    below = water[below]
    later = features.order[below] < features.order[rows[item]]
    item, below = item[later], below[later]
    share = share_of(geometry[rows[item]], geometry[below])
    rising = np.argsort(share, kind="stable")
    rising = rising[share[rising] > MOSTLY]
    found[item[rising]] = below[rising]  # the largest share is written last
    return found


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
        findings.append(note(features, int(row), "straddles", message, value=f"{top[under]:.3f} m"))


def _note_kept_whole(
    features: Features, rows: np.ndarray, support: np.ndarray, top: np.ndarray, findings: list[Finding]
) -> None:
    for row in rows:
        under = support[row]
        message = (
            f"It also reaches over something lower; it is kept whole on {features.name_of(under)} at "
            f"{top[under]:.3f} m, the highest under it."
        )
        findings.append(
            note(features, int(row), "kept-whole", message, value=f"{top[under]:.3f} m", severity="info")
        )


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
        findings.append(note(features, int(row), "nothing-below", message, value=f"{lowest:.3f} m"))
