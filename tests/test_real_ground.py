"""
Real ground: the Jacksboro elevation grid that comes with matplotlib.

Heights are whole metres; the cells are taken as 90 m wide. Figures are compared with
numpy on the grid, and with SciPy's own triangulation and interpolation.
"""

import matplotlib.cbook
import numpy as np
import pytest
import scipy.interpolate
import scipy.spatial
import shapely
from relief import normals_of, places_of, surface_through, volumes_by_diagonals

import siteaxo
from siteaxo.measure.earthwork import between_surfaces, grid_volumes
from siteaxo.solids.contours import contour_levels, contours
from siteaxo.solids.earth import ground_faces
from siteaxo.solids.plateaus import is_level
from siteaxo.solids.survey import Survey, surface_of

CELL = 90.0


@pytest.fixture(scope="module")
def grid():
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        return data["elevation"].astype(float)[120:170, 140:200]


@pytest.fixture(scope="module")
def places(grid):
    return places_of(grid, CELL)


@pytest.fixture(scope="module")
def tin(grid):
    return surface_through(grid, CELL)


def test_every_cell_is_two_triangles(grid, tin):
    rows, columns = (n - 1 for n in grid.shape)
    assert len(tin) == 2 * rows * columns
    assert tin.plan_area == pytest.approx(np.full(len(tin), CELL**2 / 2))
    assert tin.plan_area.sum() == rows * columns * CELL**2


def test_volume_between_both_diagonals(grid, tin):
    one, other = volumes_by_diagonals(grid, CELL)
    volume = (tin.plan_area * tin.centroid[:, 2]).sum()
    assert one < volume < other
    # The four-point method takes the middle of both.
    assert grid_volumes(grid, cell_area=CELL**2).cut == pytest.approx((one + other) / 2, rel=1e-12)


def test_volume_and_area_of_each_triangle(tin):
    normal = normals_of(tin)
    assert tin.area.sum() == pytest.approx(np.linalg.norm(normal, axis=1).sum() / 2, rel=1e-12)
    assert tin.slope == pytest.approx(np.hypot(normal[:, 0], normal[:, 1]) / normal[:, 2], abs=1e-12)


def test_levels_against_scipy(places, grid):
    # moved off the lattice, so that there is one Delaunay triangulation only
    moved = places + np.random.default_rng(5).uniform(-20, 20, places.shape)
    moved = np.rint(moved * 2**24) / 2**24
    own = surface_of(Survey(spots=np.column_stack([moved, grid.ravel()]))).tin
    theirs = scipy.interpolate.LinearNDInterpolator(scipy.spatial.Delaunay(moved), grid.ravel())
    xy = np.random.default_rng(6).uniform([200, 200], [5000, 4200], (4000, 2))
    assert own.level_at(xy) == pytest.approx(theirs(xy), abs=1e-6)


def test_the_ground_above_a_level(tin, grid):
    level = float(np.median(grid)) + 0.5
    line = contours(tin, [level]).line
    cut = tin.with_lines(shapely.force_2d(line))
    above = cut.centroid[:, 2] > level
    z = np.sort(tin.xyz[tin.triangle][:, :, 2], axis=1) - level
    low, mid, high = z.T
    with np.errstate(divide="ignore", invalid="ignore"):  # where the share is not looked at
        two_above = 1 - low**2 / ((low - mid) * (low - high))
        one_above = high**2 / ((high - mid) * (high - low))
    share = np.select([high <= 0, low >= 0, mid >= 0], [0.0, 1.0, two_above], one_above)
    assert 0.2 < share.mean() < 0.8
    assert cut.plan_area[above].sum() == pytest.approx((share * tin.plan_area).sum(), abs=1e-2)
    plane = tin.with_levels(np.full(len(tin.xyz), level))
    work = between_surfaces(tin, plane)
    expected = (cut.plan_area * (cut.centroid[:, 2] - level))[above].sum()
    assert work.cut == pytest.approx(expected, rel=1e-9)


def test_a_surface_made_of_its_contours(tin, grid, places):
    found = contours(tin, contour_levels(grid.min(), grid.max(), 20.0))
    assert len(found) > 50
    survey = Survey(contours=found.line)
    surface = surface_of(survey)
    xyz = shapely.get_coordinates(found.line, include_z=True)
    assert np.abs(surface.tin.level_at(xyz[:, :2]) - xyz[:, 2]).max() < 1e-6
    edges = shapely.STRtree(shapely.linestrings(surface.tin.xyz[surface.tin.edge][:, :, :2]))
    pieces = np.stack([xyz[:-1, :2], xyz[1:, :2]], axis=1)
    line = shapely.get_coordinates(found.line, return_index=True)[1]
    middles = pieces[line[1:] == line[:-1]].mean(axis=1)
    near, _ = edges.query(shapely.points(middles), predicate="dwithin", distance=1e-6)
    assert len(np.unique(near)) == len(middles)  # every piece of a contour is an edge
    assert not len(surface.conflict.kept)
    again = surface.plateaus
    contour = np.arange(len(again.xy)) < len(again.xy) - again.added
    flat = is_level(again.triangle, again.level, contour)
    assert again.turned > 100
    assert shapely.area(shapely.polygons(again.xy[again.triangle[flat]])).sum() < 1e-3 * tin.plan_area.sum()
    off = surface.tin.level_at(places) - grid.ravel()
    assert np.nanmax(np.abs(off)) <= 20.0  # never a whole step away from the ground it came from
    assert np.sqrt(np.nanmean(off**2)) < 5.0


def test_a_block_cut_out_of_it(tin):
    pit = shapely.Point(2600, 2200).buffer(900)
    rest = tin.within(pit, outside=True)
    assert rest.plan_area.sum() == pytest.approx(tin.plan_area.sum() - pit.area, rel=1e-9)
    faces = ground_faces(rest, 200.0)
    assert np.isfinite(faces.xyz).all()
    whole = tin.within(pit)
    total = sum((part.plan_area * part.centroid[:, 2]).sum() for part in (rest, whole))
    assert total == pytest.approx((tin.plan_area * tin.centroid[:, 2]).sum(), rel=1e-9)


def test_a_grid_file_drawn(tmp_path, grid):
    piece = grid[:20, :24]
    head = f"ncols {piece.shape[1]}\nnrows {piece.shape[0]}\ncellsize {CELL}\n"
    head += "xllcenter 440000\nyllcenter 320000\n"
    rows = "\n".join(" ".join(f"{value:g}" for value in row) for row in piece)
    (tmp_path / "ground.asc").write_text(head + rows + "\n")
    layer = siteaxo.Layer(
        name="ground", role="spot level", source=tmp_path / "ground.asc", crs="EPSG:27700", unit="m"
    )
    model = siteaxo.Site(name="fault", layers=[layer], plane_crs="EPSG:27700", contour_interval=20.0).stack()
    diagram = model.draw(siteaxo.planometric(turn=30))
    assert diagram.report["worst_face_balance"] < 1e-5
    ground = model.stack.features
    assert (ground.base[0], ground.top[0]) == (piece.min(), piece.max())
    assert set(diagram.faces["role"]) == {"ground"}
    lines = diagram.edges[diagram.edges["kind"] == "edge"]
    assert lines.length.sum() > 10 * CELL  # contours are drawn
