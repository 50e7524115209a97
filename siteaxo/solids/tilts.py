"""
Sloping terraces and surfaces, from whatever gives them their levels.

A top is a plane where its feature has its own Z at every vertex, a level for its high and
its low side and the way it falls, or finished levels that lie on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding, LevelError, some_ids
from ..source.features import Features
from ..source.keys import FINISHED
from ..source.own_z import OWN_SURFACE
from . import limits
from .notes import note
from .planes import FLAT, planes_through
from .stretches import in_stretches
from .terrain import GROUND

MARK: Final = "finished level"  # the role of levels that lie on what they belong to
ON: Final = 0.01  # a finished level so near to a footprint lies on it [m]
STEEP: Final = 0.25  # a top that rises by more on a metre is a bank, common practice [-]
WALKED: Final = ("path", "paving")
OFF: Final = 0.005  # levels that leave the plane by more are a finding; the rounding of centimetres [m]


def read_tilts(features: Features) -> tuple[Features, tuple[Finding, ...]]:
    """
    Settle the planes of what slopes.

    Parameters
    ----------
    features : Features
        As read, in the local plane.

    Returns
    -------
    features : Features
        With slopes, and *top* as the level of the highest corner; without finished levels.
        Lines whose own levels bend are parted into stretches.
    findings : tuple of Finding
        Levels that do not lie in a plane, what has none, slopes that are unusually steep, and
        finished levels that lie on nothing.

    Raises
    ------
    LevelError
        If no feature of a layer finds its finished levels, or a low side lies above the
        high one.
    """
    features = in_stretches(features)
    slopes = features.of_role("slopes").astype(bool)
    findings: list[Finding] = []
    given = ~shapely.is_missing(features.geometry_z) & (features.top_from == OWN_SURFACE)
    own = np.flatnonzero(given & slopes & (features.of_role("name") != GROUND))
    features = _through_own(features, own, findings)
    features = _from_sides(features, np.flatnonzero(slopes & np.isfinite(features.fall_bearing)))
    waiting = np.flatnonzero(slopes & (features.top_from == FINISHED) & np.isnan(features.top))
    mark = features.of_role("name") == MARK
    features, short = _through_marks(features, waiting, np.flatnonzero(mark), findings)
    _refuse_without(features, waiting, short)
    findings += _steep(features)
    kept = ~mark
    kept[short] = False
    return features if kept.all() else features.take(np.flatnonzero(kept)), tuple(findings)


def _through_own(features: Features, rows: np.ndarray, findings: list[Finding]) -> Features:
    if not len(rows):
        return features
    xyz, owner = _corners(features.geometry_z[rows])
    tilted = _laid(features, rows, xyz, owner, np.full(len(rows), OWN_SURFACE, dtype=object), findings)
    geometry_z = tilted.geometry_z.copy()
    geometry_z[rows] = None
    return tilted.with_columns(geometry_z=geometry_z)


def _corners(shapes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Corners of polygons, each once, and vertices of lines, and the shape of each."""
    area = shapely.get_dimensions(shapes) == 2
    rings, polygon = shapely.get_rings(shapes, return_index=True)
    strokes = np.concatenate([rings, shapes[~area]])
    owner = np.concatenate([polygon, np.flatnonzero(~area)])
    xyz, stroke = shapely.get_coordinates(strokes, include_z=True, return_index=True)
    closes = np.append(stroke[1:] != stroke[:-1], True)[: len(stroke)] & (stroke < len(rings))
    return xyz[~closes], owner[stroke[~closes]]


def _through_marks(
    features: Features, rows: np.ndarray, marks: np.ndarray, findings: list[Finding]
) -> tuple[Features, np.ndarray]:
    """Lay planes through the finished levels on footprints; return the rows that have none."""
    if not len(rows) or not len(marks):
        findings += _unused(features, marks)
        return features, rows
    xyz, mark = _levels_of(features, marks)
    item, point = shapely.STRtree(shapely.points(xyz[:, :2])).query(
        features.geometry[rows], predicate="dwithin", distance=ON
    )
    findings += _unused(features, marks[~np.isin(np.arange(len(marks)), mark[point])])
    number = np.bincount(item, minlength=len(rows))
    short = rows[number == 0]
    message = "It has neither a level of its own nor a finished level on it, and is set aside."
    findings += [note(features, int(row), "no-level", message, severity="error") for row in short]
    found, owner = np.unique(item, return_inverse=True)
    ids = [some_ids(dict.fromkeys(features.source_id[marks][mark[point[item == k]]])) for k in found]
    words = np.array([f"finished levels {names}" for names in ids], dtype=object)
    return _laid(features, rows[found], xyz[point], owner, words, findings), short


