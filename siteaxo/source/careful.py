"""
Read a damaged table record by record, so that one bad record never costs the layer.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry import shape

from ..errors import LayerError
from .files import DRIVERS
from .tablefile import TableFile

COUNTED: Final = ("shapefile", "FlatGeobuf")  # kinds whose FIDs count from zero without a gap


@dataclass(frozen=True, kw_only=True)
class Table:
    """
    A table as it stands in its file.

    Parameters
    ----------
    fid : ndarray, shape (n,)
        Record numbers, or the index of a GeoDataFrame.
    geometry : ndarray of object, shape (n,)
        Geometries in the file's own CRS; None where there is none.
    columns : dict of str to ndarray, shape (n,)
        The fields asked for.
    fields : tuple of str
        Names of all fields that the file has.
    crs : str or None
        The file's CRS.
    encoding : str
        Encoding in which its texts were read.
    broken : dict of int to str
        Reason per record number that could not be read.
    notes : tuple of str
        What the reader said.
    """

    fid: np.ndarray
    geometry: np.ndarray
    columns: dict[str, np.ndarray]
    fields: tuple[str, ...]
    crs: Any
    encoding: str = "UTF-8"
    broken: dict[int, str]
    notes: tuple[str, ...] = ()


def read_carefully(file: TableFile, *, layer: str, reason: str) -> Table:
    """
    Read a table one record at a time, setting aside what cannot be read.

    Parameters
    ----------
    file : TableFile
        The table.
    layer : str
        Name of the layer, for messages.
    reason : str
        Why the bulk reading failed.

    Returns
    -------
    Table
        With all its fields.

    Raises
    ------
    LayerError
        If the file cannot be opened at all, or records are lost that cannot be named.
    """
    import fiona  # here, because it is slow to load and seldom needed

    refused = f"Layer {layer!r}: {file.name} cannot be read ({reason})."
    with _quiet():
        try:
            with fiona.open(file.address, layer=file.table, driver=DRIVERS[file.kind]) as collection:
                records, broken = _records(collection, file.kind)
                known, count, crs = (
                    tuple(collection.schema["properties"]),
                    len(collection),
                    collection.crs_wkt,
                )
        except (
            fiona.errors.FionaError,
            OSError,
            ValueError,
            RuntimeError,
            LookupError,
            TypeError,
            ArithmeticError,
        ) as problem:
            said = f"{refused} Reading it record by record failed too: {problem}."
            raise LayerError(said, code="file-damaged", layer=layer, remedy="Export it anew.") from None
    if len(records) + len(broken) < count:
        lost = count - len(records) - len(broken)
        raise LayerError(
            f"{refused} {lost} of its {count} records are lost.",
            code="records-lost",
            layer=layer,
            value=lost,
            remedy="Mend it or export it anew.",
        )
    return _table(records, broken, list(known), crs)


def _records(collection: Any, kind: str) -> tuple[dict[int, Any], dict[int, str]]:
    found: dict[int, Any] = {}
    try:
        found.update((int(record.id), record) for record in collection)
    except Exception as problem:  # whatever one record raises, the others are still wanted
        if kind not in COUNTED:
            raise ValueError(str(problem)) from problem
    missing = [i for i in range(len(collection)) if i not in found] if kind in COUNTED else []
    broken = {}
    for i in missing:
        record = _one(collection, i)
        if isinstance(record, str):
            broken[i] = record
        else:
            found[i] = record
    return dict(sorted(found.items())), broken


def _one(collection: Any, index: int) -> Any:
    """One record by its number, or the reason why there is none."""
    try:
        record = collection[index]
    except Exception as problem:  # see above
        return str(problem) or type(problem).__name__
    if record is None:
        return "its record cannot be decoded"
    values = list(record.properties.values())
    if values and all(value is None for value in values):
        return "its row of attributes cannot be read"
    return record


def _table(records: dict[int, Any], broken: dict[int, str], fields: list[str], crs: str) -> Table:
    geometry = np.full(len(records), None, dtype=object)
    columns = {name: np.full(len(records), None, dtype=object) for name in fields}
    for row, (fid, record) in enumerate(records.items()):
        geometry[row] = _shape(record.geometry, fid, broken)
        for name in fields:
            columns[name][row] = record.properties[name]
    ids = np.fromiter(records, dtype=np.int64, count=len(records))
    keep = ~np.isin(ids, list(broken))
    columns = {name: values[keep] for name, values in columns.items()}
    return Table(
        fid=ids[keep],
        geometry=geometry[keep],
        columns=columns,
        fields=tuple(fields),
        crs=crs or None,
        broken=broken,
    )


def _shape(geometry: Any, fid: int, broken: dict[int, str]) -> Any:
    if geometry is None:
        return None
    try:
        return shape(geometry)
    except (shapely.errors.ShapelyError, ValueError, TypeError) as problem:
        broken[fid] = str(problem)
        return None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the reader's own complaints off the screen; they are in the findings."""
    logger, silent = logging.getLogger("fiona"), logging.NullHandler()
    logger.addHandler(silent)
    try:
        yield
    finally:
        logger.removeHandler(silent)
