"""
Time and memory of the visibility engine on made-up districts and ground.

Run ``python tests/benchmarks/engine.py``; ``--help`` tells the options. Each case runs in
a process of its own. Printed: counts and checks, seconds of the processor and memory by
stage, by which power of the count the time grows, what a second thread or a worker process
gains by the clock on the wall, and whether a scene drawn in tiles equals the same drawn in one piece.
"""

from __future__ import annotations

import argparse
import ctypes
import gc
import json
import math
import statistics
import sys
import time
from pathlib import Path
from typing import Any

import shapely
from districts import make
from machine import (
    child,
    children_peak_gib,
    children_seconds,
    forget_peak,
    peak_gib,
    print_facts,
    print_table,
)

from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

TURN = 30.0  # of the plan [degrees]
KINDS = ("open", "dense", "terrain")
CASE = ("kind", "count", "tile", "threads")

Cases = dict[tuple[str, int, int, int], dict[str, Any]]


class Stages:
    """Seconds of the processor and peaks of memory by stage, from progress calls."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.peaks: dict[str, float] = {}
        self.workers = 0.0
        self.begun = self.since = time.process_time()
        self.stage = ""

    def __call__(self, stage: str, share: float) -> None:
        """Close the stage before, open this one."""
        now = time.process_time()
        if self.stage:
            self.seconds[self.stage] = self.seconds.get(self.stage, 0.0) + now - self.since
            self.peaks[self.stage] = peak_gib()
        self.stage, self.since = stage, now
        self.workers = max(self.workers, children_peak_gib())


def run_case(kind: str, count: int, tile: int, threads: int) -> dict[str, Any]:
    """Draw one scene and tell what it took; a tile of 0 solids means one piece."""
    before = time.process_time()
    scene = make(kind, count)
    making, made_peak, scene_held = time.process_time() - before, peak_gib(), held_gib()
    forget_peak()
    view, origin = planometric(TURN), scene.faces.xyz.min(axis=0)
    watch, begun = Stages(), time.perf_counter()
    drawing = resolve(scene, view, origin=origin, threads=threads, tile=tile or None, progress=watch)
    watch("end", 1.0)
    wall = time.perf_counter() - begun
    return {
        "faces": len(scene.faces),
        "edges": len(scene.edges),
        "making": making,
        "stages": watch.seconds,
        "seconds": watch.since - watch.begun + children_seconds(),
        "wall": wall,
        "workers": children_seconds(),
        "peaks": watch.peaks,
        "workers_peak": watch.workers,
        "peak": peak_gib(),
        "made_peak": made_peak,
        "scene_held": scene_held,
        "held": held_gib(),
        "report": {name: float(value) for name, value in drawing.report.items()},
        "drawn_faces": int((~shapely.is_empty(drawing.visible.polygon)).sum()),
        "drawn_lines": len(drawing.dashes),
        "hidden_lines": len(drawing.hidden),
    }


def held_gib() -> float:
    """Memory that is held now, what was freed handed back where the system can [GiB]."""
    gc.collect()
    statm = Path("/proc/self/statm")
    if not statm.exists():
        return math.nan
    if sys.platform == "linux" and hasattr(ctypes.CDLL(None), "malloc_trim"):
        ctypes.CDLL(None).malloc_trim(0)
    return int(statm.read_text().split()[1]) * 4096 / 2**30


def best_of(case: tuple[str, int, int, int], repeats: int) -> dict[str, Any]:
    """The quickest of several runs, with the median beside it."""
    runs = [child(__file__, "--one", *map(str, case)) for _ in range(repeats)]
    done = sorted((run for run in runs if run is not None), key=lambda run: float(run["seconds"]))
    return {**done[0], "median": statistics.median(run["seconds"] for run in done)}


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counts", nargs="+", type=int, default=[1000, 10_000, 100_000])
    parser.add_argument("--kind", nargs="+", choices=KINDS, default=list(KINDS))
    parser.add_argument("--tile", nargs="+", type=int, default=[0, 2500], help="solids; 0: one piece")
    parser.add_argument("--threads", nargs="+", type=int, default=[1, 2])
    parser.add_argument("--repeats", type=int, default=1, help="the quickest counts")
    parser.add_argument("--one", nargs=4, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        kind, *numbers = options.one
        print(json.dumps(run_case(kind, *map(int, numbers))))
        return
    print_facts()
    names = [
        (kind, count, tile, threads)
        for kind in options.kind
        for count in options.counts
        for tile in options.tile
        for threads in options.threads
        if not (kind == "terrain" and tile)  # ground is one solid, and so one tile
    ]
    cases = {name: best_of(name, options.repeats) for name in names}
    print_counts(cases)
    print_stages(cases)
    print_memory(cases)
    print_growth(cases)
    print_threads(cases)
    print_tiles(cases)


def print_counts(cases: Cases) -> None:
    """How big each scene is and what was checked."""
    print("\nScenes (in thousands) and checks")
    rows = []
    for name, case in cases.items():
        report = case["report"]
        sizes = [case["faces"], report["faces"], case["edges"], report["pairs"]]
        drawn = [case["drawn_faces"], case["drawn_lines"], case["hidden_lines"]]
        checks = [int(report["overlays_checked"]), int(report["overlays_redone"])]
        balance = [f"{report[f'worst_{what}_balance']:.0e}" for what in ("face", "edge")]
        rows.append([*name, *(f"{n / 1e3:.1f}" for n in sizes + drawn), *checks, *balance])
    head = ["faces", "front", "edges", "pairs", "seen", "lines", "hidden", "overlays", "redone"]
    print_table([*CASE, *head, "face off", "edge off"], rows)


def print_stages(cases: Cases) -> None:
    """Seconds by stage."""
    stages = list(dict.fromkeys(stage for case in cases.values() for stage in case["stages"]))
    print(
        "Seconds of the processor by stage, of the quickest run, workers among all; by the clock on the wall"
    )
    rows = [
        [
            *name,
            f"{case['making']:.2f}",
            *(f"{case['stages'][stage]:.2f}" if stage in case["stages"] else "-" for stage in stages),
            f"{case['seconds']:.2f}",
            f"{case['workers']:.2f}",
            f"{case['median']:.2f}",
            f"{case['wall']:.2f}",
        ]
        for name, case in cases.items()
    ]
    print_table([*CASE, "(scene)", *stages, "all", "workers", "median", "wall"], rows)


def print_memory(cases: Cases) -> None:
    """Peaks by stage, and what scene and drawing hold."""
    stages = list(dict.fromkeys(stage for case in cases.values() for stage in case["stages"]))
    print("Memory [GiB]: peak of making the scene and held by it, peak of drawing by the end of each stage,")
    print("held at the end with the drawing, peak of workers, and the peak of drawing beyond what is held")
    rows = [
        [
            *name,
            f"{case['made_peak']:.2f}",
            f"{case['scene_held']:.2f}",
            *(f"{case['peaks'][stage]:.2f}" if stage in case["peaks"] else "-" for stage in stages),
            f"{case['peak']:.2f}",
            f"{case['held']:.2f}",
            f"{case['workers_peak']:.2f}",
            f"{case['peak'] + case['workers_peak'] - case['held']:.2f}",
        ]
        for name, case in cases.items()
    ]
    print_table([*CASE, "making", "scene", *stages, "peak", "held", "workers", "beyond"], rows)


def print_growth(cases: Cases) -> None:
    """By which power of the count the time grows between the two largest counts."""
    counts = sorted({name[1] for name in cases})
    if len(counts) < 2:
        return
    few, many = counts[-2:]
    print(f"Growth from {few} to {many}: power of the count")
    rows = [
        [kind, tile, threads, f"{math.log(case['seconds'] / start['seconds']) / math.log(many / few):.3f}"]
        for (kind, count, tile, threads), case in cases.items()
        if count == many and (start := cases.get((kind, few, tile, threads)))
    ]
    print_table(["kind", "tile", "threads", "power"], rows)


def print_threads(cases: Cases) -> None:
    """How many times as fast more threads are than one."""
    rows = [
        [*name, f"{one['wall'] / case['wall']:.2f}"]
        for name, case in cases.items()
        if name[3] > 1 and (one := cases.get((*name[:3], 1)))
    ]
    if rows:
        print("Gain over one thread")
        print_table([*CASE, "times"], rows)


def print_tiles(cases: Cases) -> None:
    """How far a drawing in tiles is from the same in one piece."""
    rows = []
    for name, case in cases.items():
        whole = cases.get((*name[:2], 0, name[3]))
        if name[2] and whole and case["report"].get("tiles", 1) > 1:
            off = [
                f"{abs(case['report'][what] / whole['report'][what] - 1):.1e}"
                for what in ("visible_area", "visible_length", "drawn_length")
            ]
            rows.append([*name, *off, f"{whole['seconds'] / case['seconds']:.2f}"])
    if rows:
        print("Tiles against one piece: relative differences, and how many times as fast")
        print_table([*CASE, "area", "length", "drawn", "times"], rows)


if __name__ == "__main__":
    main()
