"""Hashes of rows: what they hold, and nothing else, tells them apart."""

import numpy as np
import pandas as pd
import shapely

from siteaxo.export.blobs import blobs_of
from siteaxo.export.columns import column_of
from siteaxo.export.rows import Rows
from siteaxo.mixing import folded, words_of


def table(shapes, **columns):
    told = {name: column_of(pd.Series(values), name) for name, values in columns.items()}
    blobs = blobs_of(np.array(shapes, dtype=object), multi=True)
    return Rows(name="t", number=np.arange(len(shapes)) + 1, columns=told, shapes=blobs)


LINE = shapely.LineString([(0, 0), (3, 1)])
USUAL = {"role": "wall", "kind": "edge", "line_mm": 0.5, "draw_order": 3}
OTHERS = [
    {"role": "edge", "kind": "wall"}, {"role": ""}, {"role": None}, {"kind": None}, {"line_mm": None},
    {"line_mm": np.nextafter(0.5, 1)}, {"draw_order": 4}, {"draw_order": None}, {"line_mm": 0.0}, {},
]  # fmt: skip


def test_rows_that_differ_in_anything_have_other_hashes_and_those_alike_the_same():
    rows = [USUAL | other for other in OTHERS] * 2
    columns = {name: [row[name] for row in rows] for name in USUAL}
    for shape in (LINE, shapely.box(0, 0, 1, 1)):
        whole = table([shape] * len(rows), **columns).hashes()
        assert len(np.unique(whole, axis=0)) == len(OTHERS)
        np.testing.assert_array_equal(whole[: len(OTHERS)], whole[len(OTHERS) :])
        some = table([shape] * len(rows), **columns).take(np.array([7, 2])).hashes()
        np.testing.assert_array_equal(some, whole[[7, 2]])


def test_geometries_that_differ_in_one_bit_have_other_hashes():
    nearly = shapely.LineString([(0, 0), (3, np.nextafter(1, 2))])
    shapes = [LINE, nearly, LINE.reverse(), shapely.transform(LINE, lambda xy: -xy)]
    for more in ([], [shapely.LineString([(0, 0), (1, 1), (3, 1)]), None]):
        hashes = table([*shapes, *more], role=["a"] * (len(shapes) + len(more))).hashes()
        assert len(np.unique(hashes, axis=0)) == len(hashes)


def test_round_numbers_are_well_mixed():
    """Both lanes of a million rows that differ in few bits; by chance two in 10¹³ would be alike."""
    grid = np.meshgrid(np.arange(1000.0), np.arange(1000.0))
    words = [words_of(one.ravel()) for one in grid]
    for lane in folded([*words, words[0]], 1_000_000):
        assert len(np.unique(lane)) == len(lane)
        bits = np.unpackbits(lane.view(np.uint8)).reshape(len(lane), 64)
        np.testing.assert_allclose(bits.mean(axis=0), 0.5, atol=0.003)
