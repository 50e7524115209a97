"""
Places and levels far from all others, and heights that are none, or far beyond what is usual for what a
feature is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..saying import counted
from ..source.features import Features
from .notes import note

FAR: Final = 30.0  # levels no farther from the middle one are never implausible [m]
TIMES: Final = 10.0  # nor those within so many times the middle distance from it [-]
LEAST: Final = 3  # levels that are needed to tell
ASTRAY: Final = 1000.0  # places no farther from the middle one are never implausible [m]
OUTSIDE: Final = 20.0  # nor those within so many times the middle distance from it [-]
TALLEST: Final[Mapping[str, float]] = MappingProxyType(
    {
        "structure": 200.0,
        "roof": 40.0,
        "wall": 15.0,
        "planter": 2.5,
        "seat": 1.2,
        "rail": 2.5,
        "hedge": 10.0,
        "tree": 60.0,
        "steps": 20.0,
        "ramp": 20.0,
    }
)
"""What is higher than this is looked at again; common practice [m]."""
FLAT: Final = 1e-3  # what of these, but for roofs, is no higher has no height [m]
_THEMES: Final = ("ground", "surfaces")
_NO_SOLID: Final = ("none", "levels", "terrain", "drape")


def look_for_outliers(features: Features) -> Iterable[Finding]:
    """
    Find places, levels and heights that are implausible.

    Parameters
    ----------
    features : Features
        With all levels settled.
    """
    yield from _places(features)
    yield from _levels(features)
    yield from _heights(features)
    yield from _without_height(features)


def _places(features: Features) -> Iterable[Finding]:
    """Features far from the middle of the site, one finding for each layer that has some."""
    rows = np.flatnonzero(~shapely.is_empty(features.geometry))
    if len(rows) < LEAST:
        return
    xy = shapely.get_coordinates(shapely.centroid(features.geometry[rows]))
    away = np.hypot(*(xy - np.median(xy, axis=0)).T)
    far = np.flatnonzero(away > max(ASTRAY, OUTSIDE * float(np.median(away))))
    for layer in np.unique(features.layer[rows[far]]):
        own = far[features.layer[rows[far]] == layer]
        most = own[away[own].argmax()]
        who = "It lies"
        if len(own) > 1:
            who = f"It and {counted(len(own) - 1, 'more feature', gap='')} of its layer lie up to"
        message = (
            f"{who} {away[most] / 1000:.1f} km from the middle of the site. Check the coordinates, and the "
            "coordinate reference system of the layer."
        )
        yield note(features, int(rows[most]), "far-off", message, value=f"{away[most]:.0f} m")


def _levels(features: Features) -> Iterable[Finding]:
    """Tops of ground and surfaces far from the middle one, by the median of distances from it."""
    solid = ~np.isin(features.of_role("form"), _NO_SOLID) & ~shapely.is_empty(features.geometry)
    rows = np.flatnonzero(solid & np.isin(features.of_role("theme"), _THEMES))
    if len(rows) < LEAST:
        return
    level = features.top[rows]
    middle = float(np.median(level))
    away = np.abs(level - middle)
    for k in np.flatnonzero(away > max(FAR, TIMES * float(np.median(away)))):
        message = (
            f"Its top, {level[k]:.3f} m, lies {away[k]:.1f} m from the middle of the levels of ground and "
            f"surfaces, {middle:.3f} m. It is drawn as given; correct it if it is wrong."
        )
        yield note(features, int(rows[k]), "level-implausible", message, value=f"{level[k]:.3f} m", of="top")


def _heights(features: Features) -> Iterable[Finding]:
    names = features.of_role("name")
    most = np.array([TALLEST.get(key.role.name, np.inf) for key in features.layers])[features.layer]
    height = features.top - features.base
    for row in np.flatnonzero((height > most) & ~np.isin(features.of_role("form"), _NO_SOLID)):
        message = (
            f"It is {height[row]:.1f} m high, {features.base[row]:.3f} to {features.top[row]:.3f} m; more "
            f"than {most[row]:g} m is unusual for role {str(names[row])!r}. It is drawn as given; check its "
            "levels and their unit."
        )
        value = f"{height[row]:.3f} m"
        yield note(features, int(row), "height-implausible", message, value=value, of="top")


def _without_height(features: Features) -> Iterable[Finding]:
    """What should rise and does not, such as a house whose height is written as 0."""
    names = features.of_role("name")
    rises = np.isin(names, [name for name in TALLEST if name != "roof"])
    flat = rises & (features.top - features.base <= FLAT) & ~np.isin(features.of_role("form"), _NO_SOLID)
    for row in np.flatnonzero(flat):
        level = f"{features.base[row]:.3f} m"
        message = (
            f"Its base and its top are both {level}, so that it has no height. Check its levels or its "
            "height; where none is known leave the field empty, not 0."
        )
        yield note(features, int(row), "no-height", message, value=level, of="top")
