"""
Flights and ramps read from their features: which way they climb, and between what.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..ragged import spread
from ..source.features import Features
from .ends import CLEARLY, read_ends
from .laying import from_centre, from_rails
from .limits import RISER, comfortable_tread
from .notes import note
from .rounds import is_ring, read_rounds
from .surfaces import Surfaces, misfit, sounded
from .tracks import SAME, Tracks, joined, legs_of

STEEPNESS: Final = 1 / 14  # slope of a comfortable ramp, common practice [-]
SLIGHT: Final = 0.02  # bends of an outline that may be overlooked to read it [m]
SHARPEST: Final = 150.0  # centre lines that turn by more are not followed [degrees]
NEAR: Final = 0.08  # a surface so far below the top still takes the last riser [m]

UNCLEAR: Final = (
    "The levels around it do not tell which end is the lower one; its most comfortable run is drawn. "
    "Draw it as a centre line, uphill."
)
UNREAD: Final = (
    "Which of its sides are its foot and its head cannot be told: its outline has no two straight sides to "
    "climb between, or has a hole, or its centre line turns back or is all landings. It is drawn "
    "as a block. Draw it as a centre line uphill with a width, or as two side lines."
)
ROUND_UNCLEAR: Final = (
    "The levels around it do not tell whether it climbs inward or outward; it is drawn climbing inward."
)
STRAIGHTENED: Final = "Slight bends of its outline are left out of its treads and slopes."
TURNED: Final = "It is drawn downhill, as the levels around its ends tell; it is turned round."


@dataclass(frozen=True, kw_only=True)
class Runs:
    """
    What climbs, in plan and between its levels.

    Parameters
    ----------
    feature : ndarray of int, shape (k,)
        Rows in the features.
    tracks : Tracks
        Their plans, uphill.
    base, top : ndarray, shape (k,)
        Levels of the lower and the upper end [m].
    arrives : ndarray of bool, shape (k,)
        Whether something stands as high as its top beyond its upper end.
    round : ndarray of bool, shape (k,)
        Whether it is half of a flight all round, which has no flanks.
    """

    feature: np.ndarray
    tracks: Tracks
    base: np.ndarray
    top: np.ndarray
    arrives: np.ndarray
    round: np.ndarray

    def __len__(self) -> int:
        return len(self.feature)

    @property
    def width(self) -> np.ndarray:
        """Width at the lower end, shape (k,) [m]."""
        if not len(self):
            return np.zeros(0)
        start = self.tracks.start[:-1]
        point, first = self.tracks.point, self.tracks.point_start
        return np.hypot(*(point[first[start + 1] - 1] - point[first[start]]).T)


@dataclass(frozen=True, kw_only=True)
class _Some:
    """Tracks of some features, with what was noticed."""

    tracks: Tracks
    feature: np.ndarray
    findings: list[Finding]


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Runs, the rows that could not be read as runs, and what was noticed."""

    runs: Runs
    unread: np.ndarray
    findings: tuple[Finding, ...]


