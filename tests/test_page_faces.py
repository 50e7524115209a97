"""Faces brought onto the page: rounding, facing, planes, and what bad faces do."""

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scenes import KINDS, VIEWS
from shapes import Builder, draw, rectangle, seen_area

from siteaxo.solids.faces import PART_CODE, from_quads, join
from siteaxo.view.page import onto_page, rounded_page
from siteaxo.view.pieces import pieces_of
from siteaxo.view.projection import View, isometric, planometric
from siteaxo.view.tolerance import GRID, Tolerance

ORIGIN = np.zeros(3)
CORNERS = 20_000


def paged(faces, view, origin=ORIGIN, tolerance=None):
    return onto_page(faces, view, np.asarray(origin, dtype=float), tolerance or Tolerance())


def box(*bounds, height=3.0):
    site = Builder()
    site.prism(shapely.box(*bounds), 0, height)
    return site.scene().faces


def test_page_coordinates_lie_on_the_grid():
    xyz = np.random.default_rng(0).uniform(-1e4, 1e4, (500, 3))
    page = rounded_page(xyz, planometric(37.3, 0.71), ORIGIN)
    cells = page[:, :2] / GRID
    assert np.array_equal(cells, np.rint(cells))
    assert np.abs(page - planometric(37.3, 0.71).to_page(xyz)).max() <= GRID / 2


def test_the_origin_lands_at_the_origin():
    origin = np.array([531_234.567, 181_234.891, 12.345])
    page = rounded_page(origin + np.eye(4, 3, -1), planometric(0), origin)
    assert page == pytest.approx(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 1, 1]]), abs=1e-9)


def test_far_sites_are_drawn_like_near_ones():
    """With the origin moved along, national grid coordinates cost nothing but their own rounding."""
    near = box(0, 0, 4, 2)
    away = np.array([400_000.0, 300_000.0, 0.0])
    far = from_quads(near.xyz.reshape(-1, 4, 3) + away, solid=near.solid, part=0)
    pages = [paged(near, planometric(30)), paged(far, planometric(30), away)]
    assert np.abs(pages[0].xy - pages[1].xy).max() <= 2 * GRID


def test_only_front_faces_are_kept():
    page = paged(box(0, 0, 4, 2), planometric(30))
    assert page.faces.part.tolist() == [0, 1, 1]
    facing = page.normal @ np.linalg.inv(planometric(30).matrix)[:, 2]
    assert (facing > 0).all()


def test_areas_of_a_box():
    """Plan 4 × 2; a wall's page area is its height times the page width of its foot."""
    page = paged(box(0, 0, 4, 2), planometric(30))
    wanted = [6 * np.sin(np.pi / 6), 8, 12 * np.cos(np.pi / 6)]
    assert np.sort(page.area) == pytest.approx(wanted, abs=1e-6)
    assert shapely.area(page.polygon) == pytest.approx(page.area, abs=1e-12)


def test_walls_along_the_line_of_sight_are_left_out():
    assert paged(box(0, 0, 4, 2), planometric(0)).faces.part.tolist() == [0, 1]
    assert paged(box(0, 0, 4, 2), planometric(0, 0)).faces.part.tolist() == [0]


@pytest.mark.parametrize(("width", "count"), [(0.0009, 0), (0.0011, 1)])
def test_walls_narrower_on_the_page_than_the_tolerance_are_edge_on(width, count):
    """A wall that runs 5 m away from the viewer and *width* to the side."""
    corners = np.array([[[0, 0, 0], [width, 5, 0], [width, 5, 3], [0, 0, 3]]])
    wall = replace(from_quads(corners, solid=[0], part=0), two_sided=np.array([True]))
    along = View(kind="any", matrix=[[1, 0, 0], [0, 0, 1], [0, -1, 0]])
    assert len(paged(wall, along)) == count
    assert len(paged(wall, along, tolerance=Tolerance(length=1e-4))) == 1


