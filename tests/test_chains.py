"""Recipes: checked before they run, never stale, the same bytes as a fresh run."""

import contextlib
import json
import os
import shutil
import sqlite3
import time
import tomllib
import zlib
from pathlib import Path

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely

import siteaxo
from siteaxo.errors import OutputError
from siteaxo.process.chain import folder_of
from siteaxo.process.store import FolderStore
from siteaxo.registry import operation_named

RECIPE = """
name = "Quay"

[inputs]
turn = 30
frame = "sheet"
blocks = "blocks.gpkg"

[[step]]
id = "drawing"
operation = "draw"
[step.inputs]
model = { from = "model" }
turn = { from = "turn" }
style = "look.toml"

[[step]]
id = "blocks"                  # steps may stand in any order
operation = "levels"
[step.inputs]
features = { from = "blocks_file" }
role = "structure"
base = 0
height = "high"

[[step]]
id = "blocks_file"
operation = "read"
inputs = { source = { from = "blocks" } }

[[step]]
id = "layer"
operation = "layer"
inputs = { features = { from = "blocks" }, name = "blocks", role = "structure" }

[[step]]
id = "site"
operation = "site"
inputs = { layers = [{ from = "layer" }], name = "Quay" }

[[step]]
id = "model"
operation = "stack"
inputs = { site = { from = "site" } }

[[step]]
id = "diagram"
operation = "export"
inputs = { diagram = { from = "drawing" }, path = "out/diagram.gpkg", frame = { from = "frame" } }

[[step]]
id = "table"
operation = "export_rows"
inputs = { rows = { from = "blocks" }, path = "out/blocks.csv" }
""".replace('blocks = "blocks.gpkg"', 'file = "blocks.gpkg"').replace(
    '{ from = "blocks" } }', '{ from = "file" } }'
)


def write(folder, *, heights=(6.0, 9.0), recipe=RECIPE, ink="#203040"):
    """Lay out a recipe with what it reads."""
    folder.mkdir(exist_ok=True)
    blocks = geopandas.GeoDataFrame(
        {"high": heights},
        geometry=[shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)],
        crs="EPSG:25832",
    )
    blocks.to_file(folder / "blocks.gpkg", engine="pyogrio")
    (folder / "look.toml").write_text(f'base = "muted"\nink = "{ink}"\n', encoding="utf-8")
    (folder / "quay.toml").write_text(recipe, encoding="utf-8")
    return folder / "quay.toml"


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """A recipe that has run once; nobody changes it."""
    folder = tmp_path_factory.mktemp("first") / "a"
    assert set(states(siteaxo.run_recipe(write(folder))).values()) == {"ran"}
    return folder


@pytest.fixture
def folder(ran, tmp_path):
    """The same, moved to a folder of the test's own."""
    return Path(shutil.copytree(ran, tmp_path / "a"))


def states(run):
    return {step.id: step.state for step in run.steps}


def output(folder):
    return {file.name: file.read_bytes() for file in sorted((folder / "out").iterdir())}


def test_what_has_not_changed_is_left_as_it_is(folder):
    before = output(folder)
    second = siteaxo.run_recipe(folder / "quay.toml")
    assert set(states(second).values()) == {"unchanged", "not needed"}
    assert output(folder) == before
    assert "unchanged" in repr(second)


CHANGES = {
    "a height": {"heights": (6.0, 9.5)},
    "the style file": {"ink": "#302040"},
    "the turn": {"recipe": RECIPE.replace("turn = 30", "turn = 31")},
    "the frame": {"recipe": RECIPE.replace('frame = "sheet"', 'frame = "map"')},
    "the base": {"recipe": RECIPE.replace("base = 0", "base = 1")},
    "the role": {"recipe": RECIPE.replace('role = "structure"', 'role = "wall"')},
    "the name of a layer": {"recipe": RECIPE.replace('name = "blocks"', 'name = "sheds"')},
    "the name of the site": {"recipe": RECIPE.replace('name = "Quay" }', 'name = "Quays" }')},
    "the name of the recipe": {"recipe": RECIPE.replace('name = "Quay"\n', 'name = "Quay2"\n', 1)},
    "the id of a step": {"recipe": RECIPE.replace('"model"', '"solids"')},
    "a further input": {"recipe": RECIPE.replace('style = "look.toml"', 'planting = "texture"')},
}


