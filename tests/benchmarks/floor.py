"""
The whole way, GeoPackage in and diagram GeoPackage out, against reading and writing alone.

The floor is the time it takes to read the footprints with their levels and to write the
finished diagram's own tables, computing nothing in between. Two floors are measured: all
tables that the diagram has, and only its faces and visible edges. Each case runs in a
process of its own; the whole way goes first, the floors follow in the same run. Seconds
are those of the processor; the clock on the wall is given for the whole way.

Run ``python tests/benchmarks/floor.py``; ``--help`` tells the options.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pyogrio
import shapely
from districts import District, district
from machine import child, peak_gib, print_facts, print_table

import siteaxo
import siteaxo.verbs.sites  # so that loading is not timed

TURN = 30.0  # of the plan [degrees]
CORNER = np.array([500_000.0, 200_000.0])  # of the district on the map [m]
STEPS = ("stack", "resolve", "layers", "write")


def write_footprints(made: District, path: Path) -> None:
    """Write a district as a layer with an id and two levels."""
    columns = {"block": np.arange(len(made.footprints)), "base": made.base, "top": made.top}
    geometry = shapely.transform(made.footprints, lambda xy: xy + CORNER)
    frame = geopandas.GeoDataFrame(columns, geometry=geometry, crs="EPSG:27700")
    frame.to_file(path, layer="blocks", driver="GPKG", engine="pyogrio")


def whole_way(source: Path, target: Path, threads: int) -> tuple[siteaxo.Diagram, dict[str, float]]:
    """From a file of footprints to a diagram file, with seconds by step."""
    laps = [time.process_time()]
    layer = siteaxo.Layer(name="blocks", role="structure", source=source, id="block", base="base", top="top")
    model = siteaxo.Site(name="A district", layers=[layer]).stack()
    laps.append(time.process_time())
    resolved: list[float] = []
    view = siteaxo.planometric(turn=TURN)

    def lap(stage: str, share: float) -> None:
        if stage != "layers":
            resolved.append(time.process_time())

    diagram = model.draw(view, threads=threads, progress=lap)
    laps += [resolved[-1], time.process_time()]
    diagram.to_gpkg(target)
    laps.append(time.process_time())
    return diagram, dict(zip(STEPS, np.diff(laps).tolist(), strict=True))


def seconds_of(task: Callable[[], object], repeats: int) -> float:
    """Median of several runs [s of the processor]."""
    taken = []
    for _ in range(repeats):
        begun = time.process_time()
        task()
        taken.append(time.process_time() - begun)
    return statistics.median(taken)


def run_case(kind: str, count: int, threads: int, repeats: int) -> dict[str, Any]:
    """The whole way once, then both floors."""
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, "footprints.gpkg"), Path(folder, "diagram.gpkg")
        write_footprints(district(kind, count), source)
        begun = time.perf_counter()
        diagram, steps = whole_way(source, target, threads)
        wall, peak = time.perf_counter() - begun, peak_gib()
        bare = replace(diagram, hidden_edges=diagram.hidden_edges[:0], plan=diagram.plan[:0])
        again = Path(folder, "again.gpkg")
        return {
            **steps,
            "whole": sum(steps.values()),
            "wall": wall,
            "read": seconds_of(lambda: pyogrio.read_dataframe(source), repeats),
            "all": seconds_of(lambda: diagram.to_gpkg(again), repeats),
            "bare": seconds_of(lambda: bare.to_gpkg(again), repeats),
            "peak": peak,
            "size": os.path.getsize(target) / 1e6,
            "rows": [len(diagram.faces), len(diagram.edges), len(diagram.hidden_edges)],
        }


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counts", nargs="+", type=int, default=[10_000, 100_000])
    parser.add_argument("--kind", nargs="+", choices=("open", "dense"), default=["open", "dense"])
    parser.add_argument("--threads", nargs="+", type=int, default=[1, 2])
    parser.add_argument("--repeats", type=int, default=3, help="of the floors; medians count")
    parser.add_argument("--one", nargs=4, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        kind, *numbers = options.one
        print(json.dumps(run_case(kind, *map(int, numbers))))
        return
    print_facts()
    cases = {
        (kind, count, threads): child(__file__, "--one", kind, str(count), str(threads), str(options.repeats))
        for kind in options.kind
        for count in options.counts
        for threads in options.threads
    }
    print_cases({name: case for name, case in cases.items() if case is not None})


def print_cases(cases: dict[tuple[str, int, int], dict[str, Any]]) -> None:
    """Seconds, ratios, and what two threads gain."""
    print("\nSeconds of the processor: the whole way by step (stacking, resolving what is visible, making")
    print("the layers of the diagram, writing); the floors: reading, and writing all tables or only")
    print("faces and visible edges; then the whole way as a multiple of either floor")
    rows = []
    for name, case in cases.items():
        floors = [case["read"] + case[which] for which in ("all", "bare")]
        seconds = [*(case[step] for step in STEPS), case["whole"], case["read"], case["all"], case["bare"]]
        ratios = [f"{case['whole'] / floor:.2f}" for floor in floors]
        rows.append([*name, *(f"{x:.2f}" for x in seconds), *ratios, f"{case['wall']:.2f}"])
    head = ["kind", "count", "threads", *STEPS, "whole", "read", "write all", "write bare"]
    print_table([*head, "÷ all", "÷ bare", "wall"], rows)
    print("Rows in thousands, size of the diagram, peak of memory")
    rows = [
        [*name, *(f"{n / 1e3:.1f}" for n in case["rows"]), f"{case['size']:.0f}", f"{case['peak']:.2f}"]
        for name, case in cases.items()
    ]
    print_table(["kind", "count", "threads", "faces", "edges", "hidden", "MB", "peak GiB"], rows)
    for (kind, count, threads), case in cases.items():
        one = cases.get((kind, count, 1))
        if threads > 1 and one:
            gain = one["wall"] / case["wall"]
            print(f"{kind} {count}: {threads} threads are {gain:.2f} times as fast by the clock on the wall")


if __name__ == "__main__":
    main()
