"""Trees: a faceted crown, turned about a trunk."""

import numpy as np
import pytest
import shapely
from solidity import open_edges, solid_of, stacked, volume

from siteaxo.solids.crown import BANDS, PROFILES, SEGMENTS, TRUNK_SEGMENTS, TRUNK_SHARE, trees, usual_sizes
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, newell, take
from siteaxo.source.roles import ROLES
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

XY = np.array([[3.0, 4.0], [-20.0, 7.5]])
BASE, TOP = np.array([1.0, -2.0]), np.array([9.0, 3.0])
DIAMETER, STEM = np.array([5.0, 3.0]), np.array([2.0, 0.5])


@pytest.fixture(scope="module")
def faces():
    solids = {"crown_solid": np.array([0, 2]), "trunk_solid": np.array([1, 3])}
    return trees(XY, BASE, TOP, diameter=DIAMETER, clear_stem=STEM, **solids)


def of_solid(faces, solid):
    return faces.xyz[faces.solid[faces.vertex_face] == solid]


def test_counts(faces):
    crown, trunk = faces.part == PART_CODE["crown"], faces.part == PART_CODE["side"]
    assert np.bincount(faces.solid[crown]).tolist() == [BANDS * SEGMENTS, 0, BANDS * SEGMENTS]
    assert np.bincount(faces.solid[trunk]).tolist() == [0, TRUNK_SEGMENTS, 0, TRUNK_SEGMENTS]
    ends = [PART_CODE["top"], PART_CODE["soffit"]]
    assert faces.part[~crown & ~trunk].tolist() == [*(ends[1:] * 2), *(ends[:1] * 2)]


@pytest.mark.parametrize("tree", [0, 1])
def test_crown_corners_lie_on_a_spheroid(faces, tree):
    corners = of_solid(faces, 2 * tree)
    foot = BASE[tree] + STEM[tree]
    middle, half = (TOP[tree] + foot) / 2, (TOP[tree] - foot) / 2
    across = np.hypot(*(corners[:, :2] - XY[tree]).T) / (DIAMETER[tree] / 2)
    assert across**2 + ((corners[:, 2] - middle) / half) ** 2 == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("tree", [0, 1])
def test_crown_reaches_from_the_stem_to_the_top(faces, tree):
    corners = of_solid(faces, 2 * tree)
    assert corners[:, 2].max() == pytest.approx(TOP[tree], abs=1e-12)
    assert corners[:, 2].min() == pytest.approx(BASE[tree] + STEM[tree], abs=1e-12)
    assert np.ptp(corners[:, 0]) == pytest.approx(DIAMETER[tree], abs=1e-12)


def test_crowns_are_closed_and_turned_outward(faces):
    mean, normal = newell(faces, faces.xyz)
    for tree in range(2):
        crown = faces.solid == 2 * tree
        assert normal[crown].sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-9)
        volume = (mean[crown] * normal[crown]).sum() / 6
        whole = np.pi / 6 * DIAMETER[tree] ** 2 * (TOP[tree] - BASE[tree] - STEM[tree])
        assert 0.93 < volume / whole < 1  # corners on the spheroid, facets within it
    edges = edges_of(faces)
    crown_edge = np.isin(edges.solid, [0, 2])
    assert (np.diff(edges.member_start)[crown_edge] == 2).all()
    assert edges.smooth[crown_edge].all()


def test_facets_are_planar(faces):
    mean, normal = newell(faces, faces.xyz)
    unit = normal / np.linalg.norm(normal, axis=1)[:, None]
    off = ((faces.xyz - mean[faces.vertex_face]) * unit[faces.vertex_face]).sum(axis=1)
    assert np.abs(off).max() < 1e-12


