"""
Time and memory of the visibility engine on made-up districts and ground.

Run ``python tests/benchmarks/engine.py``; ``--help`` tells the options. Each case runs in
a process of its own. Printed: counts, seconds a stage, peak of memory, how many overlays
were redone, and by which power of the count the time grows.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from typing import Any

import numpy as np
from districts import make
from machine import child, peak_gib, print_facts, print_table

from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

TURN = 30.0  # of the plan [degrees]
KINDS = ("open", "dense", "terrain")


class Stages:
    """Seconds and peaks of memory by stage, from progress calls."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.peaks: dict[str, float] = {}
        self.begun = self.since = time.perf_counter()
        self.stage = ""

    def __call__(self, stage: str, share: float) -> None:
        """Close the stage before, open this one."""
        now = time.perf_counter()
        if self.stage:
            self.seconds[self.stage] = self.seconds.get(self.stage, 0.0) + now - self.since
            self.peaks[self.stage] = peak_gib()
        self.stage, self.since = stage, now


def run_case(kind: str, count: int, threads: int) -> dict[str, Any]:
    """Draw one scene and tell what it took."""
    before = time.perf_counter()
    scene = make(kind, count)
    making, resting = time.perf_counter() - before, peak_gib()
    watch = Stages()
    drawing = resolve(
        scene, planometric(TURN), origin=scene.faces.xyz.min(axis=0), threads=threads, progress=watch
    )
    watch("end", 1.0)
    return {
        "faces": len(scene.faces),
        "edges": len(scene.edges),
        "seconds": watch.since - watch.begun,
        "stages": watch.seconds,
        "peaks": watch.peaks,
        "peak": peak_gib(),
        "making": making,
        "resting": resting,
        "report": {name: float(value) for name, value in drawing.report.items()},
        "drawn_faces": int((np.asarray([p.is_empty for p in drawing.visible.polygon]) == 0).sum()),
        "drawn_lines": len(drawing.dashes),
        "hidden_lines": len(drawing.hidden),
    }


def best_of(kind: str, count: int, threads: int, repeats: int) -> dict[str, Any]:
    """The quickest of several runs, with the median beside it."""
    runs = [child(__file__, "--one", kind, str(count), str(threads)) for _ in range(repeats)]
    done = sorted((run for run in runs if run is not None), key=lambda run: float(run["seconds"]))
    return {**done[0], "median": statistics.median(run["seconds"] for run in done)}


def growth(few: dict[str, Any], many: dict[str, Any], ratio: float, key: str = "seconds") -> float:
    """Power of the count by which a figure grows."""
    return math.log(many[key] / few[key]) / math.log(ratio)


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counts", nargs="+", type=int, default=[1000, 10_000, 100_000])
    parser.add_argument("--kind", nargs="+", choices=KINDS, default=list(KINDS))
    parser.add_argument("--threads", nargs="+", type=int, default=[1, 2])
    parser.add_argument("--repeats", type=int, default=1, help="the quickest counts")
    parser.add_argument("--one", nargs=3, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        kind, count, threads = options.one
        print(json.dumps(run_case(kind, int(count), int(threads))))
        return
    print_facts()
    cases = {
        (kind, count, threads): best_of(kind, count, threads, options.repeats)
        for kind in options.kind
        for count in options.counts
        for threads in options.threads
    }
    print_counts(cases)
    print_stages(cases)
    print_growth(cases)


def print_counts(cases: dict[tuple[str, int, int], dict[str, Any]]) -> None:
    """How big each scene is and what was checked."""
    print("\nScenes (in thousands) and checks")
    rows = []
    for (kind, count, threads), case in cases.items():
        report = case["report"]
        sizes = [case["faces"], report["faces"], case["edges"], report["pairs"]]
        drawn = [case["drawn_faces"], case["drawn_lines"], case["hidden_lines"]]
        balance = max(report["worst_face_balance"], report["worst_edge_balance"])
        checks = [int(report["overlays_checked"]), int(report["overlays_redone"]), f"{balance:.1e}"]
        rows.append([kind, count, threads, *(f"{n / 1e3:.1f}" for n in sizes + drawn), *checks])
    head = ["kind", "count", "threads", "faces", "front", "edges", "pairs", "seen", "lines", "hidden"]
    print_table([*head, "overlays", "redone", "balance"], rows)


def print_stages(cases: dict[tuple[str, int, int], dict[str, Any]]) -> None:
    """Seconds and peaks by stage."""
    stages = list(next(iter(cases.values()))["stages"])
    head = ["kind", "count", "threads", "making", *stages, "seconds", "median", "peak GiB"]
    print("Seconds by stage (of the quickest run)")
    rows = [
        [*name, *(f"{case[k]:.2f}" for k in ("making",))]
        + [f"{case['stages'].get(stage, 0.0):.2f}" for stage in stages]
        + [f"{case[k]:.2f}" for k in ("seconds", "median", "peak")]
        for name, case in cases.items()
    ]
    print_table(head, rows)
    print("Most memory held by the end of each stage [GiB]")
    rows = [
        [*name, f"{case['resting']:.2f}", *(f"{case['peaks'].get(stage, 0.0):.2f}" for stage in stages)]
        for name, case in cases.items()
    ]
    print_table(["kind", "count", "threads", "making", *stages], rows)


def print_growth(cases: dict[tuple[str, int, int], dict[str, Any]]) -> None:
    """Growth between the two largest counts, and what more threads gain."""
    kinds = dict.fromkeys(kind for kind, _, _ in cases)
    counts = sorted({count for _, count, _ in cases})
    threads = sorted({number for _, _, number in cases})
    for kind in kinds:
        if len(counts) > 1:
            few, many = counts[-2:]
            powers = [
                f"{growth(cases[kind, few, t], cases[kind, many, t], many / few):.2f} with {t} threads"
                for t in threads
            ]
            print(f"{kind}: time grows with the count to the power {', '.join(powers)} ({few} to {many})")
        if len(threads) > 1:
            one, more = (cases[kind, counts[-1], t]["seconds"] for t in (threads[0], threads[-1]))
            print(f"{kind}: {threads[-1]} threads are {one / more:.2f} times as fast as {threads[0]} at {counts[-1]}")


if __name__ == "__main__":
    main()
