"""
Comparison with the exact hidden-line algorithm of a general-purpose geometry kernel.

Printed: how far the visible and hidden lengths of edges are apart, with what explains
each difference, and how many times as long the kernel takes (one thread and one process
each). See :mod:`kernel` for how the kernel is asked.

Needs the package ``cadquery-ocp-novtk`` (or ``cadquery-ocp``). Run
``python tests/benchmarks/exact_kernel.py``; ``--help`` tells the options.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from collections.abc import Sequence

import numpy as np
import shapely
from districts import make
from kernel import KernelLines, kernel_lines, kernel_solids
from machine import child, peak_gib, print_facts, print_table

from siteaxo.solids.scene import Scene
from siteaxo.view.dashes import Dashes, PageEdges, complement
from siteaxo.view.projection import View, planometric
from siteaxo.view.resolve import Drawing, resolve
from siteaxo.view.tolerance import Tolerance

TURN = 30.0  # of the plan [degrees]
FINE = 1e-6  # tolerance at which both must give the same [m]
SAME = 1e-7  # ends of one line in both are no farther apart [m]
CASE = ("kind", "count")


def compare(scene: Scene, view: View, origin: np.ndarray, lines: KernelLines) -> dict[str, float]:
    """
    Lengths of the kernel and of the library, and what the differences consist of.

    Parameters
    ----------
    scene, view, origin
        As drawn.
    lines : KernelLines
        What the kernel found.

    Returns
    -------
    dict
        ``visible`` and ``hidden`` lengths at the fine tolerance; ``edge_on``, what of
        the visible belongs to faces narrower on the page than the usual tolerance and is
        counted hidden by the kernel, which takes them for edge-on; ``through``, what the
        kernel shows behind such faces, of which it says that they hide nothing;
        ``visible_off`` and ``hidden_off``, relative differences that are left;
        ``doubled``, visible lines on top of one another [m].
    """
    fine = _drawn(scene, view, origin, FINE)
    usual = _drawn(scene, view, origin, Tolerance().length)
    bare = _bare(fine)
    narrow = _has_face(fine.edges) & ~_has_face(usual.edges)
    some = bare.take(np.flatnonzero(narrow[bare.edge]))
    some = some.take(np.flatnonzero(~_among(some.xy(fine.edges), lines.visible)))
    missing = _sizes(some, fine.edges).sum()
    faces = np.unique(fine.edges.member_face[np.isin(fine.edges.member_edge, some.edge)])
    strips = fine.visible.polygon[faces[~np.isin(fine.face[faces], usual.face)]]
    through = _inside(lines.visible, strips)
    visible, hidden = (fine.report[f"{what}_length"] for what in ("visible", "hidden"))
    theirs = [_total(lines.visible) + missing - through, _total(lines.hidden) - missing + through]
    return {
        "visible": visible,
        "hidden": hidden,
        "doubled": visible - fine.report["drawn_length"],
        "edge_on": float(missing),
        "through": through,
        "visible_off": theirs[0] / visible - 1,
        "hidden_off": theirs[1] / hidden - 1 if hidden else theirs[1],
    }


def left_out(scene: Scene, view: View, origin: np.ndarray) -> dict[str, float]:
    """
    What is visible at the fine tolerance, but not drawn at the usual one.

    Returns
    -------
    dict
        Lengths [m]: ``less``, the whole; of this ``narrow``, edges of faces seen
        edge-on; ``short``, dashes too short to be drawn; ``beside``, dashes within the
        page tolerance of a nearer line; ``unexplained``; and ``more``, what the usual
        tolerance shows beyond the fine one.
    """
    fine, usual = (_drawn(scene, view, origin, length) for length in (FINE, Tolerance().length))
    edges = fine.edges
    lost = _neither(fine.hidden, _bare(usual), edges)
    gained = _neither(usual.hidden, _bare(fine), edges)
    size = _sizes(lost, edges)
    narrow = (_has_face(edges) & ~_has_face(usual.edges))[lost.edge]
    short = ~narrow & (size < Tolerance().dash)
    beside = ~narrow & ~short & _beside_another(lost, edges)
    parts = {"narrow": narrow, "short": short, "beside": beside, "unexplained": ~narrow & ~short & ~beside}
    return {
        "less": float(size.sum()),
        **{name: float(size[rows].sum()) for name, rows in parts.items()},
        "more": float(_sizes(gained, edges).sum()),
    }


def _drawn(scene: Scene, view: View, origin: np.ndarray, tolerance: float) -> Drawing:
    return resolve(scene, view, origin=origin, tolerance=Tolerance(length=tolerance), threads=1, tile=None)


def _bare(drawing: Drawing) -> Dashes:
    return complement(drawing.hidden, drawing.edges.length, 0.0)[0]


def _neither(first: Dashes, second: Dashes, edges: PageEdges) -> Dashes:
    """Parts of edges in neither of two sets of dashes."""
    return complement(Dashes.joined([first, second]), edges.length, 0.0)[0]


def _sizes(dashes: Dashes, edges: PageEdges) -> np.ndarray:
    return (dashes.end - dashes.begin) * edges.length[dashes.edge]


def _total(lines: np.ndarray) -> float:
    return float(np.hypot(*(lines[:, 1] - lines[:, 0]).T).sum())


def _inside(lines: np.ndarray, shapes: np.ndarray) -> float:
    """Length of lines within polygons that lie apart, not counted along their outlines."""
    drawn = shapely.linestrings(lines)
    shape, line = shapely.STRtree(drawn).query(shapes, predicate="intersects")
    whole, along = (
        shapely.length(shapely.intersection(drawn[line], among[shape])).sum()
        for among in (shapes, shapely.boundary(shapes))
    )
    return float(whole - along)


def _has_face(edges: PageEdges) -> np.ndarray:
    return np.bincount(edges.member_edge, minlength=len(edges)) > 0


def _among(ends: np.ndarray, lines: np.ndarray) -> np.ndarray:
    """Whether each line is one of others, whichever way round."""
    tree = shapely.STRtree(shapely.points(lines.mean(axis=1)))
    row, other = tree.query(shapely.points(ends.mean(axis=1)), predicate="dwithin", distance=SAME)
    ahead, back = lines[other], lines[other][:, ::-1]
    same = [(np.abs(ends[row] - way) <= SAME).all(axis=(1, 2)) for way in (ahead, back)]
    return np.isin(np.arange(len(ends)), row[same[0] | same[1]])


def _beside_another(dashes: Dashes, edges: PageEdges) -> np.ndarray:
    """Whether both ends of a dash lie within the page tolerance of one other edge."""
    lines, ends = shapely.linestrings(edges.xy), shapely.points(dashes.xy(edges))
    near = 2 * Tolerance().page
    row, other = shapely.STRtree(lines).query(ends[:, 0], predicate="dwithin", distance=near)
    along = (other != dashes.edge[row]) & shapely.dwithin(ends[row, 1], lines[other], near)
    return np.isin(np.arange(len(dashes)), row[along])


def run_one(what: str, kind: str, count: int, seed: int) -> dict[str, float]:
    """One measurement, in a process of its own."""
    scene, view = make(kind, count, seed=seed), planometric(TURN)
    origin = scene.faces.xyz.min(axis=0)
    if what == "siteaxo":
        resolve(make(kind, 30), view, origin=origin, threads=1)  # what is loaded when first used is not timed
    begun = time.process_time()
    if what == "siteaxo":
        resolve(scene, view, origin=origin, threads=1)
        return {"seconds": time.process_time() - begun, "peak": peak_gib()}
    solids = kernel_solids(scene.faces, view, origin)
    building = time.process_time() - begun
    lines = kernel_lines(solids, apart=what == "apart")
    result = {"seconds": lines.seconds, "building": building, "peak": peak_gib()}
    if what == "lengths":
        result |= {**compare(scene, view, origin, lines), **left_out(scene, view, origin)}
    return result


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--counts", nargs="+", type=int, default=[10, 30, 100, 300, 1000, 3000])
    parser.add_argument("--kind", nargs="+", choices=("open", "dense"), default=["open", "dense"])
    parser.add_argument("--what", nargs="+", choices=("lengths", "times"), default=["lengths", "times"])
    parser.add_argument("--seeds", type=int, default=1, help="districts whose lengths are compared")
    parser.add_argument("--repeats", type=int, default=1, help="runs that are timed; medians count")
    parser.add_argument("--apart", action="store_true", help="also time the kernel with solids one by one")
    parser.add_argument("--timeout", type=float, default=900.0, help="of each run [s]")
    parser.add_argument("--one", nargs=4, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        what, kind, count, seed = options.one
        print(json.dumps(run_one(what, kind, int(count), int(seed))))
        return
    print_facts()
    names = [(kind, count) for kind in options.kind for count in options.counts]
    if "lengths" in options.what:
        print_lengths(names, options.seeds, options.timeout)
    if "times" in options.what:
        print_times(names, options.repeats, options.apart, options.timeout)


def print_lengths(names: Sequence[tuple[str, int]], seeds: int, timeout: float) -> None:
    """How far the lengths are apart, and why."""
    print(f"\nLengths of edges [m]: the kernel against siteaxo at a tolerance of {FINE:g} m;")
    print("then what is not drawn at the usual tolerance, and why")
    columns = ("doubled", "edge_on", "through", "visible_off", "hidden_off")
    usual = ("less", "narrow", "short", "beside", "unexplained", "more")
    rows = []
    for kind, count in names:
        for seed in range(seeds):
            case = child(__file__, "--one", "lengths", kind, str(count), str(seed), timeout=timeout)
            if case is None:
                rows.append([kind, count, seed, "out of time", *[""] * (len(columns) + len(usual))])
                continue
            off = [f"{case[name]:.4f}" for name in columns[:3]] + [
                f"{case[name]:.1e}" for name in columns[3:]
            ]
            rows.append(
                [kind, count, seed, f"{case['visible']:.3f}", *off, *(f"{case[n]:.4f}" for n in usual)]
            )
    print_table([*CASE, "seed", "visible", *columns, *usual], rows)


def print_times(names: Sequence[tuple[str, int]], repeats: int, apart: bool, timeout: float) -> None:
    """How many times as long the kernel takes; one thread and one process each."""
    print(f"Seconds of the processor, one thread (median of {repeats}), without building the kernel's solids")
    ways = ["together", "apart"] if apart else ["together"]
    rows = []
    for kind, count in names:
        words = (kind, str(count), "0")
        ours, *theirs = (_median(what, words, repeats, timeout) for what in ("siteaxo", *ways))
        rows.append(
            [kind, count, *(f"{x:.3f}" for x in (ours, *theirs)), *(f"{x / ours:.1f}" for x in theirs)]
        )
    print_table([*CASE, "siteaxo", *(f"kernel {w}" for w in ways), *(f"ratio {w}" for w in ways)], rows)


def _median(what: str, words: tuple[str, ...], repeats: int, timeout: float) -> float:
    runs = [child(__file__, "--one", what, *words, timeout=timeout) for _ in range(repeats)]
    return statistics.median(math.inf if run is None else run["seconds"] for run in runs)


if __name__ == "__main__":
    main()