@pytest.mark.parametrize("tree", [0, 1])
def test_trunks_stand_on_the_ground_and_end_in_the_crown(faces, tree):
    corners = of_solid(faces, 2 * tree + 1)
    assert corners[:, 2].min() == BASE[tree]
    assert BASE[tree] + STEM[tree] < corners[:, 2].max() < TOP[tree]
    radius = np.hypot(*(corners[:, :2] - XY[tree]).T)
    assert radius == pytest.approx(max(TRUNK_SHARE * (TOP[tree] - BASE[tree]), 0.1) / 2)


def test_trunks_look_outward(faces):
    mean, normal = newell(faces, faces.xyz)
    for tree in range(2):
        trunk = (faces.solid == 2 * tree + 1) & (faces.part == PART_CODE["side"])
        assert (((mean[trunk, :2] - XY[tree]) * normal[trunk, :2]).sum(axis=1) > 0).all()


def test_all_parts_are_closed(faces):
    assert open_edges(faces) == 0


def tree(shape, height=8.0, diameter=4.0, stem=2.0):
    return {
        "role": "tree",
        "geometry": shapely.Point(0, 0),
        "base": 0.0,
        "height": height,
        "diameter": diameter,
        "clear_stem": stem,
        "shape": shape,
    }


def test_every_word_of_the_role_has_a_profile():
    assert set(PROFILES) == set(ROLES["tree"].shapes)


@pytest.mark.parametrize("shape", PROFILES)
def test_profiles_fill_their_box(shape):
    """Every crown begins and ends on the stem, is as wide as its diameter and as high as its tip."""
    profile = PROFILES[shape]
    assert profile.shape == (BANDS + 1, 2)
    assert profile[[0, -1], 0] == pytest.approx(0, abs=1e-12)
    assert profile[:, 0].max() == pytest.approx(1, abs=1e-2)
    assert (profile[:, 1].min(), profile[:, 1].max()) == pytest.approx((0, 1), abs=1e-12)


def test_a_trunk_has_no_lines_along_it(faces):
    edges = edges_of(faces)
    upright = np.isin(edges.solid, [1, 3]) & (edges.start[:, 2] != edges.end[:, 2])
    assert upright.sum() == 2 * TRUNK_SEGMENTS
    assert edges.smooth[upright].all()


@pytest.mark.parametrize("shape", PROFILES)
def test_crowns_of_every_shape_are_closed_and_smooth(shape):
    stack = stacked(tree(shape))
    faces = solid_of(stack, 0)
    assert open_edges(faces) == 0
    assert volume(faces) > 0
    assert faces.xyz[:, 2].max() == pytest.approx(8)
    crown = stack.scene.edges.solid == 0
    assert stack.scene.edges.smooth[crown].all()


def test_shapes_tell_themselves_apart():
    """A cone holds a third of its cylinder, a spheroid two thirds, a column more."""
    cylinder = np.pi * 2**2 * 6
    share = {shape: volume(solid_of(stacked(tree(shape)), 0)) / cylinder for shape in PROFILES}
    assert share["conical"] == pytest.approx(1 / 3, abs=0.06)
    assert share["round"] == pytest.approx(2 / 3, abs=0.04)
    assert share["conical"] < share["round"] < share["columnar"] < 1


def crown_of(stack, row):
    """The crown of a tree, without its trunk."""
    faces = solid_of(stack, row)
    return take(faces, np.flatnonzero(faces.part == PART_CODE["crown"]))


def test_a_palm_and_a_shrub_hold_what_their_outlines_turned_about_the_stem_hold():
    """
    Frustums and half a spheroid, in a cylinder of radius 1 and height 1.

    Palm: from 0.5 to 1 wide over 0.4, 1 wide over 0.2, from 1 to 0.8 over 0.4, less a cone of
    0.5 by 0.2 below. Shrub: two thirds; chords leave out less than a hundredth.
    """
    circle = 0.5 * 32 * np.sin(2 * np.pi / 32)  # a circle drawn with 32 chords
    palm = 0.4 / 3 * (0.25 + 0.5 + 1) + 0.2 + 0.4 / 3 * (1 + 0.8 + 0.64) - 0.2 / 3 * 0.25
    volumes = {shape: volume(crown_of(stacked(tree(shape)), 0)) for shape in ("palm", "shrub")}
    assert volumes["palm"] == pytest.approx(circle * 2**2 * 6 * palm)
    assert 0.99 < volumes["shrub"] / (circle * 2**2 * 6 * 2 / 3) < 1


