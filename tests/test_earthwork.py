"""Volumes of cut and fill against published and derived figures."""

import math

import numpy as np
import pytest
import shapely

from siteaxo.errors import LevelError
from siteaxo.measure.earthwork import (
    average_end_area,
    between_surfaces,
    grid_volumes,
    prismoidal,
    to_levels,
    triangle_volumes,
)
from siteaxo.solids.survey import Survey, surface_of


def test_stations_of_a_road():
    # Wikibooks, Fundamentals of Transportation, "Earthwork": fill 4087.5, cut 1058.33 m³.
    station = [0, 50, 75, 100, 115, 150]
    assert average_end_area(station, [60, 50, 25, 5, 0, 0]) == pytest.approx(4087.5)
    assert average_end_area(station, [0, 0, 0, 10, 15, 30]) == pytest.approx(1058.33, abs=0.005)


def test_a_pit():
    # Derived: 10 by 10 m at the bottom, 14 by 14 at the top, 2 m deep.
    assert prismoidal(2, 100, 144, 196) == pytest.approx(290.667, abs=5e-4)
    assert average_end_area([0, 2], [100, 196]) == 296
    frustum = 2 / 3 * (100 + 196 + math.sqrt(100 * 196))
    assert prismoidal(2, 100, 144, 196) == pytest.approx(frustum)


def test_a_grid():
    # Four-point method: A/4 · (Σh₁ + 2Σh₂ + 3Σh₃ + 4Σh₄) with corners, sides and the middle.
    depths = [[1, 2, 3], [2, 3, 4], [3, 4, 5]]
    work = grid_volumes(depths, cell_area=100)
    assert (work.cut, work.fill) == (1200, 0)
    assert grid_volumes(-np.array(depths), cell_area=100).fill == 1200
    mixed = grid_volumes([[1, 1], [-1, -1]], cell_area=4)
    assert (mixed.cut, mixed.fill) == (1.0, 1.0)  # half the cell to each, one metre at the sides


def test_a_triangle_split_at_zero():
    # Derived: legs of 6 m, +1 at the right angle, −1 at the others: cut 1.5, fill 7.5, net −6.
    cut, fill = triangle_volumes([18.0], [[1.0, -1.0, -1.0]])
    assert (cut[0], fill[0], cut[0] - fill[0]) == (pytest.approx(1.5), pytest.approx(7.5), pytest.approx(-6))
    cut, fill = triangle_volumes([18.0], [[-1.0, 1.0, 1.0]])
    assert (cut[0], fill[0]) == (pytest.approx(7.5), pytest.approx(1.5))


@pytest.mark.parametrize("seed", range(3))
def test_triangles_against_fine_sampling(seed):
    rng = np.random.default_rng(seed)
    h = rng.uniform(-1, 1, (20, 3))
    h[:3, 0] = 0.0
    cut, fill = triangle_volumes(np.full(20, 2.0), h)
    n = 400  # barycentric lattice of cell middles
    i, j = np.indices((n, n))
    low = (i + j) < n - 1
    u = np.concatenate([(i + 1 / 3)[i + j < n] / n, (i + 2 / 3)[low] / n])
    v = np.concatenate([(j + 1 / 3)[i + j < n] / n, (j + 2 / 3)[low] / n])
    z = np.outer(h[:, 0], 1 - u - v) + np.outer(h[:, 1], u) + np.outer(h[:, 2], v)
    assert len(u) == n * n
    assert cut == pytest.approx(2 * np.maximum(z, 0).mean(axis=1), abs=2e-5)
    assert fill == pytest.approx(2 * np.maximum(-z, 0).mean(axis=1), abs=2e-5)


def test_between_a_hill_and_a_slope():
    pyramid = np.array([[0.0, 0, 0], [8, 0, 0], [8, 8, 0], [0, 8, 0], [4, 4, 6]])
    flat = np.array([[-5.0, -5, 0], [20, -5, 0], [20, 20, 0], [-5, 20, 0]])
    hill, field = (surface_of(Survey(spots=spots)).tin for spots in (pyramid, flat))
    work = between_surfaces(hill, field)
    assert (work.cut, work.fill) == (pytest.approx(8 * 8 * 6 / 3), pytest.approx(0, abs=1e-9))
    raised = field.with_levels(np.full(len(field.xyz), 3.0))
    work = between_surfaces(hill, raised)
    # above 3 m stands a pyramid of half the size, an eighth of the volume; the rest of the
    # block up to 3 m is fill: 8·8·3 − (128 − 16)
    assert (work.cut, work.fill) == (pytest.approx(16.0), pytest.approx(192 - 112))


def test_terraces_in_a_slope():
    spots = np.array([[x, y, y / 10] for x in (0.0, 40.0) for y in (0.0, 40.0)])
    ground = surface_of(Survey(spots=spots)).tin
    shapes = np.array([shapely.box(5, 10, 15, 20), shapely.box(20, 10, 30, 20), shapely.box(90, 0, 99, 9)])
    cut, fill = to_levels(ground, shapes, [1.5, 1.0, 7.0])
    # at its middle level: wedges of ½·5·0.5 m² on 10 m each; at its lowest: one of ½·10·1 m²
    assert cut == pytest.approx([12.5, 50.0, 0.0])
    assert fill == pytest.approx([12.5, 0.0, 0.0], abs=1e-9)


def test_what_is_refused():
    with pytest.raises(LevelError, match="two rows"):
        grid_volumes([[1.0, 2.0]], cell_area=1)
    with pytest.raises(LevelError, match="ascend"):
        average_end_area([0, 10, 10], [1, 2, 3])
    with pytest.raises(LevelError, match="not negative"):
        average_end_area([0, 10], [1, -2])
