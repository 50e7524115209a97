"""
Tracks: the plan of flights and ramps, from the lower end to the upper.

A track is a row of stations, each with the points where its flanks (and the mitres
between them) pass, from right to left. Between two stations it either climbs or is a
landing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..ragged import ragged, spread

SAME: Final = 1e-6  # stations nearer to one another than this are one [m]


@dataclass(frozen=True, kw_only=True)
class Tracks:
    """
    Stations of k tracks, one after another.

    Parameters
    ----------
    start : ndarray of int, shape (k + 1,)
        Where each track starts in the stations.
    distance : ndarray, shape (s,)
        Way from the lower end along the middle [m].
    rests : ndarray of bool, shape (s,)
        Whether the stretch after a station is a landing; False at the last.
    point_start : ndarray of int, shape (s + 1,)
        Where the points of each station start.
    point : ndarray, shape (p, 2)
        Points across, from right to left; a track has the same number at each station [m].
    """

    start: np.ndarray
    distance: np.ndarray
    rests: np.ndarray
    point_start: np.ndarray
    point: np.ndarray

    def __len__(self) -> int:
        return len(self.start) - 1

    @property
    def track(self) -> np.ndarray:
        """Track of each station, shape (s,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.start))

    @property
    def across(self) -> np.ndarray:
        """Points at each station of each track, shape (k,)."""
        return np.diff(self.point_start)[self.start[:-1]]

    @property
    def length(self) -> np.ndarray:
        """Way along each track, landings included, shape (k,) [m]."""
        return self.distance[self.start[1:] - 1]

    @property
    def last(self) -> np.ndarray:
        """Whether a station is the last of its track, shape (s,)."""
        last = np.zeros(len(self.distance), dtype=bool)
        last[self.start[1:] - 1] = True
        return last

    @property
    def middle(self) -> np.ndarray:
        """Mean of the outermost two points of each station, shape (s, 2) [m]."""
        return (self.point[self.point_start[:-1]] + self.point[self.point_start[1:] - 1]) / 2

    def take(self, chosen: np.ndarray) -> Tracks:
        """Return some of the tracks, in the order given."""
        count = np.diff(self.start)[chosen]
        station = spread(self.start[chosen], count)
        points = np.diff(self.point_start)[station]
        return Tracks(
            start=np.concatenate([[0], np.cumsum(count)]),
            distance=self.distance[station],
            rests=self.rests[station],
            point_start=np.concatenate([[0], np.cumsum(points)]),
            point=self.point[spread(self.point_start[station], points)],
        )


def joined(tables: list[Tracks]) -> Tracks:
    """Put tracks one after another."""
    if not tables:
        nothing = np.zeros(0)
        one = np.zeros(1, dtype=np.int64)
        return Tracks(
            start=one, distance=nothing, rests=nothing > 0, point_start=one, point=nothing.reshape(0, 2)
        )
    shift = np.cumsum([0] + [len(t.distance) for t in tables])
    points = np.cumsum([0] + [len(t.point) for t in tables])
    return Tracks(
        start=np.concatenate([t.start[:-1] + s for t, s in zip(tables, shift, strict=False)] + [shift[-1:]]),
        distance=np.concatenate([t.distance for t in tables]),
        rests=np.concatenate([t.rests for t in tables]),
        point_start=np.concatenate(
            [t.point_start[:-1] + p for t, p in zip(tables, points, strict=False)] + [points[-1:]]
        ),
        point=np.concatenate([t.point for t in tables]),
    )


def with_landings(tracks: Tracks, count: np.ndarray, length: np.ndarray) -> Tracks:
    """
    Lay landings into the legs of tracks, at equal distances.

    Parameters
    ----------
    tracks : Tracks
        The tracks.
    count : ndarray of int, shape (l,)
        Landings to lay into each leg, as many as :func:`legs_of` finds; none where it is too short.
    length : ndarray, shape (k,)
        Length of each landing of a track [m].

    Returns
    -------
    Tracks
    """
    legs = legs_of(tracks)
    long = length[legs.track]
    count = np.where(count * long < legs.length, count, 0)
    leg, place = ragged(count)
    run = (legs.length - count * long) / (count + 1)
    begin = legs.begin[leg] + (place + 1) * run[leg] + place * long[leg]
    more = inserted(tracks, np.tile(legs.track[leg], 2), np.concatenate([begin, begin + long[leg]]))
    own = legs_of(more).of_station
    at = np.flatnonzero(own >= 0)
    own = own[at]
    middle = (more.distance[at] + more.distance[at + 1]) / 2 - legs.begin[own]
    rests = more.rests.copy()
    rests[at] = (count[own] > 0) & (np.mod(middle, (run + long)[own]) > run[own])
    return replace(more, rests=rests)


