"""Prisms: closed, turned outward, of the right volume."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, newell
from siteaxo.solids.prism import prisms

SQUARE = shapely.box(0, 0, 4, 2)
COURT = shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(3, 3), (7, 3), (7, 7), (3, 7)]])
ELL = shapely.Polygon([(20, 0), (25, 0), (25, 2), (22, 2), (22, 6), (20, 6)])


def build(polygons, base, top, **options):
    count = len(polygons)
    return prisms(
        np.array(polygons, dtype=object),
        np.array(base, dtype=float),
        np.array(top, dtype=float),
        solid=np.arange(count),
        **options,
    )


def volumes(faces, count):
    """Volume inside the faces of each solid, by the theorem of Gauss and Ostrogradsky."""
    mean, normal = newell(faces, faces.xyz)
    return np.bincount(faces.solid, (mean * normal).sum(axis=1) / 6, minlength=count)


def test_volume_is_footprint_times_height():
    footprints = [SQUARE, COURT, ELL]
    faces = build(footprints, [0, -2, 1], [3, 1, 1.5])
    assert volumes(faces, 3) == pytest.approx([8 * 3, 84 * 3, 18 * 0.5], abs=1e-9)


def test_volume_of_random_polygons_with_holes():
    rng = np.random.default_rng(6)
    footprints = []
    for _ in range(40):
        points = shapely.MultiPoint(rng.uniform(0, 50, (9, 2)))
        hull = shapely.convex_hull(points)
        footprints.append(shapely.difference(hull, hull.centroid.buffer(0.4 * np.sqrt(hull.area) / 2)))
    base = rng.uniform(-5, 5, 40)
    top = base + rng.uniform(0.1, 20, 40)
    faces = build(footprints, base, top)
    assert volumes(faces, 40) == pytest.approx(shapely.area(footprints) * (top - base), rel=1e-9)


def test_solids_are_closed():
    """Vector areas sum to nothing and every edge has two faces that run along it in opposite ways."""
    faces = build([SQUARE, COURT, ELL], [0, 0, 0], [3, 2, 1])
    normal = newell(faces, faces.xyz)[1]
    for solid in range(3):
        assert normal[faces.solid == solid].sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-12)
    edges = edges_of(faces)
    assert (np.diff(edges.member_start) == 2).all()
    assert (edges.forward[::2] != edges.forward[1::2]).all()
    assert len(edges) == 3 * (4 + 8 + 6)


def test_parts():
    faces = build([SQUARE, COURT], [0, 0], [3, 2])
    assert faces.part.tolist() == (
        [PART_CODE["top"]] * 2 + [PART_CODE["side"]] * 12 + [PART_CODE["soffit"]] * 2
    )
    assert not faces.two_sided.any()
    normal = newell(faces, faces.xyz)[1]
    assert (normal[faces.part == PART_CODE["top"], 2] > 0).all()
    assert (normal[faces.part == PART_CODE["soffit"], 2] < 0).all()
    assert (normal[faces.part == PART_CODE["side"], 2] == 0).all()


def test_sides_look_away_from_the_footprint():
    faces = build([COURT], [0], [2])
    mean, normal = newell(faces, faces.xyz)
    side = faces.part == PART_CODE["side"]
    unit = normal[side] / np.linalg.norm(normal[side], axis=1)[:, None]
    just_outside = mean[side] + 1e-3 * unit
    assert not shapely.contains_xy(COURT, *just_outside[:, :2].T).any()
    just_inside = mean[side] - 1e-3 * unit
    assert shapely.contains_xy(COURT, *just_inside[:, :2].T).all()


@pytest.mark.parametrize("turned", [shapely.reverse(COURT), shapely.normalize(COURT)])
def test_direction_of_rings_does_not_matter(turned):
    assert volumes(build([turned], [0], [2]), 1) == pytest.approx([168], abs=1e-9)


def test_given_heights_of_footprints_are_ignored():
    lifted = shapely.force_3d(SQUARE, 99.0)
    faces = build([lifted], [1], [2])
    assert faces.xyz[:, 2].min() == 1
    assert faces.xyz[:, 2].max() == 2


def test_no_height_makes_one_sheet_seen_from_both_sides():
    faces = build([SQUARE, SQUARE, COURT], [0, 1, 5], [0, 2, 5])
    flat = faces.solid != 1
    assert flat.sum() == 2
    assert faces.two_sided[flat].all()
    assert not faces.two_sided[~flat].any()
    assert (faces.part[flat] == PART_CODE["top"]).all()


def test_upper_faces_take_the_part_given():
    part = np.array([PART_CODE["floor"], PART_CODE["roof"]])
    faces = build([SQUARE, ELL], [0, 0], [1, 1], top_part=part)
    assert faces.part[:2].tolist() == part.tolist()


def test_inputs_are_left_alone():
    footprints, base, top = np.array([COURT]), np.array([0.0]), np.array([1.0])
    before = footprints[0].wkb, base.copy(), top.copy()
    prisms(footprints, base, top, solid=np.array([0]))
    assert (footprints[0].wkb, *base, *top) == (before[0], *before[1], *before[2])


def test_solid_numbers_are_kept():
    faces = prisms(np.array([SQUARE, ELL]), np.zeros(2), np.ones(2), solid=np.array([5, 3]))
    assert np.bincount(faces.solid).tolist() == [0, 0, 0, 8, 0, 6]
