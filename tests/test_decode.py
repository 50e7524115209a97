"""Geometries from bytes."""

import struct

import numpy as np
import pytest
import shapely

from siteaxo.source.decode import NOT_FINITE, NOT_WHOLE, decode

NAN, INF = float("nan"), float("inf")


def polygon(*ring, kind=3):
    return struct.pack("<BIII", 1, kind, 1, len(ring)) + np.array(ring, dtype="<f8").tobytes()


def decoded(*wkb):
    array = np.empty(len(wkb), dtype=object)
    array[:] = wkb
    return decode(array)


def test_whole_geometries_come_through():
    shapes = [shapely.Point(1, 2), shapely.box(0, 0, 1, 1), shapely.MultiPoint([(0, 0), (1, 1)])]
    geometry, reasons = decoded(*(shape.wkb for shape in shapes))
    assert all(a.equals(b) for a, b in zip(geometry, shapes, strict=True))
    assert reasons == {}


def test_none_stays_none_without_a_reason():
    geometry, reasons = decoded(None, shapely.Point(1, 2).wkb)
    assert geometry[0] is None
    assert reasons == {}


def test_an_open_ring_is_closed():
    geometry, reasons = decoded(polygon((0, 0), (4, 0), (4, 3)))
    assert geometry[0].area == 6
    assert reasons == {}


@pytest.mark.parametrize(
    "wkb",
    [
        polygon((NAN, 0), (4, 0), (4, 3), (NAN, 0)),
        polygon((NAN, 0, 0), (4, 0, 0), (4, 3, 0), (NAN, 0, 0), kind=1003),
        struct.pack("<BII", 1, 6, 1) + polygon((NAN, 0), (4, 0), (4, 3), (NAN, 0)),
    ],
)
def test_a_ring_that_starts_at_no_number(wkb):
    geometry, reasons = decoded(shapely.Point(1, 2).wkb, wkb)
    assert geometry[1] is None
    assert reasons == {1: NOT_FINITE}


@pytest.mark.parametrize("wkb", [b"", b"\x01", b"\x01\x03\x00\x00\x00", polygon((0, 0), (1, 0), (1, 1))[:-9]])
def test_bytes_that_end_too_soon(wkb):
    geometry, reasons = decoded(wkb)
    assert geometry[0] is None
    assert reasons == {0: NOT_WHOLE}


def test_a_kind_nobody_knows():
    assert decoded(struct.pack("<BI", 1, 99) + bytes(32))[1] == {0: NOT_WHOLE}