@pytest.mark.parametrize(("width", "count"), [(0.9e-5, 0), (1.1e-5, 1), (0.0009, 1)])
def test_what_is_narrow_but_not_turned_away_is_left_out_as_a_needle_only(width, count):
    quad = from_quads(np.array([[[0, 0, 0], [5, 0, 0], [5, width, 0], [0, width, 0]]]), solid=[0], part=0)
    assert len(paged(quad, planometric(0))) == count


def test_sheets_are_seen_from_both_sides():
    site = Builder()
    site.prism(rectangle(0, 0, 2, 2), 0, 0)
    below = View(kind="any", matrix=[[1, 0, 0], [0, 1, 0.5], [0, 0, -1]])
    page = paged(site.scene().faces, below)
    assert len(page) == 1
    assert page.normal.tolist() == [[0, 0, -1]]


def test_mirrored_pages_flip_rings():
    straight, mirrored = np.eye(3), np.diag([-1.0, 1, 1])
    faces = box(0, 0, 4, 2)
    for matrix, flipped in ((straight, False), (mirrored, True)):
        page = paged(faces, View(kind="any", matrix=matrix))
        assert page.faces.part.tolist() == [0]
        assert page.flipped.tolist() == [flipped]


@pytest.mark.parametrize("view", VIEWS)
def test_planes_give_the_depth_of_corners(view):
    faces = KINDS["tilted"](np.random.default_rng(5)).faces
    page = paged(faces, VIEWS[view])
    rows = page.faces.vertex_face
    assert np.abs(page.depth_at(rows, page.xy) - page.depth).max() < 1e-6
    assert page.warp.max() < 1e-6


def test_depth_at_many_points():
    page = paged(box(0, 0, 4, 2), planometric(0))
    points = np.array([[[0.5, 4.0], [1, 3.5]], [[1, 1], [2, 2]]])
    depth = page.depth_at(np.array([0, 1]), points)
    assert depth == pytest.approx(np.array([[3, 3], [1, 2]]), abs=1e-9)  # the south wall rises with the page


def test_warp_tells_how_far_from_planar():
    """Corners of a saddle lie half its rise above and below its mean plane."""
    saddle = np.array([[[0, 0, 0], [2, 0, 0.3], [2, 2, 0], [0, 2, 0.3]]])
    page = paged(from_quads(saddle, solid=[0], part=4), planometric(30, 0))
    assert page.warp == pytest.approx([0.15], abs=1e-6)


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("begin", range(6))
@pytest.mark.parametrize(
    ("outline", "count"),
    [
        ([[0, 0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]], 2),
        ([[0, 0], [4, 0], [4, 4], [3, 4], [0, 1]], 2),
        ([[0, 0], [4, 0], [5, 2], [4, 4], [0, 4], [-1, 2]], 2),
        ([[0, 0], [4, 0], [5, 2], [4, 4], [0, 4]], 2),
        ([[0, 0], [2, 0], [4, 0], [4, 4], [2, 1], [0, 4]], 2),
        ([[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]], 3),
        ([[0, 0], [6, 0], [6, 4], [4, 1], [2, 1], [0, 4]], 4),
        ([[0, 0], [1, 0], [3, 1], [3, 0], [4, 0], [3, 3]], 4),
        ([[0, 0], [1, 0], [1, 1], [-1, 0], [-1, -1], [0.5, -1]], 4),
        ([[0, 0], [4, 0], [4, 4], [3, 4], [2, 1], [1, 4], [0, 4]], 5),
    ],
    ids=[
        "angle",
        "five corners",
        "convex, six corners",
        "convex, five corners",
        "a straight corner",
        "a notch too deep",
        "two corners that turn in",
        "a cut that would run outside",
        "a cut that would run on along a side",
        "seven corners",
    ],
)
def test_faces_of_five_or_six_corners_are_cut_in_two(outline, count, begin, flipped):
    level = np.roll(np.array(outline, dtype=float), begin, axis=0)[:: -1 if flipped else 1]
    site = Builder()
    site.faces([np.column_stack([level, np.full(len(level), 3.0)])], two_sided=True)
    page = paged(site.scene().faces, planometric(0))
    pieces = pieces_of(page)
    shapes = shapely.polygons(pieces.corner.transpose(2, 1, 0))
    assert len(shapes) == count
    assert shapely.area(shapes).sum() == pytest.approx(page.area[0], abs=1e-12)
    assert shapely.symmetric_difference(shapely.union_all(shapes), page.polygon[0]).area < 1e-12
    centre = pieces.corner.mean(axis=1)
    assert ((pieces.side[:, :2] * centre).sum(axis=1) + pieces.side[:, 2] > 0).all()
    assert shapely.area(shapely.convex_hull(shapes)) == pytest.approx(shapely.area(shapes), abs=1e-12)