def test_a_palm_is_flat_above_and_a_shrub_sits_on_the_ground():
    palm = {"role": "tree", "geometry": shapely.Point(0, 0), "base": 1.0, "height": 8.0, "shape": "palm"}
    stack = stacked(palm, {**palm, "geometry": shapely.Point(9, 0), "height": 1.5, "shape": "shrub"})
    assert stack.features.diameter.tolist() == pytest.approx([4.0, 1.8])
    assert stack.features.clear_stem.tolist() == pytest.approx([5.6, 0.0])
    crown = crown_of(stack, 0).xyz
    low, high = crown[crown[:, 2] < 6.61], crown[crown[:, 2] > 8.99]
    assert crown[:, 2].min() == pytest.approx(6.6)  # a bare stem of 5.6 m
    assert np.hypot(*low[:, :2].T).max() == pytest.approx(1.0)
    assert np.hypot(*high[:, :2].T).max() == pytest.approx(1.6)  # level over four fifths of its width
    shrub = crown_of(stack, 1).xyz
    foot = shrub[shrub[:, 2] < 1.0 + 1e-9]
    assert np.hypot(foot[:, 0] - 9, foot[:, 1]).max() == pytest.approx(0.9)


@pytest.mark.parametrize("factor", [0.5, 1.0])
def test_a_sphere_is_drawn_as_the_ellipse_that_the_matrix_says(factor):
    """
    Radius r lands as half axes r across and r·√(1 + k²) up the page (Pohlke's mapping of a sphere).

    The facets lie within: 24 around and 8 up leave out at most a twentieth of the area.
    """
    stack = stacked(tree("round", height=6.0, diameter=4.0, stem=2.0))
    drawing = resolve(stack.scene, planometric(0, factor), origin=np.zeros(3))
    faces = stack.scene.faces
    crown = faces.part[drawing.face] == PART_CODE["crown"]
    outline = shapely.union_all(drawing.visible.polygon[crown], grid_size=2.0**-24)
    left, low, right, high = outline.bounds
    up = 2 * np.sqrt(1 + factor**2)
    assert (right - left) / 2 == pytest.approx(2, abs=1e-6)
    assert (high - low) / 2 == pytest.approx(up, rel=0.03)
    assert (high + low) / 2 == pytest.approx(4 * factor, abs=1e-6)
    assert 0.95 < outline.area / (np.pi * 2 * up) < 1
    angle = np.linspace(0, 2 * np.pi, 721)
    ellipse = shapely.Polygon(np.column_stack([2 * np.cos(angle), 4 * factor + up * np.sin(angle)]))
    assert shapely.difference(outline, shapely.buffer(ellipse, 1e-3)).area < 1e-6


def test_sizes_that_nobody_gave_follow_from_the_height():
    row = {"role": "tree", "geometry": shapely.Point(0, 0), "base": 0.0, "height": 10.0}
    stack = stacked(row)
    assert stack.features.diameter.tolist() == [6.0]
    assert stack.features.clear_stem.tolist() == [3.0]


def test_usual_sizes_go_with_the_habit():
    shape = np.array(["", "round", "columnar", "palm", "shrub"], dtype=object)
    diameter, stem = usual_sizes(shape, np.array([5.0, 5.0, 8.0, 8.0, 1.5]))
    wide = diameter / [5.0, 5.0, 8.0, 8.0, 1.5]
    assert wide[0] == wide[1] > wide[3] > wide[2]  # a column is narrower than any other
    assert wide[4] > 1
    assert stem[3] > stem[2] > stem[4] == 0.0
