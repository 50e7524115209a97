"""
A recipe run again after one feature has changed, against its first run and a fresh one.

Footprints with levels are read, stacked, drawn and written as a diagram GeoPackage. Then one
footprint in the middle gets another height, and later another place, and the recipe runs again.
What it writes is compared with what a fresh run writes, byte by byte. The same without a recipe tells
what it costs to keep parts. All is done several times and the least counts: the time that a busy machine
takes varies, also that of its processors.

Run ``python tests/benchmarks/recipe.py``; ``--help`` tells the options.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

import geopandas
import numpy as np
from districts import district
from floor import write_footprints
from machine import print_facts, print_table

import siteaxo
import siteaxo.chains  # so that loading is not timed

RECIPE = """
name = "district"

[[step]]
id = "blocks"
operation = "read"
inputs = {{ source = "blocks.gpkg" }}

[[step]]
id = "layer"
operation = "layer"
[step.inputs]
features = {{ from = "blocks" }}
name = "blocks"
role = "structure"
id = "block"
base = "base"
top = "top"

[[step]]
id = "site"
operation = "site"
inputs = {{ layers = [{{ from = "layer" }}], base_line = 90 }}

[[step]]
id = "model"
operation = "stack"
inputs = {{ site = {{ from = "site" }} }}

[[step]]
id = "drawing"
operation = "draw"
inputs = {{ model = {{ from = "model" }}, turn = 30, scale = 1000, {more} }}

[[step]]
id = "diagram"
operation = "export"
inputs = {{ diagram = {{ from = "drawing" }}, path = "diagram.gpkg" }}
"""


def timed(folder: Path, *, reuse: bool = True) -> tuple[np.ndarray, siteaxo.Run]:
    """Seconds of one run: on the clock, and of processor time, which says more on a busy machine."""
    begun = now()
    run = siteaxo.run_recipe(folder / "district.toml", reuse=reuse)
    return now() - begun, run


def now() -> np.ndarray:
    """Seconds on the clock, and of the processor in this process and those that it started."""
    return np.array([time.perf_counter(), time.process_time() + sum(os.times()[2:4])])


def change(folder: Path, how: str) -> None:
    """Change one footprint near the middle."""
    file = folder / "blocks.gpkg"
    frame = geopandas.read_file(file, engine="pyogrio")
    middle = frame.union_all().centroid
    row = frame.distance(middle).idxmin()
    if how == "height":
        frame.loc[row, "top"] += 2.5
    else:
        frame.loc[[row], "geometry"] = frame.loc[[row]].translate(0.2, 0.1)
    frame.to_file(file, layer="blocks", driver="GPKG", engine="pyogrio")


def without_recipe(folder: Path) -> np.ndarray:
    """Seconds of the same work by the calls of a script, which keeps nothing."""
    begun = now()
    rows = geopandas.read_file(folder / "blocks.gpkg", engine="pyogrio")
    layer = siteaxo.Layer(name="blocks", role="structure", source=rows, id="block", base="base", top="top")
    model = siteaxo.Site(layers=[layer], base_line=90).stack()
    model.draw(siteaxo.planometric(turn=30), scale=1000, threads=2).to_gpkg(folder / "script.gpkg")
    return now() - begun


def one_round(kind: str, count: int, more: str) -> dict[str, tuple[np.ndarray, str, str]]:
    """First run, nothing changed, a height changed, a place changed; each against a fresh run."""
    rows = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name, "a")
        folder.mkdir()
        write_footprints(district(kind, count), folder / "blocks.gpkg")
        change(folder, "height")  # so that later versions are written by the same hand
        (folder / "district.toml").write_text(RECIPE.format(more=more), encoding="utf-8")
        rows["without a recipe"] = without_recipe(folder), "", ""
        first, run = timed(folder)
        rows["first run"] = first, "", parts(run)
        again, run = timed(folder)
        rows["nothing changed"] = again, "", parts(run)
        for how in ("height", "place"):
            change(folder, how)
            again, run = timed(folder)
            fresh = Path(name, f"fresh_{how}")
            shutil.copytree(folder, fresh, ignore=shutil.ignore_patterns(".*", "diagram.gpkg"))
            anew, _ = timed(fresh, reuse=False)
            same = (folder / "diagram.gpkg").read_bytes() == (fresh / "diagram.gpkg").read_bytes()
            verdict = "same bytes" if same else "DIFFERENT BYTES"
            rows[f"one {how} changed"] = again, verdict, parts(run)
            rows[f"  the same, fresh ({how})"] = anew, "", ""
    return rows


def run_case(kind: str, count: int, more: str, rounds: int) -> list[list[str]]:
    """The least seconds of some rounds; steps are those of the round with the least of processor time."""
    found = [one_round(kind, count, more) for _ in range(rounds)]
    least = {name: np.min([one[name][0] for one in found], axis=0) for name in found[0]}
    rows = []
    for name, taken in least.items():
        best = min((one[name] for one in found), key=lambda row: row[0][1])
        verdict = max((one[name][1] for one in found), key=lambda words: words.startswith("DIFF"))
        rows.append([name, *figures(taken, least["first run"]), verdict, best[2]])
    return rows


def figures(taken: np.ndarray, first: np.ndarray) -> list[str]:
    """Seconds and shares of the first run."""
    clock, processor = taken / first
    return [f"{taken[0]:.2f}", f"{clock:.2f}", f"{taken[1]:.2f}", f"{processor:.2f}"]


def parts(run: siteaxo.Run) -> str:
    """Seconds by step."""
    return ", ".join(f"{step.id} {step.seconds:.2f}" for step in run.steps if step.seconds > 0.05)


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--kind", nargs="+", choices=("open", "dense"), default=["open", "dense"])
    parser.add_argument("--more", default="threads = 2", help="further inputs of draw, as TOML")
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    print_facts()
    for kind in options.kind:
        print(f"\n{kind} district, {options.count} footprints")
        heads = ["run", "clock s", "÷ first", "processor s", "÷ first", "against fresh", "steps [s]"]
        print_table(heads, run_case(kind, options.count, options.more, options.rounds))


if __name__ == "__main__":
    main()
