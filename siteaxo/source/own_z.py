"""
Levels from the Z of a feature's own coordinates.

Which Z a level is taken from is said by the layer: the least, the mean or the greatest of
a feature, so that the floor, the eaves or the ridge of a building can be chosen; or each
vertex's own, for what makes up the surface of the ground.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..units import metres_per
from .gates import explode
from .keys import EACH
from .layers import Layer
from .lengths import HUGE, SENTINELS
from .reading import RawLayer

SAME_UNIT: Final = 1e-9  # relative difference below which two units are one [-]
_WORDS: Final = {"min": "least of its own Z", "mean": "mean of its own Z", "max": "greatest of its own Z"}
OWN_SURFACE: Final = "its own Z"


def z_word(layer: Layer, key: str) -> str:
    """
    Which Z a level of the layer is taken from: "min", "mean", "max", "each", or "" for none.

    Contours, breaklines and spot levels take their own Z wherever they name no field.
    """
    word = getattr(layer, f"{key}_z")
    if word is None and key == "top" and layer.role_row.form == "levels":
        return EACH
    return word or ""


def metres_per_z(raw: RawLayer, unit: str) -> tuple[float, list[Finding]]:
    """
    Metres in one unit of Z.

    The layer's own unit counts; else that of its CRS's vertical axis; else the site's.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.
    unit : {"m", "ft", "ft-us"}
        The site's.

    Returns
    -------
    metres : float
        Negative where the axis points down.
    findings : list of Finding
        One where the layer's unit and its CRS disagree.
    """
    axis, layer = raw.z_metres, raw.layer
    if axis is None:
        return metres_per(layer.unit or unit), []
    if layer.unit is None or abs(abs(axis) - metres_per(layer.unit)) <= SAME_UNIT:
        return axis, []
    said = metres_per(layer.unit) * float(np.sign(axis))
    finding = Finding(
        severity="warning",
        code="unit-disagrees",
        layer=layer.name,
        field="unit",
        value=layer.unit,
        message=(
            f"The layer's unit is {layer.unit}, but one unit of Z in its CRS is {abs(axis):.9g} m; the "
            "layer's unit is kept. Correct whichever is wrong."
        ),
    )
    return said, [finding]


def own_levels(raw: RawLayer, key: str, metres: float) -> tuple[np.ndarray, str]:
    """
    Levels that the Z of a layer's features gives, and where they come from in words.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.
    key : {"base", "top"}
        Which level.
    metres : float
        Metres in one unit of Z.

    Returns
    -------
    level : ndarray, shape (n,)
        NaN where a feature has no Z, or one that stands for no level [m].
    words : str
    """
    word, n = z_word(raw.layer, key), len(raw)
    z = clean_z(raw.geometry) * metres
    owner, counted = _vertices(raw.geometry)
    missing = np.bincount(owner, np.isnan(z), n) > 0
    z = np.nan_to_num(z)
    if word in ("mean", EACH):
        level = np.bincount(owner, z * counted, n) / np.maximum(np.bincount(owner, counted, n), 1)
    else:
        level = np.full(n, np.inf if word == "min" else -np.inf)
        (np.minimum if word == "min" else np.maximum).at(level, owner, z)
    level[missing | (np.bincount(owner, minlength=n) == 0)] = np.nan
    return level, OWN_SURFACE if word == EACH else _WORDS[word]


def _vertices(geometry: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The geometry of each vertex, and whether it counts: those that only close a ring do not."""
    owner = shapely.get_coordinates(geometry, return_index=True)[1]
    parts, _ = explode(geometry)
    counted = np.ones(len(owner), dtype=bool)
    if (shapely.get_dimensions(parts) == 2).all():
        counted[np.cumsum(shapely.get_num_coordinates(shapely.get_rings(parts))) - 1] = False
    return owner, counted


def clean_z(geometry: np.ndarray) -> np.ndarray:
    """Z of every vertex of geometries; NaN where there is none, or one that stands for no level."""
    z = shapely.get_coordinates(geometry, include_z=True)[:, 2]
    return np.where(np.isin(z, SENTINELS) | (np.abs(z) >= HUGE), np.nan, z)


def with_own_z(moved: np.ndarray, parts: np.ndarray, metres: float) -> np.ndarray:
    """
    Give geometries on the plane the Z of the geometries they come from.

    Parameters
    ----------
    moved : ndarray of object, shape (n,)
        2D, on the plane [m].
    parts : ndarray of object, shape (n,)
        The same with Z, vertex by vertex.
    metres : float
        Metres in one unit of Z.

    Returns
    -------
    ndarray of object, shape (n,)
        3D [m].
    """
    xyz = np.column_stack([shapely.get_coordinates(moved), clean_z(parts) * metres])
    return shapely.set_coordinates(shapely.force_3d(np.array(moved, dtype=object)), xyz)
