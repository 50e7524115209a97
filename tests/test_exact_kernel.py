"""
Edge lengths against the exact hidden-line algorithm of a general-purpose geometry kernel.

The reference is the boundary-representation hidden-line removal of the package
``cadquery-ocp-novtk`` (or ``cadquery-ocp``), which shares no code with the library: its
solids are looked at from straight above after the shear that a planometric view is.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

pytest.importorskip("OCP", reason="the geometry kernel is part of the dev extra")
sys.path.append(str(Path(__file__).parent / "benchmarks"))

from districts import District, district, scene_of
from exact_kernel import compare, left_out
from kernel import KernelLines, kernel_lines, kernel_solids

from siteaxo.view.projection import View, planometric
from siteaxo.view.resolve import resolve
from siteaxo.view.tolerance import Tolerance

AGREE = 1e-9  # relative


def asked(made: District, view: View) -> tuple[np.ndarray, KernelLines]:
    """Origin used, and what the kernel says."""
    scene = made.scene()
    origin = scene.faces.xyz.min(axis=0)
    return origin, kernel_lines(kernel_solids(scene.faces, view, origin))


def total(lines: np.ndarray) -> float:
    """Length of all lines [m]."""
    return float(np.hypot(*(lines[:, 1] - lines[:, 0]).T).sum())


@pytest.mark.parametrize("kind", ["open", "dense"])
@pytest.mark.parametrize(("count", "seed"), [(10, 1), (10, 2), (30, 1), (30, 2), (100, 1), (100, 2)])
def test_lengths_are_those_of_the_kernel(kind: str, count: int, seed: int) -> None:
    made, view = district(kind, count, seed=seed), planometric(30)
    origin, lines = asked(made, view)
    found = compare(made.scene(), view, origin, lines)
    assert found["visible"] > 50 * count  # a footprint has some 90 m of edges on the page
    assert abs(found["visible_off"]) <= AGREE
    assert abs(found["hidden_off"]) <= AGREE


@pytest.mark.parametrize("turn", [45.0, 60.0, 200.0])
@pytest.mark.parametrize("height_factor", [2 / 3, 1.0])
def test_any_turn_and_height_factor(turn: float, height_factor: float) -> None:
    made, view = district("dense", 40, seed=3), planometric(turn, height_factor)
    origin, lines = asked(made, view)
    found = compare(made.scene(), view, origin, lines)
    assert abs(found["visible_off"]) <= AGREE
    assert abs(found["hidden_off"]) <= AGREE


def test_every_line_is_a_line_of_the_kernel() -> None:
    made, view = district("dense", 60, seed=4), planometric(30)
    origin, lines = asked(made, view)
    drawing = resolve(made.scene(), view, origin=origin, tolerance=Tolerance(length=1e-6))
    ours = shapely.linestrings(drawing.dashes.xy(drawing.edges))
    theirs = shapely.linestrings(lines.visible)
    tree = shapely.STRtree(theirs)
    row, other = tree.query(ours, predicate="dwithin", distance=1e-6)
    same = shapely.hausdorff_distance(ours[row], theirs[other]) <= 1e-6
    assert set(row[same]) == set(range(len(ours)))
    assert set(other[same]) == set(range(len(theirs)))


def test_tiles_agree_with_the_kernel() -> None:
    made, view = district("dense", 100, seed=4), planometric(30)
    origin, lines = asked(made, view)
    scene, fine = made.scene(), Tolerance(length=1e-6)
    whole, tiled = (
        resolve(scene, view, origin=origin, tolerance=fine, tile=tile, threads=1) for tile in (None, 12)
    )
    assert tiled.report["tiles"] > 4
    assert tiled.report["visible_length"] == pytest.approx(total(lines.visible), rel=AGREE)
    assert tiled.report["visible_area"] == pytest.approx(whole.report["visible_area"], rel=AGREE)


def test_usual_tolerance_leaves_out_only_what_it_should() -> None:
    made, view = district("dense", 100, seed=6), planometric(30)
    scene = made.scene()
    missing = left_out(scene, view, scene.faces.xyz.min(axis=0))
    assert missing["unexplained"] == 0
    assert missing["more"] <= 1e-3  # ends that count as on a side


def test_solids_apart_or_together_are_the_same_to_the_kernel() -> None:
    made, view = district("open", 20, seed=7), planometric(30)
    scene = made.scene()
    solids = kernel_solids(scene.faces, view, np.zeros(3))
    together, apart = kernel_lines(solids), kernel_lines(solids, apart=True)
    assert total(together.visible) == pytest.approx(total(apart.visible), rel=1e-12)


def test_box_by_hand_and_by_kernel() -> None:
    # Seen from the south with height factor 1 a box 4 × 3 × 2 shows its top, 2 · (4 + 3),
    # and its front, which adds 4 + 2 · 2; east and west walls are edge-on.
    view, origin = planometric(0), np.zeros(3)
    scene = scene_of(np.array([shapely.box(0, 0, 4, 3)]), np.array([0.0]), np.array([2.0]))
    lines = kernel_lines(kernel_solids(scene.faces, view, origin))
    drawing = resolve(scene, view, origin=origin)
    assert drawing.report["drawn_length"] == pytest.approx(22.0, rel=1e-12)
    assert total(lines.visible) == pytest.approx(22.0, rel=1e-12)
