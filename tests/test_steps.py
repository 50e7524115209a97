"""Flights of steps: equal risers, equal treads, closed solids, and which way is up."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, Polygon, box
from solidity import areas, codes, heights, levels, open_edges, solid_of, stacked, volume, warps

from siteaxo.solids import limits
from siteaxo.solids.runs import riser_count
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

LOW = {"role": "terrace", "geometry": box(-20, -20, 20, 20), "base": -1, "top": 0}
INCH = 0.0254


def upper(geometry, top=1.2):
    return {"role": "deck", "geometry": geometry, "base": 0, "top": top}


def steps(geometry, top=1.2, **more):
    return {"role": "steps", "geometry": geometry, "base": 0, "top": top, **more}


def sector(inner, outer, start, stop, count=16):
    """Ring sector of chords about the origin."""
    angle = np.radians(np.linspace(start, stop, count))
    unit = np.column_stack([np.cos(angle), np.sin(angle)])
    return Polygon(np.vstack([outer * unit, inner * unit[::-1]]))


def staircase(width, tread, riser, treads):
    """Volume under treads at 1, 2, ... risers [m³]."""
    return width * tread * riser * treads * (treads + 1) / 2


@pytest.fixture(scope="module")
def plain():
    """Eight risers of 0.15 m and seven treads of 0.35 m, 6 m wide, up to a deck."""
    return stacked(LOW, upper(box(0, 2.45, 6, 5)), steps(box(0, 0, 6, 2.45)))


def test_limits_are_those_of_the_standard():
    """2010 ADA Standards §504.2 (riser 4 to 7 in, tread 11 in)."""
    assert pytest.approx(4 * INCH) == limits.RISER_LEAST
    assert pytest.approx(7 * INCH) == limits.RISER_MOST
    assert pytest.approx(11 * INCH) == limits.TREAD_LEAST


def test_a_comfortable_step():
    """Two risers and a tread are about 630 mm (common practice)."""
    assert 2 * 0.15 + limits.comfortable_tread(0.15) == pytest.approx(0.63)


@pytest.mark.parametrize(
    ("rise", "wanted", "count"), [(1.2, np.nan, 8), (1.2, 0.17, 7), (0.1, np.nan, 1), (0.62, 0.15, 4)]
)
def test_number_of_risers_is_the_nearest(rise, wanted, count):
    assert riser_count(np.array([rise]), np.array([wanted])).tolist() == [count]


def test_risers_are_equal_and_sum_to_the_rise(plain):
    faces = solid_of(plain, 2)
    riser = heights(faces, "riser")
    assert len(riser) == 7  # the eighth is the edge of the deck
    assert np.abs(riser - 0.15).max() < 1e-9
    assert riser.sum() + (1.2 - levels(faces, "tread").max()) == pytest.approx(1.2, abs=1e-12)


def test_treads_are_equal(plain):
    faces = solid_of(plain, 2)
    assert areas(faces, "tread") == pytest.approx(np.full(7, 0.35 * 6), abs=1e-9)
    assert np.sort(levels(faces, "tread")) == pytest.approx(0.15 * np.arange(1, 8), abs=1e-12)


def test_the_flight_is_one_closed_solid(plain):
    faces = solid_of(plain, 2)
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12
    assert volume(faces) == pytest.approx(staircase(6, 0.35, 0.15, 7), abs=1e-9)


def test_its_flanks_are_one_polygon_each(plain):
    faces = solid_of(plain, 2)
    side = areas(faces, "side")
    profile = staircase(1, 0.35, 0.15, 7)
    assert np.sort(side) == pytest.approx(np.sort([profile, profile, 6 * 7 * 0.15]), abs=1e-9)


def test_what_is_seen_from_the_south(plain):
    """At turn 0 and full height nothing of a flight that climbs north is hidden."""
    drawing = resolve(plain.scene, planometric(0), origin=np.zeros(3))
    faces = plain.scene.faces
    seen = shapely.area(drawing.visible.polygon)
    own = plain.solid_feature[faces.solid[drawing.face]] == 2
    part = faces.part[drawing.face]
    assert seen[own & (part == 2)].sum() == pytest.approx(7 * 0.35 * 6, abs=1e-5)
    assert seen[own & (part == 3)].sum() == pytest.approx(7 * 0.15 * 6, abs=1e-5)


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 33, 211.7])
def test_levels_around_it_tell_which_way_it_climbs(turn):
    def turned(shape):
        return shapely.affinity.rotate(shape, turn, origin=(0, 0))

    stack = stacked(LOW, upper(turned(box(0, 2.45, 6, 5))), steps(turned(box(0, 0, 6, 2.45))))
    faces = solid_of(stack, 2)
    first = faces.xyz[np.isclose(faces.xyz[:, 2], 0.15)]
    away = shapely.distance(turned(LineString([(0, 0), (6, 0)])), shapely.points(first[:, :2]))
    assert away.min() == pytest.approx(0, abs=1e-9)
    assert away.max() == pytest.approx(0.35, abs=1e-9)
    assert volume(faces) == pytest.approx(staircase(6, 0.35, 0.15, 7), abs=1e-9)
    assert codes(stack) == []


def test_high_ground_on_both_flanks_does_not_turn_it():
    flanks = [upper(box(-3, 0, 0, 5)), upper(box(6, 0, 9, 5)), upper(box(0, 2.45, 6, 5))]
    stack = stacked(LOW, *flanks, steps(box(0, 0, 6, 2.45)))
    faces = solid_of(stack, 4)
    assert faces.xyz[np.isclose(faces.xyz[:, 2], 0.15), 1].min() == 0
    assert codes(stack) == []


def test_a_ceiling_above_it_is_no_upper_end():
    stack = stacked(
        LOW, upper(box(0, -3, 6, 0), top=4.0), upper(box(0, 2.45, 6, 5)), steps(box(0, 0, 6, 2.45))
    )
    faces = solid_of(stack, 3)
    assert faces.xyz[np.isclose(faces.xyz[:, 2], 0.15), 1].min() == 0


def test_without_anything_to_arrive_at_the_last_tread_is_the_top():
    faces = solid_of(stacked(LOW, steps(LineString([(0, 0), (0, 2.8)]), width=6)), 1)
    assert levels(faces, "tread").max() == pytest.approx(1.2, abs=1e-12)
    assert volume(faces) == pytest.approx(staircase(6, 0.35, 0.15, 8), abs=1e-9)
    assert open_edges(faces) == 0


def test_a_single_riser_is_a_block_up_to_the_top():
    faces = solid_of(stacked(LOW, upper(box(0, 1, 3, 4), top=0.15), steps(box(0, 0, 3, 1), top=0.15)), 2)
    assert volume(faces) == pytest.approx(3 * 1 * 0.15, abs=1e-12)
    assert heights(faces, "riser") == pytest.approx([0.15])


def test_an_undecided_flight_is_a_finding_and_takes_its_comfortable_run():
    """Treads of 0.35 m over the short side, 1.71 m over the long one."""
    stack = stacked(LOW, steps(box(0, 0, 12, 2.45)))
    assert codes(stack) == ["direction-unclear"]
    assert areas(solid_of(stack, 1), "tread").max() == pytest.approx(12 * 2.45 / 8, abs=1e-9)
    assert heights(solid_of(stack, 1), "riser") == pytest.approx(np.full(8, 0.15))
    assert np.ptp(solid_of(stack, 1).xyz[np.isclose(solid_of(stack, 1).xyz[:, 2], 0.15), 0]) == 12


@pytest.mark.parametrize(("riser", "count"), [(0.5, 3), (0.42, 4), (0.15, 10), (np.nan, 10)])
def test_ends_do_not_follow_from_the_riser(riser, count):
    """Seat steps rise by more than anybody climbs at a stride; 1.5 m over 14 by 2.4 m, up to a deck."""
    flight = steps(box(0, 0, 14, 2.4), top=1.5, riser=riser)
    stack = stacked(LOW, upper(box(0, 2.4, 14, 5), top=1.5), flight)
    faces, treads = solid_of(stack, 2), count - 1  # the last one is the deck
    assert heights(faces, "riser") == pytest.approx(np.full(treads, 1.5 / count))
    assert areas(faces, "tread") == pytest.approx(np.full(treads, 14 * 2.4 / treads))
    assert volume(faces) == pytest.approx(staircase(14, 2.4 / treads, 1.5 / count, treads), abs=1e-9)
    assert "run-unclear" not in codes(stack)


def test_seat_steps_alone_climb_over_their_short_side():
    """Three risers of 0.5 m and three treads of 0.8 m; there is nothing to arrive at."""
    stack = stacked(LOW, steps(box(0, 0, 14, 2.4), top=1.5, riser=0.5))
    assert "direction-unclear" in codes(stack)
    assert areas(solid_of(stack, 1), "tread") == pytest.approx(np.full(3, 14 * 0.8), abs=1e-9)


def test_what_cannot_be_read_says_what_to_give():
    (finding,) = stacked(LOW, steps(shapely.Point(0, 0).buffer(2))).findings
    for said in (
        "foot",
        "head",
        "no two straight sides",
        "centre line uphill with a width",
        "two side lines",
    ):
        assert said in finding.message


def test_a_centre_line_is_drawn_uphill():
    stack = stacked(LOW, upper(box(-2, 2.45, 2, 6)), steps(LineString([(0, 0), (0, 2.45)]), width=1.6))
    faces = solid_of(stack, 2)
    assert volume(faces) == pytest.approx(staircase(1.6, 0.35, 0.15, 7), abs=1e-9)
    assert codes(stack) == []


def test_one_drawn_downhill_is_turned_round():
    stack = stacked(LOW, upper(box(-2, 2.45, 2, 6)), steps(LineString([(0, 2.45), (0, 0)]), width=1.6))
    faces = solid_of(stack, 2)
    assert codes(stack) == ["drawn-downhill"]
    assert faces.xyz[np.isclose(faces.xyz[:, 2], 0.15), 1].min() == 0


def test_a_curved_flight_from_its_outline():
    """Treads are ring sectors of equal angle: areas of their polygons of chords."""
    outline = sector(2.5, 4.0, 0, 90)
    stack = stacked(LOW, upper(box(-6, 0, 0, 6), top=1.2), steps(outline))
    faces = solid_of(stack, 2)
    tread = shapely.area([sector(2.5, 4.0, 0, 90)]) / 7
    assert areas(faces, "tread") == pytest.approx(np.full(7, tread[0]), rel=3e-3)
    assert areas(faces, "tread").sum() == pytest.approx(outline.area, abs=1e-9)
    assert open_edges(faces) == 0
    assert heights(faces, "riser") == pytest.approx(np.full(7, 0.15), abs=1e-12)
    assert codes(stack) == []


def test_steps_all_along_a_curve():
    """The same outline with high ground within its inner side climbs inward."""
    inside = Polygon(np.vstack([[0, 0], shapely.get_coordinates(sector(1, 2.5, 0, 90))[:16]]))
    stack = stacked(LOW, upper(inside, top=0.6), steps(sector(2.5, 4.0, 0, 90), top=0.6))
    faces = solid_of(stack, 2)
    radius = np.hypot(*faces.xyz[:, :2].T)
    assert np.unique(radius.round(6)) == pytest.approx([2.5, 3.0, 3.5, 4.0])
    assert radius[np.isclose(faces.xyz[:, 2], 0.15)].max() == pytest.approx(4.0)
    assert open_edges(faces) == 0


def test_steps_that_wrap_a_corner():
    """Two L-shaped treads, 0.35 m deep: 4 + 3.65 m and 3.65 + 3.3 m long."""
    outline = Polygon([(0, 0), (4, 0), (4, 4), (3.3, 4), (3.3, 0.7), (0, 0.7)])
    stack = stacked(LOW, upper(box(0, 0.7, 3.3, 4), top=0.45), steps(outline, top=0.45))
    faces = solid_of(stack, 2)
    assert np.sort(areas(faces, "tread")) == pytest.approx([0.35 * 6.95, 0.35 * 7.65], abs=1e-9)
    assert volume(faces) == pytest.approx(0.35 * (7.65 * 0.15 + 6.95 * 0.30), abs=1e-9)
    assert open_edges(faces) == 0
    assert codes(stack) == []


def test_two_side_lines_make_a_splayed_flight():
    """Widths go evenly from 2 m to 1.5 m; one line is drawn the other way round."""
    pair = MultiLineString([[(0, 0), (0, 2.8)], [(1.5, 2.8), (2, 0)]])
    parts = [steps(part, id="S1") for part in pair.geoms]
    stack = stacked(LOW, upper(box(0, 2.8, 1.5, 5)), *parts)
    assert len(stack.features) == 3
    faces = solid_of(stack, 2)
    width = 2 - 0.5 * (np.arange(7) + 0.5) / 7
    assert np.sort(areas(faces, "tread")) == pytest.approx(np.sort(0.4 * width), abs=1e-9)
    assert stack.features.geometry[2].area == pytest.approx(2.8 * 1.75)
    assert open_edges(faces) == 0


def test_two_lines_of_one_feature_with_a_width_are_two_flights():
    parts = [steps(LineString([(x, 0), (x, 2.45)]), id="S1", width=1.0) for x in (0, 4)]
    stack = stacked(LOW, upper(box(-1, 2.45, 6, 5)), *parts)
    assert len(stack.features) == 4
    assert volume(solid_of(stack, 3)) == pytest.approx(staircase(1.0, 0.35, 0.15, 7), abs=1e-9)


def test_cheek_walls_flank_the_flight():
    """Each 0.3 m wide, from one riser and 0.1 m at the foot to the rise and 0.1 m at the head."""
    stack = stacked(LOW, upper(box(0, 2.45, 6, 5)), steps(box(0, 0, 6, 2.45), cheek=0.3))
    faces = solid_of(stack, 2)
    wall = 0.3 * 2.45 * (0.25 + 1.3) / 2
    assert volume(faces) == pytest.approx(staircase(5.4, 0.35, 0.15, 7) + 2 * wall, abs=1e-9)
    assert len(np.unique(faces.solid)) == 3
    assert open_edges(faces) == 0


def test_a_landing_halfway_up_a_long_flight():
    """Sixteen risers and a landing of 1.2 m: two legs of 3.0 m with 7 treads each, the last to the top."""
    line = LineString([(0, 0), (0, 7.2)])
    stack = stacked(LOW, upper(box(-2, 7.2, 2, 9), top=2.4), steps(line, top=2.4, width=1.0, landing=1.2))
    faces = solid_of(stack, 2)
    tread = np.sort(areas(faces, "tread"))
    assert tread[-1] == pytest.approx(1.2, abs=1e-9)
    assert tread[:-1] == pytest.approx(np.full(14, 3.0 / 7), abs=1e-9)
    assert heights(faces, "riser") == pytest.approx(np.full(15, 0.15), abs=1e-12)
    assert open_edges(faces) == 0


def test_a_flight_that_turns_rests_at_the_turn():
    """Two legs of 3.25 m; the landing is the square of the width."""
    line = LineString([(0, 0), (0, 4), (4, 4)])
    stack = stacked(LOW, upper(box(4, 3, 6, 5), top=2.4), steps(line, top=2.4, width=1.5))
    faces = solid_of(stack, 2)
    tread = np.sort(areas(faces, "tread"))
    assert tread[-1] == pytest.approx(1.5**2, abs=1e-9)
    assert tread[:-1] == pytest.approx(np.full(14, 1.5 * 3.25 / 7), abs=1e-9)
    assert heights(faces, "riser") == pytest.approx(np.full(15, 0.15), abs=1e-12)
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12


@pytest.mark.parametrize(
    "outline",
    [
        shapely.Point(0, 0).buffer(2),
        box(0, 0, 4, 4) - shapely.Point(2, 2).buffer(1),
        Polygon([(0, 0), (4, 0), (0, 3)]),
    ],
    ids=["circle", "round hole in a square", "triangle"],
)
def test_what_has_no_two_ends_is_a_block_and_a_finding(outline):
    stack = stacked(LOW, steps(outline))
    assert codes(stack) == ["run-unclear"]
    assert volume(solid_of(stack, 1)) == pytest.approx(outline.area * 1.2, rel=1e-9)


def test_a_centre_line_that_turns_back_is_a_block_and_a_finding():
    stack = stacked(LOW, steps(LineString([(0, 0), (0, 4), (0.2, 0)]), width=1.0))
    assert codes(stack) == ["run-unclear"]


def test_slight_bends_are_overlooked():
    """The lower end bulges by 8 mm."""
    outline = Polygon([(0, 0), (3, -0.008), (6, 0), (6, 2.45), (0, 2.45)])
    stack = stacked(LOW, upper(box(0, 2.45, 6, 5)), steps(outline))
    assert codes(stack) == ["outline-straightened"]
    assert volume(solid_of(stack, 2)) == pytest.approx(staircase(6, 0.35, 0.15, 7), abs=1e-9)


@pytest.mark.parametrize(
    ("riser", "run", "expected"),
    [(0.15, 2.45, []), (0.24, 2.45, ["riser-unusual"]), (0.15, 1.4, ["tread-short"])],
)
def test_unusual_risers_and_treads_are_findings(riser, run, expected):
    stack = stacked(LOW, upper(box(0, run, 6, 5)), steps(box(0, 0, 6, run), riser=riser))
    assert codes(stack) == expected


def test_usual_limits_themselves_are_no_finding():
    """Seven risers of exactly 7 in and treads of exactly 11 in (2010 ADA Standards §504.2)."""
    rise, run = 7 * 7 * INCH, 6 * 11 * INCH
    flight = steps(LineString([(0, 0), (0, run)]), top=rise, width=2, riser=7 * INCH)
    assert codes(stacked(LOW, upper(box(-2, run, 2, 5), top=rise), flight)) == []


def test_many_flights_at_once_are_what_they_are_alone():
    rng = np.random.default_rng(5)
    rows = [LOW]
    expected = []
    for number in range(12):
        count, width, tread = int(rng.integers(2, 14)), rng.uniform(0.8, 5), rng.uniform(0.28, 0.4)
        line = LineString([(0, 0), (0, tread * count)])
        line = shapely.affinity.translate(shapely.affinity.rotate(line, rng.uniform(0, 360)), 30 * number, 60)
        rows.append(steps(line, top=0.15 * count, width=width))
        expected.append(staircase(width, tread, 0.15, count))
    stack = stacked(*rows)
    found = [volume(solid_of(stack, row)) for row in range(1, 13)]
    assert found == pytest.approx(expected, rel=1e-9)
    assert all(open_edges(solid_of(stack, row)) == 0 for row in range(1, 13))
    assert stack.walks.flights.risers.tolist() == [round(top / 0.15) for top in stack.features.top[1:]]
