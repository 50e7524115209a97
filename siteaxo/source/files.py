"""
Which file, of which kind, and which table in it a layer is read from.

Only regular files on disk are opened, and only those whose first bytes say what their
name says. Kinds that can do more than hold features are looked through first.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pyogrio

from ..checks import one_of
from ..errors import LayerError
from ..limits import MB, USUAL, Limits
from . import archive, geopackage
from .flatgeobuf import features_in
from .layers import Layer
from .tablefile import TableFile
from .texted import Contents, look_into_geojson, look_into_gml

KINDS: Final = {
    ".shp": "shapefile",
    ".gpkg": "GeoPackage",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
    ".zip": "zip archive",
}
DRIVERS: Final = {
    "shapefile": "ESRI Shapefile",
    "GeoPackage": "GPKG",
    "GeoJSON": "GeoJSON",
    "FlatGeobuf": "FlatGeobuf",
    "GML": "GML",
}
_STARTS: Final = {
    "shapefile": rb"\x00\x00\x27\x0a",
    "GeoPackage": rb"SQLite format 3\x00",
    "GeoJSON": rb"(\xef\xbb\xbf)?\s*\{",
    "FlatGeobuf": rb"fgb[\x00-\x0f]fgb",
    "GML": rb"(\xef\xbb\xbf)?\s*<|\xff\xfe<\x00|\xfe\xff\x00<",
    "zip archive": rb"PK(\x03\x04|\x05\x06)",
}
_LOOK_AT: Final = 65536  # bytes at the start of a file that are looked at
_BESIDE: Final = (".shx", ".dbf", ".prj", ".cpg")


def find_table(layer: Layer, *, limits: Limits = USUAL) -> TableFile:
    """
    Find the file and the table that a layer is read from.

    Parameters
    ----------
    layer : Layer
        A layer whose source is a path.
    limits : Limits
        Bounds of size.

    Returns
    -------
    TableFile

    Raises
    ------
    LayerError
        If there is no such file, it is not of a known kind, or the table is not clear.
    LimitError
        If it is too large.
    """
    path = regular_file(layer.source, layer.name)
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise _refusal(
            layer,
            f"{path.name} is of no kind that can be read; "
            f"use one of {', '.join(k for k in KINDS if k != '.json')}.",
            "file-kind",
        )
    check_size(path, layer.name, limits)
    _check_start(path, kind, layer)
    if kind == "zip archive":
        shapes = archive.shapefiles_in(path, layer=layer.name, limits=limits)
        if not shapes:
            remedy = "Unpack it and name the file inside."
            raise _refusal(layer, f"{path.name} holds no shapefile.", "table-missing", remedy)
        return TableFile(
            path=path, kind="shapefile", member=shapes[_choose(list(shapes), path, layer)], shown=path.name
        )
    return _looked_into(TableFile(path=path, kind=kind), layer)


@contextmanager
def ready(file: TableFile, layer: Layer, limits: Limits = USUAL) -> Iterator[TableFile]:
    """
    Make a table ready for the readers: a shapefile in an archive is unpacked meanwhile.

    Yields
    ------
    TableFile
        One that is a regular file of its own.

    Raises
    ------
    LayerError, LimitError
        If it cannot be unpacked, or is too large.
    """
    if file.member is None:
        yield file
        return
    with archive.unpacked(file.path, file.member, layer=layer.name, limits=limits) as path:
        inside = replace(file, path=path, member=None)
        _check_start(path, "shapefile", layer)
        yield inside


def regular_file(source: Any, layer: str) -> Path:
    """
    Return the path of a source that is a regular file on this machine.

    Parameters
    ----------
    source : path
        What the layer names.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    Path

    Raises
    ------
    LayerError
        If it is a folder, a pipe, a socket or a device, or there is nothing.
    """
    text = os.fsdecode(source)
    path = Path(text)
    remedy = "Check the path and its spelling."
    if "://" in text or text.startswith("/vsi"):
        remedy = "Only files on this machine are read: fetch it first, and name the file."
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise _no_file(layer, f"there is no file {text}.", "file-missing", text, remedy) from None
    except OSError as problem:
        said = f"{text} cannot be opened ({problem.strerror})."
        raise _no_file(layer, said, "file-unreadable", text, remedy) from None
    if stat.S_ISDIR(mode):
        said = f"{text} is a folder."
        raise _no_file(layer, said, "file-kind", text, "Name a file in it, e.g. 'terraces.shp'.")
    if not stat.S_ISREG(mode):
        said = f"{text} is no regular file but a pipe, a socket or a device."
        raise _no_file(layer, said, "file-kind", text, "Name a file on disk.")
    if "!" in str(path.resolve()):
        said = (
            f"{path.resolve()} has an exclamation mark in it, which readers take for a way into an archive."
        )
        raise _no_file(layer, said, "file-name", text, "Rename the file or the folder.")
    return path


def check_size(path: Path, layer: str, limits: Limits) -> None:
    """
    Refuse a file that is too large to be read, or a shapefile whose parts are.

    Raises
    ------
    LimitError
        If it is; the message says how to raise the limit.
    """
    sizes = [path.stat().st_size]
    for suffix in _BESIDE if path.suffix.lower() == ".shp" else ():
        with_suffix = path.with_suffix(suffix)
        sizes += [with_suffix.stat().st_size] if with_suffix.is_file() else []
    limits.check("file_mb", sum(sizes) / MB, what=f"{path.name} has too many MB", layer=layer)


def _check_start(path: Path, kind: str, layer: Layer) -> None:
    try:
        with path.open("rb") as stream:
            start = stream.read(_LOOK_AT)
    except OSError as problem:
        raise _refusal(layer, f"{path} cannot be opened ({problem.strerror}).", "file-unreadable") from None
    if re.match(_STARTS[kind], start) is None:
        raise _refusal(
            layer,
            f"{path.name} does not begin like a {kind}; it is empty, damaged, "
            "or something else under this name.",
            "file-kind",
        )


def _looked_into(file: TableFile, layer: Layer) -> TableFile:
    """Look through kinds that can do more than hold features, and choose the table."""
    if file.kind == "GeoPackage":
        tables = geopackage.tables_in(file.path, layer.name)
        if layer.table in geopackage.views_in(file.path):
            remedy = "Only tables are read: export it as one."
            said = f"{layer.table!r} in {file.path.name} is a view."
            raise _refusal(layer, said, "file-computes", remedy)
        table = _choose(tables, file.path, layer)
        return replace(file, table=table, count=geopackage.rows_in(file.path, table, layer.name))
    if file.kind == "GML":
        contents = look_into_gml(file.path, layer.name)
        table = _choose(_listed(file.path, layer), file.path, layer)
        return replace(file, table=table, count=contents.counts.get(table), notes=contents.notes)
    contents = look_into_geojson(file.path, layer.name) if file.kind == "GeoJSON" else Contents()
    count = features_in(file.path) if file.kind == "FlatGeobuf" else contents.count
    named = None if layer.table is None else _choose(_listed(file.path, layer), file.path, layer)
    return replace(file, table=named, count=count, filled=contents.filled, notes=contents.notes)


def _listed(path: Path, layer: Layer) -> list[str]:
    """Tables with a geometry, as the reader lists them."""
    try:
        rows = pyogrio.list_layers(str(path.resolve()))
    except (pyogrio.errors.DataSourceError, RuntimeError, UnicodeError) as problem:
        raise _refusal(layer, f"{path.name} cannot be read ({problem}).", "file-damaged") from None
    return [str(name) for name, geometry in rows if geometry is not None]


def _choose(tables: list[str], path: Path, layer: Layer) -> str:
    if not tables:
        raise _refusal(layer, f"{path.name} has no table with a geometry.", "table-missing")
    if layer.table is not None:
        try:
            return one_of(layer.table, tables, "table", LayerError)
        except LayerError as problem:
            said = f"{path.name} has no such table. {problem}"
            raise _refusal(layer, said, "table-missing", value=layer.table) from None
    if len(tables) > 1:
        raise _refusal(
            layer,
            f"{path.name} has several tables: {', '.join(tables)}. Name one with `table`.",
            "table-unclear",
        )
    return tables[0]


def _refusal(layer: Layer, said: str, code: str, remedy: str = "", *, value: str = "") -> LayerError:
    return _no_file(layer.name, said, code, value or str(layer.source), remedy)


def _no_file(layer: str, said: str, code: str, value: str, remedy: str) -> LayerError:
    return LayerError(f"Layer {layer!r}: {said}", code=code, layer=layer, value=value, remedy=remedy)
