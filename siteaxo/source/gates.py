"""
What every geometry has to pass: finite, of a kind its role can use, single.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
import shapely
from shapely import GeometryType

from ..errors import Finding, GeometryError, some_ids
from ..saying import having
from .layers import Layer
from .reading import RawLayer
from .roles import Role

_POINT, _LINE, _POLYGON = GeometryType.POINT, GeometryType.LINESTRING, GeometryType.POLYGON
_MULTI: Final = (
    GeometryType.MULTIPOINT,
    GeometryType.MULTILINESTRING,
    GeometryType.MULTIPOLYGON,
    GeometryType.GEOMETRYCOLLECTION,
)
_IN_WORDS: Final = {_POINT: "points", _LINE: "lines", _POLYGON: "polygons"}


def kinds_for(role: Role) -> tuple[GeometryType, ...]:
    """
    Kinds of single geometry that a role can use.

    Examples
    --------
    >>> from .roles import role_named
    >>> [kind.name for kind in kinds_for(role_named("wall"))]
    ['POLYGON', 'LINESTRING']
    """
    if role.form == "tree" or role.name == "spot level":
        return (_POINT,)
    if role.form == "levels":
        return (_POINT, _LINE) if role.name == "finished level" else (_LINE,)
    if role.form == "none":
        return (_POLYGON, _LINE, _POINT)
    return (_POLYGON,) if role.width is None else (_POLYGON, _LINE)


def drop_empty(raw: RawLayer) -> RawLayer:
    """
    Set aside features without a geometry, with a finding for each.

    Raises
    ------
    GeometryError
        If none is left.
    """
    empty = shapely.is_missing(raw.geometry) | shapely.is_empty(raw.geometry)
    findings = [
        Finding(
            severity="warning",
            code="no-geometry",
            layer=raw.layer.name,
            source_id=raw.source_id[row],
            message="It has no geometry and is set aside.",
        )
        for row in np.flatnonzero(empty)
    ]
    kept = raw.take(np.flatnonzero(~empty), *findings)
    check_left(kept)
    return kept


def check_left(raw: RawLayer) -> None:
    """
    Refuse a layer of which nothing is left.

    Raises
    ------
    GeometryError
        If it has no features.
    """
    if not len(raw):
        said = "; ".join(dict.fromkeys(f.message for f in raw.findings if f.severity != "info"))
        raise GeometryError(
            f"Layer {raw.layer.name!r}: none of its features can be used. {said}",
            code="nothing-left",
            layer=raw.layer.name,
        )


def check_finite(raw: RawLayer, geometry: np.ndarray, *, when: str = "") -> None:
    """
    Refuse geometries with a coordinate that is infinite or not a number.

    Parameters
    ----------
    raw : RawLayer
        The layer, for its name and ids.
    geometry : ndarray of object, shape (n,)
        One geometry per feature of *raw*.
    when : str
        What was done to them before, for the message.

    Raises
    ------
    GeometryError
        If there is one; the message names layer and ids.
    """
    xy, owner = shapely.get_coordinates(geometry, return_index=True)
    bad = np.unique(owner[~np.isfinite(xy).all(axis=1)])
    if len(bad):
        raise GeometryError(
            f"Layer {raw.layer.name!r}: {having(len(bad), 'feature')} coordinates that are not finite "
            f"numbers{when} (ids {some_ids(raw.source_id[bad])}).",
            code="not-finite",
            layer=raw.layer.name,
            source_ids=raw.source_id[bad],
            remedy="Mend or drop these features.",
        )


def single_parts(raw: RawLayer) -> RawLayer:
    """
    Flatten to 2D and split features of several parts, with a finding for each.

    Parameters
    ----------
    raw : RawLayer
        Features with geometries that are neither missing nor empty.

    Returns
    -------
    RawLayer
        Features with one Point, LineString or Polygon each; parts share their id.
    """
    findings: list[Finding] = []
    has_z = shapely.has_z(raw.geometry)
    if has_z.any() and not uses_z(raw.layer):
        findings.append(_z_finding(raw, int(has_z.sum())))
    geometry, rows = explode(shapely.force_2d(raw.geometry))
    counts = np.bincount(rows, minlength=len(raw))
    findings += [
        Finding(
            severity="info",
            code="split",
            layer=raw.layer.name,
            source_id=raw.source_id[row],
            value=str(counts[row]),
            message=f"It is drawn as {counts[row]} features, one for each of its parts.",
        )
        for row in np.flatnonzero((counts > 1) & ~_two_sides(raw, counts))
    ]
    return raw.take(rows, *findings, geometry=geometry)


def _two_sides(raw: RawLayer, counts: np.ndarray) -> np.ndarray:
    """Which features are two lines that become the sides of one flight or ramp."""
    if raw.layer.role not in ("steps", "ramp"):
        return np.zeros(len(raw), dtype=bool)
    width = raw.columns.get("width")
    unsaid = np.full(len(raw), raw.layer.width is None) if width is None else np.asarray(pd.isna(width))
    return unsaid & (counts == 2) & (shapely.get_dimensions(raw.geometry) == 1)


def uses_z(layer: Layer) -> bool:
    """Whether some level of a layer may come from its Z."""
    return layer.base_z is not None or layer.top_z is not None or layer.role_row.form == "levels"


def _z_finding(raw: RawLayer, count: int) -> Finding:
    return Finding(
        severity="info",
        code="z-unused",
        layer=raw.layer.name,
        message=f"{having(count, 'feature')} Z coordinates; levels are taken from the layer's fields alone. "
        "Say base_z or top_z to use them.",
    )


def explode(geometry: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Take multi-part geometries and collections apart.

    Parameters
    ----------
    geometry : ndarray of object, shape (n,)
        Geometries of any kind.

    Returns
    -------
    parts : ndarray of object, shape (m,)
        Single, not empty; closed rings as lines.
    rows : ndarray of int, shape (m,)
        The geometry each part comes from.
    """
    parts, rows = np.asarray(geometry, dtype=object), np.arange(len(geometry))
    while np.isin(shapely.get_type_id(parts), _MULTI).any():
        parts, inner = shapely.get_parts(parts, return_index=True)
        rows = rows[inner]
    rings = shapely.get_type_id(parts) == GeometryType.LINEARRING
    if rings.any():
        parts = parts.copy()
        parts[rings] = shapely.from_wkb(shapely.to_wkb(parts[rings]))
    full = ~shapely.is_empty(parts)
    return parts[full], rows[full]


