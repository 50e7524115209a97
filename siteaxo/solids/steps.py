"""
Flights of steps: treads and risers from level to level.

All risers of a flight are equal, and so are its treads between two landings. The last
riser is the edge of what the flight arrives at; where nothing stands there, the flight
ends with a tread at its top level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..ragged import ragged, spread
from .climb import Climb
from .limits import FLIGHT_RISERS_MOST
from .runs import Runs, riser_count
from .tracks import SAME, Legs, Tracks, inserted, joined, legs_of, with_landings

UPSTAND: Final = 0.1  # cheek walls rise so far above the line of the nosings [m]


@dataclass(frozen=True, kw_only=True)
class Flights:
    """
    Flights of steps.

    Parameters
    ----------
    risers : ndarray of int, shape (k,)
        Number of risers, the last one included.
    riser, tread : ndarray, shape (k,)
        Height of the risers, and shortest depth of the treads [m].
    climb : Climb
        The flights, without cheek walls.
    nosings : Climb
        The same with the levels of the line along the nosings.
    cheeks : Climb
        Cheek walls, of all right flanks and then of all left ones.
    cheek_of : ndarray of int, shape (c,)
        The flight each cheek wall belongs to.
    """

    risers: np.ndarray
    riser: np.ndarray
    tread: np.ndarray
    climb: Climb
    nosings: Climb
    cheeks: Climb
    cheek_of: np.ndarray


def flights(runs: Runs, *, riser: np.ndarray, landing: np.ndarray, cheek: np.ndarray) -> Flights:
    """
    Lay risers into runs.

    Parameters
    ----------
    runs : Runs
        k runs.
    riser : ndarray, shape (k,)
        Riser to aim for; NaN for the usual one [m].
    landing : ndarray, shape (k,)
        Length of landings in flights with many risers; NaN or 0 for none [m].
    cheek : ndarray, shape (k,)
        Width of cheek walls within the footprint; NaN or 0 for none [m].

    Returns
    -------
    Flights
    """
    rise = runs.top - runs.base
    count = riser_count(rise, riser)
    length = np.nan_to_num(landing)
    more = np.where(length > 0, (count - 1) // FLIGHT_RISERS_MOST, 0)
    legs = legs_of(runs.tracks)
    whole = np.bincount(legs.track, minlength=len(runs)) == 1  # those with turns rest there
    tracks = with_landings(runs.tracks, np.where(whole, more, 0)[legs.track], length)
    legs = legs_of(tracks)
    count = np.maximum(count, np.bincount(legs.track, minlength=len(runs)))
    share = _shared_out(legs, count)
    treads = np.maximum(share - (~legs.final | runs.arrives[legs.track]), 1)
    tread = legs.length / treads

    leg, place = ragged(share)
    tracks = inserted(tracks, legs.track[leg], legs.begin[leg] + tread[leg] * place)
    legs = legs_of(tracks)
    passed = legs.before(share)
    own = tracks.track
    level = _Levels(tracks=tracks, legs=legs, passed=passed, share=share, tread=tread)
    floor, nosing = (
        [runs.base[own] + rise[own] * number / count[own] for number in numbers]
        for numbers in (level.floors(), level.nosings())
    )
    inner, walls, cheek_of = _cheeks(tracks, np.nan_to_num(cheek))
    climb = Climb(tracks=inner, base=runs.base, before=floor[0], after=floor[1], level_part="tread")
    shortest = np.full(len(runs), np.inf)
    np.minimum.at(shortest, legs.track, tread)
    station = spread(tracks.start[cheek_of], np.diff(tracks.start)[cheek_of])
    before, after = (levels[station] + UPSTAND for levels in nosing)
    before[walls.start[:-1]] = runs.base[cheek_of]
    return Flights(
        risers=count,
        riser=rise / count,
        tread=shortest,
        climb=climb,
        nosings=replace(climb, before=nosing[0], after=nosing[1]),
        cheeks=Climb(tracks=walls, base=runs.base[cheek_of], before=before, after=after),
        cheek_of=cheek_of,
    )


def _shared_out(legs: Legs, count: np.ndarray) -> np.ndarray:
    """Share the risers of tracks out among their legs by length, at least one for each."""
    per = np.bincount(legs.track, minlength=len(count))
    whole = np.bincount(legs.track, legs.length, len(count))
    quota = (count - per)[legs.track] * legs.length / whole[legs.track]
    share = np.floor(quota + 1e-9).astype(np.int64)
    left = count - per - np.bincount(legs.track, share, len(count)).astype(np.int64)
    order = np.lexsort((share - quota, legs.track))  # the largest remainders first
    first = np.searchsorted(legs.track[order], np.arange(len(count)))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order)) - first[legs.track[order]]
    return share + 1 + (rank < left[legs.track])


@dataclass(frozen=True, kw_only=True)
class _Levels:
    """Levels at stations, counted in risers."""

    tracks: Tracks
    legs: Legs
    passed: np.ndarray
    share: np.ndarray
    tread: np.ndarray

    def floors(self) -> tuple[np.ndarray, np.ndarray]:
        """Risers passed just before and just after each station."""
        after = self._rested()
        leg = self.legs.of_station
        on = np.flatnonzero(leg >= 0)
        leg = leg[on]
        way = (self.tracks.distance[on] - self.legs.begin[leg] + SAME) / self.tread[leg]
        after[on] = self.passed[leg] + 1 + np.minimum(np.floor(way), self.share[leg] - 1)
        return self._just_before(after), after

    def nosings(self) -> tuple[np.ndarray, np.ndarray]:
        """Height of the line along the nosings just before and just after each station."""
        after, before = self._rested(), self._just_before(self._rested())
        leg = self.legs.of_station
        on = np.flatnonzero(leg >= 0)
        for levels, station in ((after, on), (before, on + 1)):
            way = (self.tracks.distance[station] - self.legs.begin[leg[on]]) / self.tread[leg[on]]
            levels[station] = self.passed[leg[on]] + 1 + np.minimum(way, self.share[leg[on]] - 1)
        return before, after

    def _rested(self) -> np.ndarray:
        """Risers passed at each station where no leg goes on; those before the first leg are 0."""
        leg, track = self.legs.of_station, self.tracks.track
        begun = np.maximum.accumulate(np.where(leg >= 0, leg, -1))
        own = (begun >= 0) & (self.legs.track[begun] == track)
        return np.where(own, self.passed[begun] + self.share[begun], 0).astype(float)

    def _just_before(self, after: np.ndarray) -> np.ndarray:
        """What was reached after the station before; nothing at the first of a track."""
        before = np.append(0.0, after[:-1])
        before[self.tracks.start[:-1]] = 0.0
        return before


def _cheeks(tracks: Tracks, width: np.ndarray) -> tuple[Tracks, Tracks, np.ndarray]:
    """Narrow tracks by their cheek walls; return the walls' tracks and which track each flanks."""
    first, final = tracks.point_start[:-1], tracks.point_start[1:] - 1
    a, b = tracks.point[first], tracks.point[final]
    into, out = tracks.point[first + 1] - a, b - tracks.point[final - 1]
    whole = np.hypot(*into.T), np.hypot(*out.T)
    least = np.full(len(tracks), np.inf)
    np.minimum.at(least, tracks.track, np.minimum(*whole))
    begin = tracks.start[:-1]
    straight = (tracks.across == 2) & (2 * width < whole[0][begin])
    wraps = (tracks.across > 2) & (width < least)
    chosen = np.flatnonzero((straight | wraps) & (width > 0))
    mine = np.isin(tracks.track, chosen)
    # a wall of a splayed flight narrows with it; one where a flight wraps a corner does not
    from_start = np.where(straight, width / np.maximum(whole[0][begin], 1e-9), np.nan)[tracks.track]
    shares = [
        np.where(np.isnan(from_start), width[tracks.track] / np.maximum(one, 1e-9), from_start) * mine
        for one in whole
    ]
    right, left = shares[0][:, None] * into, shares[1][:, None] * out
    point = tracks.point.copy()
    point[first], point[final] = a + right, b - left
    walls = [
        replace(
            tracks,
            point_start=2 * np.arange(len(first) + 1),
            point=np.stack(pair, axis=1).reshape(-1, 2),
        ).take(chosen)
        for pair in ((a, a + right), (b - left, b))
    ]
    return replace(tracks, point=point), joined(walls), np.tile(chosen, 2)
