"""Parts kept for the next time: keys tell everything apart, and what is kept is what would be drawn."""

from dataclasses import replace

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from geopandas.testing import assert_geodataframe_equal

import siteaxo
from siteaxo import keeping
from siteaxo.keeping import Forgetful, digest, pack, unpack
from siteaxo.view import resolve as resolving
from siteaxo.view.blocks import blocks_of
from siteaxo.view.kept import named
from siteaxo.view.shadow import KEPT_SHARE, cast_shadows
from siteaxo.view.tiles import SIZE


class Memory:
    """A store in a dict that counts."""

    def __init__(self):
        self.kept, self.found, self.made = {}, 0, 0

    def get(self, key):
        self.found += key in self.kept
        return self.kept.get(key)

    def put(self, key, arrays):
        self.made += 1
        self.kept[key] = dict(arrays)


VALUES = [
    1, 1.0, True, "1", b"1", None, "", 0.0, -0.0, [1], [[1]], ["a", "b"], ["ab", ""], {"a": 1}, {"a": [1]},
    np.array([1]), np.array([1.0]), np.array([[1.0]]), np.array([1], dtype=np.int32), np.array([], float),
    np.array([shapely.Point(0, 1), None], dtype=object), np.array([None, shapely.Point(0, 1)], dtype=object),
    np.array([shapely.Point(0, 1.0000000000000002), None], dtype=object), np.array(["a", "b"]),
    siteaxo.Tolerance(), siteaxo.Tolerance(length=0.002),
]  # fmt: skip


def test_keys_tell_everything_apart():
    keys = [digest(value) for value in VALUES]
    assert len(set(keys)) == len(keys)
    assert keys == [digest(value) for value in VALUES]
    assert digest("a", "b") != digest("ab")


def test_what_cannot_be_told_apart_is_refused():
    with pytest.raises(TypeError, match="no content"):
        digest(object())


def test_geometries_come_back_to_the_bit():
    rng = np.random.default_rng(5)
    shapes = np.array(
        [shapely.Polygon(rng.random((5, 2)) * 1e6), None, shapely.Polygon(), shapely.Point(0.1, 1 / 3)],
        dtype=object,
    )
    back = unpack(pack(shapes, "a"), "a")
    assert back[1] is None
    assert all(shapely.equals_identical(a, b) for a, b in zip(shapes, back, strict=True) if a is not None)
    assert len(unpack(pack(shapes[:0], "a"), "a")) == 0


def test_blocks_are_all_and_stay_when_one_point_moves():
    rng = np.random.default_rng(3)
    points = rng.random((4000, 2)) * [900, 400] - 300
    blocks = blocks_of(points, 200)
    assert np.sort(np.concatenate(blocks)).tolist() == list(range(4000))
    assert max(map(len, blocks)) <= 200
    moved = points.copy()
    moved[7] += [40, 3]
    there = {digest(points[block]) for block in blocks}
    changed = [block for block in blocks_of(moved, 200) if digest(moved[block]) not in there]
    assert 1 <= len(changed) <= 5


def test_blocks_of_points_at_one_place():
    assert len(np.concatenate(blocks_of(np.zeros((50, 2)), 4))) == 50


def town(count=20, seed=1):
    """A district of blocks of many heights on a slab."""
    rng = np.random.default_rng(seed)
    x, y = (grid.ravel() * 14.0 for grid in np.meshgrid(np.arange(count), np.arange(count)))
    size = 4 + 5 * rng.random((2, count * count))
    return geopandas.GeoDataFrame(
        {"high": 3 + 25 * rng.random(count * count)},
        geometry=shapely.box(x, y, x + size[0], y + size[1]),
        crs="EPSG:25832",
    )


def draw(blocks, **options):
    layer = siteaxo.Layer(name="blocks", role="structure", source=blocks, base=0, height="high")
    site = siteaxo.Site(name="Town", layers=[layer], base_line=90)
    return site.stack().draw(siteaxo.planometric(turn=30), scale=1000, **options)