def _levels_of(features: Features, marks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points with levels of finished levels, which are points or edges, and the mark of each."""
    own = ~shapely.is_missing(features.geometry_z[marks])
    spatial = features.geometry_z[marks].copy()
    spatial[~own] = shapely.force_3d(features.geometry[marks[~own]], features.top[marks[~own]])
    return shapely.get_coordinates(spatial, include_z=True, return_index=True)


def _from_sides(features: Features, rows: np.ndarray) -> Features:
    """Planes from the level of the high side to that of the low one."""
    rows = rows[np.isfinite(features.top[rows]) & np.isfinite(features.low[rows])]
    if not len(rows):
        return features
    fall = features.top[rows] - features.low[rows]
    wrong = rows[fall < 0]
    if len(wrong):
        row = int(wrong[0])
        raise LevelError(
            f"The low side of {features.name_of(row)} lies at {features.low[row]:.3f} m, above its top, "
            f"{features.top[row]:.3f} m. Swap the two.",
            layer=features.layers[features.layer[row]].name,
            source_ids=features.source_id[wrong],
            field="low",
            value=f"{features.low[row]:.3f} m",
        )
    bearing = np.radians(features.fall_bearing[rows])
    down = np.column_stack([np.sin(bearing), np.cos(bearing)])
    down[np.abs(down) < 1e-15] = 0.0
    xy, owner = shapely.get_coordinates(features.geometry[rows], return_index=True)
    way = (xy * down[owner]).sum(axis=1)
    first, last = np.full(len(rows), np.inf), np.full(len(rows), -np.inf)
    np.minimum.at(first, owner, way)
    np.maximum.at(last, owner, way)
    slope = -down * (fall / (last - first))[:, None]
    words = features.top_from[rows] + " and level of its low side"
    return _tilted(features, rows, slope, features.top[rows], xy, owner, words)


def _laid(
    features: Features,
    rows: np.ndarray,
    xyz: np.ndarray,
    owner: np.ndarray,
    words: np.ndarray,
    findings: list[Finding],
) -> Features:
    """Lay planes through points and make them the tops of rows."""
    if not len(rows):
        return features
    fit = planes_through(xyz, owner, len(rows))
    xy, corner_of = shapely.get_coordinates(features.geometry[rows], return_index=True)
    at = fit.middle[corner_of, 2] + ((xy - fit.middle[corner_of, :2]) * fit.slope[corner_of]).sum(axis=1)
    high = np.full(len(rows), -np.inf)
    np.maximum.at(high, corner_of, at)
    findings += _uneven(features, rows, fit.off)
    return _tilted(features, rows, fit.slope, high, xy, corner_of, words)


def _tilted(
    features: Features,
    rows: np.ndarray,
    slope: np.ndarray,
    high: np.ndarray,
    xy: np.ndarray,
    owner: np.ndarray,
    words: np.ndarray,
) -> Features:
    """Give rows their slope, the level of their highest corner, and where it is."""
    steep = np.hypot(*slope.T)
    climbed = (xy * slope[owner]).sum(axis=1)
    order = np.lexsort((climbed, owner))
    last = order[np.append(owner[order][1:] != owner[order][:-1], True)]
    columns = {
        name: getattr(features, name).copy()
        for name in ("top", "height", "top_from", "slope_x", "slope_y", "high_x", "high_y")
    }
    columns["top"][rows] = high
    columns["height"][rows] = high - features.base[rows]
    falls = steep > FLAT
    told = [f"{w}, falling 1:{1 / s:.3g}" if f else w for w, s, f in zip(words, steep, falls, strict=True)]
    columns["top_from"][rows] = told
    tilt = rows[falls]
    columns["slope_x"][tilt], columns["slope_y"][tilt] = slope[falls].T
    columns["high_x"][tilt], columns["high_y"][tilt] = xy[last][falls].T
    return features.with_columns(**columns)


def _unused(features: Features, marks: np.ndarray) -> Iterable[Finding]:
    message = "Nothing that takes its top from finished levels lies under it, so it is left out."
    for row in marks:
        yield note(features, int(row), "finished-level-unused", message, of="top")


def _steep(features: Features) -> Iterable[Finding]:
    """Slopes that are steeper than is usual for walks, or for anything laid."""
    slope = np.hypot(features.slope_x, features.slope_y)
    walked = np.isin(features.of_role("name"), WALKED)
    for row in np.flatnonzero(slope > np.where(walked, limits.WALK_SLOPE_MOST, STEEP) * (1 + 1e-6)):
        value = f"1:{1 / slope[row]:.1f}"
        if slope[row] > STEEP:
            message = f"Its top falls at {value}; it is drawn as given. Check its levels and their places."
            yield note(features, int(row), "slope-steep", message, value=value, of="top")
        else:
            message = (
                f"It falls at {value}. Walks are usually no steeper than 1:20 along (2010 ADA Standards "
                "§403.3); check local codes."
            )
            yield note(features, int(row), "path-steep", message, value=value, severity="info", of="top")


def _uneven(features: Features, rows: np.ndarray, off: np.ndarray) -> Iterable[Finding]:
    for k in np.flatnonzero(off > OFF):
        message = (
            f"Its levels do not lie in a plane: they leave the best one by up to {off[k]:.3f} m. It is drawn "
            "as that plane. Divide it along its folds, or correct the levels."
        )
        yield note(features, int(rows[k]), "levels-not-planar", message, value=f"{off[k]:.3f} m", of="top")


def _refuse_without(features: Features, waiting: np.ndarray, short: np.ndarray) -> None:
    """Refuse layers none of whose features has a level."""
    for number in np.unique(features.layer[short]):  # a handful of layers
        if np.isin(waiting[features.layer[waiting] == number], short).all():
            raise LevelError(
                f"Layer {features.layers[number].name!r} takes its top from finished levels, but none lies "
                f"on any of its features. Add a layer with role {MARK!r}, or give it a top.",
                layer=features.layers[number].name,
                field="top",
                value="finished levels",
            )