def test_boxes():
    page = paged(box(1, 2, 4, 6), planometric(0))
    assert page.box == pytest.approx(np.array([[1, 5, 4, 9], [1, 2, 4, 5]]), abs=1e-9)


def test_corners_that_cross_through_rounding_are_mended():
    spike = np.array([[0, 0], [1, 0], [1 - GRID / 4, 1], [1 + GRID / 4, 0.5], [0, 0.6]]) + GRID / 3
    site = Builder()
    site.prism(np.vstack([spike, [[-1, 0.3]]]), 0, 0)
    page = paged(site.scene().faces, planometric(0))
    assert shapely.is_valid(page.polygon).all()


def test_nothing_to_show():
    page = paged(join([]), planometric(0))
    assert len(page) == 0
    assert pieces_of(page).corner.shape == (2, 4, 0)


@pytest.mark.parametrize("kind", ["angled", "sunken", "tilted", "gridded", "terrain"])
@pytest.mark.parametrize("view", ["planometric 60", "isometric", "from below"])
def test_pieces_fill_their_faces(kind, view):
    page = paged(KINDS[kind](np.random.default_rng(2)).faces, VIEWS[view])
    pieces = pieces_of(page)
    shape = shapely.polygons(pieces.corner.transpose(2, 1, 0))
    assert np.bincount(pieces.face, shapely.area(shape), len(page)) == pytest.approx(page.area, abs=1e-6)
    middle = pieces.corner.mean(axis=1)
    inward = (pieces.side[:, :2] * middle).sum(axis=1) + pieces.side[:, 2]
    assert (inward > 0).all()
    assert np.hypot(pieces.side[:, 0], pieces.side[:, 1]).max() == pytest.approx(1, abs=1e-12)
    assert (np.diff(pieces.start)[pieces.whole] == 1).all()


SLAB = rectangle(0, 0, 10, 10)


def on_a_slab(polygon, **options):
    site = Builder()
    site.prism(SLAB, -1, 0)
    site.faces([np.array(polygon, dtype=float)], **options)
    return site.scene()


@pytest.mark.parametrize(
    "polygon",
    [
        [[1, 1, 1], [4, 1, 1], [2, 1, 1]],
        [[1, 1, 0], [1, 1, 4], [1, 1, 2]],
        [[1, 1, 1]] * 3,
    ],
    ids=["line", "upright line", "point"],
)
def test_faces_without_area_change_nothing(polygon):
    with_face = draw(on_a_slab(polygon, two_sided=True), planometric(30))
    site = Builder()
    site.prism(SLAB, -1, 0)
    without = draw(site.scene(), planometric(30))
    assert with_face.report["visible_area"] == without.report["visible_area"]
    assert with_face.face.tolist() == without.face.tolist()


def test_faces_that_are_not_planar_are_drawn_by_their_mean_plane_and_reported():
    drawing = draw(on_a_slab([[1, 1, 1], [4, 1, 2], [4, 4, 1], [1, 4, 2]], two_sided=True), planometric(30))
    assert drawing.report["worst_warp"] == pytest.approx(0.5, abs=1e-6)
    assert drawing.report["worst_face_balance"] < 1e-6