@pytest.fixture
def again(monkeypatch):
    """A small district is kept; how many of its solids are drawn again, each time that some are."""
    counts, tiled = [], resolving.tiled

    def counted(*what, only=None, **how):
        if only is not None:
            counts.append(np.count_nonzero(only))
        return tiled(*what, only=only, **how)

    monkeypatch.setattr(resolving, "LEAST", 50)
    monkeypatch.setattr(resolving, "tiled", counted)
    return counts


def same(one, other):
    for name in ("faces", "edges", "hidden_edges", "plan"):
        assert_geodataframe_equal(getattr(one, name), getattr(other, name))


CHANGES = {
    "higher": lambda town: town.assign(high=town.high.where(town.index != 300, 40.0)),
    "moved": lambda town: town.set_geometry(
        town.geometry.where(town.index != 300, town.geometry.translate(3.0, 2.0))
    ),
    "gone": lambda town: town.drop(index=300),
    "one more": lambda town: geopandas.GeoDataFrame(
        {"high": [*town.high, 9.0]},
        geometry=[*town.geometry, shapely.box(150.5, 163.5, 152.0, 165.0)],
        crs=town.crs,
    ),
}


@pytest.mark.parametrize("change", list(CHANGES))
def test_what_is_kept_is_what_would_be_drawn(again, change):
    store, before = Memory(), town()
    first = draw(before, store=store)
    assert not again
    same(first, draw(before))
    changed = CHANGES[change](before)
    second = draw(changed, store=store)
    assert len(again) == 1
    assert 1 <= again[0] <= 40  # of 400; the rest was taken from the store
    same(second, draw(changed))


@pytest.mark.parametrize("change", ["higher", "gone"])
def test_shadows_that_are_kept_are_those_that_would_be_cast(again, monkeypatch, change):
    monkeypatch.setattr(
        cast_shadows, "__kwdefaults__", {**cast_shadows.__kwdefaults__, "tile": 40 * KEPT_SHARE}
    )
    light = {"shadows": siteaxo.Sun(bearing=140, elevation=35)}
    store, before = Memory(), town(14)
    first = draw(before, store=store, **light)
    lines = Memory()
    draw(before, store=lines)
    made = store.made - lines.made  # all but the drawing itself
    assert made > 10
    store.found = store.made = 0
    same_shadows(first, draw(before, store=store, **light))
    assert store.made == 0
    changed = CHANGES[change](before.rename(index={100: 300, 300: 100}))
    again = draw(changed, store=store, **light)
    assert 2 <= store.made <= 0.5 * made
    same_shadows(again, draw(changed, store=Forgetful(), **light))
    assert not again.extra["shadows"].equals(first.extra["shadows"])
    plain = draw(changed, **light).extra["shadows"]
    assert again.extra["shadows"].area.sum() == pytest.approx(plain.area.sum(), rel=1e-9)


def same_shadows(one, other):
    assert_geodataframe_equal(one.extra["shadows"], other.extra["shadows"])


def scene_of(blocks):
    layer = siteaxo.Layer(name="blocks", role="structure", source=blocks, base=0, height="high")
    return siteaxo.Site(name="Town", layers=[layer], base_line=90).stack().stack.scene


def test_a_solid_has_its_name_wherever_it_stands_among_the_others():
    whole, rest = named(scene_of(town(6))).name, named(scene_of(town(6).drop(index=7))).name
    assert len(np.unique(whole, axis=0)) == 36
    assert (np.delete(whole, 7, axis=0) == rest).all()


@pytest.mark.parametrize("field", ["xyz", "part", "two_sided", "start", "end", "forward", "smooth"])
def test_all_that_is_said_of_a_solid_is_in_its_name(field):
    scene = scene_of(town(3))
    table = "faces" if hasattr(scene.faces, field) else "edges"
    values = getattr(getattr(scene, table), field).copy()
    row = len(values) // 2
    values[row] = ~values[row] if values.dtype == bool else values[row] + 1
    other = replace(scene, **{table: replace(getattr(scene, table), **{field: values})})
    differs = (named(scene).name != named(other).name).any(axis=1)
    assert differs.sum() == 1


