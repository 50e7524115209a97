"""
GeoPackages looked through before a reader opens them.

A GeoPackage is a database: its views, triggers and computed columns are programs. Only
plain tables are read, and their rows are counted here, so that none can be lost.

References
----------
OGC 12-128r19, GeoPackage 1.4: 1.1.1 (file), 1.1.3 (contents), 2.1.5 (geometry columns);
SQLite, "Defense against the dark arts" (reading files of strangers).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from ..errors import LayerError

CATALOGUE: Final = ("gpkg_contents", "gpkg_geometry_columns", "gpkg_spatial_ref_sys")
_FEATURES: Final = """
    SELECT c.table_name FROM gpkg_contents AS c
    JOIN gpkg_geometry_columns AS g ON lower(g.table_name) = lower(c.table_name)
    WHERE lower(c.data_type) = 'features' ORDER BY c.rowid
"""
_MOST_STEPS: Final = 20_000_000  # of the database's machine, for questions to its catalogue


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a database for reading only, with nothing in it believed."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as base:
        base.text_factory = lambda text: text.decode("utf-8", "replace")
        base.execute("PRAGMA trusted_schema = OFF")
        base.execute("PRAGMA query_only = ON")
        base.execute("PRAGMA cell_size_check = ON")
        base.set_progress_handler(lambda: 1, _MOST_STEPS)
        yield base


def tables_in(path: Path, layer: str) -> list[str]:
    """
    Names of the plain tables with a geometry.

    Parameters
    ----------
    path : Path
        The GeoPackage.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    list of str
        In the file's own order; views are left out.

    Raises
    ------
    LayerError
        If it is damaged, is a database but no GeoPackage, or its catalogue is not plain.
    """
    try:
        with opened(path) as base:
            kinds = _kinds(base)
            _check_catalogue(kinds, path, layer)
            names = list(dict.fromkeys(str(row[0]) for row in base.execute(_FEATURES)))
    except (sqlite3.Error, UnicodeError) as problem:
        raise _refusal(layer, path, f"cannot be read ({problem})", "file-damaged") from None
    return [name for name in names if kinds.get(name.casefold()) == "table"]


def views_in(path: Path) -> list[str]:
    """Names of the views in a GeoPackage, which are not read."""
    try:
        with opened(path) as base:
            rows = base.execute("SELECT name FROM sqlite_master WHERE type = 'view'")
            return [str(name) for (name,) in rows]
    except (sqlite3.Error, UnicodeError):
        return []


def rows_in(path: Path, table: str, layer: str) -> int:
    """
    Count the rows of a table, and refuse one that is computed as it is read.

    Parameters
    ----------
    path : Path
        The GeoPackage.
    table : str
        The table.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    int

    Raises
    ------
    LayerError
        If it has computed columns, or cannot be counted.
    """
    name = quoted(table)
    try:
        with opened(path) as base:
            base.set_progress_handler(None, 0)
            columns = base.execute(f"PRAGMA table_xinfo({name})").fetchall()
            if any(column[6] in (2, 3) for column in columns):
                computed = next(str(column[1]) for column in columns if column[6] in (2, 3))
                raise LayerError(
                    f"Layer {layer!r}: column {computed!r} of table {table!r} in {path.name} is computed "
                    "when it is read.",
                    code="file-computes",
                    layer=layer,
                    field=computed,
                    remedy="Export the table anew, with values in it.",
                )
            return int(base.execute(f"SELECT count(*) FROM {name} NOT INDEXED").fetchone()[0])
    except (sqlite3.Error, UnicodeError) as problem:
        raise _refusal(layer, path, f"cannot be read ({problem})", "file-damaged") from None


def quoted(name: str) -> str:
    """
    A name as SQL has it.

    Examples
    --------
    >>> print(quoted('a "b" c'))
    "a ""b"" c"
    """
    return '"' + name.replace('"', '""') + '"'


def _kinds(base: sqlite3.Connection) -> dict[str, str]:
    """Whether each name is a table, a view or a virtual table."""
    rows = base.execute("SELECT name, type, sql FROM sqlite_master WHERE type IN ('table', 'view')")
    return {
        str(name).casefold(): "virtual" if "VIRTUAL" in str(sql).upper().split()[:2] else str(kind)
        for name, kind, sql in rows
    }


def _check_catalogue(kinds: dict[str, str], path: Path, layer: str) -> None:
    for name in CATALOGUE:
        if name not in kinds:
            raise _refusal(layer, path, f"is a database but no GeoPackage: it has no {name}", "file-kind")
    odd = next((name for name, kind in kinds.items() if name.startswith("gpkg_") and kind != "table"), None)
    if odd is not None:
        raise _refusal(layer, path, f"has {odd} as a {kinds[odd]} instead of a table", "file-computes")


def _refusal(layer: str, path: Path, what: str, code: str) -> LayerError:
    return LayerError(
        f"Layer {layer!r}: {path.name} {what}.",
        code=code,
        layer=layer,
        value=path.name,
        remedy="Export it anew.",
    )
