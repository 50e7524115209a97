"""Ramps: sloping tops, landings, running slope."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box
from solidity import areas, codes, levels, open_edges, solid_of, stacked, vector_areas, volume, warps

from siteaxo.solids import limits
from siteaxo.solids.faces import PART_CODE

LOW = {"role": "terrace", "geometry": box(-30, -30, 60, 60), "base": -1, "top": 0}


def upper(geometry, top):
    return {"role": "deck", "geometry": geometry, "base": 0, "top": top}


def ramp(geometry, top, **more):
    return {"role": "ramp", "geometry": geometry, "base": 0, "top": top, **more}


def test_limits_are_those_of_the_standard():
    """2010 ADA Standards §405.2 (1:12), §405.6 (30 in), §405.7 (60 in), §403.3 (1:20 and 1:48)."""
    assert pytest.approx(1 / 12) == limits.RAMP_SLOPE_MOST
    assert pytest.approx(0.762) == limits.RAMP_RISE_MOST
    assert pytest.approx(1.524) == limits.RAMP_LANDING_LEAST
    assert pytest.approx(1 / 20) == limits.WALK_SLOPE_MOST
    assert pytest.approx(1 / 48) == limits.WALK_CROSS_SLOPE_MOST


def test_a_straight_ramp_is_a_wedge():
    stack = stacked(LOW, upper(box(0, 8.4, 4, 12), 0.6), ramp(box(0, 0, 1.8, 8.4), 0.6))
    faces = solid_of(stack, 2)
    assert volume(faces) == pytest.approx(0.5 * 8.4 * 0.6 * 1.8, abs=1e-9)
    assert areas(faces, "slope") == pytest.approx([1.8 * np.hypot(8.4, 0.6)], abs=1e-9)
    assert sorted(areas(faces, "side")) == pytest.approx([0.6 * 1.8, 8.4 * 0.3, 8.4 * 0.3], abs=1e-9)
    assert open_edges(faces) == 0
    assert stack.walks.ramps.slope == pytest.approx([1 / 14])
    assert codes(stack) == []


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 57])
def test_levels_around_it_tell_which_way_it_climbs(turn):
    def turned(shape):
        return shapely.affinity.rotate(shape, turn, origin=(0, 0))

    faces = solid_of(
        stacked(LOW, upper(turned(box(0, 8.4, 4, 12)), 0.6), ramp(turned(box(0, 0, 1.8, 8.4)), 0.6)), 2
    )
    foot = turned(LineString([(0, 0), (1.8, 0)]))
    head = faces.xyz[faces.xyz[:, 2] > 0.599, :2]
    assert shapely.distance(foot, shapely.points(head)) == pytest.approx(8.4, abs=1e-9)


def test_short_and_wide_it_follows_the_levels_not_its_long_side():
    stack = stacked(LOW, upper(box(0, 1, 9, 3), 0.08), ramp(box(0, 0, 9, 1), 0.08))
    assert stack.walks.ramps.slope == pytest.approx([0.08])


@pytest.mark.parametrize(("run", "expected"), [(7.2, []), (7.1, ["ramp-steep"])])
def test_steeper_than_usual_is_a_finding(run, expected):
    """0.6 m in 7.2 m is 1:12 (2010 ADA Standards §405.2)."""
    line = LineString([(0, 0), (0, run)])
    assert codes(stacked(LOW, ramp(line, 0.6, width=1.5))) == expected


def test_too_high_a_run_is_a_finding_that_a_landing_cures():
    """1.2 m needs one landing (2010 ADA Standards §405.6): 20 m are then 9.25 + 1.5 + 9.25 m."""
    line = LineString([(0, 0), (0, 20)])
    assert codes(stacked(LOW, ramp(line, 1.2, width=1.8))) == ["ramp-run-high"]
    stack = stacked(LOW, ramp(line, 1.2, width=1.8, landing=1.5))
    faces = solid_of(stack, 1)
    assert codes(stack) == []
    assert areas(faces, "top") == pytest.approx([1.5 * 1.8], abs=1e-9)
    assert levels(faces, "top") == pytest.approx([0.6], abs=1e-12)
    assert stack.walks.ramps.slope == pytest.approx([1.2 / 18.5])
    assert volume(faces) == pytest.approx(1.8 * (9.25 * 0.3 + 1.5 * 0.6 + 9.25 * 0.9), abs=1e-9)
    assert open_edges(faces) == 0


def test_a_long_run_between_turns_has_a_landing_of_its_own():
    """By hand: runs of 19.1, 1.2 and 19.1 m rise 1.8 m, so the longest rises 19.1 / 39.4 × 1.8 = 0.873 m."""
    line = LineString([(0, 0), (0, 20), (3, 20), (3, 0)])
    found = stacked(LOW, ramp(line, 1.8, width=1.8)).findings
    (high,) = (finding for finding in found if finding.code == "ramp-run-high")
    assert high.value == "0.873 m"
    assert "Give it a `landing`" in high.message
    # A landing halfway up each of the long ones leaves 8.65 + 8.65 + 1.2 + 8.65 + 8.65 m to climb.
    stack = stacked(LOW, ramp(line, 1.8, width=1.8, landing=1.8))
    faces = solid_of(stack, 1)
    assert "ramp-run-high" not in codes(stack)
    assert areas(faces, "top") == pytest.approx([1.8**2] * 4, abs=1e-9)
    way = np.array([8.65, 17.3, 18.5, 27.15])
    assert np.sort(levels(faces, "top")) == pytest.approx(1.8 / 35.8 * way, abs=1e-12)
    assert stack.walks.ramps.rise_per_run == pytest.approx([8.65 * 1.8 / 35.8])
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12


def test_a_run_without_room_for_a_landing_leaves_the_others_theirs():
    """Turns 3 m apart share a landing of 5 m; of legs of 17.5 and 3.5 m only the first has room for more."""
    line = LineString([(0, 0), (0, 20), (3, 20), (3, 14)])
    stack = stacked(LOW, ramp(line, 1.8, width=1.8, landing=5.0))
    faces = solid_of(stack, 1)
    # Of 12.5 + 3.5 m that climb, the last run has 3.5: 0.394 m; one landing of 5 m lies in the first leg,
    # whose two runs rise 6.25 × 1.8 / 16 = 0.703 m.
    assert np.sort(areas(faces, "top")) == pytest.approx([5 * 1.8, (2.5 + 3 + 2.5) * 1.8], abs=1e-9)
    assert stack.walks.ramps.rise_per_run == pytest.approx([6.25 * 1.8 / 16])
    tight = stacked(LOW, ramp(line, 6.0, width=1.8, landing=5.0))
    assert "too short for landings" in " ".join(finding.message for finding in tight.findings)
    assert open_edges(solid_of(tight, 1)) == 0


def test_a_ramp_without_room_for_its_landing_says_so():
    """0.8 m rise in one run of 4 m; a landing of 5 m is longer than all of it."""
    line = LineString([(0, 0), (0, 4)])
    found = stacked(LOW, ramp(line, 0.8, width=1.8, landing=5.0)).findings
    (high,) = (finding for finding in found if finding.code == "ramp-run-high")
    assert "too short for landings" in high.message


def test_no_landing_is_laid_in_where_none_is_needed():
    faces = solid_of(stacked(LOW, ramp(LineString([(0, 0), (0, 20)]), 0.76, width=1.8, landing=1.5)), 1)
    assert len(areas(faces, "top")) == 0


def test_a_switchback_rests_at_its_turns():
    """Runs of 9.1, 1.2 and 9.1 m between two landings of 1.8 × 1.8 m."""
    line = LineString([(0, 0), (0, 10), (3, 10), (3, 0)])
    stack = stacked(LOW, ramp(line, 1.2, width=1.8))
    faces = solid_of(stack, 1)
    slope = 1.2 / 19.4
    one, two = 9.1 * slope, 10.3 * slope
    assert stack.walks.ramps.slope == pytest.approx([slope])
    assert np.sort(levels(faces, "top")) == pytest.approx([one, two], abs=1e-12)
    assert areas(faces, "top") == pytest.approx([3.24, 3.24], abs=1e-9)
    strips = 9.1 * one / 2 + 1.2 * (one + two) / 2 + 9.1 * (two + 1.2) / 2
    assert volume(faces) == pytest.approx(1.8 * (strips + 1.8 * (one + two)), abs=1e-9)
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12


def test_close_runs_share_one_landing():
    """Centre lines 2 m apart: the 0.2 m between the turns are level."""
    line = LineString([(0, 0), (0, 10), (2, 10), (2, 0)])
    stack = stacked(LOW, ramp(line, 1.0, width=1.8))
    faces = solid_of(stack, 1)
    assert areas(faces, "top") == pytest.approx([1.8 * 3.8], abs=1e-9)
    assert levels(faces, "top") == pytest.approx([0.5], abs=1e-12)
    assert open_edges(faces) == 0


def test_landings_at_turns_can_be_longer_than_the_width():
    """3 m landings: 1.5 m before and after the turn, 1.2 m wide."""
    line = LineString([(0, 0), (0, 10), (10, 10)])
    stack = stacked(LOW, ramp(line, 0.7, width=1.2, landing=3.0))
    faces = solid_of(stack, 1)
    assert areas(faces, "top") == pytest.approx([2 * 1.5 * 1.2], abs=1e-9)
    assert stack.walks.ramps.slope == pytest.approx([0.7 / 17])


def test_slight_turns_are_no_landings():
    line = LineString([(0, 0), (0, 6), (1, 12)])
    faces = solid_of(stacked(LOW, ramp(line, 0.7, width=1.2)), 1)
    assert len(areas(faces, "top")) == 0
    assert areas(faces, "soffit").sum() == pytest.approx(line.length * 1.2, abs=1e-9)
    assert open_edges(faces) == 0


def test_a_curved_ramp_winds_up_in_planar_facets():
    angle = np.radians(np.linspace(0, 90, 16))
    unit = np.column_stack([np.cos(angle), np.sin(angle)])
    outline = Polygon(np.vstack([8 * unit, 6.2 * unit[::-1]]))
    stack = stacked(LOW, upper(box(-12, 0, 0, 12), 0.7), ramp(outline, 0.7))
    faces = solid_of(stack, 2)
    assert codes(stack) == []
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12
    slope = faces.part == PART_CODE["slope"]
    assert vector_areas(faces)[slope, 2].sum() == pytest.approx(outline.area, abs=1e-9)
    assert volume(faces) == pytest.approx(outline.area * 0.35, rel=1e-2)


def test_a_level_ramp_is_a_sheet():
    stack = stacked(LOW, ramp(box(0, 0, 2, 5), 0.0))
    assert codes(stack) == []
    assert areas(solid_of(stack, 1)) == pytest.approx([10.0])


def test_levels_anywhere_on_a_ramp_and_beyond():
    stack = stacked(LOW, ramp(LineString([(0, 0), (0, 20)]), 1.2, width=1.8, landing=1.5))
    places = np.array([[0.3, -4], [0, 0], [-0.7, 4.625], [0, 9.25], [0.2, 10.1], [0, 20], [0, 25]])
    level = stack.walks.level_at(np.zeros(len(places), dtype=int), places)
    assert level == pytest.approx([0, 0, 0.3, 0.6, 0.6, 1.2, 1.2], abs=1e-9)
