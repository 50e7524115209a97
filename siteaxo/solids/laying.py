"""
Tracks laid out from their side lines or from their centre line.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..ragged import ragged
from .tracks import SAME, Tracks

LANDING_TURN: Final = 30.0  # a centre line that turns by more rests there [degrees]
SHORT: Final = 1.0  # a stretch between two turns shorter than this is part of the landing [m]


def from_rails(rail: np.ndarray, rail_start: np.ndarray) -> Tracks:
    """
    Make tracks of their lines uphill.

    Parameters
    ----------
    rail : ndarray of LineString, shape (r,)
        Lines from the lower to the upper end, from right to left; where there are more
        than two, all are straight [m].
    rail_start : ndarray of int, shape (k + 1,)
        Where the rails of each track start.

    Returns
    -------
    Tracks
        With a station wherever one of two flanks bends.
    """
    across = np.diff(rail_start)
    owner = np.repeat(np.arange(len(across)), across)
    share, track = _shares(rail, owner)
    count = across[track]
    station, place = ragged(count)
    line = rail[rail_start[track[station]] + place]
    point = shapely.get_coordinates(shapely.line_interpolate_point(line, share[station], normalized=True))
    for end, which in ((0.0, 0), (1.0, -1)):
        exact = share[station] == end
        point[exact] = shapely.get_coordinates(shapely.get_point(line[exact], which))
    outer = np.zeros(len(rail), dtype=bool)
    outer[rail_start[:-1]] = outer[rail_start[1:] - 1] = True
    length = np.bincount(owner[outer], shapely.length(rail[outer])) / 2
    return Tracks(
        start=np.searchsorted(track, np.arange(len(across) + 1)),
        distance=share * length[track],
        rests=np.zeros(len(share), dtype=bool),
        point_start=np.concatenate([[0], np.cumsum(count)]),
        point=point,
    )


def _shares(rail: np.ndarray, owner: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the vertices of a track's rails lie along them, each place once [-]."""
    xy, line = shapely.get_coordinates(rail, return_index=True)
    new = np.append(True, line[1:] != line[:-1])
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    step[new] = 0.0
    way = np.cumsum(step)
    way -= way[np.flatnonzero(new)][line]
    last = np.append(new[1:], True)
    share = np.where(last, 1.0, way / way[np.flatnonzero(last)][line])
    track = owner[line]
    order = np.lexsort((share, track))
    share, track = share[order], track[order]
    gap = np.diff(share, prepend=-1.0) * way[np.flatnonzero(last)][line][order]
    kept = (gap > SAME) | np.append(True, track[1:] != track[:-1])
    share, track = share[kept], track[kept]
    share[np.append(track[1:] != track[:-1], True)] = 1.0
    return share, track


def from_centre(line: np.ndarray, width: np.ndarray, landing: np.ndarray) -> Tracks:
    """
    Make tracks of their centre lines, with landings where these turn.

    Parameters
    ----------
    line : ndarray of LineString, shape (k,)
        Centre lines, uphill, that do not turn back on themselves [m].
    width : ndarray, shape (k,)
        Width [m].
    landing : ndarray, shape (k,)
        Least length of a landing at a turn; 0 for the turn alone [m].

    Returns
    -------
    Tracks
    """
    xy, owner = shapely.get_coordinates(shapely.remove_repeated_points(line), return_index=True)
    start = np.searchsorted(owner, np.arange(len(line) + 1))
    into, out, ends = _directions(xy, start)
    turn = np.abs(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)))
    turns = (turn > np.radians(LANDING_TURN)) & ~ends
    back = np.where(turns, np.maximum(np.tan(turn / 2) * width[owner] / 2, landing[owner] / 2), 0.0)
    before, after = _set_back(xy, start, back)
    vertex, slot = ragged(np.where(turns, 3, 1))
    slot = np.where(turns[vertex], slot - 1, 0)
    offset = np.select([slot < 0, slot > 0], [-before[vertex], after[vertex]], 0.0)
    along = np.where((slot <= 0)[:, None], into[vertex], out[vertex])
    middle = xy[vertex] + along * offset[:, None]
    side = _mitre(into, out)[vertex]
    square = slot != 0
    side[square] = np.column_stack([-along[square, 1], along[square, 0]])
    reach = side * (width[owner][vertex] / 2)[:, None]
    point = np.stack([middle - reach, middle + reach], axis=1).reshape(-1, 2)
    track = owner[vertex]
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    step[start[:-1]] = 0.0
    way = np.cumsum(step)
    distance = (way - way[start[:-1]][owner])[vertex] + offset
    station_start = np.searchsorted(track, np.arange(len(line) + 1))
    rests = turns[vertex] & (slot < 1)
    short = (slot == 1)[:-1] & (slot == -1)[1:] & (track[1:] == track[:-1]) & (np.diff(distance) < SHORT)
    rests[:-1] |= short
    return Tracks(
        start=station_start,
        distance=distance,
        rests=rests,
        point_start=2 * np.arange(len(distance) + 1),
        point=point,
    )


def _directions(xy: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Unit directions into and out of each vertex, and which vertices are ends."""
    ends = np.zeros(len(xy), dtype=bool)
    ends[start[:-1]] = ends[start[1:] - 1] = True
    step = np.diff(xy, axis=0)
    step = step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]
    into, out = np.vstack([step[:1], step]), np.vstack([step, step[-1:]])
    first, last = start[:-1], start[1:] - 1
    into[first], out[last] = out[first], into[last]
    return into, out, ends


def _mitre(into: np.ndarray, out: np.ndarray) -> np.ndarray:
    """Offset to the left that keeps both neighbours at distance one."""
    left = np.column_stack([-(into + out)[:, 1], (into + out)[:, 0]])
    return left / np.maximum(1.0 + (into * out).sum(axis=1), 1e-3)[:, None]


def _set_back(xy: np.ndarray, start: np.ndarray, back: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far landings reach before and after their turn, no farther than there is room."""
    length = np.hypot(*np.diff(xy, axis=0).T)
    needed = back[:-1] + back[1:]
    share = np.minimum(length / np.where(needed > 0, needed, 1.0), 1.0)
    before, after = back.copy(), back.copy()
    before[1:] = np.where(needed > 0, back[1:] * share, 0.0)
    after[:-1] = np.where(needed > 0, back[:-1] * share, 0.0)
    return before, after
