"""The spatial index: cells of a grid, nodes, and what they hold."""

import contextlib
import sqlite3

import numpy as np
import pytest

from siteaxo.export.grid import Grid, grid_of
from siteaxo.export.index import Index
from siteaxo.export.nodes import ROOT, holds

MOST = holds(1228)


@contextlib.contextmanager
def tree():
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as file:
        file.execute("CREATE VIRTUAL TABLE rtree_t_geom USING rtree(id, minx, maxx, miny, maxy)")
        yield file, Index(file=file, table="t")


def content(file):
    names = ("node", "parent", "rowid")
    return [file.execute(f"SELECT * FROM rtree_t_geom_{name} ORDER BY 1").fetchall() for name in names]


def boxes(rng, count, *, spread=1000.0, at=0.0):
    low = at + rng.uniform(0, spread, (count, 2))
    return np.hstack([low, low + rng.uniform(0, 9, (count, 2))])


def extent_of(box):
    return np.concatenate([box[:, :2].min(axis=0), box[:, 2:].max(axis=0)])


def depth(file):
    (root,) = file.execute(f"SELECT data FROM rtree_t_geom_node WHERE nodeno = {ROOT}").fetchone()
    return int.from_bytes(root[:2], "big")


PLACES = {
    "even": {},
    "on a map": {"at": 5.8e6},
    "about the origin": {"at": -500.0},
    "one point": {"spread": 0.0},
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("count", [1, 51, 52, 1500, 12_000])
def test_it_is_sound_and_finds_what_looking_at_all_boxes_does(place, count):
    """``rtreecheck`` of SQLite, and its own queries; coordinates that single precision has are exact."""
    rng = np.random.default_rng(count)
    box = boxes(rng, count, **PLACES[place]).round(0 if place == "on a map" else 2).astype(np.float32)
    box, number = box.astype(float), 3 * np.arange(count) + 2
    with tree() as (file, index):
        index.fill(grid_of(extent_of(box), count, most=MOST), box, number)
        assert file.execute("SELECT rtreecheck('rtree_t_geom')").fetchall() == [("ok",)]
        for left, bottom in (extent_of(box)[:2] + rng.uniform(0, 900, (5, 2))).tolist():
            query = "SELECT id FROM rtree_t_geom WHERE maxx >= ? AND minx <= ? AND maxy >= ? AND miny <= ?"
            window = np.array([left, left + 50, bottom, bottom + 50]).astype(np.float32).tolist()
            found = {row[0] for row in file.execute(query, window)}
            meets = (box[:, 2] >= window[0]) & (box[:, 0] <= window[1])
            meets &= (box[:, 3] >= window[2]) & (box[:, 1] <= window[3])
            assert found == set(number[meets].tolist())


@pytest.mark.parametrize("seed", range(4))
def test_changed_again_and_again_it_is_the_one_made_at_once(seed):
    rng = np.random.default_rng(seed)
    box, number = boxes(rng, 4000, at=-300.0), np.arange(4000) * 5 + 1
    grid = grid_of(extent_of(box), 4000, most=MOST)
    with tree() as (file, index):
        index.fill(grid, box, number)
        for _ in range(6):
            stays = rng.random(len(box)) > 0.02
            come = boxes(rng, 70, at=-300.0)
            new = rng.choice(np.setdiff1d(np.arange(1, 20_000), number[stays]), 70, replace=False)
            assert index.change(grid, number[~stays], come, new)
            box, number = np.vstack([box[stays], come]), np.concatenate([number[stays], new])
            order = np.argsort(number)
            box, number = box[order], number[order]
            with tree() as (other, fresh):
                fresh.fill(grid, box, number)
                assert content(file) == content(other)


@pytest.mark.parametrize(("before", "after"), [(40, 60), (60, 40), (100, 9000), (9000, 100)])
def test_a_tree_that_would_be_deeper_or_less_deep_is_not_changed(before, after):
    rng = np.random.default_rng(before)
    box, number = boxes(rng, 9000), np.arange(9000) + 1
    grid = Grid(size=256.0, place=20, part=10)
    with tree() as (file, index):
        index.fill(grid, box[:before], number[:before])
        was = depth(file)
        low, high = sorted([before, after])
        none = np.zeros(0, dtype=np.int64)
        gone, some = (number[low:high], none) if before > after else (none, np.arange(low, high))
        assert not index.change(grid, gone, box[some], number[some])
    with tree() as (file, index):
        index.fill(grid, box[:after], number[:after])
        assert depth(file) != was


def test_the_grid_stays_when_little_changes():
    rng = np.random.default_rng(4)
    box = boxes(rng, 10_000)
    grids = {grid_of(extent_of(box) + rng.uniform(-3, 3, 4), 10_000 + k, most=MOST) for k in range(50)}
    assert len(grids) == 1


@pytest.mark.parametrize("count", [1000, 30_000, 10**6, 10**9])
@pytest.mark.parametrize("far", [1.0, 1e4, 6e6, 1e12])
def test_numbers_of_nodes_are_unique_and_tell_their_cell(count, far):
    """Corners of the page, the most nodes to a cell, and every level; none is the root."""
    grid = grid_of(np.array([-far, far - 2, far, far]), count, most=MOST)
    corners = np.array([[-far, -far, -far, -far], [far, far, far, far], [0, 0, 0, 0], [-far, far, -far, far]])
    cells = grid.cells(corners)
    first = [grid.first(level, cells) for level in range(15)]
    last = [one + count // MOST for one in first]
    every = np.concatenate(first + last)
    assert every.min() > ROOT
    assert len(np.unique(every)) == len(every)
    for level, (low, high) in enumerate(zip(first, last, strict=True)):
        begin, end = grid.level(level)
        assert (low >= begin).all()
        assert (high < end).all()
        np.testing.assert_array_equal(grid.of(low), cells)
        np.testing.assert_array_equal(grid.of(high), cells)


def test_nodes_are_well_filled_and_lie_together():
    rng = np.random.default_rng(5)
    box = boxes(rng, 30_000)
    with tree() as (file, index):
        index.fill(grid_of(extent_of(box), 30_000, most=MOST), box, np.arange(30_000) + 1)
        home = np.array(
            file.execute("SELECT nodeno FROM rtree_t_geom_rowid ORDER BY rowid").fetchall()
        ).ravel()
    count = np.unique(home, return_counts=True)[1]
    assert count.max() <= MOST
    assert count.mean() > MOST / 3
    wide = [np.ptp(box[home == node, :2], axis=0).max() for node in np.unique(home)]
    assert np.median(wide) < 2 * 1000 / np.sqrt(30_000 / MOST)  # twice the side of a square for each node