def inserted(tracks: Tracks, track: np.ndarray, distance: np.ndarray) -> Tracks:
    """
    Add stations to tracks, except where there is one.

    Parameters
    ----------
    tracks : Tracks
        The tracks.
    track : ndarray of int, shape (n,)
        Where to add a station.
    distance : ndarray, shape (n,)
        How far along [m].

    Returns
    -------
    Tracks
    """
    before = stations_before(tracks, track, distance)
    there = distance - tracks.distance[before]
    room = tracks.distance[np.minimum(before + 1, len(tracks.distance) - 1)] - distance
    new = np.flatnonzero((there > SAME) & (room > SAME))
    own = np.concatenate([tracks.track, track[new]])
    way = np.concatenate([tracks.distance, distance[new]])
    source = np.concatenate([np.arange(len(tracks.distance)), before[new]])
    order = np.lexsort((way, own))  # stable: stations at one place keep their order
    own, way, source = own[order], way[order], source[order]
    old = order < len(tracks.distance)
    close = np.append(False, (np.diff(way) <= SAME) & (own[1:] == own[:-1]) & ~old[1:])
    own, way, source, old = own[~close], way[~close], source[~close], old[~close]
    count = tracks.across[own]
    station, place = ragged(count)
    here = tracks.point_start[source[station]] + place
    there_point = tracks.point_start[np.minimum(source[station] + 1, len(tracks.distance) - 1)] + place
    span = tracks.distance[np.minimum(source + 1, len(tracks.distance) - 1)] - tracks.distance[source]
    share = np.where(old, 0.0, (way - tracks.distance[source]) / np.where(old, 1.0, span))
    share = share[station][:, None]
    a, b = tracks.point[here], tracks.point[np.minimum(there_point, len(tracks.point) - 1)]
    return Tracks(
        start=np.searchsorted(own, np.arange(len(tracks) + 1)),
        distance=way,
        rests=tracks.rests[source],
        point_start=np.concatenate([[0], np.cumsum(count)]),
        point=np.where(share > 0, a + share * (b - a), a),
    )


def stations_before(tracks: Tracks, track: np.ndarray, distance: np.ndarray) -> np.ndarray:
    """
    The station that each place along a track comes at or after, shape (n,).

    Of several stations at one place it is the last.
    """
    scale = float(tracks.distance.max(initial=0.0)) + 1.0
    key = tracks.track * (2 * scale) + tracks.distance
    found = np.searchsorted(key, track * (2 * scale) + distance + SAME / 2, side="right") - 1
    return np.clip(found, tracks.start[track], tracks.start[track + 1] - 1)


@dataclass(frozen=True, kw_only=True)
class Legs:
    """
    Stretches of tracks that climb without a landing, in order.

    Parameters
    ----------
    track : ndarray of int, shape (l,)
        The track of each.
    begin, end : ndarray, shape (l,)
        Where along the track it begins and ends [m].
    of_station : ndarray of int, shape (s,)
        The leg that goes on after each station; -1 where there is none.
    """

    track: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    of_station: np.ndarray

    @property
    def length(self) -> np.ndarray:
        """Length of each leg, shape (l,) [m]."""
        return self.end - self.begin

    @property
    def first(self) -> np.ndarray:
        """Whether a leg is the first of its track, shape (l,)."""
        return np.append(True, self.track[1:] != self.track[:-1])[: len(self.track)]

    @property
    def final(self) -> np.ndarray:
        """Whether a leg is the last of its track, shape (l,)."""
        return np.append(self.track[1:] != self.track[:-1], True)[: len(self.track)]

    def before(self, values: np.ndarray) -> np.ndarray:
        """Total of a value over the legs of the same track before each leg, shape (l,)."""
        running = np.cumsum(values) - values
        return running - running[self.first][np.cumsum(self.first) - 1]


def legs_of(tracks: Tracks) -> Legs:
    """Find the legs of tracks."""
    climbs = ~tracks.rests & ~tracks.last
    begins = climbs & ~np.append(False, climbs[:-1])
    first = np.flatnonzero(begins)
    last = np.flatnonzero(climbs & ~np.append(climbs[1:], False)) + 1
    return Legs(
        track=tracks.track[first],
        begin=tracks.distance[first],
        end=tracks.distance[last],
        of_station=np.where(climbs, np.cumsum(begins) - 1, -1),
    )
