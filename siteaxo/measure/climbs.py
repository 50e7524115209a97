"""
Cautions about ramps and flights of steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from ..ragged import ragged
from ..solids.limits import KEPT
from ..solids.stack import Stack
from ..solids.surfaces import Surfaces, sounded
from ..solids.tracks import Tracks
from .noted import Caution
from .thresholds import CautionLimits

SOUNDINGS: Final = 7  # how often the landing beyond an end of a ramp is sounded
EVEN: Final = 0.03  # levels of a landing that differ by no more are one [m]
ADA: Final = "2010 ADA Standards"
IBC: Final = "International Building Code"


def ramp_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at slopes, rises and landings of ramps.

    Parameters
    ----------
    stack : Stack
        The solids.
    limits : CautionLimits
        Thresholds.

    Yields
    ------
    Caution
    """
    sloped, walks = stack.walks.ramps, stack.walks
    if sloped is None:
        return
    rows = walks.feature[walks.flight_count :]
    tracks = sloped.climb.tracks
    middle, level = _middles(tracks), _mid_levels(stack, rows)
    for k in np.flatnonzero(sloped.slope > limits.ramp_slope_most * (1 + KEPT)):
        yield Caution(
            code="ramp-steep",
            subject="Ramp, running slope",
            row=int(rows[k]),
            value=float(sloped.slope[k]),
            limit=limits.ramp_slope_most,
            unit="1:x",
            rule=f"{ADA} §405.2",
            message=f"It slopes at 1:{1 / sloped.slope[k]:.1f} along its runs.",
            place=middle[k],
            level=level[k],
        )
    for k in np.flatnonzero(sloped.rise_per_run > limits.ramp_rise_most * (1 + KEPT)):
        yield Caution(
            code="ramp-run-high",
            subject="Ramp, rise of one run",
            row=int(rows[k]),
            value=float(sloped.rise_per_run[k]),
            limit=limits.ramp_rise_most,
            unit="m",
            rule=f"{ADA} §405.6",
            message=f"One run rises {sloped.rise_per_run[k]:.3f} m without a landing.",
            place=middle[k],
            level=level[k],
        )
    yield from _landings(stack, rows, tracks, limits)


def step_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at risers, treads and ends of flights of steps.

    Parameters and yield are those of :func:`ramp_cautions`.
    """
    flown, walks = stack.walks.flights, stack.walks
    if flown is None:
        return
    rows = walks.feature[: walks.flight_count]
    middle, level = _middles(flown.climb.tracks), _mid_levels(stack, rows)

    def one(k: int, code: str, subject: str, value: float, limit: float, rule: str, message: str) -> Caution:
        return Caution(
            code=code,
            subject=subject,
            row=int(rows[k]),
            value=value,
            limit=limit,
            unit="risers" if code == "few-risers" else "m",
            rule=rule,
            message=message,
            place=middle[k],
            level=level[k],
        )

    low, high = limits.riser_least, limits.riser_most
    stride = 2 * flown.riser + flown.tread
    for k in range(len(rows)):  # flights of a site are few
        riser, tread, count = float(flown.riser[k]), float(flown.tread[k]), int(flown.risers[k])
        rule = f"{ADA} §504.2; {IBC} §1011.5.2"
        if not low - KEPT <= riser <= high + KEPT:
            text = f"Its {count} risers are {riser:.3f} m high; {low:.3f} to {high:.3f} m are usual."
            yield one(k, "riser-unusual", "Steps, riser", riser, high if riser > high else low, rule, text)
        if tread < limits.tread_least - KEPT:
            text = f"Its treads are {tread:.3f} m deep; {limits.tread_least:.3f} m at least are usual."
            yield one(k, "tread-short", "Steps, tread", tread, limits.tread_least, rule, text)
        if not limits.stride_least - KEPT <= stride[k] <= limits.stride_most + KEPT:
            wrong = limits.stride_most if stride[k] > limits.stride_most else limits.stride_least
            text = f"Two risers and a tread make {stride[k]:.3f} m; about 0.63 m is comfortable."
            yield one(k, "stride", "Steps, stride", float(stride[k]), wrong, "common practice, 2R + T", text)
        if count < limits.flight_risers_least:
            text = f"It has {count} riser{'s' if count > 1 else ''}; so few are easily overlooked."
            least = float(limits.flight_risers_least)
            yield one(k, "few-risers", "Steps, few risers", float(count), least, "common practice", text)
    yield from _uneven_ends(stack, rows, flown.climb.tracks, limits)


def _middles(tracks: Tracks) -> np.ndarray:
    """The point half way along each track, shape (k,)."""
    line = shapely.linestrings(tracks.middle, indices=tracks.track)
    return shapely.line_interpolate_point(line, 0.5, normalized=True)


def _mid_levels(stack: Stack, rows: np.ndarray) -> np.ndarray:
    features = stack.features
    return (features.base[rows] + features.top[rows]) / 2


def _ends(tracks: Tracks, *, upper: bool) -> tuple[np.ndarray, np.ndarray]:
    """Both points of the lower or upper ends; what lies beyond is to the right."""
    station = tracks.start[1:] - 1 if upper else tracks.start[:-1]
    right, left = tracks.point[tracks.point_start[station]], tracks.point[tracks.point_start[station + 1] - 1]
    return (right, left) if upper else (left, right)


def _sides(tracks: Tracks, *, upper: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Walk and both points of every straight side of the lower or upper ends, which may be bent."""
    station = tracks.start[1:] - 1 if upper else tracks.start[:-1]
    owner, place = ragged(tracks.point_start[station + 1] - tracks.point_start[station] - 1)
    right = tracks.point[tracks.point_start[station][owner] + place]
    left = tracks.point[tracks.point_start[station][owner] + place + 1]
    return (owner, right, left) if upper else (owner, left, right)


