"""
Cautions about edges without a guard, and about low headroom.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from ..solids.drops import STEP, Drops, sound_drops
from ..solids.limits import GUARD_LEAST
from ..solids.planes import levels_at
from ..solids.stack import Stack
from ..solids.tops import WALKED
from .noted import Caution
from .thresholds import CautionLimits

UNDER: Final = (*WALKED, "ramp", "steps")
OVER: Final = ("canopy", "roof", "deck", "structure", "tree")
SPECK: Final = 0.05  # smaller areas are left out [m²]
PAVED: Final = ("paving", "path", "deck", "ramp", "steps")
"""What crowns are looked at over; elsewhere people walk round them."""
LAID: Final = 1e-3  # surfaces whose levels differ by no more lie in one another [m]
RISES: Final = 1e-3  # an edge whose levels differ by more is told with all of them [m]
FLUSH: Final = 0.05  # what begins so little above a surface stands on it [m]


def drop_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at edges of what is walked on where it drops far and nothing guards them.

    Parameters
    ----------
    stack : Stack
        The solids.
    limits : CautionLimits
        Thresholds.

    Yields
    ------
    Caution
        One for each stretch of an edge, with the stretch as its place. A guard that is low
        along a short stretch only is passed over.
    """
    found = sound_drops(stack, most=limits.drop_most)
    bare = ~found.guarded(GUARD_LEAST)
    for along, place, level, length in _stretches(found.take(bare)):
        drop = float(along.drop.max())
        yield Caution(
            code="drop",
            subject="Drop without a guard",
            row=int(along.row[0]),
            value=drop,
            limit=limits.drop_most,
            unit="m",
            rule="International Building Code §1015",
            message=(
                f"Along some {length:.1f} m of its edge it drops by up to {drop:.2f} m, "
                f"without a guard{along.told()}."
            ),
            place=place,
            level=level,
        )
    low = ~found.guarded(limits.guard_least) & ~bare
    for along, place, level, length in _stretches(found.take(low)):
        if length < limits.guard_low_length_least:
            continue
        drop, rises = float(along.drop.max()), float(along.guard.min())
        yield Caution(
            code="guard-low",
            subject="Drop with a low guard",
            row=int(along.row[0]),
            value=drop,
            limit=limits.drop_most,
            unit="m",
            rule="International Building Code §1015",
            message=(
                f"Along some {length:.1f} m of its edge it drops by up to {drop:.2f} m, and what guards it "
                f"rises by {rises:.3f} m only; {limits.guard_least:.3f} m at least are usual."
            ),
            place=place,
            level=level,
        )


def _stretches(found: Drops) -> Iterator[tuple[Drops, shapely.Geometry, float, float]]:
    """Soundings of a feature that follow one another, with their place, level and length."""
    if not len(found.row):
        return
    away = np.hypot(*np.diff(found.xy, axis=0).T)
    new = np.concatenate([[True], (np.diff(found.row) != 0) | (away > 2 * STEP)])
    stretch = np.cumsum(new) - 1
    for number in range(int(stretch[-1]) + 1):  # a handful of stretches
        own = np.flatnonzero(stretch == number)
        at, each = found.xy[own], found.level[own]
        if np.ptp(each) > RISES:
            at = np.column_stack([at, each])
        place = shapely.LineString(at) if len(own) > 1 else shapely.Point(at[0])
        yield found.take(own), place, float(each.mean()), len(own) * STEP


