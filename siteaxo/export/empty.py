"""
The tables of a GeoPackage before they have rows.

GDAL makes them, once: the empty file depends on nothing but what the tables are, so that it can be kept
for the next time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyogrio import raw

from ..diagram.layers import NUMBER
from ..keeping import Arrays, Store, digest, kept
from .blobs import blobs_of
from .columns import column_of
from .rows import Rows


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table: its rows, its columns beside the geometry, its geometry type and what it holds."""

    name: str
    rows: Any
    columns: tuple[str, ...]
    geometry_type: str | None
    description: str


@dataclass(frozen=True, kw_only=True)
class Full:
    """A table, its rows as a file takes them, and its geometry type and CRS."""

    table: Table
    rows: Rows
    place: Mapping[str, Any]


def settled(tables: list[Table], crs: str, to_map: np.ndarray | None) -> list[Full]:
    """Settle the columns of all tables, and their geometries in the wanted frame."""
    return [_settled(table, crs, to_map) for table in tables]


def form_of(full: Full) -> list[Any]:
    """What a table is, whatever rows it holds."""
    return [full.table.name, full.table.description, full.place, list(full.rows.columns), *_kinds(full)]


def empty_file(path: Path, full: list[Full], store: Store) -> bytes:
    """Make a file with all tables, without rows, at a path at which nothing stays; it is kept."""

    def make() -> bytes:
        for one in full:
            _add(path, one)
        empty = path.read_bytes()
        path.unlink()
        return empty

    return kept(
        store,
        digest("empty tables", [form_of(one) for one in full]),
        make,
        _as_array,
        lambda arrays: arrays["file"].tobytes(),
    )


def _settled(table: Table, crs: str, to_map: np.ndarray | None) -> Full:
    columns = {name: column_of(table.rows[name], name) for name in table.columns}
    shapes, place = _shapes(table, crs, to_map)
    blobs = None if shapes is None else blobs_of(shapes, multi=place["promote_to_multi"])
    number = numbers_of(table.rows)
    return Full(
        table=table, rows=Rows(name=table.name, number=number, columns=columns, shapes=blobs), place=place
    )


def numbers_of(frame: Any) -> np.ndarray:
    """
    Numbers of the rows of a table: its own where they ascend, and else 1, 2, 3.

    Parameters
    ----------
    frame : pandas.DataFrame
        The table.

    Returns
    -------
    ndarray of int, shape (n,)

    Examples
    --------
    >>> import pandas as pd
    >>> [numbers_of(pd.DataFrame({"number": own})).tolist() for own in ([1, 9, 17], [1, 9, 9])]
    [[1, 9, 17], [1, 2, 3]]
    """
    own = frame[NUMBER].to_numpy() if NUMBER in frame else np.zeros(0)
    if len(own) and own.dtype.kind == "i" and own[0] > 0 and (np.diff(own) > 0).all():
        return own.astype(np.int64)
    return np.arange(1, len(frame) + 1)


def _kinds(full: Full) -> list[str]:
    """The type of each column as the file is to have it."""
    return [column.empty.dtype.str for column in full.rows.columns.values()]


def _as_array(content: bytes) -> Arrays:
    return {"file": np.frombuffer(content, dtype=np.uint8)}


def _add(path: Path, full: Full) -> None:
    """Add one table without rows to the file."""
    raw.write(
        path,
        None if full.rows.shapes is None else np.zeros(0, dtype=object),
        [column.empty for column in full.rows.columns.values()],
        list(full.rows.columns),
        layer=full.table.name,
        driver="GPKG",
        encoding="UTF-8",
        dataset_options={"CRS_WKT_EXTENSION": "YES", "VERSION": "1.4"},
        layer_options={"DESCRIPTION": full.table.description},
        **full.place,
    )


def _shapes(table: Table, crs: str, to_map: np.ndarray | None) -> tuple[np.ndarray | None, dict[str, Any]]:
    """Geometry of a table in the wanted frame, and its type and CRS."""
    if table.geometry_type is None:
        return None, {"geometry_type": None}
    shapes = np.asarray(table.rows.geometry.array, dtype=object)
    if to_map is not None:
        shapes = shapely.transform(shapes, lambda page: page @ to_map[:, :2].T + to_map[:, 2])
    alike = len(shapes) == 0 or kind_of(shapes) == table.geometry_type
    kind = table.geometry_type if alike else "Unknown"
    return shapes, {"geometry_type": kind, "promote_to_multi": alike, "crs": crs}


def kind_of(shapes: np.ndarray) -> str:
    """The one type that holds all of some geometries, "Unknown" where there is none."""
    for kind in ("Point", "LineString", "Polygon"):
        single = shapely.GeometryType[kind.upper()]
        several = shapely.GeometryType[f"MULTI{kind.upper()}"]
        if np.isin(shapely.get_type_id(shapes), [single, several]).all():
            return f"Multi{kind}"
    return "Unknown"
