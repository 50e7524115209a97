"""Steps all round a plinth or a well, and cheek walls where flights wrap a corner."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box
from solidity import areas, codes, heights, levels, open_edges, solid_of, stacked, volume, warps

GROUND = {"role": "terrace", "geometry": box(-10, -10, 20, 20), "base": -1, "top": 0}
RING = box(0, 0, 6, 6) - box(1.2, 1.2, 4.8, 4.8)
PLINTH = {"role": "terrace", "geometry": box(1.2, 1.2, 4.8, 4.8), "base": -1, "top": 0.6}


def steps(shape, top=0.6, **more):
    return {"role": "steps", "geometry": shape, "base": 0, "top": top, **more}


def test_steps_all_round_a_plinth():
    """
    Four risers of 0.15 m and three treads of 0.4 m; the last riser is the plinth's own.

    The rings of treads are 6², 5.2², 4.4² and 3.6² m² at their borders.
    """
    stack = stacked(GROUND, PLINTH, steps(RING))
    faces = solid_of(stack, 2)
    assert codes(stack) == []
    tread = areas(faces, "tread")
    level = levels(faces, "tread")
    for k, (outer, inner) in enumerate([(6, 5.2), (5.2, 4.4), (4.4, 3.6)], start=1):
        at = np.isclose(level, 0.15 * k)
        assert tread[at].sum() == pytest.approx(outer**2 - inner**2, abs=1e-9)
    assert areas(faces, "riser").sum() == pytest.approx(0.15 * 4 * (6 + 5.2 + 4.4), abs=1e-9)
    assert heights(faces, "riser") == pytest.approx(np.full(12, 0.15), abs=1e-12)
    assert volume(faces) == pytest.approx(
        0.15 * (36 - 27.04) + 0.3 * (27.04 - 19.36) + 0.45 * (19.36 - 12.96)
    )
    assert (stack.walks.flights.risers == 4).all()
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-9


def test_steps_down_into_a_well():
    """The ground lies at 0.6 around a floor at 0: the outer border is the upper one."""
    around = {**GROUND, "top": 0.6, "geometry": box(-5, -5, 11, 11) - box(0, 0, 6, 6)}
    floor = {"role": "terrace", "geometry": box(1.2, 1.2, 4.8, 4.8), "base": -1, "top": 0.0}
    stack = stacked(around, floor, steps(RING))
    faces = solid_of(stack, 2)
    assert codes(stack) == []
    assert areas(faces, "riser").sum() == pytest.approx(0.15 * 4 * (3.6 + 4.4 + 5.2), abs=1e-9)
    low = np.isclose(levels(faces, "tread"), 0.15)
    assert areas(faces, "tread")[low].sum() == pytest.approx(4.4**2 - 3.6**2)


def test_a_closed_centre_line_is_the_same():
    line = LineString([(0.6, 0.6), (5.4, 0.6), (5.4, 5.4), (0.6, 5.4), (0.6, 0.6)])
    stack = stacked(GROUND, PLINTH, steps(line, width=1.2))
    assert areas(solid_of(stack, 2), "tread").sum() == pytest.approx(36 - 12.96, abs=1e-9)
    assert codes(stack) == []


def test_round_steps():
    """Borders of 32 chords; treads between circles of 3 and 1.8 m."""
    ring = Point(0, 0).buffer(3, quad_segs=8) - Point(0, 0).buffer(1.8, quad_segs=8)
    stand = {"role": "terrace", "geometry": Point(0, 0).buffer(1.8, quad_segs=8), "base": -1, "top": 0.6}
    stack = stacked(GROUND, stand, steps(ring))
    assert areas(solid_of(stack, 2), "tread").sum() == pytest.approx(ring.area, abs=1e-9)
    own = stack.scene.edges
    riser = np.isclose(own.start[:, 2] + own.end[:, 2], 0.15) & (own.solid >= 2)
    upright = riser & (
        shapely.distance(shapely.points(own.start[:, :2]), shapely.points(own.end[:, :2])) < 1e-9
    )
    # along the lowest riser only the ends of the two halves show
    assert (~own.smooth[upright]).sum() <= 4


def test_which_way_is_up_is_said_to_be_unclear():
    stack = stacked(GROUND, steps(RING))
    assert codes(stack) == ["direction-unclear"]
    low = np.isclose(levels(solid_of(stack, 1), "tread"), 0.15)
    assert areas(solid_of(stack, 1), "tread")[low].sum() > 0


def test_one_finding_for_both_halves():
    ring = box(0, 0, 6, 6) - box(0.6, 0.6, 5.4, 5.4)
    plinth = {**PLINTH, "geometry": box(0.6, 0.6, 5.4, 5.4)}
    assert codes(stacked(GROUND, plinth, steps(ring))) == ["tread-short"]


WRAP = Polygon([(0, 0), (7.2, 0), (7.2, 7.2), (6, 7.2), (6, 1.2), (0, 1.2)])
BLOCK = {"role": "terrace", "geometry": box(0, 1.2, 6, 7.2), "base": -1, "top": 0.6}


def test_cheek_walls_at_both_ends_of_steps_that_wrap_a_corner():
    """Walls of 0.25 m take 0.25 off the length of every tread at either end."""
    stack = stacked(GROUND, BLOCK, steps(WRAP, cheek=0.25))
    faces = solid_of(stack, 2)
    assert areas(faces, "tread").sum() == pytest.approx(WRAP.area - 2 * 0.25 * 1.2, abs=1e-9)
    assert stack.walks.flights.cheek_of.tolist() == [0, 0]
    # the walls begin 0.1 m above the first riser
    fronts = 2 * 0.25 * (0.15 + 0.1)
    assert areas(faces, "riser").sum() == pytest.approx(0.15 * (13.9 + 13.1 + 12.3) + fronts, abs=1e-9)
    # their tops rise along the nosings, 0.15 on 0.4 m
    assert areas(faces, "slope").sum() == pytest.approx(2 * 0.25 * np.hypot(1.2, 0.45))
    assert open_edges(faces) == 0


def test_a_wrap_too_narrow_for_its_cheeks_has_none():
    stack = stacked(GROUND, BLOCK, steps(WRAP, cheek=6.5))
    assert stack.walks.flights.cheek_of.tolist() == []
    assert areas(solid_of(stack, 2), "tread").sum() == pytest.approx(WRAP.area, abs=1e-9)
