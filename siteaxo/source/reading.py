"""
Read a layer: in bulk where that works, record by record where it does not.
"""

from __future__ import annotations

import os
import warnings
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pyogrio
import pyproj
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from ..errors import Finding, GeometryError, LayerError, some_ids
from .careful import Table, read_carefully
from .damage import Damage, look_for_damage
from .datum import vertical_axis
from .decode import NOT_FINITE, decode
from .files import TableFile, find_table
from .frames import table_of
from .layers import LEVELS, SIZES, Layer
from .raster import is_raster, read_raster
from .texts import LATIN, crs_of, match_fields, mend_texts


@dataclass(frozen=True, kw_only=True)
class RawLayer:
    """
    A layer as read, in its own CRS and its own units.

    Parameters
    ----------
    layer : Layer
        What was asked for.
    source_id : ndarray of object, shape (n,)
        The features' ids as text: the id field, else the FID or the index.
    geometry : ndarray of object, shape (n,)
        Geometries of any kind; None where there is none.
    columns : dict of str to ndarray, shape (n,)
        By use ("base", "top", ..., "material"): the values of the field named for it.
    crs : pyproj.CRS
        Horizontal CRS of the coordinates.
    z_metres : float or None
        Metres in one unit of its vertical axis, negative where that points down; None
        where there is none.
    findings : tuple of Finding
        What was noticed on the way.
    """

    layer: Layer
    source_id: np.ndarray
    geometry: np.ndarray
    columns: dict[str, np.ndarray]
    crs: pyproj.CRS
    z_metres: float | None = None
    findings: tuple[Finding, ...] = ()

    def __len__(self) -> int:
        return len(self.source_id)

    def take(self, rows: np.ndarray, *findings: Finding, geometry: np.ndarray | None = None) -> RawLayer:
        """Return the features at *rows*, in that order, with more findings."""
        return replace(
            self,
            source_id=self.source_id[rows],
            geometry=self.geometry[rows] if geometry is None else geometry,
            columns={use: values[rows] for use, values in self.columns.items()},
            findings=(*self.findings, *findings),
        )


def read_layer(layer: Layer) -> RawLayer:
    """
    Read a layer's features with the fields it names.

    Parameters
    ----------
    layer : Layer
        A layer whose source is a file or a GeoDataFrame.

    Returns
    -------
    RawLayer

    Raises
    ------
    LayerError
        If there is no such file, it cannot be read, or it has no features.
    FieldError
        If a field does not exist; the message lists those that do.
    CrsError
        If there is no CRS, or none that is tied to the Earth.
    GeometryError
        If a coordinate is not finite.
    """
    damage = Damage()
    findings: list[Finding] = []
    if is_raster(layer.source):
        table = mended = read_raster(layer)
    elif isinstance(layer.source, str | os.PathLike):
        file = find_table(layer)
        table = _from_file(file, layer)
        mended, damage, findings = _looked_through(file, table, layer)
    else:
        table = mended = table_of(layer)
    if not len(table.fid) and not table.broken:
        raise LayerError(f"Layer {layer.name!r} is empty. Take it out of the site, or name another table.")
    crs, crs_findings = crs_of(layer, table.crs)
    names, name_findings = match_fields(layer, table.fields)
    ids, id_findings = _ids(mended, names.get(layer.id or ""), layer)
    raw = RawLayer(
        layer=layer,
        source_id=ids,
        geometry=mended.geometry,
        columns={use: mended.columns[names[name]] for use, name in layer.field_uses() if use != "id"},
        crs=crs,
        z_metres=vertical_axis(table.crs) if layer.crs is None else vertical_axis(layer.crs),
    )
    whole = np.flatnonzero(~np.isin(table.fid, list(damage.broken)))
    return raw.take(whole, *findings, *crs_findings, *name_findings, *id_findings)


def _from_file(file: TableFile, layer: Layer) -> Table:
    try:
        try:
            return _bulk(file, layer)
        except UnicodeDecodeError:
            return _bulk(file, layer, encoding=LATIN)
    except (DataSourceError, DataLayerError, RuntimeError) as problem:
        return read_carefully(file, layer=layer.name, reason=str(problem))


