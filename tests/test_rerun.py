"""A recipe of many tiles run again after one change and another: the bytes are those of a fresh run."""

import shutil

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.export import gpkg
from siteaxo.view import resolve as resolving
from siteaxo.view.shadow import KEPT_SHARE, cast_shadows

RECIPE = """
name = "Town"

[[step]]
id = "rows"
operation = "read"
inputs = { source = "blocks.gpkg" }

[[step]]
id = "blocks"
operation = "layer"
inputs = { features = { from = "rows" }, name = "blocks", role = "structure", base = "low", top = "high" }

[[step]]
id = "site"
operation = "site"
inputs = { layers = [{ from = "blocks" }], base_line = 90, plane = "EPSG:25832" }

[[step]]
id = "model"
operation = "stack"
inputs = { site = { from = "site" } }

[[step]]
id = "drawing"
operation = "draw"
inputs = { model = { from = "model" }, turn = 30, scale = 1000, style = "muted", shadows = "conventional" }

[[step]]
id = "diagram"
operation = "export"
inputs = { diagram = { from = "drawing" }, path = "diagram.gpkg" }
"""
COUNT = 14


@pytest.fixture(autouse=True)
def small_tiles(monkeypatch):
    """Tiles of 40 solids, so that a small district has many of them and is kept."""
    for function in (resolving.resolve, cast_shadows):
        usual = {**function.__kwdefaults__, "tile": 40 * KEPT_SHARE}
        monkeypatch.setattr(function, "__kwdefaults__", usual)
    monkeypatch.setattr(resolving, "LEAST", 50)


@pytest.fixture
def patched(monkeypatch):
    """Whether each file was written by changing rows of the one before, and how many rows came."""
    written, real = [], gpkg.patched

    def told(earlier, path, changes, **how):
        done = real(earlier, path, changes, **how)
        written.append((done, sum(len(one.come) for one in changes.values())))
        return done

    monkeypatch.setattr(gpkg, "patched", told)
    return written


def town():
    """A district of blocks of many heights."""
    rng = np.random.default_rng(1)
    x, y = (grid.ravel() * 14.0 for grid in np.meshgrid(np.arange(COUNT), np.arange(COUNT)))
    size = 4 + 5 * rng.random((2, COUNT * COUNT))
    return geopandas.GeoDataFrame(
        {"low": np.zeros(len(x)), "high": 3 + 25 * rng.random(len(x))},
        geometry=shapely.box(x, y, x + size[0], y + size[1]),
        crs="EPSG:25832",
    )


def moved(blocks):
    blocks.loc[[90], "geometry"] = blocks.loc[[90]].translate(1.5, -1.0)
    return blocks


def lifted(blocks):
    blocks.loc[25, ["low", "high"]] = 1.25, 31.5
    return blocks


def with_one_more(blocks):
    more = {"low": [0.0], "high": [9.0], "geometry": [shapely.box(75.5, 65.5, 77.0, 67.0)]}
    return geopandas.GeoDataFrame({key: [*blocks[key], *more[key]] for key in more}, crs=blocks.crs)


ROWS = {
    "a block is moved": moved,
    "a level": lifted,
    "one is taken out": lambda blocks: blocks.drop(index=40).reset_index(drop=True),
    "one is added": with_one_more,
    "two change places": lambda blocks: blocks.iloc[[1, 0, *range(2, len(blocks))]],
}
WORDS = {
    "the role": ('role = "structure"', 'role = "wall"'),
    "the style": ('style = "muted"', 'style = "line only"'),
    "the scale": ("scale = 1000", "scale = 500"),
    "the turn": ("turn = 30", "turn = 31"),
    "the light": (', shadows = "conventional"', ', shadows = "2026-03-20T10:00:00Z"'),
}


def fresh(folder, beside):
    """What the same recipe writes where nothing was before."""
    shutil.copytree(folder, beside, ignore=shutil.ignore_patterns(".*", "diagram.gpkg"))
    siteaxo.run_recipe(beside / "town.toml", reuse=False)
    return (beside / "diagram.gpkg").read_bytes()


def test_rows_changed_one_after_another(tmp_path, patched):
    folder, blocks = tmp_path / "a", town()
    folder.mkdir()
    (folder / "town.toml").write_text(RECIPE, encoding="utf-8")
    blocks.to_file(folder / "blocks.gpkg", engine="pyogrio")
    siteaxo.run_recipe(folder / "town.toml")
    written = [(folder / "diagram.gpkg").read_bytes()]
    assert not patched
    for number, change in enumerate(ROWS):
        blocks = ROWS[change](blocks)
        blocks.to_file(folder / "blocks.gpkg", engine="pyogrio")
        patched.clear()
        siteaxo.run_recipe(folder / "town.toml")
        written.append((folder / "diagram.gpkg").read_bytes())
        assert written[-1] != written[-2], change
        ((done, rows),) = patched
        assert done == (change != "one is taken out"), change  # all behind it have other numbers
        assert rows < 200 or not done, change
        assert written[-1] == fresh(folder, tmp_path / f"fresh{number}"), change


def test_inputs_changed_one_after_another(tmp_path):
    folder, recipe = tmp_path / "a", RECIPE
    folder.mkdir()
    town().iloc[:100].to_file(folder / "blocks.gpkg", engine="pyogrio")
    written = [b""]
    for number, change in enumerate(WORDS):
        recipe = recipe.replace(*WORDS[change])
        (folder / "town.toml").write_text(recipe, encoding="utf-8")
        siteaxo.run_recipe(folder / "town.toml")
        written.append((folder / "diagram.gpkg").read_bytes())
        assert written[-1] != written[-2], change
        assert written[-1] == fresh(folder, tmp_path / f"fresh{number}"), change