def read_runs(features: Features, drawn: np.ndarray, form: str, surfaces: Surfaces) -> Reading:
    """
    Read features as flights of steps or as ramps.

    Footprints are polygons, centre lines with a width drawn uphill, or two side lines.

    Parameters
    ----------
    features : Features
        With all levels settled.
    drawn : ndarray of object, shape (n,)
        Their geometry as drawn: polygons, centre lines, or two side lines.
    form : {"steps", "ramp"}
        What to read.
    surfaces : Surfaces
        What lies around them.

    Returns
    -------
    Reading
    """
    rows = np.flatnonzero((features.of_role("form") == form) & ~shapely.is_empty(features.geometry))
    rise = features.top[rows] - features.base[rows]
    flat = rise <= 1e-6
    kind = shapely.get_dimensions(drawn[rows])
    ring = is_ring(features, drawn, rows) & (form == "steps") & ~flat
    area, line = rows[(kind == 2) & ~flat & ~ring], rows[(kind == 1) & ~flat & ~ring]
    back = _turns_back(drawn[line])
    found, unread = _from_areas(features, drawn, area, form, surfaces)
    found += _from_lines(features, drawn, line[~back], surfaces)
    rounds = read_rounds(features, rows[ring], surfaces)
    unsure = [note(features, int(row), "direction-unclear", ROUND_UNCLEAR) for row in rounds.unsure]
    found.append(_Some(tracks=rounds.tracks, feature=rounds.feature, findings=unsure))
    unread = np.concatenate([unread, line[back], rounds.unread])
    feature = np.concatenate([np.zeros(0, dtype=np.int64)] + [some.feature for some in found])
    tracks = joined([some.tracks for some in found])
    legs = legs_of(tracks)
    climbs = np.bincount(legs.track, legs.length, len(tracks)) > SAME
    unread = np.concatenate([unread, feature[~climbs]])  # landings at their turns leave no way to climb
    feature, tracks = feature[climbs], tracks.take(np.flatnonzero(climbs))
    findings = [finding for some in found for finding in some.findings]
    findings += [note(features, row, "run-unclear", UNREAD) for row in unread]
    return Reading(
        runs=Runs(
            feature=feature,
            tracks=tracks,
            base=features.base[feature],
            top=features.top[feature],
            arrives=_arrives(tracks, features.top[feature], surfaces),
            round=np.isin(feature, rounds.feature),
        ),
        unread=np.concatenate([unread, rows[flat]]),
        findings=tuple(findings),
    )


def riser_count(rise: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """
    Number of equal risers that come nearest to a wanted one, at least one.

    Examples
    --------
    >>> riser_count(np.array([1.2, 0.1]), np.array([0.16, np.nan])).tolist()
    [8, 1]
    """
    aim = np.where(np.isnan(wanted), RISER, wanted)
    return np.maximum(np.rint(rise / aim), 1).astype(np.int64)


def _comfortable_run(features: Features, rows: np.ndarray, form: str) -> np.ndarray:
    """Length of a usual flight or ramp of that rise; seat steps have no comfortable tread of their own."""
    rise = features.top[rows] - features.base[rows]
    if form == "ramp":
        return rise / STEEPNESS
    count = riser_count(rise, np.full(len(rows), RISER))
    return np.maximum(count - 1, 1) * comfortable_tread(rise / count)


def _from_areas(
    features: Features, drawn: np.ndarray, rows: np.ndarray, form: str, surfaces: Surfaces
) -> tuple[list[_Some], np.ndarray]:
    """Tracks of footprints, as drawn or else without their slight bends, and rows left unread."""
    found, left = [], rows
    holed = shapely.get_num_interior_rings(drawn[left]) > 0
    unread, left = left[holed], left[~holed]
    for slack, sure in ((0.0, True), (SLIGHT, True), (0.0, False), (SLIGHT, False)):
        if not len(left):
            break
        ends = read_ends(
            shapely.simplify(drawn[left], slack) if slack else drawn[left],
            features.base[left],
            features.top[left],
            _comfortable_run(features, left, form),
            surfaces,
        )
        read = (np.diff(ends.rail_start) > 0) & (ends.decided | (not sure))
        taken = left[read]
        if len(taken):
            count = np.diff(ends.rail_start)[read]
            rails = spread(ends.rail_start[:-1][read], count)
            tracks = from_rails(ends.rail[rails], np.concatenate([[0], np.cumsum(count)]))
            notes = [] if sure else [note(features, row, "direction-unclear", UNCLEAR) for row in taken]
            notes += [note(features, row, "outline-straightened", STRAIGHTENED) for row in taken if slack]
            found.append(_Some(tracks=tracks, feature=taken, findings=notes))
        left = left[~read]
    return found, np.concatenate([unread, left])


def _turns_back(lines: np.ndarray) -> np.ndarray:
    """Whether centre lines turn so sharply that there is no room for a landing."""
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    into, out = xy[1:-1] - xy[:-2], xy[2:] - xy[1:-1]
    turn = np.abs(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)))
    sharp = (turn > np.radians(SHARPEST)) & (owner[2:] == owner[:-2])
    return (np.bincount(owner[2:], sharp, len(lines)) > 0) & (shapely.get_num_geometries(lines) == 1)


