"""
Which file, of which kind, and which table in it a layer is read from.

Only regular files on disk are opened, and only those whose first bytes say what their
name says.
"""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pyogrio

from ..checks import one_of
from ..errors import LayerError
from .layers import Layer

KINDS: Final = {
    ".shp": "shapefile",
    ".gpkg": "GeoPackage",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
    ".zip": "zip archive",
}
_STARTS: Final = {
    "shapefile": rb"\x00\x00\x27\x0a",
    "GeoPackage": rb"SQLite format 3\x00",
    "GeoJSON": rb"(\xef\xbb\xbf)?\s*\{",
    "FlatGeobuf": rb"fgb",
    "GML": rb"(\xef\xbb\xbf)?\s*<",
    "zip archive": rb"PK",
}
_REDIRECTS: Final = re.compile(rb"<OGRVRT|<VRTDataset|gdal_streamed_alg|GDALG", re.IGNORECASE)
_LOOK_AT: Final = 65536  # bytes at the start of a file that are looked at


@dataclass(frozen=True, kw_only=True)
class TableFile:
    """
    One table in one file.

    Parameters
    ----------
    path : Path
        The file on disk.
    kind : str
        "shapefile", "GeoPackage", "GeoJSON", "FlatGeobuf" or "GML".
    table : str or None
        Table inside the file; None where the file is one table.
    member : str or None
        Path of the .shp inside a zip archive.
    """

    path: Path
    kind: str
    table: str | None = None
    member: str | None = None

    @property
    def address(self) -> str:
        """What the readers are given."""
        whole = str(self.path.resolve())
        return whole if self.member is None else f"/vsizip/{{{whole}}}/{self.member}"

    def part(self, suffix: str) -> bytes | None:
        """Bytes of one file of a shapefile, such as ".dbf"; None when there is none."""
        if self.member is None:
            beside = {p.name.lower(): p for p in self.path.parent.glob(f"{_literal(self.path.stem)}.*")}
            found = beside.get(f"{self.path.stem}{suffix}".lower())
            return None if found is None else found.read_bytes()
        wanted = str(Path(self.member).with_suffix(suffix)).lower()
        with zipfile.ZipFile(self.path) as archive:
            names = {str(Path(name)).lower(): name for name in archive.namelist()}
            return archive.read(names[wanted]) if wanted in names else None


def find_table(layer: Layer) -> TableFile:
    """
    Find the file and the table that a layer is read from.

    Parameters
    ----------
    layer : Layer
        A layer whose source is a path.

    Returns
    -------
    TableFile

    Raises
    ------
    LayerError
        If there is no such file, it is not of a known kind, or the table is not clear.
    """
    path = Path(layer.source)
    if path.is_dir():
        raise LayerError(f"Layer {layer.name!r}: {path} is a folder. Name a file in it, e.g. 'terraces.shp'.")
    if not path.is_file():
        raise LayerError(f"Layer {layer.name!r}: there is no file {path}. Check the path and its spelling.")
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} is of no kind that can be read; "
            f"use one of {', '.join(k for k in KINDS if k != '.json')}."
        )
    _check_start(path, kind, layer)
    if kind == "zip archive":
        return _in_archive(path, layer)
    return TableFile(path=path, kind=kind, table=_table(path, kind, layer))


def tables_in(path: Path) -> list[str]:
    """Names of the tables with a geometry in a file."""
    rows = pyogrio.list_layers(str(path.resolve()))
    return [str(name) for name, geometry in rows if geometry is not None]


def _check_start(path: Path, kind: str, layer: Layer) -> None:
    try:
        with path.open("rb") as stream:
            start = stream.read(_LOOK_AT)
    except OSError as problem:
        raise LayerError(f"Layer {layer.name!r}: {path} cannot be opened ({problem.strerror}).") from None
    if re.match(_STARTS[kind], start) is None:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} does not begin like a {kind}; it is empty, damaged, "
            "or something else under this name."
        )
    if kind in ("GeoJSON", "GML") and _REDIRECTS.search(start):
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} holds no features but points to other data. "
            "Name the file with the features themselves."
        )


def _table(path: Path, kind: str, layer: Layer) -> str | None:
    if kind in ("shapefile", "FlatGeobuf", "GeoJSON") and layer.table is None:
        return None
    try:
        tables = tables_in(path)
    except pyogrio.errors.DataSourceError as problem:
        raise LayerError(f"Layer {layer.name!r}: {path.name} cannot be read ({problem}).") from None
    return _choose(tables, path, layer)


def _choose(tables: list[str], path: Path, layer: Layer) -> str:
    if not tables:
        raise LayerError(f"Layer {layer.name!r}: {path.name} has no table with a geometry.")
    if layer.table is not None:
        try:
            return one_of(layer.table, tables, "table", LayerError)
        except LayerError as problem:
            raise LayerError(f"Layer {layer.name!r}, {path.name}: {problem}") from None
    if len(tables) > 1:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} has several tables: {', '.join(tables)}. "
            "Name one with `table`."
        )
    return tables[0]


def _in_archive(path: Path, layer: Layer) -> TableFile:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError) as problem:
        raise LayerError(f"Layer {layer.name!r}: {path.name} cannot be opened ({problem}).") from None
    shapes = {Path(n).stem: n for n in names if n.lower().endswith(".shp") and ".." not in Path(n).parts}
    if not shapes:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} holds no shapefile. Unpack it and name the file inside."
        )
    member = shapes[_choose(list(shapes), path, layer)]
    return TableFile(path=path, kind="shapefile", member=member)


def _literal(name: str) -> str:
    return re.sub(r"([\[*?])", r"[\1]", name)