@pytest.mark.parametrize("change", list(CHANGES))
def test_never_stale(tmp_path, folder, change):
    before = output(folder)
    siteaxo.run_recipe(write(folder, **CHANGES[change]))
    siteaxo.run_recipe(write(tmp_path / "b", **CHANGES[change]), reuse=False)
    after = output(folder)
    assert after == output(tmp_path / "b")  # the bytes of a run from nothing
    assert after != before


STEPS = {step["id"]: step for step in tomllib.loads(RECIPE)["step"]}
STEPS["blocks_file"]["inputs"]["table"] = "blocks"  # the file beside has two
STEPS["layer"]["inputs"] |= {"base": "base", "top": "top"}
STEPS["site"]["inputs"]["plane"] = "EPSG:25832"  # a third of the time of a run would go into choosing one
INPUTS = [(step, name) for step in STEPS for name in operation_named(STEPS[step]["operation"]).parameters]
OTHER = {
    ("blocks_file", "source"): "other.gpkg",
    ("blocks_file", "table"): "taller",
    ("blocks_file", "crs"): "EPSG:25832",  # that of the file; another is refused
    ("blocks", "features"): "taller.gpkg",
    ("blocks", "role"): "wall",
    ("blocks", "base"): 1,
    ("blocks", "top"): 12,
    ("blocks", "height"): 4,
    ("layer", "features"): "other.gpkg",
    ("layer", "name"): "sheds",
    ("layer", "role"): "wall",
    ("layer", "base"): 1,
    ("layer", "top"): 12,
    ("layer", "height"): 4,
    ("layer", "id"): "high",
    ("layer", "material"): "high",
    ("layer", "more"): {"crs": "EPSG:25833"},
    ("site", "layers"): [{"from": "layer"}, {"from": "layer"}],
    ("site", "name"): "Wharf",
    ("site", "plane"): "EPSG:32632",
    ("site", "base_line"): 30,
    ("site", "drawn_in_place"): 2,
    ("model", "site"): "site.toml",
    ("drawing", "model"): "site.toml",
    ("drawing", "style"): "other.toml",
    ("drawing", "scale"): 500,
    ("drawing", "shadows"): "conventional",
    ("diagram", "diagram"): "site.toml",
    ("diagram", "path"): "out/other.gpkg",
    ("table", "rows"): "taller.gpkg",
    ("table", "path"): "out/other.csv",
}
"""Other values of inputs whose description does not list any, by step and input."""
REFUSED = {("site", "layers"): "Two layers are called 'blocks'"}
"""The only case without a result: all that one layer can give is the same layer twice."""


def another(step, name):
    """Return a value that an input does not have yet: from its description, or from the list above."""
    parameter = operation_named(STEPS[step]["operation"]).parameters[name]
    if (step, name) in OTHER:
        return OTHER[step, name]
    now = STEPS[step]["inputs"].get(name, parameter.default)
    now = 30 if now == {"from": "turn"} else now
    schema = parameter.kind.schema
    if "enum" in schema:
        return next(one for one in reversed(schema["enum"]) if one not in (now, {"from": "frame"}))
    return not now if schema["type"] == "boolean" else (now or 1) + 1  # a text fails here: list it


