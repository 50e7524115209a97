"""Features stacked into solids: forms, owners, ranks, groups, and what stands on slopes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box
from solidity import open_edges, solid_of, stacked, volume

from siteaxo.solids.faces import PART_CODE
from siteaxo.solids.forms import FORMS
from siteaxo.source.roles import ROLES

GROUND = {"role": "ground", "geometry": box(0, 0, 30, 20), "base": -1, "top": 0}
ROWS = [
    GROUND,
    {"role": "terrace", "geometry": box(0, 12, 30, 20), "base": -1, "top": 1.2},
    {"role": "water", "geometry": box(20, 2, 24, 6), "top": -0.4},
    {"role": "steps", "geometry": box(2, 9.55, 6, 12), "base": 0, "top": 1.2},
    {"role": "ramp", "geometry": LineString([(28, 2), (28, 12)]), "base": 0, "top": 0.8, "width": 1.5},
    {"role": "wall", "geometry": LineString([(10, 11), (16, 11), (16, 8)]), "height": 1.0, "width": 0.3},
    {"role": "structure", "geometry": box(10, 1, 15, 5), "base": 0, "top": 3},
    {"role": "roof", "geometry": box(9.7, 0.7, 15.3, 5.3), "base": 3, "top": 4.5, "shape": "hip"},
    {"role": "planter", "geometry": box(2, 14, 4, 15), "height": 0.5},
    {"role": "rail", "geometry": LineString([(7, 12.2), (18, 12.2)]), "height": 1.0},
    {"role": "canopy", "geometry": box(18, 14, 23, 18), "base": 3.7, "top": 3.9, "posts": 2.5},
    {"role": "tree", "geometry": Point(8, 6), "height": 5.0},
    {"role": "people", "geometry": Point(5, 5)},
]


@pytest.fixture(scope="module")
def stack():
    return stacked(*ROWS)


def test_every_form_of_a_role_has_a_maker():
    """ "none" is drawn on the plan only, and levels make the ground."""
    forms = {role.form for role in ROLES.values()} - {"none", "levels"}
    assert forms <= set(FORMS)


def test_every_feature_but_notes_has_solids(stack):
    assert set(stack.solid_feature.tolist()) == set(range(len(ROWS) - 1))
    assert stack.scene.faces.solid.max() == len(stack.solid_feature) - 1


def test_solids_are_closed_and_look_outward(stack):
    for row in range(len(ROWS) - 1):
        if stack.features.height[row] > 0:
            assert open_edges(solid_of(stack, row)) == 0, stack.features.name_of(row)
            assert volume(solid_of(stack, row)) > 0, stack.features.name_of(row)


def test_volumes(stack):
    """By hand: prisms less what is cut out of them, a wall with a mitre, a hip roof."""
    assert volume(solid_of(stack, 0)) == pytest.approx((600 - 16) * 1.0)
    assert volume(solid_of(stack, 1)) == pytest.approx(240 * 2.2)
    assert volume(solid_of(stack, 5)) == pytest.approx(9 * 0.3 * 1.0)
    assert volume(solid_of(stack, 7)) == pytest.approx(1.5 * 4.6 * (5.6 / 2 - 4.6 / 6))


def test_floors_of_what_is_sunken_are_told_from_tops(stack):
    faces = solid_of(stack, 2)
    assert faces.part.tolist() == [PART_CODE["floor"]]
    assert faces.two_sided.all()


def test_later_roles_rank_higher(stack):
    rank = stack.scene.rank
    order = stack.features.order[stack.solid_feature]
    assert (np.diff(order[np.argsort(rank, kind="stable")]) >= 0).all()


def test_groups_are_role_and_material():
    paving = [
        {"role": "paving", "geometry": box(x, 1, x + 2, 3), "base": 0.0, "material": material}
        for x, material in ((0, "brick"), (2, "brick"), (4, "stone"))
    ]
    lawn = {"role": "lawn", "geometry": box(10, 1, 12, 3), "base": 0.0, "material": "brick"}
    scene = stacked(GROUND, *paving, lawn).scene
    brick, same, stone, grass = scene.group[1:5]
    assert brick == same
    assert len({brick, stone, grass}) == 3


def test_the_lowest_level(stack):
    assert stack.lowest == -1


def test_footprints_are_polygons(stack):
    """Lines have got their width; the plan shows them so."""
    assert stack.features.geometry[5].area == pytest.approx(9 * 0.3)
    assert shapely.get_dimensions(stack.features.geometry[[4, 9]]).tolist() == [2, 2]


def test_what_stands_on_a_ramp_stands_at_its_lowest_corner():
    """1 in 10: a planter from 4 to 6 m along it stands at 0.4 m, and the tree in it with it."""
    ramp = {"role": "ramp", "geometry": LineString([(0, 5), (10, 5)]), "base": 0, "top": 1.0, "width": 2}
    planter = {"role": "planter", "geometry": box(4, 4.5, 6, 5.5), "height": 0.5}
    tree = {"role": "tree", "geometry": Point(5, 5), "height": 3.0}
    features = stacked(GROUND, ramp, planter, tree).features
    assert features.base[2:].tolist() == pytest.approx([0.4, 0.9])
    assert features.top[2:].tolist() == pytest.approx([0.9, 3.9])


def test_what_stands_on_steps_stands_on_a_tread():
    """On the third tread of 0.35 m, at 0.45 m."""
    deck = {"role": "deck", "geometry": box(2.45, 3, 6, 7), "base": 0, "top": 1.2}
    flight = {"role": "steps", "geometry": box(0, 4, 2.45, 6), "base": 0, "top": 1.2}
    pot = {"role": "planter", "geometry": box(0.75, 4.1, 1.0, 4.4), "height": 0.3}
    features = stacked(GROUND, flight, deck, pot).features
    assert features.base[3] == pytest.approx(0.45)


def test_levels_on_steps_that_wrap_a_corner():
    """Treads of 0.35 m around a platform of 3.3 × 3.3 m: 0.15 m on the outer, 0.30 m on the inner one."""
    outline = shapely.Polygon([(5, 5), (9, 5), (9, 9), (8.3, 9), (8.3, 5.7), (5, 5.7)])
    flight = {"role": "steps", "geometry": outline, "base": 0, "top": 0.45}
    deck = {"role": "deck", "geometry": box(5, 5.7, 8.3, 9), "base": 0, "top": 0.45}
    walks = stacked(GROUND, flight, deck).walks
    places = np.array([[6, 5.1], [6, 5.6], [8.9, 8], [8.4, 8], [8.9, 5.1], [8.4, 5.6]])
    level = walks.level_at(np.zeros(6, dtype=int), places)
    assert level == pytest.approx([0.15, 0.30] * 3)


def test_without_flights_and_ramps_there_are_none():
    walks = stacked(GROUND).walks
    assert len(walks.feature) == 0
    assert walks.flights is None
    assert walks.ramps is None
    assert walks.of_feature(np.array([0])).tolist() == [-1]


def test_flights_and_ramps_have_figures(stack):
    walks = stack.walks
    assert walks.feature.tolist() == [3, 4]
    assert walks.flight_count == 1
    assert walks.flights.risers.tolist() == [8]
    assert walks.flights.riser == pytest.approx([0.15])
    assert walks.flights.tread == pytest.approx([0.35])
    assert walks.ramps.slope == pytest.approx([0.08])
    assert walks.width == pytest.approx([4, 1.5])


def test_facets_of_a_winding_ramp_show_no_lines():
    angle = np.radians(np.linspace(0, 90, 16))
    unit = np.column_stack([np.cos(angle), np.sin(angle)])
    outline = shapely.Polygon(np.vstack([8 * unit, 6.2 * unit[::-1]]) + np.array([10, 5]))
    ramp = {"role": "ramp", "geometry": outline, "base": 0, "top": 0.7}
    stack = stacked(GROUND, ramp)
    edges = stack.scene.edges
    faces = stack.scene.faces
    pair = np.flatnonzero((np.diff(edges.member_start) == 2) & (stack.solid_feature[edges.solid] == 1))
    first = edges.member_start[pair]
    both = (faces.part[edges.face[first]] == PART_CODE["slope"]) & (
        faces.part[edges.face[first + 1]] == PART_CODE["slope"]
    )
    assert both.sum() == 29
    assert edges.smooth[pair[both]].all()


def test_a_crease_between_a_slope_and_its_landing_is_drawn():
    line = LineString([(2, 5), (22, 5)])
    ramp = {"role": "ramp", "geometry": line, "base": 0, "top": 1.2, "width": 1.8, "landing": 1.5}
    stack = stacked(GROUND, ramp)
    edges = stack.scene.edges
    across = np.isclose(edges.start[:, 2], 0.6) & np.isclose(edges.end[:, 2], 0.6)
    across &= np.abs(edges.start[:, 1] - edges.end[:, 1]) > 1.7
    assert across.sum() == 2
    assert not edges.smooth[across].any()
