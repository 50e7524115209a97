"""Surfaces of contours, spots, breaklines and patches."""

import numpy as np
import pytest
import shapely

from siteaxo.errors import GeometryError
from siteaxo.solids.survey import Survey, surface_of


def line(*points):
    return shapely.LineString(points)


def steps_of_ten():
    """Straight contours every 10 m to the north, a metre apart in level."""
    return np.array([line((0, y, y / 10), (40, y, y / 10)) for y in (0, 10, 20, 30)])


def test_it_passes_through_every_vertex():
    rng = np.random.default_rng(2)
    lines = []
    for k in range(12):
        x = np.sort(rng.uniform(0, 100, 30))
        lines.append(line(*np.column_stack([x, 8 * k + np.sin(x / 7 + k), np.full(30, k / 2)])))
    spots = np.column_stack([rng.uniform(0, 100, 50), rng.uniform(1, 6, 50) + 80, rng.uniform(5, 6, 50)])
    kerb = line((10, -5, 0.0), (55, 40, 2.8), (60, 95, 6.0))
    survey = Survey(contours=np.array(lines), spots=spots, breaklines=np.array([kerb]))
    surface = surface_of(survey)
    for given in (np.array([kerb]), np.array(lines)):
        xyz = shapely.get_coordinates(given, include_z=True)
        assert np.abs(surface.tin.level_at(xyz[:, :2]) - xyz[:, 2]).max() < 1e-6
    along = shapely.get_coordinates(shapely.segmentize(kerb, 0.5), include_z=True)
    assert np.abs(surface.tin.level_at(along[:, :2]) - along[:, 2]).max() < 1e-6  # an edge all along
    assert set(surface.conflict.kept) == {0}  # the kerb goes before the contours it crosses


def test_an_even_slope_between_contours():
    tin = surface_of(Survey(contours=steps_of_ten())).tin
    xy = np.random.default_rng(1).uniform([0, 0], [40, 30], (200, 2))
    assert tin.level_at(xy) == pytest.approx(xy[:, 1] / 10, abs=1e-9)


def test_ground_beyond_the_levels_has_the_nearest_level():
    surface = surface_of(Survey(contours=steps_of_ten()), area=shapely.box(-10, -10, 50, 40))
    assert surface.beyond == pytest.approx(60 * 50 - 40 * 30)
    assert surface.tin.plan_area.sum() == pytest.approx(60 * 50, abs=1e-6)
    found = surface.tin.level_at([[-10, -10], [50, 40], [20, -10], [-10, 15]])
    assert found == pytest.approx([0.0, 3.0, 0.0, 1.5], abs=1e-6)
    assert surface.tin.level_at([[20, 15]])[0] == pytest.approx(1.5, abs=1e-6)


def test_ground_smaller_than_the_levels():
    surface = surface_of(Survey(contours=steps_of_ten()), area=shapely.Point(20, 15).buffer(5))
    assert surface.beyond == 0.0
    assert surface.tin.plan_area.sum() == pytest.approx(shapely.Point(20, 15).buffer(5).area, abs=1e-5)


def test_patches_are_the_surface_where_there_is_nothing_else():
    west = shapely.Polygon([(0, 0, 0), (10, 0, 2), (10, 10, 2), (0, 10, 0)])
    east = shapely.Polygon([(10, 0, 2), (20, 0, 1), (20, 5, 1), (10, 5, 2)])
    tin = surface_of(Survey(patches=np.array([west, east]))).tin
    assert tin.plan_area.sum() == pytest.approx(150)
    assert tin.level_at([[5, 5], [15, 2.5], [15, 8]])[0] == pytest.approx(1.0)
    assert tin.level_at([[15, 4.5]])[0] == pytest.approx(1.5)
    assert np.isnan(tin.level_at([[15, 8]])[0])


def test_a_patch_with_a_hole():
    hole = [(4, 4, 1.0), (6, 4, 1.0), (6, 6, 1.0), (4, 6, 1.0)]
    patch = shapely.Polygon([(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)], [hole])
    tin = surface_of(Survey(patches=np.array([patch]))).tin
    assert tin.plan_area.sum() == pytest.approx(96)
    assert tin.level_at([[4, 4], [2, 2]]) == pytest.approx([1.0, 0.5])


@pytest.mark.parametrize("shift", [(0, 0), (512_345.25, 4_123_456.5)])
def test_far_from_the_origin(shift):
    moved = shapely.transform(steps_of_ten(), lambda c: c + np.append(shift, 0), include_z=True)
    tin = surface_of(Survey(contours=moved)).tin
    assert tin.level_at([[20.5 + shift[0], 14.5 + shift[1]]])[0] == pytest.approx(1.45, abs=1e-9)


@pytest.mark.parametrize(
    ("survey", "said"),
    [
        (Survey(spots=np.array([[0.0, 0, 1], [1, 1, 2]])), "three places"),
        (Survey(spots=np.array([[0.0, 0, 1], [1, 1, 2], [2, 2, 3]])), "one straight line"),
        (Survey(spots=np.array([[0.0, 0, np.nan], [1, 0, 2], [0, 1, 3]])), "not finite"),
    ],
)
def test_what_makes_no_surface(survey, said):
    with pytest.raises(GeometryError, match=said):
        surface_of(survey)
