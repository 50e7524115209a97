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

from ..keeping import Arrays, Store, digest, kept
from .columns import Column, column_of


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
    """A table that has been made, and what it is to hold."""

    table: Table
    columns: dict[str, Column]
    shapes: np.ndarray | None
    place: Mapping[str, Any]


def make_empty(
    path: Path, tables: list[Table], crs: str, to_map: np.ndarray | None, store: Store
) -> list[Full]:
    """Make the file with all tables, without rows, and settle their rows; the empty file is kept."""
    full = [_settled(table, crs, to_map) for table in tables]
    told = [
        [one.table.name, one.table.description, one.place, list(one.columns), *_kinds(one)] for one in full
    ]
    key = digest("empty tables", told)

    def make() -> bytes:
        for one in full:
            _add(path, one)
        return path.read_bytes()

    empty = kept(store, key, make, _as_array, lambda arrays: arrays["file"].tobytes())
    path.write_bytes(empty)
    return full


def _settled(table: Table, crs: str, to_map: np.ndarray | None) -> Full:
    columns = {name: column_of(table.rows[name], name) for name in table.columns}
    shapes, place = _shapes(table, crs, to_map)
    return Full(table=table, columns=columns, shapes=shapes, place=place)


def _kinds(full: Full) -> list[str]:
    """The type of each column as the file is to have it."""
    return [column.empty.dtype.str for column in full.columns.values()]


def _as_array(content: bytes) -> Arrays:
    return {"file": np.frombuffer(content, dtype=np.uint8)}


def _add(path: Path, full: Full) -> None:
    """Add one table without rows to the file."""
    raw.write(
        path,
        None if full.shapes is None else full.shapes[:0],
        [column.empty for column in full.columns.values()],
        list(full.columns),
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
