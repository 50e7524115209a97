"""
One table in one file, and the parts of that file.
"""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass
from pathlib import Path


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
        Path of the .shp inside a zip archive, which has to be unpacked first.
    count : int or None
        How many records the file says it holds, where that is known beforehand.
    filled : tuple of bool
        Whether each record has a geometry, where that is known beforehand.
    notes : tuple of str
        What is odd about the file, though it can be read.
    shown : str
        Its name in messages, where that is not the path's.
    """

    path: Path
    kind: str
    table: str | None = None
    member: str | None = None
    count: int | None = None
    filled: tuple[bool, ...] = ()
    notes: tuple[str, ...] = ()
    shown: str = ""

    @property
    def address(self) -> str:
        """What the readers are given: an absolute path."""
        return str(self.path.resolve())

    @property
    def name(self) -> str:
        """Its name in messages."""
        return self.shown or self.path.name

    def part(self, suffix: str) -> bytes | None:
        """Bytes of one file of a shapefile, such as ".dbf"; None when there is none."""
        if self.member is None:
            beside = {p.name.lower(): p for p in self.path.parent.glob(f"{_literal(self.path.stem)}.*")}
            found = beside.get(f"{self.path.stem}{suffix}".lower())
            return None if found is None or not found.is_file() else found.read_bytes()
        wanted = str(Path(self.member).with_suffix(suffix)).lower()
        with zipfile.ZipFile(self.path) as packed:
            names = {str(Path(name)).lower(): name for name in packed.namelist()}
            return packed.read(names[wanted]) if wanted in names else None


def _literal(name: str) -> str:
    return re.sub(r"([\[*?])", r"[\1]", name)