def _bulk(file: TableFile, layer: Layer, *, encoding: str | None = None) -> Table:
    options = {"WRITE_GFS": "NO"} if file.kind == "GML" else {}
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        info = pyogrio.read_info(file.address, layer=file.table, encoding=encoding, **options)
        names, _ = match_fields(layer, (*info["fields"], *filter(None, [info["fid_column"]])))
        meta, fid, wkb, values = pyogrio.raw.read(
            file.address,
            layer=file.table,
            columns=list(names.values()),
            encoding=encoding,
            return_fids=True,
            **options,
        )
    if wkb is None:
        raise LayerError(f"Layer {layer.name!r}: the table has no geometry. Name another with `table`.")
    geometry, reasons = decode(wkb)
    _check_decoded(layer, fid, reasons)
    columns = dict(zip(meta["fields"], values, strict=True))
    if info["fid_column"]:
        columns.setdefault(info["fid_column"], fid)
    return Table(
        fid=fid,
        geometry=geometry,
        columns=columns,
        fields=(*info["fields"], *filter(None, [info["fid_column"]])),
        crs=meta["crs"],
        encoding=encoding or meta["encoding"],
        broken={int(fid[row]): reason for row, reason in reasons.items()},
        notes=tuple(dict.fromkeys(str(warning.message) for warning in said)),
    )


def _check_decoded(layer: Layer, fid: np.ndarray, reasons: dict[int, str]) -> None:
    ids = [fid[row] for row, reason in reasons.items() if reason == NOT_FINITE]
    if ids:
        raise GeometryError(
            f"Layer {layer.name!r}: {len(ids)} features have coordinates that are not finite numbers "
            f"(ids {some_ids(ids)}). Mend or drop these features."
        )


def _looked_through(file: TableFile, table: Table, layer: Layer) -> tuple[Table, Damage, list[Finding]]:
    """Set apart broken records, restore texts the reader took for numbers or misread."""
    names, _ = match_fields(layer, table.fields)
    numeric = {names[n] for use, n in layer.field_uses() if use in (*LEVELS, *SIZES)}
    nulls = table.fid[shapely.is_missing(table.geometry)]
    damage = look_for_damage(file, numeric, (int(i) for i in nulls))
    damage = replace(damage, broken={**damage.broken, **table.broken})
    columns = {name: _with_texts(v, table.fid, damage.texts.get(name)) for name, v in table.columns.items()}
    columns, findings = mend_texts(columns, table.encoding, layer.name)
    notes = [
        Finding(
            severity="warning",
            code="reader-note",
            layer=layer.name,
            message=f"Reading {file.path.name}: {note.rstrip('.')}.",
        )
        for note in (*table.notes, *damage.notes)
    ]
    broken = [
        Finding(
            severity="error",
            code="broken-record",
            layer=layer.name,
            source_id=str(fid),
            message=f"Record {fid} of {file.path.name} is set aside: {reason}.",
        )
        for fid, reason in sorted(damage.broken.items())
    ]
    return replace(table, columns=columns), damage, [*notes, *broken, *findings]


def _with_texts(values: np.ndarray, fid: np.ndarray, texts: dict[int, str] | None) -> np.ndarray:
    if not texts:
        return values
    restored = values.astype(object)
    rows = np.flatnonzero(np.isin(fid, list(texts)))
    restored[rows] = [texts[int(i)] for i in fid[rows]]
    return restored


def _ids(table: Table, field: str | None, layer: Layer) -> tuple[np.ndarray, list[Finding]]:
    """Feature ids as texts, from the id field where there is one and it is filled."""
    own = table.fid.astype(str).astype(object)
    if field is None:
        return own, []
    values = table.columns[field]
    missing = np.asarray(pd.isna(values)) | (values == "")
    whole = values.dtype.kind == "f" and bool(np.all(np.mod(values[~missing], 1) == 0))
    texts = (values[~missing].astype(np.int64) if whole else values[~missing]).astype(str)
    ids = own.copy()
    ids[~missing] = texts
    findings = [
        Finding(
            severity="warning",
            code="missing-id",
            layer=layer.name,
            source_id=str(own[row]),
            field=field,
            message=f"The id field {field} is empty; the record number {own[row]} stands in for it.",
        )
        for row in np.flatnonzero(missing)
    ]
    return ids, findings
