"""
Solids looked over before they are drawn: finite, planar, not twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding, GeometryError, LevelError, some_ids
from ..source.features import Features
from .faces import Faces, newell, per_face
from .notes import note

WARP: Final = 1e-3  # a face whose corners leave its plane by more is not planar [m]
FARTHEST: Final = (1e8, 1e8, 1e6)  # no place on a plane and no level is farther from its origin [m]
TREE_MOST: Final = 150.0  # the highest living tree is 116 m high (from memory) [m]
THIN: Final = 1e-9  # a face smaller than this has no area [m²]


def check_levels(features: Features) -> None:
    """
    Refuse levels and heights that nothing on Earth has, before solids are made of them.

    Parameters
    ----------
    features : Features
        As read, or settled.

    Raises
    ------
    LevelError
        If a base, top or height is beyond ±1e6 m, or a tree is higher than any.
    """
    most = FARTHEST[2]
    for key in ("base", "top", "height"):
        values = getattr(features, key)
        _refuse_levels(features, np.abs(values) >= most, key, f"beyond anything on Earth ({most:g} m)")
    tall = (features.of_role("form") == "tree") & (features.height > TREE_MOST)
    _refuse_levels(features, tall, "height", f"higher than any tree ({TREE_MOST:g} m)")


def _refuse_levels(features: Features, wrong: np.ndarray, key: str, what: str) -> None:
    rows = np.flatnonzero(wrong)
    if len(rows):
        same = rows[features.layer[rows] == features.layer[rows[0]]]
        name, ids = features.layers[features.layer[rows[0]]].name, features.source_id[same]
        value = f"{getattr(features, key)[rows[0]]:g} m"
        raise LevelError(
            f"Layer {name!r}: the {key} of {len(same)} features is {what}: {value} (ids {some_ids(ids)}). "
            "Correct it or its unit, or leave these features out.",
            layer=name,
            source_ids=ids,
            field=key,
            value=value,
        )


def look_over(features: Features, faces: Faces, solid_feature: np.ndarray) -> tuple[Finding, ...]:
    """
    Refuse what cannot be drawn and note what will look wrong.

    Parameters
    ----------
    features : Features
        With levels settled.
    faces : Faces
        Faces of all solids.
    solid_feature : ndarray of int, shape (s,)
        The feature of each solid.

    Returns
    -------
    tuple of Finding
        Faces that are not planar or have no area, and features drawn twice.

    Raises
    ------
    GeometryError
        If a coordinate is not finite; the message names the layer and the features.
    """
    _refuse_infinite(features, faces, solid_feature)
    mean, normal = newell(faces, faces.xyz)
    size = np.sqrt((normal**2).sum(axis=1))  # twice the area
    unit = normal / np.where(size > 0, size, 1.0)[:, None]
    feature = solid_feature[faces.solid]
    return (
        *_bent(features, faces, feature, mean, unit),
        *_empty(features, feature, size / 2),
        *_twice(features),
    )


def _refuse_infinite(features: Features, faces: Faces, solid_feature: np.ndarray) -> None:
    wrong = ~(np.abs(faces.xyz) < FARTHEST).all(axis=1)
    if wrong.any():
        rows = np.unique(solid_feature[faces.solid[faces.vertex_face[wrong]]])
        layer = features.layers[features.layer[rows[0]]].name
        same = rows[features.layer[rows] == features.layer[rows[0]]]
        raise GeometryError(
            f"Layer {layer!r}: coordinates or levels of features {some_ids(features.source_id[same])} are "
            f"not finite, or beyond anything on Earth ({FARTHEST[0]:g} m, {FARTHEST[2]:g} m up).",
            code="not-finite",
            layer=layer,
            source_ids=features.source_id[same],
            remedy="Correct them or leave these features out.",
        )


def _bent(
    features: Features, faces: Faces, feature: np.ndarray, mean: np.ndarray, unit: np.ndarray
) -> Iterable[Finding]:
    face = faces.vertex_face
    off = np.abs(((faces.xyz - mean[face]) * unit[face]).sum(axis=1))
    warp = per_face(off, faces.vertex_start, np.maximum)
    for row, worst in _worst_by_feature(feature, warp, WARP):
        message = (
            f"A face of it is not planar: its corners leave the mean plane by up to {worst:.3f} m. It is "
            "drawn by that plane; give it as triangles to be exact."
        )
        yield note(features, row, "not-planar", message, value=f"{worst:.3f} m")


def _empty(features: Features, feature: np.ndarray, area: np.ndarray) -> Iterable[Finding]:
    total = np.bincount(feature, area, minlength=len(features))
    for row in np.unique(feature[total[feature] < THIN]):
        yield note(features, int(row), "no-area", "It has no area and is not drawn.", value="0 m²")


def _twice(features: Features) -> Iterable[Finding]:
    """Features of one role with the same footprint and levels."""
    drawn = np.flatnonzero((features.of_role("form") != "none") & ~shapely.is_empty(features.geometry))
    left = shapely.bounds(features.geometry[drawn])[:, 0]
    place, count = np.unique(left, return_inverse=True, return_counts=True)[1:]
    drawn = drawn[count[place] > 1]  # most begin where no other does, and have no double
    shape = np.unique(shapely.to_wkb(shapely.normalize(features.geometry[drawn])), return_inverse=True)[1]
    levels = np.round(np.column_stack([features.base[drawn], features.top[drawn]]), 6)
    key = np.column_stack([features.order[drawn], shape, levels])
    first, same = np.unique(key, axis=0, return_index=True, return_inverse=True)[1:]
    original = drawn[first[same.ravel()]]
    for row, other in zip(drawn[original != drawn], original[original != drawn], strict=True):
        message = (
            f"It has the same footprint and levels as {features.name_of(other)}; of the two only one "
            "is seen. Leave one out."
        )
        yield note(features, int(row), "double", message, value=str(features.source_id[other]))


def _worst_by_feature(feature: np.ndarray, value: np.ndarray, least: float) -> Iterable[tuple[int, float]]:
    over = np.flatnonzero(value > least)
    rows, place = np.unique(feature[over], return_inverse=True)
    worst = np.zeros(len(rows))
    np.maximum.at(worst, place, value[over])
    yield from zip(rows.tolist(), worst.tolist(), strict=True)
