"""
Polygons made valid, each repair a finding; what is too thin or too tangled is set aside.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..limits import USUAL, Limits
from .gates import explode
from .reading import RawLayer
from .tangles import crossings

_THINNEST: Final = 1e-6  # a polygon is wider than this [m]


def valid_parts(raw: RawLayer, *, limits: Limits = USUAL) -> RawLayer:
    """
    Make polygons valid and turn their shells anticlockwise; each repair is a finding.

    Parameters
    ----------
    raw : RawLayer
        Single parts, finite, on the local plane [m].
    limits : Limits
        Bounds the crossings that are mended; what has more of them is set aside.

    Returns
    -------
    RawLayer
        A bow-tie comes back as its two halves; what has no area is set aside.

    References
    ----------
    OGC 06-103r4 Simple Features, validity of polygons; the repair is GEOS's
    "structure" method.
    """
    raw = _without_slivers(raw)
    broken = np.flatnonzero(~shapely.is_valid(raw.geometry))
    often = crossings(raw.geometry[broken])
    cheap = np.argsort(often, kind="stable")
    tangled = broken[cheap[np.cumsum(often[cheap]) > limits.crossings]]
    if len(tangled):
        left = np.setdiff1d(np.arange(len(raw)), tangled)
        raw = raw.take(left, *(_tangled(raw, row, limits) for row in np.sort(tangled)))
        broken = np.flatnonzero(~shapely.is_valid(raw.geometry))
    oriented = shapely.orient_polygons(raw.geometry)
    if not len(broken):
        return raw.take(np.arange(len(raw)), geometry=oriented)
    mended = np.asarray(oriented, dtype=object).copy()
    mended[broken] = shapely.make_valid(raw.geometry[broken], method="structure", keep_collapsed=False)
    findings = _repairs(raw, broken, raw.geometry[broken], mended[broken])
    parts, rows = explode(mended)
    return raw.take(rows, *findings, geometry=shapely.orient_polygons(parts))


def _without_slivers(raw: RawLayer) -> RawLayer:
    """Set aside polygons that are so thin that they are lines."""
    area, length = np.abs(shapely.area(raw.geometry)), shapely.length(raw.geometry)
    flat = (shapely.get_dimensions(raw.geometry) == 2) & (2 * area < _THINNEST * length)
    flat &= shapely.is_valid(raw.geometry)
    if not flat.any():
        return raw
    findings = [
        Finding(
            severity="warning",
            code="no-extent",
            layer=raw.layer.name,
            source_id=raw.source_id[row],
            value=f"{area[row]:.3g} m²",
            message=f"Its outline of {length[row]:.6g} m encloses {area[row]:.3g} m²; it is set aside.",
        )
        for row in np.flatnonzero(flat)
    ]
    return raw.take(np.flatnonzero(~flat), *findings)


def _tangled(raw: RawLayer, row: int, limits: Limits) -> Finding:
    vertices = int(shapely.get_num_coordinates(raw.geometry[row]))
    return Finding(
        severity="error",
        code="too-tangled",
        layer=raw.layer.name,
        source_id=raw.source_id[row],
        value=f"{vertices} vertices",
        message=(
            f"Its outline of {vertices} vertices crosses itself too often to be mended; it is set aside. "
            f"Draw it anew, or raise the limit crossings above {limits.crossings}."
        ),
    )


def _repairs(
    raw: RawLayer, rows: Sequence[int] | np.ndarray, before: np.ndarray, after: np.ndarray
) -> list[Finding]:
    reasons, areas = shapely.is_valid_reason(before), (shapely.area(before), shapely.area(after))
    gone = shapely.is_empty(after)
    return [
        Finding(
            severity="warning",
            code="no-extent" if lost else "made-valid",
            layer=raw.layer.name,
            source_id=raw.source_id[row],
            value=f"{new - old:+.6g} m²",
            message=(
                f"Its geometry is not valid ({reason}) and "
                + (
                    "has no extent; it is set aside."
                    if lost
                    else f"was repaired: {old:.6g} m² became {new:.6g} m²{_why(old, new)}."
                )
            ),
        )
        for row, reason, old, new, lost in zip(rows, reasons, *areas, gone, strict=True)
    ]


def _why(old: float, new: float) -> str:
    """Say what a great change of area comes from."""
    if abs(new - old) <= 0.01 * max(new, old):
        return ""
    return ", without what it covered twice" if new < old else ", with loops that had cancelled out"
