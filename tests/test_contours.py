"""Contours against cones, planes and an independent tracer."""

import matplotlib
import numpy as np
import pytest
import shapely

from siteaxo.errors import LevelError
from siteaxo.solids.contours import contour_levels, contours
from siteaxo.solids.mesh import Mesh
from siteaxo.solids.survey import Survey, surface_of
from siteaxo.solids.tin import Tin


def pyramid():
    spots = np.array([[0.0, 0, 0], [8, 0, 0], [8, 8, 0], [0, 8, 0], [4, 4, 4]])
    return surface_of(Survey(spots=spots)).tin


def test_squares_around_a_pyramid():
    found = contours(pyramid(), [1.0, 2.0, 3.0, 5.0])
    assert found.level.tolist() == [1.0, 2.0, 3.0]
    assert shapely.is_closed(found.line).all()
    assert shapely.length(found.line) == pytest.approx([24.0, 16.0, 8.0])
    z = shapely.get_coordinates(found.line, include_z=True)[:, 2]
    assert z.tolist() == np.repeat([1.0, 2.0, 3.0], 5).tolist()


def test_a_contour_through_points_at_its_own_level():
    found = contours(pyramid(), [0.0])
    assert found.level.tolist() == []  # the ground does not fall away from its foot
    tent = np.array([[0.0, 0, 0], [10, 0, 0], [0, 4, 2], [10, 4, 2], [0, 8, 0], [10, 8, 0]])
    ridge = contours(surface_of(Survey(spots=tent)).tin, [2.0])
    assert shapely.length(ridge.line).tolist() == [10.0]


def test_they_lie_on_the_surface():
    rng = np.random.default_rng(1)
    xy = rng.uniform(0, 60, (400, 2))
    tin = surface_of(Survey(spots=np.column_stack([xy, 4 * np.sin(xy[:, 0] / 9) + xy[:, 1] / 10]))).tin
    found = contours(tin, contour_levels(-4, 10, 0.5))
    xyz = shapely.get_coordinates(found.line, include_z=True)
    assert len(found) > 20
    assert np.abs(tin.level_at(xyz[:, :2]) - xyz[:, 2]).max() < 1e-6
    assert shapely.is_simple(found.line).all()


def test_the_same_lengths_as_another_tracer():
    # matplotlib traces contours of the same triangles by its own code.
    rng = np.random.default_rng(7)
    xy = rng.uniform(0, 40, (300, 2))
    z = np.cos(xy[:, 0] / 6) * 3 + np.sin(xy[:, 1] / 5) * 2
    mesh = Mesh.delaunay(np.rint(xy * 2**24) / 2**24)
    tin = Tin(xyz=np.column_stack([mesh.xy, z]), triangle=mesh.corner)
    levels = np.array([-3.1, -1.3, 0.2, 1.7, 3.3])
    own = contours(tin, levels)
    with matplotlib.rc_context():
        from matplotlib.figure import Figure

        axes = Figure().subplots()
        theirs = axes.tricontour(*mesh.xy.T, mesh.corner, z, levels=levels)
    for level, path in zip(levels, theirs.get_paths(), strict=True):
        pieces = [p for p in path.to_polygons(closed_only=False) if len(p) > 1]
        length = sum(np.hypot(*np.diff(piece, axis=0).T).sum() for piece in pieces)
        assert shapely.length(own.line[own.level == level]).sum() == pytest.approx(length, rel=1e-9)


def test_steps_of_contours():
    assert contour_levels(-1.0, 2.0, 1.0).tolist() == [-1.0, 0.0, 1.0, 2.0]
    assert contour_levels(0.2, 0.4, 1.0).tolist() == []
    for step in (0.0, -1.0, np.nan):
        with pytest.raises(LevelError, match="contour interval"):
            contour_levels(0, 1, step)
