"""
Flights and ramps of a site together: their solids, their figures, and levels on them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..errors import Finding
from ..ragged import ragged, spread
from ..source.features import Features
from .climb import Climb
from .ramp import Ramps, ramps
from .rings import SAME
from .runs import Runs, read_runs
from .steps import Flights, flights
from .surfaces import Surfaces
from .tracks import joined


@dataclass(frozen=True, kw_only=True)
class Walks:
    """
    Surfaces that climb: flights first, then ramps.

    Parameters
    ----------
    feature : ndarray of int, shape (k,)
        Rows in the features.
    floor : Climb
        Their floors: treads, slopes and landings.
    line : Climb
        The line along the nosings; the floor itself on ramps.
    flights : Flights or None
        The flights; None where there are none.
    ramps : Ramps or None
        The ramps; None where there are none.
    width : ndarray, shape (k,)
        Width at the lower end [m].
    findings : tuple of Finding
        What could not be read as drawn.
    """

    feature: np.ndarray
    floor: Climb
    line: Climb
    flights: Flights | None
    ramps: Ramps | None
    width: np.ndarray
    findings: tuple[Finding, ...]

    @classmethod
    def of(cls, features: Features, drawn: np.ndarray, surfaces: Surfaces) -> Walks:
        """
        Read all flights and ramps.

        Parameters
        ----------
        features : Features
            With all levels settled.
        drawn : ndarray of object, shape (n,)
            Their geometry as drawn.
        surfaces : Surfaces
            Level surfaces around.
        """
        read = [read_runs(features, drawn, form, surfaces) for form in ("steps", "ramp")]
        steps, slopes = (reading.runs for reading in read)
        flown = _flights(features, steps) if len(steps) else None
        sloped = ramps(slopes, landing=features.landing[slopes.feature]) if len(slopes) else None
        floors = ([flown.climb] if flown else []) + ([sloped.climb] if sloped else [])
        lines = ([flown.nosings] if flown else []) + ([sloped.climb] if sloped else [])
        return cls(
            feature=np.concatenate([steps.feature, slopes.feature]),
            floor=_one_climb(floors),
            line=_one_climb(lines),
            flights=flown,
            ramps=sloped,
            width=np.concatenate([steps.width, slopes.width]),
            findings=tuple(finding for reading in read for finding in reading.findings),
        )

    @property
    def flight_count(self) -> int:
        """How many of the walks are flights; they come first."""
        return len(self.flights.risers) if self.flights else 0

    def of_feature(self, rows: np.ndarray) -> np.ndarray:
        """The walk of each row of the features, -1 where it is none, shape (n,)."""
        found = np.full(len(rows), -1)
        if len(self.feature):
            order = np.argsort(self.feature)
            place = np.searchsorted(self.feature[order], rows)
            there = order[np.minimum(place, len(order) - 1)]
            found = np.where(self.feature[there] == rows, there, -1)
        return found

    def level_at(self, walk: np.ndarray, xy: np.ndarray, *, nosings: bool = False) -> np.ndarray:
        """
        Level of walks at points; beyond an end, the level of that end.

        Parameters
        ----------
        walk : ndarray of int, shape (n,)
            Which walk.
        xy : ndarray, shape (n, 2)
            Points in the local plane [m].
        nosings : bool
            Along the nosings rather than on the treads.

        Returns
        -------
        ndarray, shape (n,)
            Levels [m].
        """
        climb = self.line if nosings else self.floor
        tracks = climb.tracks
        way, at = self._ways(), self._way_at(walk, xy)
        scale = float(way.max(initial=0.0)) + 1.0
        found = np.searchsorted(tracks.track * scale + way, walk * scale + at + SAME, side="right") - 1
        station = np.clip(found, tracks.start[walk], tracks.start[walk + 1] - 2)
        span = way[station + 1] - way[station]
        share = np.clip((at - way[station]) / np.where(span > 0, span, 1.0), 0.0, 1.0)
        low, high = climb.after[station], climb.before[station + 1]
        return low + share * (high - low)

    def kinks(self, walk: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """
        Points in the middle of walks where their line changes its slope.

        Parameters
        ----------
        walk : ndarray of int, shape (n,)
            Which walks.

        Returns
        -------
        owner : ndarray of int, shape (m,)
            Place in *walk* of each point.
        xy : ndarray, shape (m, 2)
            Points in the local plane [m].
        """
        tracks = self.line.tracks
        rests = tracks.rests
        kink = tracks.last | (rests != np.append(False, rests[:-1]))
        kink[tracks.start[:-1]] = True
        station = np.flatnonzero(kink)
        first = np.searchsorted(tracks.track[station], walk)
        count = np.searchsorted(tracks.track[station], walk, side="right") - first
        owner, place = ragged(count)
        return owner, tracks.middle[station[first[owner] + place]]

    def _ways(self) -> np.ndarray:
        """Distance of each station along the middle of its walk, shape (s,) [m]."""
        tracks = self.line.tracks
        if not len(tracks):
            return np.zeros(0)
        step = np.hypot(*np.diff(tracks.middle, axis=0, prepend=tracks.middle[:1]).T)
        step[tracks.start[:-1]] = 0.0
        way = np.cumsum(step)
        return way - way[tracks.start[:-1]][tracks.track]

    def _way_at(self, walk: np.ndarray, xy: np.ndarray) -> np.ndarray:
        """How far along the middle of their walks points lie, shape (n,) [m]."""
        tracks = self.line.tracks
        if not len(tracks):
            return np.zeros(len(walk))
        point = shapely.points(xy)
        middle = shapely.linestrings(tracks.middle, indices=tracks.track)
        way = shapely.line_locate_point(middle[walk], point)
        bent = np.flatnonzero(tracks.across[walk] > 2)  # these climb between two bent ends
        low, high = (
            shapely.distance(self.ends_at(station)[walk[bent]], point[bent])
            for station in (tracks.start[:-1], tracks.start[1:] - 1)
        )
        share = low / np.maximum(low + high, SAME)
        way[bent] = share * self._ways()[tracks.start[1:] - 1][walk[bent]]
        return way

    def ends_at(self, station: np.ndarray) -> np.ndarray:
        """Lines across the walks at one station of each, shape (k,)."""
        tracks = self.line.tracks
        points = spread(tracks.point_start[station], tracks.across)
        return shapely.linestrings(
            tracks.point[points], indices=np.repeat(np.arange(len(tracks)), tracks.across)
        )


def _flights(features: Features, runs: Runs) -> Flights:
    row = runs.feature
    cheek = np.where(runs.round, 0.0, features.cheek[row])
    return flights(runs, riser=features.riser[row], landing=features.landing[row], cheek=cheek)


def _one_climb(climbs: list[Climb]) -> Climb:
    def column(name: str) -> np.ndarray:
        return np.concatenate([np.zeros(0)] + [getattr(climb, name) for climb in climbs])

    return Climb(
        tracks=joined([climb.tracks for climb in climbs]),
        base=column("base"),
        before=column("before"),
        after=column("after"),
    )
