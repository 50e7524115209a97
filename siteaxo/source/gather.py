"""
From a site's layers to its features: read, placed on the local plane, given levels.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..errors import Finding
from ..limits import Limits
from .baseline import site_bearing
from .bearings import bearings_on
from .curves import with_coarser_curves
from .extent import Extent, check_scale, choose_plane
from .features import Features, LayerKey
from .feet import look_at_axes, look_for_feet
from .gates import check_finite, check_left, drop_empty, explode, single_parts, usable_kinds
from .levels import Levels, levels_of, sizes_of
from .mending import valid_parts
from .own_z import OWN_SURFACE, metres_per_z, with_own_z
from .plane import LocalPlane
from .plane_report import PlaneReport
from .reading import RawLayer, read_layer
from .shapes import shapes_of
from .site import SiteData
from .small_units import look_for_small_units

_GOOD_SHIFT: Final = 1.0  # a datum shift less accurate than this is a warning [m]
_LEVEL_COLUMNS: Final = tuple(Levels.__dataclass_fields__)


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """
    What a site consists of, ready to be stacked.

    Parameters
    ----------
    features : Features
        Every feature, in the local plane, with its levels.
    plane : LocalPlane
        The plane.
    findings : tuple of Finding
        What was noticed, layer by layer.
    base_line_bearing : float
        Direction that lies horizontal before the plan is turned [degrees clockwise
        from grid north].
    report : PlaneReport
        How true the plane is over the site.
    source_crs : mapping of str to pyproj.CRS
        CRS of each layer's source.
    """

    features: Features
    plane: LocalPlane
    findings: tuple[Finding, ...]
    base_line_bearing: float
    report: PlaneReport
    source_crs: Mapping[str, Any] = field(default_factory=dict)

    def __getstate__(self) -> dict[str, Any]:
        """What is copied to another process, which takes no read-only views."""
        return {**vars(self), "source_crs": dict(self.source_crs)}


def gather(site: SiteData) -> Gathered:
    """
    Read all layers of a site onto its local plane.

    Parameters
    ----------
    site : SiteData
        The site; GeoDataFrames in it are not changed.

    Returns
    -------
    Gathered

    Raises
    ------
    SiteaxoError
        Of the kind that fits: a layer cannot be read or placed, a level is no number or
        upside down, a coordinate is not finite, the site is too wide.
    """
    read = [_checked(read_layer(layer, limits=site.limits)) for layer in site.layers]
    plane = choose_plane([_extent(raw) for raw in read], site.plane_crs)
    placed = [_placed(raw, plane, site.unit, site.limits) for raw in read]
    features, coarser = with_coarser_curves(_joined(placed))
    boxes = shapely.total_bounds(features.geometry)
    bounds = (float(boxes[0]), float(boxes[1]), float(boxes[2]), float(boxes[3]))
    check_scale(plane, bounds)
    report = plane.report(bounds, [raw.crs for raw in read])
    findings = [finding for raw, _, _ in placed for finding in (*raw.findings, *look_at_axes(raw, site.unit))]
    in_metres = np.array([(layer.unit or site.unit) == "m" for layer in site.layers])
    findings += [*coarser, *look_for_feet(features, in_metres), *look_for_small_units(features)]
    bearing = site_bearing(features) if isinstance(site.base_line, str) else float(site.base_line)
    return Gathered(
        features=features,
        plane=plane,
        findings=(*findings, *_shift_findings(read, plane, report)),
        base_line_bearing=bearing,
        report=report,
        source_crs=MappingProxyType({raw.layer.name: raw.crs for raw in read}),
    )


def _checked(raw: RawLayer) -> RawLayer:
    filled = drop_empty(raw)
    check_finite(filled, filled.geometry)
    return filled


def _extent(raw: RawLayer) -> Extent:
    left, bottom, right, top = (float(v) for v in shapely.total_bounds(raw.geometry))
    return Extent(layer=raw.layer.name, crs=raw.crs, bounds=(left, bottom, right, top))


def _placed(
    raw: RawLayer, plane: LocalPlane, unit: str, limits: Limits
) -> tuple[RawLayer, Levels, dict[str, np.ndarray]]:
    """Bring one layer onto the plane and settle its levels, one row per single part."""
    whole = raw
    raw, levels = levels_of(raw, unit=unit)
    raw, sizes = sizes_of(raw, unit=unit)
    raw, sizes["shape"] = shapes_of(raw)
    numbered = raw.take(np.arange(len(raw)))
    numbered.columns["row"] = np.arange(len(raw))
    parts = single_parts(numbered)
    moved = plane.to_plane(parts.geometry, parts.crs)
    parts.columns["geometry_z"] = _with_z(numbered, levels, moved, unit)
    check_finite(parts, moved, when=f" after the transformation to {plane.crs.name}")
    usable = usable_kinds(parts.take(np.arange(len(parts)), geometry=moved))
    valid = valid_parts(usable, limits=limits)
    check_left(valid)
    rows = valid.columns["row"]
    taken = Levels(**{name: getattr(levels, name)[rows] for name in _LEVEL_COLUMNS})
    taken_sizes = {key: values[rows] for key, values in sizes.items()}
    own = numbered.geometry[rows]
    taken_sizes["fall_bearing"] = bearings_on(plane, raw.crs, own, taken_sizes["fall_bearing"])
    told = replace(valid, findings=_with_places(valid, whole, plane))
    return told, taken, {**taken_sizes, "geometry_z": valid.columns["geometry_z"]}


def _with_places(left: RawLayer, whole: RawLayer, plane: LocalPlane) -> tuple[Finding, ...]:
    """Findings of a layer; those about what was set aside get the middle of it as their place."""
    lost = np.flatnonzero(~np.isin(whole.source_id.astype(str), left.source_id.astype(str)))
    if not len(lost) or not left.findings:
        return left.findings
    middle = shapely.get_coordinates(plane.to_plane(shapely.centroid(whole.geometry[lost]), whole.crs))
    places = {
        str(whole.source_id[row]): (float(x), float(y)) for row, (x, y) in zip(lost, middle, strict=True)
    }
    return tuple(
        finding if finding.place else replace(finding, place=places.get(finding.source_id))
        for finding in left.findings
    )


def _with_z(raw: RawLayer, levels: Levels, moved: np.ndarray, unit: str) -> np.ndarray:
    """The moved parts with their own Z where that is their level, None elsewhere."""
    parts, rows = explode(raw.geometry)
    own = levels.top_from[rows] == OWN_SURFACE
    spatial = np.full(len(moved), None, dtype=object)
    spatial[own] = with_own_z(moved[own], parts[own], metres_per_z(raw, unit)[0])
    return spatial


def _joined(placed: list[tuple[RawLayer, Levels, dict[str, np.ndarray]]]) -> Features:
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(levels, name) for _, levels, _ in placed]) for name in _LEVEL_COLUMNS
    }
    for key in placed[0][2]:
        columns[key] = np.concatenate([sizes[key] for _, _, sizes in placed])
    return Features(
        layers=tuple(
            LayerKey(
                raw.layer.name,
                raw.layer.role_row,
                raw.layer.across or "",
                apart=raw.layer.neighbours == "apart",
            )
            for raw, _, _ in placed
        ),
        layer=np.repeat(np.arange(len(placed)), [len(raw) for raw, _, _ in placed]),
        source_id=np.concatenate([raw.source_id for raw, _, _ in placed]),
        geometry=np.concatenate([raw.geometry for raw, _, _ in placed]),
        material=np.concatenate([_materials(raw) for raw, _, _ in placed]),
        **columns,
    )


def _materials(raw: RawLayer) -> np.ndarray:
    values = raw.columns.get("material")
    names = np.full(len(raw), "", dtype=object)
    if values is not None:
        filled = ~np.asarray(pd.isna(values))
        names[filled] = [str(value).strip() for value in values[filled]]
    return names


def _shift_findings(read: list[RawLayer], plane: LocalPlane, report: PlaneReport) -> list[Finding]:
    """Say how well the layers are placed whose datum is not the plane's, once for each CRS."""
    findings = []
    for name, accuracy in report.datum_shift_accuracy_m.items():
        if accuracy == 0:
            continue
        layers = [raw.layer.name for raw in read if raw.crs.name == name]
        known = "an accuracy that is not known" if accuracy is None else f"an accuracy of {accuracy:g} m"
        findings.append(
            Finding(
                severity="warning" if accuracy is None or accuracy > _GOOD_SHIFT else "info",
                code="datum-shift",
                layer=layers[0] if len(layers) == 1 else "",
                value="" if accuracy is None else f"{accuracy:g} m",
                message=f"{', '.join(layers)}: from {name} to the datum of {plane.crs.name} with {known}.",
            )
        )
    return findings