def headroom_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at what hangs low over what is walked on.

    Parameters and yield are those of :func:`drop_cautions`; the place is the area.
    """
    features = stack.features
    shapes, base = _overhead(stack)
    over = np.flatnonzero(np.isin(features.of_role("name"), OVER) & ~shapely.is_empty(shapes))
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    under = np.flatnonzero(area & np.isin(features.of_role("name"), UNDER))
    if not len(over) or not len(under):
        return
    item, other = shapely.STRtree(features.geometry[under]).query(shapes[over], predicate="intersects")
    above, below = over[item], under[other]
    least = base[above] - features.top[below]
    most = base[above] - features.base[below]
    role = features.of_role("name")
    crown = (features.of_role("form")[above] == "tree") & ~np.isin(role[below], PAVED)
    near = (above != below) & ~crown & (least < limits.headroom_least - 1e-6) & (most >= limits.headroom_low)
    for one, two in zip(above[near], below[near], strict=True):
        yield from _low(stack, int(one), int(two), shapes[one], float(base[one]), limits)


def _overhead(stack: Stack) -> tuple[np.ndarray, np.ndarray]:
    """What features cover overhead, and at which level that begins, shapes (n,)."""
    features = stack.features
    shapes, base = features.geometry.copy(), features.base.copy()
    tree = np.flatnonzero(features.of_role("form") == "tree")
    shapes[tree] = shapely.buffer(shapely.centroid(shapes[tree]), features.diameter[tree] / 2)
    base[tree] += features.clear_stem[tree]
    return shapes, base


def _low(
    stack: Stack, above: int, below: int, shape: shapely.Geometry, base: float, limits: CautionLimits
) -> Iterator[Caution]:
    """The caution about one thing over another, if there is one."""
    features = stack.features
    place = _clear(stack, shapely.intersection(shape, features.geometry[below]), below, base)
    if shapely.area(place) < SPECK:
        return
    xy = shapely.get_coordinates(place)
    level = _levels(stack, below, xy)
    head = base - level
    walked = (head < limits.headroom_least - 1e-6) & (head >= limits.headroom_low)
    if not walked.any():
        return
    lowest = float(head[walked].min())
    name = features.name_of(below)
    what = "Its crown begins" if features.of_role("form")[above] == "tree" else "It hangs"
    yield Caution(
        code="headroom",
        subject="Low headroom",
        row=above,
        value=lowest,
        limit=limits.headroom_least,
        unit="m",
        rule="2010 ADA Standards §307.4 (from memory)",
        message=f"{what} {lowest:.2f} m above {name}, over {shapely.area(place):.1f} m².",
        place=shapely.point_on_surface(place),
        level=float(level[walked].mean()),
    )


def _clear(stack: Stack, place: shapely.Geometry, below: int, base: float) -> shapely.Geometry:
    """A place less what stands there between the surface below and what hangs over it."""
    features = stack.features
    tree = shapely.STRtree(features.geometry)
    rows = np.setdiff1d(tree.query(place, predicate="intersects"), [below])
    form = features.of_role("form")
    ground = form[below] == "terrain"
    followed = ground or form[below] == "drape"
    top = float(_levels(stack, below, shapely.get_coordinates(place)).min(initial=np.inf))
    solid = ~np.isin(form[rows], ("tree", "none", "levels", "rail", "drape", "terrain"))
    solid &= features.top[rows] > top + FLUSH
    solid &= features.base[rows] < base - FLUSH
    laid = (np.abs(features.top[rows] - top) <= LAID) & (features.order[rows] > features.order[below])
    laid &= not followed
    laid |= ground & (form[rows] == "drape")  # what follows the ground is looked at by itself
    solid = (solid | laid) & (shapely.get_dimensions(features.geometry[rows]) == 2)
    return shapely.difference(place, shapely.union_all(features.geometry[rows[solid]]))


def _levels(stack: Stack, row: int, xy: np.ndarray) -> np.ndarray:
    """Levels of one walked-on feature at points, shape (n,) [m]."""
    features = stack.features
    walk = int(stack.walks.of_feature(np.array([row]))[0])
    if walk >= 0:
        return stack.walks.level_at(np.full(len(xy), walk), xy)
    if stack.terrain is not None and features.of_role("form")[row] in ("drape", "terrain"):
        return stack.terrain.tin.level_at(xy, beyond=True)
    return levels_at(features, np.full(len(xy), row), xy)