def _from_lines(features: Features, drawn: np.ndarray, rows: np.ndarray, surfaces: Surfaces) -> list[_Some]:
    """Tracks of centre lines and of pairs of side lines."""
    found = []
    pair = shapely.get_num_geometries(drawn[rows]) == 2
    for taken, make in ((rows[~pair], _along_centres), (rows[pair], _between_sides)):
        if not len(taken):
            continue
        lines = drawn[taken]
        base, top = features.base[taken], features.top[taken]
        as_drawn, other_way = make(features, taken, lines), make(features, taken, shapely.reverse(lines))
        worse = _fit(as_drawn, base, top, surfaces) - _fit(other_way, base, top, surfaces)
        turned = worse >= CLEARLY
        tracks = make(features, taken, np.where(turned, shapely.reverse(lines), lines))
        notes = [note(features, row, "drawn-downhill", TURNED) for row in taken[turned]]
        found.append(_Some(tracks=tracks, feature=taken, findings=notes))
    return found


def _along_centres(features: Features, rows: np.ndarray, lines: np.ndarray) -> Tracks:
    width = features.width[rows]
    width = np.where(np.isnan(width), features.of_role("width")[rows].astype(float), width)
    return from_centre(lines, width, np.nan_to_num(features.landing[rows]))


def _between_sides(features: Features, rows: np.ndarray, lines: np.ndarray) -> Tracks:
    """Tracks between two side lines each; the first says which way is uphill."""
    one, other = shapely.get_geometry(lines, 0), shapely.get_geometry(lines, 1)
    start, end = (shapely.distance(shapely.get_point(one, k), shapely.get_point(other, k)) for k in (0, -1))
    crossed, also = (
        shapely.distance(shapely.get_point(one, k), shapely.get_point(other, -1 - k)) for k in (0, -1)
    )
    other = np.where(start + end > crossed + also, shapely.reverse(other), other)
    xy, line = shapely.get_coordinates(np.stack([one, shapely.reverse(other)], axis=1), return_index=True)
    rings = shapely.linearrings(xy, indices=line // 2)
    first_is_right = shapely.is_ccw(rings)
    right, left = np.where(first_is_right, one, other), np.where(first_is_right, other, one)
    return from_rails(np.stack([right, left], axis=1).reshape(-1), 2 * np.arange(len(rows) + 1))


def _end_edges(tracks: Tracks, *, upper: bool) -> tuple[np.ndarray, np.ndarray]:
    """The lower or upper ends as edges with what lies beyond to their right."""
    station = tracks.start[1:] - 1 if upper else tracks.start[:-1]
    right = tracks.point[tracks.point_start[station]]
    left = tracks.point[tracks.point_start[station + 1] - 1]
    return (right, left) if upper else (left, right)


def _fit(tracks: Tracks, base: np.ndarray, top: np.ndarray, surfaces: Surfaces) -> np.ndarray:
    low = sounded(surfaces, *_end_edges(tracks, upper=False), top)
    high = sounded(surfaces, *_end_edges(tracks, upper=True), top)
    return misfit(low, base, top - base) + misfit(high, top, top - base)


def _arrives(tracks: Tracks, top: np.ndarray, surfaces: Surfaces) -> np.ndarray:
    across = np.diff(tracks.point_start)[tracks.start[1:] - 1] if len(tracks) else np.zeros(0, dtype=int)
    last = np.repeat(tracks.point_start[tracks.start[1:] - 1], across - 1)
    owner = np.repeat(np.arange(len(across)), across - 1)
    right = last + np.arange(len(owner)) - np.repeat(np.cumsum(across - 1) - (across - 1), across - 1)
    level = sounded(surfaces, tracks.point[right], tracks.point[right + 1], top[owner])
    there = (level >= (top[owner] - NEAR)[:, None]).any(axis=1)
    return np.bincount(owner, there, len(across)) > 0
