"""
What a layer says about itself: field names, encodings and its CRS.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import pyproj

from ..checks import near
from ..errors import CrsError, FieldError, Finding
from .admitted import declared_crs
from .keys import WORDS
from .layers import Layer

LATIN: Final = "ISO-8859-1"
_DECLARE: Final = (
    'Declare the one its coordinates are in: crs = "EPSG:..." in the site file, or Layer(crs="EPSG:...").'
)


def match_fields(layer: Layer, fields: Iterable[str]) -> tuple[dict[str, str], list[Finding]]:
    """
    Find the fields that a layer names: exactly, else by letters of either case.

    Parameters
    ----------
    layer : Layer
        The layer.
    fields : iterable of str
        The fields its source has.

    Returns
    -------
    names : dict of str to str
        The field's own name for each name in the layer.
    findings : list of Finding
        One for each that differs.

    Raises
    ------
    FieldError
        If there is no such field; the message lists those there are.
    """
    known = list(fields)
    names, findings = {}, []
    for name in layer.fields:
        alike = [name] if name in known else [k for k in known if k.casefold() == name.casefold()]
        if len(alike) != 1:
            raise FieldError(_no_field(layer, name, known), layer=layer.name, field=name)
        names[name] = alike[0]
        if alike[0] != name:
            findings.append(
                Finding(
                    severity="warning",
                    code="field-case",
                    layer=layer.name,
                    field=alike[0],
                    message=f"There is no field {name!r}; {alike[0]!r} is taken for it.",
                )
            )
    return names, findings


def _no_field(layer: Layer, name: str, known: list[str]) -> str:
    uses = [use for use, field in layer.field_uses() if field == name]
    listed = f"It has: {', '.join(sorted(known))}." if known else "It has no fields."
    told = [f"Or say one of {', '.join(layer.role_row.words)}."] if "shape" in uses else []
    close = near(name, [*known, *(word for use in uses for word in _words_for(layer, use))])
    hint = [f"Did you mean {close!r}?"] if close is not None else []
    where = f"Layer {layer.name!r} has no field {name!r} (for {' and '.join(uses)})."
    return " ".join([where, listed, *told, *hint])


def _words_for(layer: Layer, use: str) -> tuple[str, ...]:
    """Words that may stand instead of the name of a field."""
    role = layer.role_row
    return role.words if use == "shape" else WORDS.get(use, ()) if use != "top" or role.slopes else ()


def mend_texts(
    columns: dict[str, np.ndarray], encoding: str, layer: str
) -> tuple[dict[str, np.ndarray], list[Finding]]:
    """
    Undo the reading of UTF-8 as Latin-1, which happens where a file does not say what it is in.

    Parameters
    ----------
    columns : dict of str to ndarray
        Fields as read.
    encoding : str
        The encoding they were read in; only Latin-1, the reader's last resort, is doubted.
        Others are believed, but texts that look like UTF-8 misread are a finding.
    layer : str
        Name of the layer.

    Returns
    -------
    columns : dict of str to ndarray
        Texts that are UTF-8 read as such.
    findings : list of Finding
        One for each field with a text that is not plain ASCII.
    """
    if encoding.upper() != LATIN:
        return columns, _misread(columns, layer)
    mended, findings = dict(columns), []
    for name, values in columns.items():
        if values.dtype != object:
            continue
        rows = [i for i, v in enumerate(values) if isinstance(v, str) and not v.isascii()]
        if rows:
            mended[name] = values.copy()
            mended[name][rows] = [_as_utf8(text) for text in values[rows]]
            changed = int(np.sum(mended[name][rows] != values[rows]))
            findings.append(_encoding_finding(layer, name, mended[name][rows[0]], len(rows), changed))
    return mended, findings


def _misread(columns: dict[str, np.ndarray], layer: str) -> list[Finding]:
    """Fields with texts that look like UTF-8 read as something else."""
    findings = []
    for name, values in columns.items():
        if values.dtype != object:
            continue
        odd = [v for v in values if isinstance(v, str) and not v.isascii() and _looks_misread(v)]
        if odd:
            message = (
                f"{len(odd)} texts in {name} look like UTF-8 that was read as something else. If they are, "
                "say encoding = 'utf-8' in the layer, or mend the .cpg file."
            )
            where: dict[str, Any] = {"layer": layer, "field": name, "value": odd[0]}
            findings.append(Finding(severity="warning", code="encoding", message=message, **where))
    return findings


def _looks_misread(text: str) -> bool:
    for encoding in ("latin-1", "cp1252"):
        try:
            if text.encode(encoding).decode("utf-8") != text:
                return True
        except UnicodeError:
            continue
    return False


def _as_utf8(text: str) -> str:
    try:
        return text.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return text


def _encoding_finding(layer: str, field: str, text: str, count: int, changed: int) -> Finding:
    return Finding(
        severity="warning",
        code="encoding",
        layer=layer,
        field=field,
        value=text,
        message=(
            f"The file does not rightly say what its texts are written in. Of {count} texts in "
            f"{field} that are not plain ASCII, {changed} are read as UTF-8 and {count - changed} as "
            "Latin-1. Add a .cpg file that names the encoding."
        ),
    )


def crs_of(layer: Layer, own: Any) -> tuple[pyproj.CRS, list[Finding]]:
    """
    Settle a layer's horizontal CRS from its source and from what the layer declares.

    Parameters
    ----------
    layer : Layer
        The layer.
    own : optional
        The CRS of the source, None where it has none.

    Returns
    -------
    crs : pyproj.CRS
        Two-dimensional; the vertical part of a compound CRS is left out.
    findings : list of Finding
        One where the layer declares another CRS than its source has.

    Raises
    ------
    CrsError
        If there is none, or it is not tied to the Earth.
    """
    found = _understood(layer, own)
    if layer.crs is None:
        if found is None:
            raise CrsError(
                f"Layer {layer.name!r} has no coordinate reference system. {_DECLARE}",
                layer=layer.name,
                field="crs",
            )
        return horizontal(found, layer.name), []
    declared = declared_crs(layer)
    if found is None or declared.equals(found, ignore_axis_order=True):
        return horizontal(declared, layer.name), []
    return horizontal(declared, layer.name), [_other_crs(layer, declared, found)]


def _understood(layer: Layer, own: Any) -> pyproj.CRS | None:
    """The CRS that the source has; a declared one spares it from being understood."""
    try:
        return None if own is None else pyproj.CRS.from_user_input(own)
    except pyproj.exceptions.CRSError as problem:
        if layer.crs is not None:
            return None
        raise CrsError(
            f"Layer {layer.name!r}: its coordinate reference system cannot be understood ({problem}). "
            f"{_DECLARE}",
            layer=layer.name,
            field="crs",
            value=own,
        ) from None


def _other_crs(layer: Layer, declared: pyproj.CRS, found: pyproj.CRS) -> Finding:
    return Finding(
        severity="warning",
        code="crs-declared",
        layer=layer.name,
        value=declared.name,
        message=(
            f"The source says {found.name}, the layer declares {declared.name}; the declared one is used. "
            "Take `crs` out of the layer if the source is right."
        ),
    )


def horizontal(crs: pyproj.CRS, layer: str = "") -> pyproj.CRS:
    """
    Return the two-dimensional part of a CRS.

    Raises
    ------
    CrsError
        If it is an engineering, geocentric or vertical CRS, or names a grid at an address,
        which would be asked for where PROJ may use the network.

    Examples
    --------
    >>> horizontal(pyproj.CRS("EPSG:7415")).name
    'Amersfoort / RD New'
    """
    flat, fault = _in_plan(crs)
    if fault:
        whose = f"Layer {layer!r}: " if layer else ""
        raise CrsError(f"{whose}{fault}", layer=layer, field="crs", value=flat.name[:200])
    return flat


@functools.lru_cache(maxsize=64)
def _in_plan(crs: pyproj.CRS) -> tuple[pyproj.CRS, str]:
    """The two-dimensional part of a CRS, and what is wrong with it; layers share their CRSs."""
    flat = crs.sub_crs_list[0] if crs.is_compound else crs.to_2d()
    if any(sign in flat.to_wkt().casefold() for sign in ("://", "/vsi")):
        return flat, (
            f"the coordinate reference system {flat.name[:200]!r} names an address; none is asked. "
            "Use one with a code, or with grids on this computer."
        )
    if flat.is_geocentric or flat.is_vertical or flat.geodetic_crs is None:
        return flat, (
            f"{crs.name} does not give places on the Earth in plan. "
            "Use a projected or geographic coordinate reference system."
        )
    return flat, ""
