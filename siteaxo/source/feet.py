"""
Levels in metres that look like feet.

Nothing is converted on suspicion. What looks like feet is a finding, by three rules, for
layers whose levels are in metres:

1. Ground and surfaces: the middle level of the layer lies outside the range of all other
   ground and surfaces by more than a quarter of that range (by 5 m at least), and lies
   within it if it is taken as feet.
2. Heights that bodies decide: the middle height of the layer's rails, seats or storeys is
   above what is usual, and usual if it is taken as feet.
3. The layer says no unit, its site's is metres, and its coordinates are in feet.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from ..errors import Finding
from ..units import METRES_PER
from .features import Features
from .layers import Layer
from .reading import RawLayer

FOOT: Final = METRES_PER["ft"]
QUARTER: Final = 0.25
LEAST_MARGIN: Final = 5.0  # [m]
USUAL: Final = {"rail": (0.7, 1.5), "seat": (0.3, 0.6)}  # heights, common practice [m]
STOREY: Final = (2.2, 6.0)  # height of one, common practice [m]
_THEMES: Final = ("ground", "surfaces")


def look_for_feet(features: Features, in_metres: np.ndarray) -> list[Finding]:
    """
    Find layers whose levels or heights look like feet, by rules 1 and 2.

    Parameters
    ----------
    features : Features
        With the levels that their layers give.
    in_metres : ndarray of bool, shape (l,)
        Layers whose levels were read as metres.

    Returns
    -------
    list of Finding
        At most one for each layer and rule.
    """
    return [*_levels(features, in_metres), *_heights(features, in_metres)]


def look_at_storeys(layer: Layer, height: np.ndarray) -> list[Finding]:
    """Rule 2 for the heights of storeys, shape (n,) [m]."""
    known = height[np.isfinite(height)]
    middle = float(np.median(known)) if len(known) else 0.0
    if not (middle > STOREY[1] and STOREY[0] <= middle * FOOT <= STOREY[1]):
        return []
    said = f"Its storeys are {middle:.2f} m high; {STOREY[0]:g} to {STOREY[1]:g} m are usual."
    return [_finding(layer.name, f"{middle:.2f} m", said)]


def look_at_axes(raw: RawLayer, unit: str) -> list[Finding]:
    """Rule 3, for a layer as read and its site's unit."""
    axes = raw.crs.axis_info if raw.crs.is_projected else []
    if raw.layer.unit is not None or unit != "m" or all(a.unit_conversion_factor == 1.0 for a in axes):
        return []
    said = f"Its coordinates are in {axes[0].unit_name}, but no unit is said for its levels."
    return [_finding(raw.layer.name, axes[0].unit_name, said)]


def _levels(features: Features, in_metres: np.ndarray) -> Iterable[Finding]:
    ground = np.isin(features.of_role("theme"), _THEMES)
    level = np.where(np.isnan(features.top), features.base, features.top)
    known = ground & np.isfinite(level)
    for number in np.flatnonzero(in_metres):  # a handful of layers
        own, others = level[known & (features.layer == number)], level[known & (features.layer != number)]
        if not len(own) or not len(others):
            continue
        middle, low, high = float(np.median(own)), float(others.min()), float(others.max())
        margin = max(LEAST_MARGIN, QUARTER * (high - low))
        if not low - margin <= middle <= high + margin and low <= middle * FOOT <= high:
            yield _finding(
                features.layers[number].name,
                f"{own.min():.2f} to {own.max():.2f} m",
                f"Its levels, {own.min():.2f} to {own.max():.2f} m, lie apart from the rest of the ground, "
                f"{low:.2f} to {high:.2f} m, but would lie within it as feet.",
            )


def _heights(features: Features, in_metres: np.ndarray) -> Iterable[Finding]:
    names = features.of_role("name")
    for number in np.flatnonzero(in_metres):
        role = features.layers[number].role.name
        own = features.height[(features.layer == number) & (names == role) & (features.height > 0)]
        if role not in USUAL or not len(own):
            continue
        low, high = USUAL[role]
        middle = float(np.median(own))
        if middle > high and low <= middle * FOOT <= high:
            yield _finding(
                features.layers[number].name,
                f"{middle:.2f} m",
                f"Its middle height is {middle:.2f} m; {low:g} to {high:g} m are usual for role {role!r}, "
                "which it would be as feet.",
            )


def _finding(layer: str, value: str, message: str) -> Finding:
    return Finding(
        severity="warning",
        code="looks-like-feet",
        layer=layer,
        field="unit",
        value=value,
        message=f"{message} They are taken as metres. Say unit = 'ft' or 'ft-us' if they are feet, "
        "or unit = 'm' if they are not.",
    )
