"""
The diagram GeoPackage: every layer of a drawing as a table that a GIS can open.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard; ISO 19162:2019 (WKT 2, engineering CRS).
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from importlib import metadata
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import pandas as pd
import pyogrio

from ..checks import one_of
from ..collecting import uncollected
from ..diagram.layers import (
    EDGE_COLUMNS,
    EXTRA_COLUMNS,
    EXTRA_TABLES,
    FACE_COLUMNS,
    FINDING_COLUMNS,
    GROUP,
    NUMBER,
    PART_COLUMNS,
    PLAN_COLUMNS,
    DiagramLayers,
    ViewRecord,
)
from ..errors import OutputError, ViewError
from ..keeping import Forgetful
from .atomic import draft_of, replacing
from .empty import Full, Table, empty_file, kind_of, settled
from .filling import fill, opened, settle, untriggered
from .frames import FRAMES, map_from_page, page_crs
from .patching import Amendment, Earlier, differences, patched, told


@uncollected()
def write_gpkg(
    diagram: DiagramLayers,
    path: str | os.PathLike[str],
    *,
    frame: Literal["sheet", "map"] = "sheet",
    inputs: Iterable[str | os.PathLike[str]] = (),
    metadata: Mapping[str, str] = MappingProxyType({}),
    earlier: Earlier | None = None,
    amendment: Amendment | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> None:
    """
    Write a drawing as a GeoPackage.

    The tables are faces, edges, hidden_edges, plan, findings and view; a table without rows
    is written all the same. Further tables (patterns, labels, ...) are written where they have
    rows.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    path : path-like
        File to make or to replace, ending in .gpkg.
    frame : {"sheet", "map"}
        "sheet": page coordinates in metres at full size, in an engineering CRS. "map": the
        drawing turned back and shifted into the local plane's own CRS, so that what lies at
        the level drawn in place has its own coordinates.
    inputs : iterable of path-like
        Files that the drawing was made from: none of them is written onto.
    metadata : mapping of str to str
        Items for its metadata; keys of letters, digits and underscores.
    earlier : Earlier, optional
        The file written last time, in a copy of which rows are changed where few have.
    amendment : Amendment, optional
        What of the drawing is other than in that file, where it is known.
    progress : callable, optional
        Called as ``progress("rows", share)``; it may raise to stop.

    Raises
    ------
    ViewError
        If the map frame is wanted of a view that does not keep the plan's true shape.
    OutputError
        If the name does not end in .gpkg or the file cannot be written; what stood there
        before is untouched.
    """
    one_of(frame, FRAMES, "frame", ViewError)
    if Path(path).suffix.lower() != ".gpkg":
        raise OutputError(f"Cannot write {str(path)!r}: the name of a GeoPackage ends in .gpkg.", value=path)
    view = diagram.view
    to_map = map_from_page(view) if frame == "map" else None
    crs = view.plane_wkt if to_map is not None else page_crs(view)
    say = partial(progress or (lambda stage, share: None), "rows")
    with replacing(path, inputs=inputs) as temporary:
        try:
            if earlier is not None and amendment is not None:
                small = settled(_tables(amendment.layers), crs, to_map)
                if _amended(temporary, small, metadata, earlier, amendment, say):
                    return
            tables = settled(_tables(diagram), crs, to_map)
            if earlier is None or not _changed(temporary, tables, metadata, earlier, say):
                _written(temporary, tables, metadata, earlier, say)
            _check_whole(temporary, tables)
        except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, sqlite3.Error) as error:
            raise OutputError(
                f"Cannot write {str(path)!r}: {error}. What stood there before is untouched; "
                "check that the disk has room.",
                value=path,
            ) from error


def _tables(diagram: DiagramLayers) -> list[Table]:
    """Every table of the file, in its order."""
    view = _view_row(diagram.view)
    lines = "MultiLineString"
    return [
        _parted("faces", diagram.faces, FACE_COLUMNS, "MultiPolygon", "Visible part of every face"),
        _parted("edges", diagram.edges, EDGE_COLUMNS, lines, "Visible lines"),
        _parted("hidden_edges", diagram.hidden_edges, EDGE_COLUMNS, lines, "Hidden lines"),
        *_extra_tables(diagram),
        _parted("plan", diagram.plan, PLAN_COLUMNS, "MultiPolygon", "Footprints on the turned plan"),
        _table("findings", diagram.findings, FINDING_COLUMNS, None, "What was noticed in the data"),
        _table("view", view, tuple(view.columns), None, "From the page back to the site"),
    ]


def _parted(name: str, rows: Any, columns: tuple[str, ...], kind: str | None, description: str) -> Table:
    """One table, with the columns of a drawing's parts where it has them."""
    further = [column for column in PART_COLUMNS if column in rows.columns]
    return _table(name, rows, (*columns, *further), kind, description)


