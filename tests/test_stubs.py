"""Short lines of steps leave with what they led on to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.craft.dress import dress
from siteaxo.craft.stubs import no_stubs
from siteaxo.craft.style import Style

SITES = Path(__file__).parent / "data" / "hard_sites"
# two treads 4 m wide with a riser of 0.15 between them at either end, as drawn from the side
TREADS = np.array(
    [
        [[0, 0], [4, 0]],
        [[0, 0.3], [4, 0.3]],
        [[4, 0], [4, 0.3]],
        [[0, 0], [0, 0.15]],
        [[0, 0.15], [0.1, 0.3]],
    ],
    dtype=float,
)
ALL = np.ones(5, dtype=bool)


def left(gone, steps=ALL, lines=TREADS, scale=500):
    """Numbers of the lines that are still drawn."""
    drawn = np.ones(len(lines), dtype=bool)
    drawn[gone] = False
    return np.flatnonzero(no_stubs(lines, drawn, steps, scale=scale)).tolist()


def test_ends_of_a_step_leave_with_its_edge():
    """At 1:500 a millimetre is half a metre: all but the treads are short; one after another leaves."""
    assert left([]) == [0, 1, 2, 3, 4]
    assert left([1]) == [0]


def test_what_is_longer_than_a_millimetre_stays():
    """At 1:200 it is 0.2 m: the riser of 0.3 stays, its half of 0.15 and what leads on to it do not."""
    assert left([1], scale=200) == [0, 2]


def test_lines_that_belong_to_no_flight_stay():
    assert left([1], steps=~ALL) == [0, 2, 3, 4]
    assert left([1], steps=np.arange(5) != 2) == [0, 2]


def test_an_end_that_met_nothing_is_no_stub():
    loose = np.array([[[0, 0], [4, 0]], [[2, 0], [2, 0.2]], [[9, 9], [9, 14]]], dtype=float)
    assert left([2], steps=np.ones(3, dtype=bool), lines=loose) == [0, 1]


def test_chords_of_a_curve_hang_together():
    """A quarter circle of nine chords of 0.17 m, 1.6 m in all, at whose end a line has given way."""
    angle = np.radians(np.linspace(0, 90, 10))
    xy = np.column_stack([np.cos(angle), np.sin(angle)])
    curve = np.stack([xy[:-1], xy[1:]], axis=1)
    lines = np.concatenate([curve, [[[0, 1], [0, 6]]]])
    assert left([9], steps=np.ones(10, dtype=bool), lines=lines) == list(range(9))
    assert left([9], steps=np.ones(10, dtype=bool), lines=lines, scale=1600) == []  # 0.98 mm in all


@pytest.mark.parametrize("turn", [30, 45, 60, 150])
def test_thinned_steps_leave_no_stubs(turn):
    """Each short line of a flight that wraps a corner ends on lines that are drawn, at both ends."""
    model = siteaxo.read_site(SITES / "steps_around_a_corner" / "site.toml").stack()
    edges = dress(model.draw(siteaxo.planometric(turn)), Style(), scale=500).edges
    shapes, drawn = edges.geometry.to_numpy(), edges["drawn"].to_numpy() > 0
    short = drawn & (edges["role"] == "steps").to_numpy() & (shapely.length(shapes) < 0.5)
    assert not drawn.all()
    for row in np.flatnonzero(short):
        others = shapes[drawn & (np.arange(len(shapes)) != row)]
        for end in shapely.get_coordinates(shapes[row]):
            assert shapely.distance(others, shapely.Point(end)).min() <= 0.05
