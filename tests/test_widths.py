"""Lines made into footprints: widths, corners, junctions, rings, side lines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, box
from solidity import features, stacked

from siteaxo.solids.widths import pair_sides, with_widths
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

GROUND = {"role": "ground", "geometry": box(-5, -5, 15, 15), "base": -1, "top": 0}


def wall(*points, width=0.4, **more):
    return {"role": "wall", "geometry": LineString(points), "width": width, "height": 1.0, **more}


def footprints(*rows):
    return with_widths(features(*rows)).geometry


def drawn_inside(rows, area, turn):
    """Length of lines on the page that lie within an area of the walls' top."""
    stack = stacked(GROUND, *rows)
    drawing = resolve(stack.scene, planometric(turn, 0.5), origin=np.array([0.0, 0, 1.0]))
    lines = shapely.linestrings(drawing.dashes.xy(drawing.edges))
    page = shapely.affinity.rotate(area, turn, origin=(0, 0))
    return shapely.length(shapely.intersection(lines, page)).sum()


def test_ends_are_square():
    assert footprints(wall((0, 0), (4, 0)))[0].equals(box(0, -0.2, 4, 0.2))


def test_roles_have_a_width_of_their_own():
    """Walls are 0.3 m wide where nothing is said."""
    row = {"role": "wall", "geometry": LineString([(0, 0), (4, 0)]), "height": 1.0}
    assert footprints(row)[0].area == pytest.approx(4 * 0.3)


def test_corners_are_mitred():
    assert footprints(wall((0, 0), (4, 0), (4, 3)))[0].area == pytest.approx(0.4 * 7)


def test_a_closed_ring_has_no_seam():
    shape = footprints(wall((0, 0), (4, 0), (4, 3), (0, 3), (0, 0)))[0]
    frame = box(-0.2, -0.2, 4.2, 3.2) - box(0.2, 0.2, 3.8, 2.8)
    assert shape.symmetric_difference(frame).area == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("turn", [90, 60, -45, 110])
def test_two_lines_that_meet_end_to_end_make_a_mitre(turn):
    """Together they cover what one line with the corner covers."""
    far = shapely.affinity.rotate(shapely.Point(3, 0), turn, origin=(0, 0)).coords[0]
    apart = footprints(wall((-4, 0), (0, 0)), wall((0, 0), far))
    whole = footprints(wall((-4, 0), (0, 0), far))[0]
    assert shapely.union_all(apart).symmetric_difference(whole).area == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    "other",
    [
        wall((0, 0), (0, 3), width=0.3),
        wall((0, 0), (0, 3), layer="others"),
        wall((0, 0), (-3, 0.5)),
    ],
    ids=["another width", "another layer", "too sharp"],
)
def test_others_stay_square(other):
    assert footprints(wall((-4, 0), (0, 0)), other)[0].area == pytest.approx(4 * 0.4)


def test_where_three_meet_all_stay_square():
    rows = [wall((-4, 0), (0, 0)), wall((0, 0), (0, 3)), wall((0, 0), (4, 0))]
    assert shapely.area(footprints(*rows)) == pytest.approx([1.6, 1.2, 1.6])


@pytest.mark.parametrize("turn", [30, 120, 210, 300])
def test_a_junction_shows_no_line_within(turn):
    """A wall that ends on another's centre line, and one that crosses it."""
    rows = [wall((0, 0), (8, 0)), wall((3, 0), (3, 4)), wall((6, -2), (6, 3))]
    assert drawn_inside(rows, box(2.81, -0.19, 3.19, 0.5), turn) == pytest.approx(0, abs=1e-6)
    assert drawn_inside(rows, box(5.81, -0.5, 6.19, 0.5), turn) == pytest.approx(0, abs=1e-6)
    assert drawn_inside(rows, box(1, -0.3, 2, -0.1), turn) > 0.9  # the side of the wall is drawn


def test_a_corner_of_two_walls_shows_no_line_within():
    rows = [wall((0, 0), (5, 0)), wall((5, 0), (5, 4))]
    assert drawn_inside(rows, box(4, -0.19, 5.19, 0.19), 30) == pytest.approx(0, abs=1e-6)
    assert drawn_inside(rows, box(4.81, -0.19, 5.19, 1), 30) == pytest.approx(0, abs=1e-6)


def test_side_lines_become_one_feature():
    lines = [LineString([(0, 0), (0, 3)]), LineString([(2, 3), (2, 0)])]
    rows = [{"role": "ramp", "geometry": line, "base": 0, "top": 0.2, "id": "R7"} for line in lines]
    paired = pair_sides(features(GROUND, *rows))
    assert len(paired) == 2
    assert paired.source_id.tolist() == ["0", "R7"]
    assert with_widths(paired).geometry[1].equals(box(0, 0, 2, 3))


def test_one_line_or_three_are_no_pair():
    one = {"role": "steps", "geometry": LineString([(0, 0), (0, 3)]), "base": 0, "top": 1, "id": "S"}
    assert len(pair_sides(features(one))) == 1
    assert len(pair_sides(features(one, one, one))) == 3


def test_features_without_lines_are_handed_on():
    table = features(GROUND)
    assert with_widths(table) is table
    assert pair_sides(table) is table