def _extra_tables(diagram: DiagramLayers) -> list[Table]:
    """Further tables that have rows, with all their columns that hold plain values."""
    tables = []
    for name, rows in diagram.extra.items():
        if len(rows):
            further = [
                column for column in rows.columns if column not in (*EXTRA_COLUMNS, GROUP, NUMBER, "geometry")
            ]
            kind = kind_of(np.asarray(rows.geometry.array, dtype=object))
            tables.append(
                _table(name, rows, (*EXTRA_COLUMNS, *further), kind, EXTRA_TABLES[name].description)
            )
    return tables


def _table(name: str, rows: Any, columns: tuple[str, ...], kind: str | None, description: str) -> Table:
    """Check that a table has its columns."""
    missing = [column for column in columns if column not in rows.columns]
    if missing:
        raise OutputError(
            f"The table {name!r} of the drawing lacks the columns {', '.join(missing)}.",
            field=missing[0],
            value=name,
        )
    return Table(name=name, rows=rows, columns=columns, geometry_type=kind, description=description)


def _view_row(view: ViewRecord) -> pd.DataFrame:
    """One row with what is needed to get from the page back to the site."""
    row: Mapping[str, Any] = {
        "kind": view.kind,
        "turn": view.turn,
        "height_factor": view.height_factor,
        "matrix": json.dumps(view.matrix.tolist()),
        "plane_wkt": view.plane_wkt,
        "origin_x": view.origin_x,
        "origin_y": view.origin_y,
        "drawn_in_place": view.drawn_in_place,
        "siteaxo_version": _version(),
    }
    return pd.DataFrame([row])


def _version() -> str:
    """Version of the installed library, "unknown" when it runs uninstalled."""
    try:
        return metadata.version("siteaxo")
    except metadata.PackageNotFoundError:
        return "unknown"


def _amended(
    path: Path,
    tables: list[Full],
    metadata: Mapping[str, str],
    earlier: Earlier,
    amendment: Amendment,
    say: Callable[[float], None],
) -> bool:
    """Write the file by changing the rows of the one written last that are known to be others."""
    changes = amendment.changes(earlier.before, bool(metadata), tables)
    return changes is not None and patched(earlier, path, changes, metadata=metadata, say=say)


def _changed(
    path: Path,
    tables: list[Full],
    metadata: Mapping[str, str],
    earlier: Earlier,
    say: Callable[[float], None],
) -> bool:
    """Write the file by changing rows of the one written last, if few have changed; and tell its rows."""
    rows = [one.rows for one in tables]
    earlier.now = told(tables, bool(metadata), hashed=not earlier.state)
    changes = differences(earlier.before, earlier.now, rows)
    return changes is not None and patched(earlier, path, changes, metadata=metadata, say=say)


def _written(
    path: Path,
    tables: list[Full],
    metadata: Mapping[str, str],
    earlier: Earlier | None,
    say: Callable[[float], None],
) -> None:
    """Write the file as a whole."""
    draft = draft_of(path)
    draft.write_bytes(empty_file(path, tables, Forgetful() if earlier is None else earlier.store))
    with opened(draft) as file:
        with untriggered(file):
            fill(file, [one.rows for one in tables], say)
        settle(file, [one.table.name for one in tables], metadata, path)
    draft.unlink()


def _check_whole(path: Path, tables: list[Full]) -> None:
    """Count the rows and the entries of the spatial indexes of the finished file."""
    with contextlib.closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as file:
        for table in tables:
            shapes = table.rows.shapes
            wanted = {table.rows.name: len(table.rows)}
            if shapes is not None:
                wanted[f"rtree_{table.rows.name}_geom_rowid"] = int(np.isfinite(shapes.box).all(axis=1).sum())
            for name, rows in wanted.items():
                (found,) = file.execute(f'SELECT count(*) FROM "{name}"').fetchone()
                if found != rows:
                    raise sqlite3.DataError(f"table {name} holds {found} rows instead of {rows}")
