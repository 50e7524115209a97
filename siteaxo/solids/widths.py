"""
Lines made into footprints: centre lines with a width, and pairs of side lines.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..source.features import Features

CLIMBING: Final = ("steps", "ramp")
MITRE_LIMIT: Final = 4.0
NODE: Final = 1e-4  # ends of lines nearer than this meet [m]
SHARP: Final = 120.0  # lines that meet at a sharper turn are not joined [degrees]


def pair_sides(features: Features) -> Features:
    """
    Make one feature of two lines that are the sides of a flight or ramp.

    Two lines of one feature that gives no width are its sides.

    Parameters
    ----------
    features : Features
        As read, one row per single part.

    Returns
    -------
    Features
        The two lines as one MultiLineString in the first row, without the second.
    """
    line = shapely.get_dimensions(features.geometry) == 1
    line &= np.isin(features.of_role("form"), CLIMBING) & np.isnan(features.width)
    rows = np.flatnonzero(line)
    if not len(rows):
        return features
    name = np.array([f"{features.layer[row]}/{features.source_id[row]}" for row in rows])
    _, key, count = np.unique(name, return_inverse=True, return_counts=True)
    order = np.argsort(key, kind="stable")
    paired = order[count[key[order]] == 2].reshape(-1, 2)
    geometry = features.geometry.copy()
    one, other = rows[paired[:, 0]], rows[paired[:, 1]]
    if not len(one):
        return features
    sides = np.stack([geometry[one], geometry[other]], axis=1).reshape(-1)
    geometry[one] = shapely.multilinestrings(sides, indices=np.repeat(np.arange(len(one)), 2))
    kept = np.setdiff1d(np.arange(len(features)), other)
    return features.with_columns(geometry=geometry).take(kept)


def with_widths(features: Features) -> Features:
    """
    Turn lines into footprints, cut square at their ends and mitred at corners.

    Parameters
    ----------
    features : Features
        Lines, pairs of side lines, polygons and points.

    Returns
    -------
    Features
        Polygons and points. Of a layer's lines of equal width, two that end at one
        place reach around the corner, so that they make a mitre.
    """
    geometry = features.geometry.copy()
    solid = ~np.isin(features.of_role("form"), ("tree", "none"))
    line = np.flatnonzero((shapely.get_dimensions(geometry) == 1) & solid)
    if not len(line):
        return features
    pair = shapely.get_num_geometries(geometry[line]) == 2
    geometry[line[pair]] = _between(geometry[line[pair]])
    line = line[~pair]
    width = width_of(features, line)
    centre = _reaching_round(geometry[line], features.layer[line], width)
    closed = shapely.is_closed(centre) & (shapely.get_num_coordinates(centre) > 3)
    ring = np.flatnonzero(closed)
    if len(ring):
        xy, owner = shapely.get_coordinates(centre[ring], return_index=True)
        centre[ring] = shapely.linearrings(xy, indices=owner)
    geometry[line] = shapely.buffer(
        centre, width / 2, cap_style="flat", join_style="mitre", mitre_limit=MITRE_LIMIT
    )
    return features.with_columns(geometry=geometry)


def width_of(features: Features, rows: np.ndarray) -> np.ndarray:
    """Widths of rows that are lines, those of their roles where they say none, shape (m,) [m]."""
    fallback = features.of_role("width")[rows].astype(float)
    return np.where(np.isnan(features.width[rows]), fallback, features.width[rows])


def _between(pair: np.ndarray) -> np.ndarray:
    """Polygons between two side lines each."""
    one, other = shapely.get_geometry(pair, 0), shapely.get_geometry(pair, 1)
    straight, crossed = (
        shapely.distance(shapely.get_point(one, 0), shapely.get_point(other, k))
        + shapely.distance(shapely.get_point(one, -1), shapely.get_point(other, -1 - k))
        for k in (0, -1)
    )
    back = np.where(straight <= crossed, shapely.reverse(other), other)
    xy, line = shapely.get_coordinates(np.stack([one, back], axis=1), return_index=True)
    polygon = shapely.polygons(shapely.linearrings(xy, indices=line // 2)) if len(pair) else pair
    return shapely.orient_polygons(polygon)


def _reaching_round(line: np.ndarray, layer: np.ndarray, width: np.ndarray) -> np.ndarray:
    """Prolong lines around the corner to the one other line that they meet end to end."""
    first, last = shapely.get_point(line, 0), shapely.get_point(line, -1)
    inner = shapely.get_point(line, 1), shapely.get_point(line, -2)
    end = np.concatenate([shapely.get_coordinates(first), shapely.get_coordinates(last)])
    before = np.concatenate([shapely.get_coordinates(point) for point in inner])
    owner, own_width = np.tile(np.arange(len(line)), 2), np.tile(width, 2)
    one, other = _meeting(end, np.tile(layer, 2), own_width, owner)
    outward = (end - before) / np.maximum(np.hypot(*(end - before).T), 1e-12)[:, None]
    into, out = outward[one], -outward[other]
    turn = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
    bent = (np.abs(turn) > 1e-6) & (np.abs(turn) < np.radians(SHARP))
    one, out, turn = one[bent], out[bent], np.abs(turn[bent])
    if not len(one):
        return line.copy()
    more = end[one] + out * (np.tan(turn / 2) * own_width[one] / 2)[:, None]
    xy, at = shapely.get_coordinates(line, return_index=True)
    count = len(line)
    place = np.arange(len(xy), dtype=float)
    place = np.concatenate([place, np.where(one < count, -1.0, len(xy))])
    at = np.concatenate([at, owner[one]])
    order = np.lexsort((place, at))
    return shapely.linestrings(np.concatenate([xy, more])[order], indices=at[order])


def _meeting(
    end: np.ndarray, layer: np.ndarray, width: np.ndarray, owner: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of ends, both ways round, that meet where no third one does."""
    point = shapely.points(end)
    one, other = shapely.STRtree(point).query(point, predicate="dwithin", distance=NODE)
    apart = (owner[one] != owner[other]) & (layer[one] == layer[other])
    one, other = one[apart], other[apart]
    alone = np.bincount(one, minlength=len(end)) == 1
    kept = alone[one] & alone[other] & (np.abs(width[one] - width[other]) < NODE)
    return one[kept], other[kept]