def in_toml(value):
    """Write a value as TOML, all on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {in_toml(one)}" for name, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(in_toml(one) for one in value) + "]"
    return json.dumps(value)


def with_input(step, name, value):
    """Return the recipe with another value of one input."""
    steps = "".join(
        f"\n[[step]]\nid = {in_toml(id)}\noperation = {in_toml(one['operation'])}\n"
        f"inputs = {in_toml(one['inputs'] | ({name: value} if id == step else {}))}\n"
        for id, one in STEPS.items()
    )
    return RECIPE.split("[[step]]")[0] + steps


def lay_out(folder, recipe):
    """Lay out a recipe beside other files that its inputs may name."""
    file = write(folder, recipe=recipe)
    taller = geopandas.GeoDataFrame(
        {"high": [7.0, 8.0]},
        geometry=[shapely.box(0, 0, 10, 12), shapely.box(20, 0, 30, 10)],
        crs="EPSG:25832",
    )
    for path, table in (("taller.gpkg", "taller"), ("blocks.gpkg", "taller")):
        taller.to_file(folder / path, layer=table, engine="pyogrio")
    levelled = taller.assign(base=0.0, top=taller.high)
    levelled.to_file(folder / "other.gpkg", layer="blocks", engine="pyogrio")
    (folder / "other.toml").write_text('base = "muted"\nink = "#503020"\n', encoding="utf-8")
    (folder / "site.toml").write_text(
        '[[layer]]\nname = "t"\nrole = "structure"\nsource = "taller.gpkg"\nbase = 0\ntop = "high"\n',
        encoding="utf-8",
    )
    return file


def outcome(file, **options):
    """Run a recipe: the bytes of what it writes, or why it does not run."""
    try:
        run = siteaxo.run_recipe(file, **options)
    except siteaxo.SiteaxoError as problem:
        return str(problem).replace(str(file.parent), "")
    assert "ran" in states(run).values()
    return {path: (file.parent / path).read_bytes() for path in run_outputs(file)}


def run_outputs(file):
    """Return the paths that a recipe writes to."""
    steps = tomllib.loads(file.read_text(encoding="utf-8"))["step"]
    return [step["inputs"]["path"] for step in steps if "path" in step["inputs"]]


@pytest.fixture(scope="module")
def ran_beside(tmp_path_factory):
    """A recipe with other files beside it, run once; what it wrote."""
    folder = tmp_path_factory.mktemp("beside") / "a"
    return folder, outcome(lay_out(folder, with_input("blocks_file", "table", "blocks")))


@pytest.mark.parametrize(("step", "name"), INPUTS)
def test_never_stale_whichever_input_of_whichever_step_changes(ran_beside, tmp_path, step, name):
    first, before = ran_beside
    folder = Path(shutil.copytree(first, tmp_path / "a"))
    text = with_input(step, name, another(step, name))
    (folder / "quay.toml").write_text(text, encoding="utf-8")
    fresh = Path(shutil.copytree(folder, tmp_path / "b", ignore=shutil.ignore_patterns(".*", "out")))
    after = outcome(folder / "quay.toml")
    assert after == outcome(fresh / "quay.toml", reuse=False)
    if (step, name) in REFUSED:
        assert REFUSED[step, name] in after
    else:
        assert isinstance(after, dict), after
    assert after != before  # the log in the GeoPackage tells every input, even those that draw the same


@pytest.mark.parametrize("name", ["diagram.gpkg", "blocks.csv"])
@pytest.mark.parametrize("harm", ["gone", "changed"])
def test_a_file_that_is_no_longer_what_was_written_is_written_again(folder, name, harm):
    file = folder / "quay.toml"
    before = output(folder)
    target = folder / "out" / name
    if harm == "gone":
        target.unlink()
    else:
        target.write_bytes(target.read_bytes()[:-1] + b"?")
    run = siteaxo.run_recipe(file)
    assert output(folder) == before
    assert sorted(states(run).values()).count("unchanged") == 1


def test_only_what_is_needed_runs(folder):
    file = folder / "quay.toml"
    (folder / "out/blocks.csv").unlink()
    assert states(siteaxo.run_recipe(file)) == {
        "blocks_file": "ran",
        "blocks": "ran",
        "table": "ran",
        "layer": "not needed",
        "site": "not needed",
        "model": "not needed",
        "drawing": "not needed",
        "diagram": "unchanged",
    }


def test_a_touched_file_with_the_same_content_changes_nothing(folder):
    file = folder / "quay.toml"
    os.utime(folder / "blocks.gpkg", (time.time() + 99,) * 2)
    assert "ran" not in states(siteaxo.run_recipe(file)).values()


def test_a_damaged_record_is_no_record(folder):
    file = folder / "quay.toml"
    before = output(folder)
    (folder_of(siteaxo.read_recipe(file)) / "steps.json").write_text("[[[", encoding="utf-8")
    assert set(states(siteaxo.run_recipe(file)).values()) == {"ran"}
    assert output(folder) == before


def test_a_step_that_fails_is_named_and_those_before_it_stay_done(folder):
    text = (folder / "quay.toml").read_text(encoding="utf-8")
    (folder / "quay.toml").write_text(text.replace("out/blocks.csv", "out/blocks.txt"), encoding="utf-8")
    (folder / "out/diagram.gpkg").unlink()
    with pytest.raises(OutputError, match=r"^step 'table': Cannot write '.*blocks.txt'"):
        siteaxo.run_recipe(folder / "quay.toml")
    (folder / "quay.toml").write_text(text, encoding="utf-8")
    assert states(siteaxo.run_recipe(folder / "quay.toml"))["diagram"] == "unchanged"


def test_rows_in_a_geopackage_are_the_same_bytes_and_tell_their_steps(tmp_path):
    """No clock (the last change is told as the beginning of 1970), no warning, and who made them."""
    recipe = (
        RECIPE.replace("out/blocks.csv", "out/blocks.gpkg")
        + """
