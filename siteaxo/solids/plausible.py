"""
What cannot be right among settled features: floating, buried, doubled, at street level.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from . import limits
from .drops import look_for_drops
from .earth import drapes
from .grounding import DRAPE, LET_IN
from .notes import note, notes
from .outliers import look_for_outliers
from .overlaps import (
    MOSTLY,
    SAME,
    TOUCH,
    WITHIN,
    Pairs,
    look_for_nested,
    look_for_partial,
    overlapping,
    solid_rows,
)
from .planes import excess_over
from .stack import Stack
from .terraces import look_at_terraces
from .terrain import Terrain
from .tin import Tin
from .upon import SURFACES
from .widths import CLIMBING

ROOFTOP: Final = 1.0  # a top so far above a base is a rooftop above it [m]
STREET: Final = 0.1  # levels nearer than this to the foot of a building are its street's [m]
ON_ROOFS: Final = " A green roof or a roof terrace is a `roof` with the shape `flat`."
_BUILDINGS: Final = ("structure", "deck", "roof")


def look_around(stack: Stack) -> tuple[Finding, ...]:
    """
    Find what is implausible in a site as a whole.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    tuple of Finding
        Floating and buried features, nested doubles, solids that overlap, bases at street
        level under a rooftop, levels and heights far from what is usual, terraces that
        do not meet, edges with an unguarded drop, steep paths.
    """
    features, terrain, ground = stack.features, stack.terrain, stack.walked_ground
    pairs = overlapping(features)
    return (
        *look_for_floating(features, terrain),
        *look_for_buried(features, ground, pairs=pairs),
        *look_for_covered(features),
        *look_for_nested(features, pairs=pairs),
        *look_for_partial(features),
        *look_for_street_levels(features, pairs=pairs),
        *look_for_outliers(features),
        *look_at_terraces(features),
        *look_for_drops(stack),
        *look_at_paths(features, terrain),
    )


def look_for_floating(features: Features, terrain: Terrain | None = None) -> Iterable[Finding]:
    """Find features that touch neither another one nor the ground; canopies have posts of their own."""
    form = features.of_role("form")
    rows = solid_rows(features)
    one, other = shapely.STRtree(features.geometry[rows]).query(
        features.geometry[rows], predicate="dwithin", distance=TOUCH
    )
    one, other = rows[one], rows[other]
    base, top = features.base, features.top
    meet = (one != other) & (base[one] <= top[other] + TOUCH) & (base[other] <= top[one] + TOUCH)
    touched = np.zeros(len(features), dtype=bool)
    touched[one[meet]] = True
    touched[base <= base.min(initial=np.inf) + TOUCH] = True  # nothing lies below the lowest
    if terrain is not None:
        low, _, high = terrain.tin.levels_under(features.geometry[rows])
        touched[rows[(high >= base[rows] - TOUCH) & (low <= top[rows] + TOUCH)]] = True
    highest = np.full(len(features), -np.inf)  # of the tops below each
    under = top[other] <= base[one]
    np.maximum.at(highest, one[under], top[other[under]])
    rows = rows[~touched[rows] & (form[rows] != "canopy")]
    gaps = [
        f" The nearest thing below it ends {gap:.3f} m lower." if gap < np.inf else ""
        for gap in (base - highest)[rows].tolist()
    ]
    values = [f"{level:.3f} m" for level in base[rows].tolist()]
    messages = [
        f"It touches nothing: it begins at {value} in the air.{gap} Check its base."
        for value, gap in zip(values, gaps, strict=True)
    ]
    return notes(features, rows, "floating", messages, values=values, of="base")


def look_for_buried(
    features: Features, ground: Tin | None = None, *, pairs: Pairs | None = None
) -> Iterable[Finding]:
    """Find features that lie wholly within another one, or below the ground."""
    rows = solid_rows(features)
    inner, outer, share = pairs or overlapping(features)
    base, top = features.base, features.top
    over = excess_over(features, inner, outer, features.geometry[inner])
    inside = (share > WITHIN) & (over < -SAME) & (base[inner] >= base[outer] - SAME)
    inside &= ~np.isin(features.of_role("form")[outer], CLIMBING)  # these are lower where it stands
    role = features.of_role("name")
    laid = set(inner[inside & np.isin(role[inner], SURFACES) & (role[outer] == "structure")].tolist())
    for row in np.unique(inner[inside]):
        around = int(outer[inside & (inner == row)][0])
        message = (
            f"It lies within {features.name_of(around)}, {base[around]:.3f} to {top[around]:.3f} m, and is "
            f"not seen. Check its levels.{ON_ROOFS if row in laid else ''}"
        )
        yield note(features, int(row), "buried", message, value=f"{top[row]:.3f} m", of="top")
    if ground is None:
        return
    upright = rows[~np.isin(features.of_role("name")[rows], LET_IN)]
    area = shapely.get_dimensions(features.geometry[upright]) == 2
    upright = upright[area]  # what only touches the ground beside it does not lie below it
    low = ground.levels_under(shapely.buffer(features.geometry[upright], -TOUCH, join_style="mitre"))[0]
    for row, level in zip(upright, low, strict=True):
        if top[row] < level - SAME:
            message = (
                f"Its top, {top[row]:.3f} m, lies below the ground, {level:.3f} m at least. Check its levels."
            )
            yield note(features, int(row), "buried", message, value=f"{top[row]:.3f} m", of="top")


def look_for_covered(features: Features) -> Iterable[Finding]:
    """Find lawns, water, paving and paths wholly within another of these that is drawn over them."""
    form, order = features.of_role("form"), features.order
    level = (features.of_role("theme") == "surfaces") & ~np.isin(form, CLIMBING)
    rows = np.flatnonzero(level & ~shapely.is_empty(features.geometry))
    inner, outer, share = overlapping(features, rows)
    drape = form == DRAPE
    over = excess_over(features, inner, outer, features.geometry[inner])
    same = np.where(drape[inner] | drape[outer], drape[inner] & drape[outer], np.abs(over) <= SAME)
    gone = same & (share > WITHIN) & (order[inner] < order[outer])
    for row in np.unique(inner[gone]):
        around = int(outer[gone & (inner == row)][0])
        message = (
            f"It lies within {features.name_of(around)} and at its level; that one is drawn over it, so that "
            "it is not seen. Cut its footprint out of that one, or give it a level of its own."
        )
        yield note(features, int(row), "buried", message, value=str(features.source_id[around]))


def look_for_street_levels(features: Features, *, pairs: Pairs | None = None) -> Iterable[Finding]:
    """Find features on a rooftop whose base is the level of the street below."""
    inner, outer, share = pairs or overlapping(features)
    names = features.of_role("name")
    base, top = features.base, features.top
    odd = np.isin(names[outer], _BUILDINGS) & ~np.isin(names[inner], _BUILDINGS)
    odd &= (features.order[inner] > features.order[outer]) & (share > MOSTLY)
    odd &= (np.abs(base[inner] - base[outer]) <= STREET) & (top[outer] > base[inner] + ROOFTOP)
    sources = features.base_from[inner[odd]]
    odd[odd] = [not str(source).startswith(("top of", "ground")) for source in sources]
    for row in np.unique(inner[odd]):
        under = int(outer[odd & (inner == row)][0])
        message = (
            f"Its base, {base[row]:.3f} m, is the foot of {features.name_of(under)}, on whose top at "
            f"{top[under]:.3f} m it seems to stand. Say base = 'below' if it does."
        )
        yield note(features, int(row), "street-level-base", message, value=f"{base[row]:.3f} m", of="base")


def steepest_noticed(slope: np.ndarray, area: np.ndarray) -> float:
    """
    The slope that more than a noticeable share of a surface reaches.

    Parameters
    ----------
    slope, area : ndarray, shape (n,)
        Slope [-] and area [m²] of each facet.

    Returns
    -------
    float
        Steeper specks, as at the corner of a bank, are passed over.

    Examples
    --------
    >>> steepest_noticed(np.array([0.1, 0.7]), np.array([9.95, 0.05]))
    0.1
    """
    order = np.argsort(-slope, kind="stable")
    reached = np.cumsum(area[order]) > limits.NOTICED * area.sum()
    return float(slope[order[int(reached.argmax())]])


def look_at_paths(features: Features, terrain: Terrain | None) -> Iterable[Finding]:
    """Find paths over ground that is steeper than is usual for walks."""
    chosen = (features.of_role("form") == "drape") & (features.of_role("name") == "path")
    rows = np.flatnonzero(chosen)
    if terrain is None or not len(rows):
        return
    for row, tin in zip(rows, drapes(terrain.tin, features.geometry[rows]), strict=True):
        steep = tin.plan_area * (tin.slope > limits.WALK_SLOPE_MOST + 1e-6)
        if steep.sum() <= limits.NOTICED * tin.plan_area.sum():
            continue
        slope = steepest_noticed(tin.slope, tin.plan_area)
        message = (
            f"The ground under {steep.sum():.3g} m² of it is steeper than 1:20, up to 1:{1 / slope:.1f}. "
            "Walks are usually no steeper than 1:20 along (2010 ADA Standards §403.3); check local codes."
        )
        yield note(features, int(row), "path-steep", message, value=f"1:{1 / slope:.1f}", severity="info")
