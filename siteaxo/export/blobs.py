"""
Geometries as a GeoPackage holds them: a header with the bounding box, and WKB.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard, clause 2.1.3 (GeoPackageBinary); OGC 06-103r4,
clause 8 (WKB).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..mixing import folded, shapes_of, words_of

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
    Geometries of a table, which are written when they are asked for.

    Parameters
    ----------
    multi : bool
        Single ones are written as collections of one.
    box : ndarray, shape (n, 4)
        Left, bottom, right and top of each; not a number where it is empty or missing.
    strokes : ndarray, shape (n, 2, 2), optional
        Ends of straight lines, if that is what all of them are.
    shapes : ndarray of object, shape (n,), optional
        Others, in the plane.
    wkb : ndarray of object, shape (n,), optional
        And their WKB.
    """

    multi: bool
    box: np.ndarray
    strokes: np.ndarray | None = None
    shapes: np.ndarray | None = None
    wkb: np.ndarray | None = None

    def __len__(self) -> int:
        return len(self.box)

    def take(self, rows: np.ndarray) -> Blobs:
        """Some of them."""
        parts = {name: getattr(self, name) for name in ("box", "strokes", "shapes", "wkb")}
        return replace(self, **{name: part[rows] for name, part in parts.items() if part is not None})

    def rows(self, begin: int, end: int, *, srs: int) -> list[bytes | None]:
        """Some of them as a file holds them whose reference system has a number, one by one."""
        some, box = slice(begin, end), self.box[begin:end]
        if self.strokes is not None:
            return _strokes(self.strokes[some], box, srs)
        if self.shapes is None or self.wkb is None:
            return []
        return _any(self.shapes[some], self.wkb[some], box, srs, self.multi)

    def words(self) -> np.ndarray:
        """Hash what each of them is; shape (2, n)."""
        if self.strokes is not None:
            return folded([words_of(one) for one in self.strokes.reshape(-1, 4).T], len(self))
        return shapes_of(np.zeros(0, dtype=object) if self.shapes is None else self.shapes)


def wkb_of(blob: bytes) -> bytes:
    """
    The WKB in a geometry as a file holds it.

    Examples
    --------
    >>> line = blobs_of(np.array([shapely.LineString([(0, 0), (1, 2)])]), multi=False).rows(0, 1, srs=0)[0]
    >>> shapely.from_wkb(wkb_of(line))
    <LINESTRING (0 0, 1 2)>
    """
    return blob[8 + 32 * (blob[3] & _BOXED == _BOXED) :]


def blobs_of(shapes: np.ndarray, *, multi: bool) -> Blobs:
    """
    Take geometries that are to be written as a GeoPackage holds them.

    Parameters
    ----------
    shapes : ndarray of object, shape (n,)
        Geometries in the plane, or None.
    multi : bool
        Write single ones as collections of one.

    Returns
    -------
    Blobs

    Examples
    --------
    >>> (one,) = blobs_of(np.array([shapely.Point(1, 2)]), multi=False).rows(0, 1, srs=4326)
    >>> one[:8].hex(), shapely.from_wkb(one[8:])
    ('47500001e6100000', <POINT (1 2)>)
    """
    flat = shapely.force_2d(shapes) if shapely.has_z(shapes).any() else shapes
    kind, count = shapely.get_type_id(flat), shapely.get_num_coordinates(flat)
    if multi and len(flat) and (kind == _LINE).all() and (count == 2).all():
        xy = shapely.get_coordinates(flat).reshape(-1, 2, 2)
        box = np.hstack([np.minimum(xy[:, 0], xy[:, 1]), np.maximum(xy[:, 0], xy[:, 1])])
        return Blobs(multi=multi, box=box, strokes=xy)
    wkb = shapely.to_wkb(flat, output_dimension=2, flavor="iso", byte_order=1)
    return Blobs(multi=multi, box=shapely.bounds(flat).reshape(-1, 4), shapes=flat, wkb=wkb)


def _strokes(xy: np.ndarray, box: np.ndarray, srs: int) -> list[bytes | None]:
    """Straight lines."""
    table = np.zeros(len(xy), dtype=_STROKE)
    _put_head(table, _BOXED, srs)
    _put_box(table, box)
    table["multi_order"] = table["order"] = 1
    table["multi_kind"], table["kind"] = _WKB[_LINE] + _TO_MULTI, _WKB[_LINE]
    table["multi_count"], table["count"] = 1, 2
    table["xy"] = xy
    return list(_as_bytes(table))


def _any(shapes: np.ndarray, wkb: np.ndarray, box: np.ndarray, srs: int, multi: bool) -> list[bytes | None]:
    """Geometries of any kind."""
    kind, empty = shapely.get_type_id(shapes), shapely.is_empty(shapes)
    boxed = (kind != _POINT) & ~empty
    flags = np.where(empty, _EMPTY, np.where(boxed, _BOXED, _UNBOXED))
    plain = _heads(_HEAD, flags, box, srs)
    heads = np.where(boxed, _heads([*_HEAD, *_BOX], flags, box, srs), plain)
    grown = np.isin(kind, _SINGLE) & multi
    raised = np.zeros(len(shapes), dtype=_BEGIN)
    raised["order"], raised["count"] = 1, ~empty
    raised["kind"] = _WKB[np.maximum(kind, 0)] + _TO_MULTI
    more = np.where(grown, _as_bytes(raised), b"")
    return [
        None if one is None else head + first + (b"" if first and void else one)
        for head, first, one, void in zip(heads, more, wkb, empty, strict=True)
    ]


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