[[step]]
id = "lines"
operation = "drawn_layer"
inputs = { diagram = { from = "drawing" }, name = "edges" }

[[step]]
id = "lines_file"
operation = "export_rows"
inputs = { rows = { from = "lines" }, path = "out/lines.gpkg" }
"""
    )
    written = []
    for name in "ab":
        siteaxo.run_recipe(write(tmp_path / name, recipe=recipe), reuse=False)
        written.append(output(tmp_path / name))
        time.sleep(0.01)
    assert written[0] == written[1]
    info = pyogrio.read_info(tmp_path / "a/out/blocks.gpkg")
    kept = info["dataset_metadata"]
    assert [step["id"] for step in json.loads(kept["siteaxo_steps"])] == ["blocks_file", "blocks", "table"]
    assert json.loads(kept["siteaxo_versions"])["siteaxo"] == siteaxo.__version__
    with contextlib.closing(sqlite3.connect(tmp_path / "a/out/lines.gpkg")) as file:
        assert file.execute("SELECT DISTINCT last_change FROM gpkg_contents").fetchall() == [
            ("1970-01-01T00:00:00.000Z",)
        ]


def test_files_that_a_site_file_names_count(tmp_path):
    write(tmp_path)
    (tmp_path / "site.toml").write_text(
        '[[layer]]\nname = "blocks"\nrole = "structure"\nsource = "blocks.gpkg"\nbase = 0\ntop = "high"\n',
        encoding="utf-8",
    )
    recipe = tmp_path / "short.toml"
    recipe.write_text(
        '[[step]]\noperation = "export"\ninputs = { diagram = "site.toml", path = "d.gpkg" }\n',
        encoding="utf-8",
    )
    assert states(siteaxo.run_recipe(recipe)) == {"export": "ran"}
    assert states(siteaxo.run_recipe(recipe)) == {"export": "unchanged"}
    before = (tmp_path / "d.gpkg").read_bytes()
    write(tmp_path, heights=(6.0, 12.0))
    assert states(siteaxo.run_recipe(recipe)) == {"export": "ran"}
    assert (tmp_path / "d.gpkg").read_bytes() != before


def test_the_log_lies_in_the_geopackage(folder):
    run = siteaxo.run_recipe(folder / "quay.toml")
    kept = pyogrio.read_info(folder / "out/diagram.gpkg", layer="faces")["dataset_metadata"]
    assert kept["siteaxo_recipe"] == "Quay"
    steps = {step["id"]: step for step in json.loads(kept["siteaxo_steps"])}
    assert steps["drawing"]["version"] == operation_named("draw").version
    assert steps["drawing"]["inputs"] == {"model": {"from": "model"}, "turn": 30, "style": "look.toml"}
    assert json.loads(kept["siteaxo_versions"])["shapely"] == shapely.__version__
    assert [step["id"] for step in run.log["steps"]] == [*steps, "table"]
    assert [step for step in run.log["steps"] if step["id"] != "table"] == list(steps.values())


def test_other_values_for_inputs(tmp_path):
    file = write(tmp_path / "a")
    recipe = siteaxo.read_recipe(file, inputs={"turn": 60})
    assert "draw" in repr(recipe)
    siteaxo.run_recipe(file, inputs={"turn": 60})
    view = pyogrio.read_dataframe(tmp_path / "a/out/diagram.gpkg", layer="view")
    assert view.turn.tolist() == [60.0]
    with pytest.raises(siteaxo.SiteaxoError, match="Did you mean 'turn'"):
        siteaxo.read_recipe(file, inputs={"trun": 60})


def test_progress_runs_to_the_end_and_may_stop(folder):
    file = folder / "quay.toml"
    shares = []
    siteaxo.run_recipe(file, reuse=False, progress=lambda stage, share: shares.append((stage, share)))
    assert all(0 <= share <= 1 for _, share in shares)
    assert any(stage.startswith("drawing: ") for stage, _ in shares)

    def stop(stage, share):
        raise siteaxo.SiteaxoError("enough")

    write(folder, heights=(1.0, 2.0))
    before = output(folder)
    with pytest.raises(siteaxo.SiteaxoError, match="enough"):
        siteaxo.run_recipe(file, progress=stop)
    assert output(folder) == before


STEP = '[[step]]\noperation = "{operation}"\ninputs = {inputs}\n'
WRONG = {
    "nothing": ("", "at least one"),
    "an unknown key": ("nmae = 'a'\n" + STEP, "unknown key 'nmae' in the recipe. Did you mean 'name'"),
    "an unknown operation": (STEP.replace("{operation}", "drwa"), "Did you mean 'draw'"),
    "an unknown input": (STEP.replace("{inputs}", '{ features = "blocks.gpkg", rol = "wall" }'), "'rol'"),
    "a missing input": (STEP.replace("{inputs}", '{ features = "blocks.gpkg" }'), "'role' is missing"),
    "a value out of range": (
        STEP.replace("{operation}", "draw").replace("{inputs}", '{ model = "quay.toml", turn = 999 }'),
        "at most 360",
    ),
    "a file that is not there": (
        STEP.replace("{inputs}", '{ features = "no.gpkg", role = "wall" }'),
        "names no file on disk",
    ),
    "a file to read that is not there": (
        STEP.replace("{operation}", "read").replace("{inputs}", '{ source = "no.gpkg" }'),
        "'source' names no file on disk: .*no.gpkg'. Check the path",
    ),
    "a site file that is not there": (
        STEP.replace("{operation}", "read_site").replace("{inputs}", '{ path = "no.toml" }'),
        "'path' names no file on disk",
    ),
    "an id that is no text": (STEP.replace("[[step]]", "[[step]]\nid = 3"), "id of step 1 must be a text"),
    "nobody of that name": (
        STEP.replace("{inputs}", '{ features = { from = "blokcs" }, role = "wall" }'),
        "neither a step nor an input",
    ),
    "the wrong kind": (
        STEP.replace("{operation}", "draw").replace("{inputs}", '{ model = { from = "levels" } }')
        + STEP.replace("{inputs}", '{ features = "blocks.gpkg", role = "wall" }'),
        "takes a model, and 'levels' gives features",
    ),
    "a circle": (
        STEP.replace("{inputs}", '{ features = { from = "local_plane" }, role = "wall" }')
        + STEP.replace("{operation}", "local_plane").replace(
            "{inputs}", '{ features = { from = "levels" } }'
        ),
        "wait for one another",
    ),
    "one name twice": (STEP.replace("{inputs}", '{ features = "blocks.gpkg", role = "wall" }') * 2, "once"),
    "one file written twice": (
        "".join(
            f'[[step]]\nid = "{id}"\noperation = "export_rows"\n'
            'inputs = { rows = "blocks.gpkg", path = "a.csv" }\n'
            for id in "ab"
        ),
        "both write",
    ),
    "its own input written over": (
        STEP.replace("{operation}", "export_rows").replace(
            "{inputs}", '{ rows = "blocks.gpkg", path = "blocks.gpkg" }'
        ),
        "reads .*blocks.gpkg, which step",
    ),
    "no TOML": ("[[[", "cannot be read"),
}


@pytest.mark.parametrize("case", list(WRONG))
def test_wrong_recipes_are_refused_before_anything_runs(tmp_path, case):
    text, words = WRONG[case]
    text = text.replace("{operation}", "levels").replace("{inputs}", "{}")
    file = write(tmp_path / "a", recipe=text)
    there = sorted(path.name for path in (tmp_path / "a").iterdir())
    with pytest.raises(siteaxo.SiteaxoError, match=words):
        siteaxo.run_recipe(file)
    assert sorted(path.name for path in (tmp_path / "a").iterdir()) == there


def test_a_store_keeps_its_bound(tmp_path):
    store = FolderStore(tmp_path / "kept", most_mb=0.1)
    for number in range(6):
        store.put(f"{number:040x}", {"a": np.full(5000, number, dtype=float)})  # 40 kB each
        os.utime(store._file(f"{number:040x}"), (number, number))
    store.get(f"{0:040x}")  # what was used last stays
    assert store.sweep() == 4
    assert store.get(f"{0:040x}")["a"].tolist() == [0.0] * 5000
    assert store.get(f"{1:040x}") is None
    assert "2 parts" in repr(store)


PART = {
    "a": np.arange(9),
    "none": np.zeros((0, 2)),
    "number": np.array(3),
    "flags": np.array([True, False, True]),
    "columns": np.asfortranarray(np.arange(6.0).reshape(2, 3)),
    "every other": np.arange(6, dtype=np.int16)[::2],
}


def test_a_part_comes_back_as_it_was(tmp_path):
    FolderStore(tmp_path).put("ab" * 20, PART)
    back = FolderStore(tmp_path).get("ab" * 20)
    assert list(back) == list(PART)
    for name, array in PART.items():
        assert (back[name].dtype, back[name].shape) == (array.dtype, array.shape)
        assert np.array_equal(back[name], array)
        assert back[name].flags.writeable


def test_what_other_software_has_kept_is_not_found(tmp_path, monkeypatch):
    """Another version of siteaxo, of a library or of a plug-in may draw the same tile otherwise."""
    FolderStore(tmp_path).put("ab" * 20, PART)
    with monkeypatch.context() as other:
        other.setattr("siteaxo.process.store.software", lambda: "another version")
        assert FolderStore(tmp_path).get("ab" * 20) is None
    assert FolderStore(tmp_path).get("ab" * 20) is not None


def told_otherwise(*, signed=True, **other):
    """Return a change of the line that tells what the arrays of a part are, with a checksum that fits."""

    def change(content):
        line, _, body = content.partition(b"\n")
        told = json.loads(line)
        for place, value in other.items():
            told["arrays"][0][["name", "kind", "shape"].index(place)] = value
        if signed:
            told["checksum"] = zlib.crc32(body, zlib.crc32(json.dumps(told["arrays"]).encode()))
        return json.dumps(told).encode() + b"\n" + body

    return change


DAMAGE = {
    "empty": lambda content: b"",
    "cut short": lambda content: content[:-40],
    "longer": lambda content: content + bytes(16),
    "one bit": lambda content: content[:-9] + bytes([content[-9] ^ 1]) + content[-8:],
    "one number more": told_otherwise(signed=False, shape=[10]),  # there is room for it
    "no line": lambda content: content.partition(b"\n")[2],
    "a list": lambda content: b"[]\n",
    "deep": lambda content: b"[" * 100_000 + content,
    "objects": told_otherwise(kind="|O"),  # pointers: a file that could make them could crash the program
    "records": told_otherwise(kind="i4,i4"),
    "unknown": told_otherwise(kind="brick"),
    "fewer numbers": told_otherwise(shape=[5]),
    "more numbers": told_otherwise(shape=[10**12]),
    "numbers before the first": told_otherwise(shape=[-9]),
    "a shape of texts": told_otherwise(shape=["9"]),
    "a shape of fractions": told_otherwise(shape=[4.5]),
    "no shape": told_otherwise(shape=None),
    "no name": told_otherwise(name=[]),
}


@pytest.mark.parametrize("harm", list(DAMAGE))
def test_a_damaged_part_counts_as_missing(tmp_path, harm):
    store = FolderStore(tmp_path)
    store.put("ab" * 20, PART)
    file = store._file("ab" * 20)
    file.write_bytes(DAMAGE[harm](file.read_bytes()))
    assert store.get("ab" * 20) is None
    assert (store.found, store.missed) == (0, 1)


def test_only_numbers_are_kept_under_hashes(tmp_path):
    store = FolderStore(tmp_path)
    with pytest.raises(ValueError, match="'a' of object cannot be kept"):
        store.put("ab" * 20, {"a": np.array([{}], dtype=object)})
    assert not list(tmp_path.iterdir())
    with pytest.raises(ValueError, match="no key"):
        store.get("../../etc")
