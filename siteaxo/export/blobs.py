"""
Geometries as a GeoPackage holds them: a header with the bounding box, and WKB.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard, clause 2.1.3 (GeoPackageBinary); OGC 06-103r4,
clause 8 (WKB).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

_POINT, _LINE, _POLYGON = (shapely.GeometryType[kind] for kind in ("POINT", "LINESTRING", "POLYGON"))
_SINGLE: Final = (_POINT, _LINE, _POLYGON)
_WKB: Final = np.array([1, 2, 0, 3, 4, 5, 6, 7], dtype=np.uint32)
"""Number that WKB has for each type of shapely's."""
_TO_MULTI: Final = 3
_BOXED, _UNBOXED, _EMPTY = 0b00011, 0b00001, 0b10001
_HEAD: Final = [("magic", "S2"), ("version", "u1"), ("flags", "u1"), ("srs", "<i4")]
_BOX: Final = [("left", "<f8"), ("right", "<f8"), ("bottom", "<f8"), ("top", "<f8")]
_BEGIN: Final = [("order", "u1"), ("kind", "<u4"), ("count", "<u4")]
_STROKE: Final = np.dtype(
    [*_HEAD, *_BOX, *((f"multi_{name}", kind) for name, kind in _BEGIN), *_BEGIN, ("xy", "<f8", (2, 2))]
)


@dataclass(frozen=True, kw_only=True)
class Blobs:
    """
    Geometries of a table, one after another.

    Parameters
    ----------
    whole : bytes
        All of them; a missing one has none.
    ends : ndarray of int, shape (n,)
        Where each ends.
    box : ndarray, shape (n, 4)
        Left, bottom, right and top of each; not a number where it is empty or missing.
    """

    whole: bytes
    ends: np.ndarray
    box: np.ndarray

    def rows(self, begin: int, end: int) -> list[bytes | None]:
        """Some of them, one by one."""
        cuts = [self._begin(begin), *self.ends[begin:end].tolist()]
        return [self.whole[a:b] or None for a, b in pairwise(cuts)]

    def span(self, begin: int, end: int) -> memoryview:
        """Some of them as they follow on one another."""
        return memoryview(self.whole)[self._begin(begin) : self._begin(end)]

    def _begin(self, row: int) -> int:
        return int(self.ends[row - 1]) if row else 0


def blobs_of(shapes: np.ndarray, *, srs: int, multi: bool) -> Blobs:
    """
    Write geometries as a GeoPackage holds them.

    Parameters
    ----------
    shapes : ndarray of object, shape (n,)
        Geometries in the plane, or None.
    srs : int
        Number of their reference system in the file.
    multi : bool
        Write single ones as collections of one.

    Returns
    -------
    Blobs

    Examples
    --------
    >>> one = blobs_of(np.array([shapely.Point(1, 2)]), srs=4326, multi=False)
    >>> one.whole[:8].hex(), shapely.from_wkb(one.whole[8:])
    ('47500001e6100000', <POINT (1 2)>)
    """
    flat = shapely.force_2d(shapes) if shapely.has_z(shapes).any() else shapes
    kind, count = shapely.get_type_id(flat), shapely.get_num_coordinates(flat)
    if multi and len(flat) and (kind == _LINE).all() and (count == 2).all():
        return _strokes(shapely.get_coordinates(flat).reshape(-1, 2, 2), srs)
    return _any(flat, kind, srs, multi)


def _strokes(xy: np.ndarray, srs: int) -> Blobs:
    """Straight lines, all of one length."""
    table = np.zeros(len(xy), dtype=_STROKE)
    low, high = xy.min(axis=1), xy.max(axis=1)
    _put_head(table, _BOXED, srs)
    _put_box(table, np.column_stack([low, high]))
    table["multi_order"] = table["order"] = 1
    table["multi_kind"], table["kind"] = _WKB[_LINE] + _TO_MULTI, _WKB[_LINE]
    table["multi_count"], table["count"] = 1, 2
    table["xy"] = xy
    ends = _STROKE.itemsize * np.arange(1, len(xy) + 1)
    return Blobs(whole=table.tobytes(), ends=ends, box=np.column_stack([low, high]))


def _any(shapes: np.ndarray, kind: np.ndarray, srs: int, multi: bool) -> Blobs:
    """Geometries of any kind."""
    wkb = shapely.to_wkb(shapes, output_dimension=2, flavor="iso", byte_order=1)
    empty, box = shapely.is_empty(shapes), shapely.bounds(shapes).reshape(-1, 4)
    boxed = (kind != _POINT) & ~empty
    flags = np.where(empty, _EMPTY, np.where(boxed, _BOXED, _UNBOXED))
    plain = _heads(_HEAD, flags, box, srs)
    heads = np.where(boxed, _heads([*_HEAD, *_BOX], flags, box, srs), plain)
    grown = np.isin(kind, _SINGLE) & multi
    raised = np.zeros(len(shapes), dtype=_BEGIN)
    raised["order"], raised["count"] = 1, ~empty
    raised["kind"] = _WKB[np.maximum(kind, 0)] + _TO_MULTI
    more = np.where(grown, _as_bytes(raised), b"")
    bodies = [
        b"" if one is None else head + first + (b"" if first and void else one)
        for head, first, one, void in zip(heads, more, wkb, empty, strict=True)
    ]
    return Blobs(
        whole=b"".join(bodies), ends=np.cumsum([len(one) for one in bodies], dtype=np.int64), box=box
    )


def _heads(fields: list[tuple[str, str]], flags: np.ndarray, box: np.ndarray, srs: int) -> np.ndarray:
    table = np.zeros(len(flags), dtype=fields)
    _put_head(table, flags, srs)
    if "left" in dict(fields):
        _put_box(table, box)
    return _as_bytes(table)


def _put_head(table: np.ndarray, flags: np.ndarray | int, srs: int) -> None:
    table["magic"], table["flags"], table["srs"] = b"GP", flags, srs


def _put_box(table: np.ndarray, box: np.ndarray) -> None:
    for name, column in zip(("left", "bottom", "right", "top"), box.T, strict=True):
        table[name] = column


def _as_bytes(table: np.ndarray) -> np.ndarray:
    """Each row of a table as bytes."""
    result = np.empty(len(table), dtype=object)
    result[:] = table.view(f"V{table.dtype.itemsize}").tolist()
    return result
