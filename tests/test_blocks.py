"""What is found block by block of the page is what is found at once, and never that of last time."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.specks import SPECK_MM, TOUCH_MM, no_specks
from siteaxo.diagram import outline
from siteaxo.diagram.outline import bare_stretches
from siteaxo.keeping import Forgetful
from siteaxo.view.blocks import blocks_of, boxes_of, near_blocks


class Memory(Forgetful):
    """A store in a dict that counts."""

    def __init__(self):
        self.kept, self.made = {}, 0

    def get(self, key):
        return self.kept.get(key)

    def put(self, key, arrays):
        self.made += 1
        self.kept[key] = dict(arrays)


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch):
    monkeypatch.setattr(outline, "BLOCK", 40)


def some_lines(count=1500, seed=2):
    """Lines of many lengths, many of them nearly level or upright, so that they run beside one another."""
    rng = np.random.default_rng(seed)
    middle, length = rng.uniform(0, 90, (count, 2)), rng.exponential(3.0, count)
    bearing = np.radians(rng.choice([0.0, 90.0], count) + rng.normal(0, 3, count))
    half = length[:, None] / 2 * np.column_stack([np.cos(bearing), np.sin(bearing)])
    return np.stack([middle - half, middle + half], axis=1)


def some_boxes(count=400, seed=4):
    rng = np.random.default_rng(seed)
    left, bottom = rng.uniform(0, 90, (2, count))
    wide, high = rng.uniform(0.5, 6, (2, count))
    boxes = shapely.box(left, bottom, left + wide, bottom + high)
    boxes[7] = shapely.Polygon()
    return boxes


def test_what_lies_near_a_block_is_what_a_tree_finds():
    lines, areas = some_lines(), some_boxes()
    blocks, box = blocks_of(lines.mean(axis=1), 40), boxes_of(lines, 1.5)
    assert len(blocks) > 30
    found = near_blocks(blocks, box, shapely.bounds(areas).reshape(-1, 4))
    for rows, near in zip(blocks, found, strict=True):
        left, bottom, right, top = shapely.total_bounds(shapely.linestrings(lines[rows]))
        frame = shapely.box(left - 1.5, bottom - 1.5, right + 1.5, top + 1.5)
        assert near.tolist() == np.flatnonzero(shapely.intersects(areas, frame)).tolist()


def same_stretches(one, other):
    for name in ("edge", "begin", "end"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def moved(shapes, row=100):
    shapes = shapes.copy()
    shapes[row] = shapely.transform(shapes[row], lambda xy: xy + 0.4)
    return shapes


BARE = {
    "a line elsewhere": lambda lines, areas: (
        np.where(np.arange(len(lines))[:, None, None] == 700, lines + 0.25, lines),
        areas,
    ),
    "a line less": lambda lines, areas: (np.delete(lines, 700, axis=0), areas),
    "an area elsewhere": lambda lines, areas: (lines, moved(areas)),
    "an area less": lambda lines, areas: (lines, np.delete(areas, 100)),
    "a hole in an area": lambda lines, areas: (
        lines,
        np.where(
            np.arange(len(areas)) == 100,
            shapely.difference(areas, shapely.buffer(shapely.centroid(areas), 0.2)),
            areas,
        ),
    ),
}


@pytest.mark.parametrize("change", list(BARE))
def test_bare_stretches(change):
    lines, areas, store = some_lines(), some_boxes(), Memory()
    found = bare_stretches(lines, areas, store=store)
    same_stretches(found, bare_stretches(lines, areas))
    made = store.made
    same_stretches(bare_stretches(lines, areas, store=store), found)
    assert store.made == made > 30
    lines, areas = BARE[change](lines, areas)
    again = bare_stretches(lines, areas, store=store)
    same_stretches(again, bare_stretches(lines, areas))
    assert 1 <= store.made - made < made / 3


def test_specks_are_looked_for_wherever_they_may_be():
    """By hand: the distance of every end of a short line to every line."""
    lines, scale = 0.3 * some_lines(600, seed=9), 500.0
    length = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    short = np.flatnonzero(length < SPECK_MM * scale / 1000)
    long = np.flatnonzero(length >= SPECK_MM * scale / 1000)
    ends = shapely.points(lines[short])
    apart = shapely.distance(ends[:, :, None], shapely.linestrings(lines[long]))
    kept = np.ones(600, dtype=bool)
    kept[short] = (apart <= TOUCH_MM * scale / 1000).any(axis=(1, 2))
    assert 10 < kept[short].sum() < len(short) - 10
    np.testing.assert_array_equal(no_specks(lines, scale=scale), kept)


def test_a_point_of_no_extent_is_found_too():
    lines = np.array([[[5.0, 5.0], [9.0, 5.0]], [[5.0, 5.0], [5.0, 5.0]], [[1.0, 1.0], [1.0, 1.0]]])
    assert no_specks(lines, scale=200).tolist() == [True, True, False]
    assert no_specks(lines[:2], scale=200).tolist() == [True, True]