def test_nothing_is_done_again_where_nothing_changed(again):
    store, blocks = Memory(), town(16)
    first = draw(blocks, store=store)
    made, store.found = store.made, 0
    same(first, draw(blocks, store=store))
    assert (store.made, store.found) == (made, made)
    assert not again


@pytest.mark.parametrize("seed", range(6))
def test_many_changes_one_after_another(again, seed):
    """Houses that come, go, move into others, stand twice and change their places in the list."""
    rng, store, blocks = np.random.default_rng(seed), Memory(), town(12, seed)
    for _ in range(5):
        row, how = rng.integers(len(blocks)), rng.integers(5)
        shape = shapely.affinity.translate(blocks.geometry[row], *rng.uniform(-6, 6, 2))
        if how == 0:
            blocks.loc[row, "high"] += rng.uniform(0.1, 9.0)
        elif how == 1:
            blocks.loc[row, "geometry"] = shape
        elif how == 2:
            blocks = blocks.drop(index=row).reset_index(drop=True)
        elif how == 3:
            double = blocks.iloc[[row, row]]  # twice at one place
            blocks = pd.concat([blocks.iloc[:row], double, blocks.iloc[row:]], ignore_index=True)
        else:
            blocks = blocks.iloc[rng.permutation(len(blocks))].reset_index(drop=True)
        same(draw(blocks, store=store), draw(blocks))
    assert again


@pytest.mark.parametrize("what", ["view", "tolerance", "scale"])
def test_another_way_of_drawing_is_another_key(again, what):
    store, blocks = Memory(), town(16)
    layer = siteaxo.Layer(name="blocks", role="structure", source=blocks, base=0, height="high")
    model = siteaxo.Site(name="Town", layers=[layer], base_line=90).stack()
    model.draw(siteaxo.planometric(turn=30), scale=1000, store=store)
    other = {
        "view": {"view": siteaxo.planometric(turn=31)},
        "tolerance": {"tolerance": siteaxo.Tolerance(length=0.002)},
        "scale": {"scale": 500},
    }[what]
    options = {"view": siteaxo.planometric(turn=30), "scale": 1000, **other}
    same(model.draw(**options, store=store), model.draw(**options))


def test_tiles_or_not_the_same_is_drawn(monkeypatch):
    blocks = town(16)
    plain = draw(blocks)
    usual = {**resolving.resolve.__kwdefaults__, "tile": 40}
    monkeypatch.setattr(resolving.resolve, "__kwdefaults__", usual)
    tiled = draw(blocks)
    assert (plain.report["tiles"], tiled.report["tiles"] > 5) == (1, True)
    same(plain, tiled)


def test_a_folder_keeps_it_from_one_run_to_the_next(tmp_path, again):
    blocks = town(16)
    first = draw(blocks, store=siteaxo.FolderStore(tmp_path))
    store = siteaxo.FolderStore(tmp_path)
    same(first, draw(blocks, store=store))
    assert (store.found, store.missed) == (1, 0)


def test_size_of_tiles_is_known():
    assert (
        400 <= SIZE // KEPT_SHARE <= 1000
    )  # few enough to be drawn again, many enough for all that goes with one


def test_a_file_is_told_by_all_its_bytes(tmp_path, monkeypatch):
    """Whether it is hashed in one piece or in several: where one byte differs, or pieces change places."""
    monkeypatch.setattr(keeping, "_PIECE", 8)
    contents = [
        b"",
        b"a" * 8,
        b"a" * 9,
        b"a" * 16 + b"b" * 8,
        b"b" * 8 + b"a" * 16,
        b"a" * 23 + b"b",
        b"a" * 24,
    ]
    told = []
    for number, content in enumerate(contents):
        (tmp_path / str(number)).write_bytes(content)
        told += [keeping.hashed(tmp_path / str(number)), keeping.hashed(tmp_path / str(number))]
    assert told[::2] == told[1::2]
    assert len(set(told)) == len(contents)