def _middle_of_ends(tracks: Tracks, *, upper: bool) -> np.ndarray:
    """The point in the middle of the lower or upper end of each walk, shape (k,)."""
    return tracks.middle[tracks.start[1:] - 1 if upper else tracks.start[:-1]]


def _surfaces(stack: Stack) -> Surfaces:
    return Surfaces.of(stack.features, None if stack.terrain is None else stack.terrain.tin)


def _landings(stack: Stack, rows: np.ndarray, tracks: Tracks, limits: CautionLimits) -> Iterator[Caution]:
    """Landings within ramps, and what lies level beyond their ends."""
    features, rule = stack.features, f"{ADA} §405.7"
    track, step = tracks.track, np.append(np.diff(tracks.distance), 0.0)
    begins = tracks.rests & ~np.append(False, tracks.rests[:-1] & ~tracks.last[:-1])
    number = np.cumsum(begins) - 1
    length = np.bincount(number[tracks.rests], step[tracks.rests], max(int(begins.sum()), 1))
    for station in np.flatnonzero(begins):
        found = float(length[number[station]])
        if found < limits.landing_least - KEPT:
            yield _landing(
                int(rows[track[station]]),
                found,
                limits.landing_least,
                rule,
                f"A landing is {found:.3f} m long; {limits.landing_least:.3f} m at least are usual.",
                shapely.Point(tracks.middle[station]),
                float(features.base[rows[track[station]]] + features.top[rows[track[station]]]) / 2,
            )
    reach = np.linspace(0.1, limits.landing_least, SOUNDINGS)
    surfaces = _surfaces(stack)
    for upper, name in ((False, "lower"), (True, "upper")):
        start, end = _ends(tracks, upper=upper)
        level = (features.top if upper else features.base)[rows]
        beyond = np.stack(
            [sounded(surfaces, start, end, level + EVEN, reach=float(one)) for one in reach], axis=1
        )
        even = (np.abs(beyond - level[:, None, None]) <= EVEN).all(axis=2)
        so_far = np.where(even.all(axis=1), len(reach), even.argmin(axis=1))
        known = np.isfinite(beyond[:, 0]).any(axis=1)  # beyond the site nothing is known
        for k in np.flatnonzero(known & (so_far < len(reach))):
            found = float(reach[so_far[k] - 1]) if so_far[k] else 0.0
            message = (
                f"Beyond its {name} end the ground is level with it for some {found:.1f} m; a landing of "
                f"{limits.landing_least:.3f} m at least is usual."
            )
            place = shapely.Point((start[k] + end[k]) / 2)
            yield _landing(int(rows[k]), found, limits.landing_least, rule, message, place, float(level[k]))


def _landing(
    row: int, value: float, limit: float, rule: str, message: str, place: shapely.Point, level: float
) -> Caution:
    return Caution(
        code="landing-short",
        subject="Ramp, landing",
        row=row,
        value=value,
        limit=limit,
        unit="m",
        rule=rule,
        message=message,
        place=place,
        level=level,
    )


def _uneven_ends(stack: Stack, rows: np.ndarray, tracks: Tracks, limits: CautionLimits) -> Iterator[Caution]:
    """Where the first or the last riser differs from the others, as the levels around the flight tell."""
    features, surfaces = stack.features, _surfaces(stack)
    for upper, name in ((False, "first"), (True, "last")):
        walk, start, end = _sides(tracks, upper=upper)
        level = (features.top if upper else features.base)[rows]
        beyond = sounded(surfaces, start, end, level[walk] + 0.5)
        off = np.where(np.isfinite(beyond), np.abs(beyond - level[walk, None]), 0.0).max(axis=1)
        away = np.zeros(len(rows))
        np.maximum.at(away, walk, off)
        place = _middle_of_ends(tracks, upper=upper)
        for k in np.flatnonzero(away > limits.riser_difference_most + KEPT):
            yield Caution(
                code="risers-differ",
                subject="Steps, uneven risers",
                row=int(rows[k]),
                value=float(away[k]),
                limit=limits.riser_difference_most,
                unit="m",
                rule=f"{IBC} §1011.5.4 (from memory)",
                message=f"What it meets lies {away[k]:.3f} m off, so that its {name} riser differs.",
                place=shapely.Point(place[k]),
                level=float(level[k]),
            )
