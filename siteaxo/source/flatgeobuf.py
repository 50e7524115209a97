"""
How many features a FlatGeobuf file holds, by its header and by the features themselves.

The reader stops after as many features as the header announces, without a word of others.

References
----------
FlatGeobuf specification 3.0 (magic bytes, header, packed R-tree, features that each begin with their size);
FlatBuffers internals (tables and their vtables).
"""

from __future__ import annotations

import mmap
import struct
from pathlib import Path
from typing import Final

_START: Final = 8  # after the magic bytes
_COUNT, _NODE_SIZE = 8, 9  # fields of the header
_USUAL_NODE: Final = 16
_NODE_BYTES: Final = 40
_MOST: Final = 1 << 40


def features_in(path: Path) -> int | None:
    """
    Count the features of a file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    int or None
        The greater of what the header announces and what follows it; None where the header
        cannot be read.

    Examples
    --------
    >>> import tempfile, geopandas, shapely
    >>> path = Path(tempfile.mkdtemp(), "sheds.fgb")
    >>> sheds = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 4, 3)] * 3, crs="EPSG:25832")
    >>> sheds.to_file(path, driver="FlatGeobuf")
    >>> features_in(path)
    3
    """
    try:
        with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as content:
            (size,) = struct.unpack_from("<I", content, _START)
            table = _START + 4 + _number(content, "<I", _START + 4)
            announced = _field(content, table, _COUNT, "<Q", 0)
            node = _field(content, table, _NODE_SIZE, "<H", _USUAL_NODE)
            found = _following(content, _START + 4 + size + _index_bytes(announced, node))
    except (OSError, ValueError, struct.error):
        return None
    return max(announced, found) if announced < _MOST else None


def _number(content: mmap.mmap, layout: str, at: int) -> int:
    number: int = struct.unpack_from(layout, content, at)[0]
    return number


def _field(content: mmap.mmap, table: int, field: int, layout: str, usual: int) -> int:
    """A number in a table of the header, or what holds where it is left out."""
    fields = table - _number(content, "<i", table)
    if 4 + 2 * field >= _number(content, "<H", fields):
        return usual
    offset = _number(content, "<H", fields + 4 + 2 * field)
    return _number(content, layout, table + offset) if offset else usual


def _index_bytes(count: int, node: int) -> int:
    """Size of the spatial index of as many features; there is none without a node size."""
    if not count or not node or count >= _MOST:
        return 0
    level, nodes = count, count
    while level > 1:
        level = -(-level // max(node, 2))
        nodes += level
    return nodes * _NODE_BYTES


def _following(content: mmap.mmap, at: int) -> int:
    """How many features follow one another from a place on, as far as their sizes tell."""
    count, end = 0, len(content)
    while at + 4 < end:
        at += 4 + _number(content, "<I", at)
        if at > end:
            break
        count += 1
    return count
