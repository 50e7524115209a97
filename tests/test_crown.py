"""Trees: a faceted spheroid on a trunk."""

import numpy as np
import pytest

from siteaxo.solids.crown import BANDS, SEGMENTS, TRUNK_SEGMENTS, TRUNK_SHARE, trees
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, newell

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
    assert (crown | trunk).all()


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
        trunk = faces.solid == 2 * tree + 1
        assert (((mean[trunk, :2] - XY[tree]) * normal[trunk, :2]).sum(axis=1) > 0).all()
