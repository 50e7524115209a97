"""
Real ground: the grid of Maunga Whau, a volcano in Auckland, that many textbooks draw.

``data/maunga-whau.json`` holds the levels of R's dataset ``volcano`` (87 by 61 points 10 m apart,
digitised from a topographic map, not to be regarded as accurate), as the npm package vega-datasets
3.2.1 gives them. Figures are compared with NumPy and SciPy on the grid.
"""

import json
from pathlib import Path

import numpy as np
import pytest
import scipy.integrate
import scipy.interpolate
import shapely
from relief import normals_of, places_of, surface_through, volumes_by_diagonals

from siteaxo.measure.earthwork import between_surfaces, grid_volumes
from siteaxo.solids.contours import contour_levels, contours
from siteaxo.solids.plateaus import is_level
from siteaxo.solids.survey import Survey, surface_of

CELL = 10.0


@pytest.fixture(scope="module")
def grid():
    table = json.loads((Path(__file__).parent / "data" / "maunga-whau.json").read_text())
    return np.array(table["values"], dtype=float).reshape(table["height"], table["width"])


@pytest.fixture(scope="module")
def places(grid):
    return places_of(grid, CELL)


@pytest.fixture(scope="module")
def tin(grid):
    return surface_through(grid, CELL)


def test_areas(grid, tin):
    rows, columns = (n - 1 for n in grid.shape)
    assert len(tin) == 2 * rows * columns
    assert tin.plan_area.sum() == pytest.approx(860 * 600, rel=1e-12)
    assert tin.area.sum() == pytest.approx(np.linalg.norm(normals_of(tin), axis=1).sum() / 2, rel=1e-12)


def test_volume_above_the_lowest_point_against_scipy(grid, tin):
    """The trapezoidal rule both ways is the four-point method; triangles lie between both diagonals."""
    high = grid - grid.min()
    scipys = scipy.integrate.trapezoid(scipy.integrate.trapezoid(high, dx=CELL), dx=CELL)
    assert grid_volumes(high, cell_area=CELL**2).cut == pytest.approx(scipys, rel=1e-12)
    least, most = volumes_by_diagonals(high, CELL)
    plane = tin.with_levels(np.full(len(tin.xyz), grid.min()))
    work = between_surfaces(tin, plane)
    assert least < work.cut < most
    assert work.fill == pytest.approx(0, abs=1e-9)


def test_levels_against_scipy(grid, places, tin):
    """On the lines between points both ways of cutting a cell agree with linear interpolation."""
    theirs = scipy.interpolate.RegularGridInterpolator(
        (np.arange(61) * CELL, np.arange(87) * CELL), grid[::-1]
    )
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, 860, 500), CELL * rng.integers(0, 61, 500)
    assert tin.level_at(np.column_stack([x, y])) == pytest.approx(theirs((y, x)), abs=1e-6)


@pytest.mark.parametrize("step", [5.0, 10.0, 20.0])
def test_a_surface_made_of_its_contours(grid, places, tin, step):
    """Contours run through points of the grid, since its levels are whole metres."""
    found = contours(tin, contour_levels(grid.min(), grid.max(), step))
    surface = surface_of(Survey(contours=found.line))
    xyz = shapely.get_coordinates(found.line, include_z=True)
    assert np.abs(surface.tin.level_at(xyz[:, :2]) - xyz[:, 2]).max() < 1e-6
    assert not len(surface.conflict.kept)
    again = surface.plateaus
    contour = np.arange(len(again.xy)) < len(again.xy) - again.added
    flat = is_level(again.triangle, again.level, contour)
    assert shapely.area(shapely.polygons(again.xy[again.triangle[flat]])).sum() < 1e-3 * tin.plan_area.sum()
    off = surface.tin.level_at(places) - grid.ravel()
    assert np.nanmax(np.abs(off)) <= step + 1e-9  # never more than a step off the ground it came from
    assert np.sqrt(np.nanmean(off**2)) < step / 3