def usable_kinds(raw: RawLayer) -> RawLayer:
    """
    Set aside kinds of geometry that the layer's role cannot use, with a finding for each.

    Parameters
    ----------
    raw : RawLayer
        Single parts.

    Returns
    -------
    RawLayer
        Those that can be used.

    Raises
    ------
    GeometryError
        If there are none; the message names layer, role, kinds and ids.
    """
    role = raw.layer.role_row
    usable = kinds_for(role)
    kinds = shapely.get_type_id(raw.geometry)
    bad = ~np.isin(kinds, usable)
    if bad.all():
        found = " and ".join(_IN_WORDS[GeometryType(k)] for k in np.unique(kinds[bad]))
        wanted = " or ".join(_IN_WORDS[k] for k in usable)
        raise GeometryError(
            f"Layer {raw.layer.name!r}: {int(bad.sum())} features are {found} "
            f"(ids {some_ids(dict.fromkeys(raw.source_id[bad]))}), but role {role.name!r} needs {wanted}.",
            code="wrong-kind",
            layer=raw.layer.name,
            source_ids=dict.fromkeys(raw.source_id[bad]),
            value=found,
            remedy="Give these features another role, or export them as such.",
        )
    findings = [_wrong_kind(raw, int(row), usable) for row in np.flatnonzero(bad)]
    return raw.take(np.flatnonzero(~bad), *findings)


def _wrong_kind(raw: RawLayer, row: int, usable: Sequence[GeometryType]) -> Finding:
    kind = GeometryType(shapely.get_type_id(raw.geometry[row]))
    is_a = _IN_WORDS[kind].removesuffix("s")
    wanted = " or ".join(_IN_WORDS[k] for k in usable)
    return Finding(
        severity="error",
        code="wrong-kind",
        layer=raw.layer.name,
        source_id=raw.source_id[row],
        value=is_a,
        message=f"It is a {is_a}, but role {raw.layer.role_row.name!r} needs {wanted}; it is set aside.",
    )
