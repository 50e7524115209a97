"""Numbers of rows: unique, ascending, and those of before where other solids change."""

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.diagram.layers import NUMBER
from siteaxo.diagram.numbers import ROOM, row_numbers

TABLES = ("faces", "edges", "hidden_edges")


def drawn(tops, *, crossing=False):
    """A row of blocks, behind one another; where they cross one another, lines stand behind all others."""
    low = np.column_stack([5.0 * np.arange(len(tops)), 6.0 * (np.arange(len(tops)) % 5)])
    size = np.array([4 + 2 * crossing, 5])
    rows = geopandas.GeoDataFrame(
        {"block": np.arange(len(tops)), "top": tops},
        geometry=shapely.box(*low.T, *(low + size).T),
        crs="EPSG:25832",
    )
    layer = siteaxo.Layer(name="blocks", role="structure", source=rows, id="block", base=0.0, top="top")
    layers = [layer]
    if crossing:
        ridge = geopandas.GeoDataFrame(geometry=[shapely.box(-3, 2, 5.0 * len(tops), 3)], crs="EPSG:25832")
        layers.append(siteaxo.Layer(name="ridge", role="structure", source=ridge, base=0.0, top=6.0))
    return siteaxo.Site(name="Yard", layers=layers, base_line=90).stack().draw(siteaxo.planometric(turn=30))


def names(table):
    """What each number stands for."""
    told = zip(table["layer"], table["source_id"], table.geometry.to_wkb(), strict=True)
    return dict(zip(table[NUMBER].tolist(), told, strict=True))


@pytest.mark.parametrize("crossing", [False, True])
def test_numbers_are_unique_and_ascending_and_stay_when_one_block_is_raised(crossing):
    tops = np.random.default_rng(2).uniform(3, 9, 40)
    before, after = drawn(tops, crossing=crossing), drawn(tops + 5 * (np.arange(40) == 17), crossing=crossing)
    for name in TABLES:
        first, second = getattr(before, name), getattr(after, name)
        for table in (first, second):
            assert table[NUMBER].dtype == np.int64
            assert table[NUMBER].min() > 0
            assert (np.diff(table[NUMBER]) > 0).all()
        was, now = names(first), names(second)
        differ = [number for number in was.keys() | now.keys() if was.get(number) != now.get(number)]
        assert len(differ) < 0.2 * len(was), name
    lines = before.edges
    if not crossing:
        solids = lines.groupby("source_id", sort=False)[NUMBER].agg(["min", "max"]).to_numpy()
        assert (solids[1:, 0] > solids[:-1, 1]).all()
    assert len(before.edges) != len(after.edges)  # others would have other numbers if they were counted


def test_a_solid_with_more_rows_than_room_has_as_much_as_it_takes():
    own = np.array([6, 1, 2])
    few, many = np.repeat([0, 1, 2], [1, 1, 3]), np.repeat([0, 1, 2], [1, 5, 3])
    assert row_numbers(few, own).tolist() == [1, 1 + 32, *(1 + 32 + ROOM + np.arange(3))]
    assert row_numbers(many, own).tolist() == [1, *(1 + 32 + np.arange(5)), *(1 + 32 + 8 + np.arange(3))]


def test_rows_that_do_not_stand_by_solid_are_counted():
    assert row_numbers(np.array([2, 0, 1]), np.array([6, 6, 6])).tolist() == [1, 2, 3]
    assert row_numbers(np.zeros(0, dtype=int), np.array([6])).tolist() == []