@pytest.mark.parametrize("view", [planometric(30), isometric()], ids=str)
def test_of_two_identical_solids_the_later_is_seen(view):
    site = Builder()
    for _ in range(2):
        site.prism(rectangle(0, 0, 4, 2), 0, 3)
    scene = site.scene()
    drawing = draw(scene, view)
    seen = seen_area(drawing, len(scene.faces))
    assert seen[scene.faces.solid == 0].max() < 1e-9
    site = Builder()
    site.prism(rectangle(0, 0, 4, 2), 0, 3)
    alone = draw(site.scene(), view)
    assert drawing.report["visible_area"] == pytest.approx(alone.report["visible_area"], abs=1e-6)
    assert drawing.report["drawn_length"] == pytest.approx(alone.report["drawn_length"], abs=1e-6)


def test_very_many_corners():
    """A pool of very many corners: the area behind a block is taken from it."""
    angle = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
    site = Builder()
    site.prism(np.column_stack([40 * np.cos(angle), 25 * np.sin(angle)]), 0, 0)
    site.prism(rectangle(-3, -2, 6, 4), 0, 2)
    drawing = draw(site.scene(), planometric(30))
    exact = CORNERS / 2 * 40 * 25 * np.sin(2 * np.pi / CORNERS)
    block = 24 + 12 * np.cos(np.pi / 6) + 8 * np.sin(np.pi / 6)
    assert drawing.report["visible_area"] == pytest.approx(exact, abs=1e-5)
    pool = shapely.area(drawing.visible.polygon)[drawing.face == 0]
    assert pool == pytest.approx([exact - block], abs=1e-5)


def test_a_scene_seen_edge_on_is_empty():
    site = Builder()
    site.faces([np.array([[0, 0, 0], [4, 0, 0], [4, 0, 3], [0, 0, 3.0]])], two_sided=True)
    drawing = draw(site.scene(), planometric(30, 0))
    assert len(drawing.face) == len(drawing.dashes) == 0
    assert drawing.report["visible_area"] == 0
    assert drawing.report["hidden_length"] == drawing.report["edge_length"]


def test_a_finely_divided_wall_is_still_a_wall():
    """A round post 0.6 m across of 3 000 facets: its side covers 0.6 × 3 m of the page."""
    angle = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    site = Builder()
    site.prism(0.3 * np.column_stack([np.cos(angle), np.sin(angle)]), 0, 3)
    seen = draw(site.scene(), planometric(30)).report["visible_area"]
    assert seen == pytest.approx(0.09 * np.pi + 1.8, rel=1e-3)


@pytest.mark.parametrize(
    ("height", "corners"),
    [
        (2.0, 1500),
        (0.0, 12_000),
    ],
    ids=["block", "sheet"],
)
def test_memory_grows_with_the_number_of_corners(height, corners):
    """Twice the corners may take twice the memory, not four times."""
    peaks = []
    for count in (corners, 2 * corners):
        angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
        reach = 40 + 2 * np.sin(37 * angle)
        site = Builder()
        site.prism(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)]), 0, height)
        scene = site.scene()
        tracemalloc.start()
        draw(scene, planometric(30))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 2.8 * peaks[0]


def test_sides_of_a_quadrilateral_that_cross_on_the_page_enclose_two_triangles():
    """Such a facet of a crown that folds is mended like a face of more corners."""
    corners = np.array([[[0.0, 0, 0], [5, 0, 0], [0, 4, 0], [3, 4, 0]]])
    faces = from_quads(corners, solid=np.array([0]), part=PART_CODE["crown"], two_sided=True)
    page = onto_page(faces, planometric(turn=0), np.zeros(3), Tolerance())
    assert page.mended.tolist() == [0]
    assert shapely.is_valid(page.polygon).all()
