"""
Read a layer: in bulk where that works, record by record where it does not.
"""

from __future__ import annotations

import os
import warnings
from dataclasses import dataclass, replace

import numpy as np
import pyogrio
import pyproj
import shapely

from ..errors import Finding, LayerError, SiteaxoError
from ..limits import USUAL, Limits
from .amounts import check_amounts, check_count, check_cut, check_decoded, checked_info
from .careful import Table, read_carefully
from .damage import Damage, look_for_damage
from .datum import vertical_axis
from .decode import decode
from .files import find_table, ready
from .frames import plain, table_of
from .ids import ids_of
from .keys import LEVELS, SIZES
from .layers import Layer
from .raster import is_raster, read_raster
from .tablefile import TableFile
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


def read_layer(layer: Layer, *, limits: Limits = USUAL) -> RawLayer:
    """
    Read a layer's features with the fields it names.

    Parameters
    ----------
    layer : Layer
        A layer whose source is a file or a GeoDataFrame.
    limits : Limits
        Bounds of size.

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
    LimitError
        If there is more of it than the limits allow.
    """
    damage = Damage()
    findings: list[Finding] = []
    if is_raster(layer.source):
        table, findings = read_raster(layer)
        mended = table
    elif isinstance(layer.source, str | os.PathLike):
        with ready(find_table(layer, limits=limits), layer, limits) as file:
            table = _from_file(file, layer, limits)
            mended, damage, findings = _looked_through(file, table, layer)
    else:
        table = mended = table_of(layer)
    check_amounts(table, layer, limits)
    if not len(table.fid) and not damage.broken:
        raise LayerError(
            f"Layer {layer.name!r} is empty.",
            code="layer-empty",
            layer=layer.name,
            remedy="Take it out of the site, or name another table.",
        )
    crs, crs_findings = crs_of(layer, table.crs)
    names, name_findings = match_fields(layer, table.fields)
    ids, id_findings = ids_of(mended, names.get(layer.id or ""), layer)
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


def _from_file(file: TableFile, layer: Layer, limits: Limits) -> Table:
    try:
        try:
            return _bulk(file, layer, limits, encoding=layer.encoding)
        except UnicodeDecodeError:
            return _bulk(file, layer, limits, encoding=LATIN)
    except SiteaxoError:
        raise
    except (RuntimeError, LookupError, ValueError, TypeError, ArithmeticError) as problem:
        return read_carefully(file, layer=layer.name, reason=str(problem))


def _bulk(file: TableFile, layer: Layer, limits: Limits, *, encoding: str | None = None) -> Table:
    options = {"WRITE_GFS": "NO"} if file.kind == "GML" else {}
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        info = pyogrio.read_info(file.address, layer=file.table, encoding=encoding, **options)
        announced = checked_info(info, file, layer, limits)
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
        raise LayerError(
            f"Layer {layer.name!r}: the table has no geometry.",
            code="table-missing",
            layer=layer.name,
            remedy="Name another with `table`.",
        )
    if file.kind != "shapefile":  # whose records are counted from its bytes, and named
        check_count(len(fid), announced, file, layer)
    geometry, reasons = decode(wkb)
    check_decoded(layer, fid, reasons)
    columns = {name: plain(cells) for name, cells in zip(meta["fields"], values, strict=True)}
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


def _looked_through(file: TableFile, table: Table, layer: Layer) -> tuple[Table, Damage, list[Finding]]:
    """Set apart broken records, restore texts the reader took for numbers or misread."""
    names, _ = match_fields(layer, table.fields)
    numeric = {names[n] for use, n in layer.field_uses() if use in (*LEVELS, *SIZES)}
    check_cut(table.notes, numeric, file, layer)
    nulls = table.fid[shapely.is_missing(table.geometry)]
    damage = look_for_damage(file, numeric, (int(i) for i in nulls))
    if damage.count is not None:
        check_count(len(table.fid) + len(table.broken), damage.count - len(damage.broken), file, layer)
    lost = {int(i): "its geometry cannot be decoded" for i in _emptied(file, table)}
    damage = replace(damage, broken={**lost, **damage.broken, **table.broken})
    columns = {name: _with_texts(v, table.fid, damage.texts.get(name)) for name, v in table.columns.items()}
    columns, findings = mend_texts(columns, table.encoding, layer.name)
    notes = [
        Finding(
            severity="warning",
            code="reader-note",
            layer=layer.name,
            message=f"Reading {file.name}: {note.rstrip('.')}.",
        )
        for note in (*file.notes, *table.notes, *damage.notes)
    ]
    broken = [
        Finding(
            severity="error",
            code="broken-record",
            layer=layer.name,
            source_id=str(fid),
            message=f"Record {fid} of {file.name} is set aside: {reason}.",
        )
        for fid, reason in sorted(damage.broken.items())
    ]
    gone = [
        Finding(
            severity="info",
            code="deleted-records",
            layer=layer.name,
            value=str(damage.deleted),
            message=f"{damage.deleted} records of {file.name} are marked as deleted and left out.",
        )
    ]
    return replace(table, columns=columns), damage, [*notes, *broken, *findings, *gone[: damage.deleted]]


def _emptied(file: TableFile, table: Table) -> np.ndarray:
    """Records that have a geometry in their file and none as read."""
    if len(file.filled) != len(table.fid):
        return table.fid[:0]
    return table.fid[np.array(file.filled, dtype=bool) & shapely.is_missing(table.geometry)]


def _with_texts(values: np.ndarray, fid: np.ndarray, texts: dict[int, str] | None) -> np.ndarray:
    if not texts:
        return values
    restored = values.astype(object)
    rows = np.flatnonzero(np.isin(fid, list(texts)))
    restored[rows] = [texts[int(i)] for i in fid[rows]]
    return restored
