"""
Ramps: sloping tops from level to level, level landings between their runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .climb import Climb
from .limits import KEPT, RAMP_RISE_MOST
from .runs import Runs
from .tracks import Legs, legs_of, with_landings


@dataclass(frozen=True, kw_only=True)
class Ramps:
    """
    Ramps.

    Parameters
    ----------
    slope : ndarray, shape (k,)
        Running slope: rise by the length of all runs, landings left out [-].
    rise_per_run : ndarray, shape (k,)
        Rise of the longest run between two landings [m].
    climb : Climb
        The ramps as solids.
    """

    slope: np.ndarray
    rise_per_run: np.ndarray
    climb: Climb


def ramps(runs: Runs, *, landing: np.ndarray) -> Ramps:
    """
    Let runs slope evenly.

    Parameters
    ----------
    runs : Runs
        k runs.
    landing : ndarray, shape (k,)
        Length of landings, laid in between ends and turns so that no run rises by more than is
        usual; NaN or 0 for none but those at turns [m].

    Returns
    -------
    Ramps

    References
    ----------
    2010 ADA Standards §405.6, for the greatest rise of one run.
    """
    rise = runs.top - runs.base
    length = np.nan_to_num(landing)
    tracks = with_landings(runs.tracks, _landings(legs_of(runs.tracks), rise, length), length)
    legs = legs_of(tracks)
    whole = np.bincount(legs.track, legs.length, len(runs))
    slope = rise / whole
    step = np.append(np.diff(tracks.distance), 0.0)
    step[tracks.rests | tracks.last] = 0.0
    way = np.cumsum(step) - step
    way -= way[tracks.start[:-1]][tracks.track]
    own = tracks.track
    level = runs.base[own] + rise[own] * np.minimum(way / whole[own], 1.0)
    level[tracks.last] = runs.top
    longest = np.zeros(len(runs))
    np.maximum.at(longest, legs.track, legs.length)
    return Ramps(
        slope=slope,
        rise_per_run=longest * slope,
        climb=Climb(tracks=tracks, base=runs.base, before=level, after=level),
    )


def _landings(legs: Legs, rise: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Fewest landings in each leg that keep all runs within the usual rise; none where there is no room."""
    long = length[legs.track]
    count, room = np.zeros(len(long), dtype=np.int64), long > 0
    while True:
        climbs = legs.length - count * long
        slope = rise / np.bincount(legs.track, climbs, len(rise))
        high = room & (climbs / (count + 1) * slope[legs.track] > RAMP_RISE_MOST * (1 + KEPT))
        if not high.any():
            return count
        count[high] += 1
        room &= count * long < legs.length
        count[~room] = 0
