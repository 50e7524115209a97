"""
Lengths of visible and hidden edges against the exact hidden-line algorithm of a
general-purpose geometry kernel (Open CASCADE, from the package cadquery-ocp-novtk).

What the two may differ by is told in ``tests/benchmarks/exact_kernel.py``: edges of faces
narrower on the page than the usual tolerance, which the kernel takes for edge-on.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("OCP")
sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

from districts import make  # noqa: E402
from exact_kernel import compare  # noqa: E402
from kernel import kernel_lines, kernel_solids  # noqa: E402

from siteaxo.view.projection import planometric  # noqa: E402

ORIGIN = np.zeros(3)


@pytest.mark.parametrize("kind", ["open", "dense"])
@pytest.mark.parametrize(("count", "seed"), [(10, 1), (30, 2), (100, 3)])
@pytest.mark.parametrize("view", [planometric(30), planometric(60, 2 / 3)], ids=str)
def test_lengths_agree_with_the_kernel(kind, count, seed, view):
    scene = make(kind, count, seed=seed)
    lines = kernel_lines(kernel_solids(scene.faces, view, ORIGIN))
    found = compare(scene, view, ORIGIN, lines)
    assert found["visible"] > 20 * count, "the district is there to be seen"
    assert abs(found["visible_off"]) < 1e-9
    assert abs(found["hidden_off"]) < 1e-9
