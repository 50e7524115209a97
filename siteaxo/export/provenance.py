"""
What was done to make a GeoPackage, kept in its metadata.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard, clause 2.4 and annex F.8 (metadata).
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from ..errors import OutputError

NO_TIME: Final = "1970-01-01T00:00:00.000Z"
"""Time of the last change in files that are the same for the same input: none is told."""
_TABLES: Final = (
    """CREATE TABLE IF NOT EXISTS gpkg_metadata (
        id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
        md_scope TEXT NOT NULL DEFAULT 'dataset',
        md_standard_uri TEXT NOT NULL,
        mime_type TEXT NOT NULL DEFAULT 'text/xml',
        metadata TEXT NOT NULL DEFAULT '')""",
    """CREATE TABLE IF NOT EXISTS gpkg_metadata_reference (
        reference_scope TEXT NOT NULL,
        table_name TEXT,
        column_name TEXT,
        row_id_value INTEGER,
        timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
        md_file_id INTEGER NOT NULL,
        md_parent_id INTEGER,
        CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
        CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))""",
    """CREATE TABLE IF NOT EXISTS gpkg_extensions (
        table_name TEXT,
        column_name TEXT,
        extension_name TEXT NOT NULL,
        definition TEXT NOT NULL,
        scope TEXT NOT NULL,
        CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))""",
)
_STANDARD: Final = "http://gdal.org"
_DEFINITION: Final = "http://www.geopackage.org/spec121/#extension_metadata"


def add_metadata(path: str | os.PathLike[str], items: Mapping[str, str]) -> None:
    """
    Put items into the metadata of a finished GeoPackage, and take the clock out of it.

    Parameters
    ----------
    path : path
        A GeoPackage that nothing else holds open.
    items : mapping of str to str
        Keys of letters, digits and underscores; where there are none, only the clock is taken out.

    Raises
    ------
    OutputError
        If a key has other signs, or the file cannot be written.
    """
    try:
        with contextlib.closing(sqlite3.connect(Path(path))) as file, file:
            if items:
                put_metadata(file, items)
            file.execute("UPDATE gpkg_contents SET last_change = ?", (NO_TIME,))
    except sqlite3.Error as problem:
        raise OutputError(
            f"The metadata of {str(path)!r} cannot be written: {problem}.", value=path
        ) from problem


def put_metadata(file: sqlite3.Connection, items: Mapping[str, str]) -> None:
    """
    Put items into the metadata of a GeoPackage, in place of those that were put there before.

    Parameters
    ----------
    file : sqlite3.Connection
        The GeoPackage.
    items : mapping of str to str
        Keys of letters, digits and underscores.

    Raises
    ------
    OutputError
        If a key has other signs.
    """
    for key in items:
        if not key.isidentifier():
            raise OutputError(
                f"The metadata key {key!r} must be letters, digits and underscores.", field=key, value=key
            )
    lines = "".join(f"<MDI key={quoteattr(key)}>{escape(value)}</MDI>" for key, value in items.items())
    xml = f"<GDALMultiDomainMetadata><Metadata>{lines}</Metadata></GDALMultiDomainMetadata>"
    for statement in _TABLES:
        file.execute(statement)
    again = file.execute("UPDATE gpkg_metadata SET metadata = ? WHERE md_standard_uri = ?", (xml, _STANDARD))
    if not again.rowcount:
        _put(file, xml)


def _put(file: sqlite3.Connection, xml: str) -> None:
    """Put a text into the metadata, which has none."""
    for table in ("gpkg_metadata", "gpkg_metadata_reference"):
        file.execute(
            "INSERT OR IGNORE INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')",
            (table, "gpkg_metadata", _DEFINITION),
        )
    row = ("dataset", _STANDARD, "text/xml", xml)
    put = file.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata) VALUES (?, ?, ?, ?)", row
    )
    file.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, timestamp, md_file_id) VALUES (?, ?, ?)",
        ("geopackage", NO_TIME, put.lastrowid),
    )
