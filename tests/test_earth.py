"""Ground as faces, sheets on it, and the lines that show."""

import numpy as np
import pytest
import shapely
from solidity import areas, features, open_edges, volume

from siteaxo.errors import LevelError
from siteaxo.solids.contours import contours
from siteaxo.solids.earth import Relief, drapes, ground_edges, ground_faces
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE
from siteaxo.solids.scene import Scene
from siteaxo.solids.stack import stack_features
from siteaxo.solids.survey import Survey, surface_of
from siteaxo.solids.tin import Tin
from siteaxo.view.kinds import KINDS
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve


def rolling(seed=1, size=30.0, cells=8):
    """Waves over a lattice of points, moved about within it."""
    rng = np.random.default_rng(seed)
    y, x = np.indices((cells + 1, cells + 1)) * size / cells
    inner = (slice(1, -1), slice(1, -1))
    x[inner] += rng.uniform(-1, 1, (cells - 1, cells - 1))
    y[inner] += rng.uniform(-1, 1, (cells - 1, cells - 1))
    z = 2.07 + np.sin(x / 5) + 0.2 * np.cos(y / 4)
    return surface_of(Survey(spots=np.column_stack([x.ravel(), y.ravel(), z.ravel()]))).tin


def test_a_closed_block():
    tin = rolling()
    faces = ground_faces(tin, -1.0)
    assert open_edges(faces) == 0
    expected = (tin.plan_area * (tin.centroid[:, 2] + 1)).sum()  # prisms under triangles
    assert volume(faces) == pytest.approx(expected, rel=1e-9)
    assert areas(faces, "slope").sum() == pytest.approx(tin.area.sum(), rel=1e-9)
    assert areas(faces, "soffit").sum() == pytest.approx(900, abs=1e-4)


def test_a_block_that_touches_its_own_bottom():
    spots = np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 2], [0, 10, 2]])
    faces = ground_faces(surface_of(Survey(spots=spots)).tin, 0.0)
    assert volume(faces) == pytest.approx(100.0)
    assert areas(faces, "side").sum() == pytest.approx(20 + 10 + 10)


def test_a_sheet_is_seen_from_both_sides():
    faces = ground_faces(rolling(), None)
    assert faces.two_sided.all()
    assert set(faces.part) == {PART_CODE["slope"]}


def test_drapes_overlap_without_disturbing_one_another():
    tin = rolling()
    shapes = np.array([shapely.box(2, 2, 12, 12), shapely.box(8, 8, 20, 20), shapely.box(50, 50, 60, 60)])
    first, second, none = drapes(tin, shapes)
    assert first.plan_area.sum() == pytest.approx(100, abs=1e-5)
    assert second.plan_area.sum() == pytest.approx(144, abs=1e-5)
    assert len(none) == 0
    assert np.abs(tin.level_at(first.xyz[:, :2]) - first.xyz[:, 2]).max() < 1e-6


def test_contours_are_edges_at_exactly_their_levels():
    tin = rolling()
    relief = Relief.of(tin, 0.5)
    assert relief.levels.tolist() == [1.0, 1.5, 2.0, 2.5, 3.0]
    edge = relief.tin.xyz[relief.tin.edge]
    level = np.isin(edge[:, 0, 2], relief.levels) & (edge[:, 0, 2] == edge[:, 1, 2])
    length = np.hypot(*(edge[level, 1, :2] - edge[level, 0, :2]).T).sum()
    assert length == pytest.approx(shapely.length(contours(tin, relief.levels).line).sum(), rel=1e-6)
    assert Relief.of(tin, None).tin is tin
    with pytest.raises(LevelError, match="contour interval"):
        Relief.of(tin, 0.0)


def drawn(table, **options):
    """Length of lines of each kind on the page, and the stack."""
    stack = stack_features(table, **options)
    drawing = resolve(stack.scene, planometric(turn=30), origin=np.zeros(3), threads=1)
    length = (drawing.dashes.end - drawing.dashes.begin) * drawing.edges.length[drawing.dashes.edge]
    return {name: float(length[drawing.kind == k].sum()) for k, name in enumerate(KINDS)}, drawing.report


def hill():
    """A dome 2 m high and 40 m wide as spot levels; its facets meet at a few degrees."""
    y, x = np.indices((9, 9)) * 5.0
    z = 2 * np.exp(-((x - 20) ** 2 + (y - 20) ** 2) / 150)
    return features(
        *[
            {"role": "spot level", "geometry": shapely.Point(a, b), "top": c}
            for a, b, c in zip(x.ravel(), y.ravel(), z.ravel(), strict=True)
        ]
    )


def test_facets_of_gentle_ground_show_no_lines():
    lines, report = drawn(hill())
    # what is left: the outline of the block, its upright edges, its rim
    assert lines["edge"] < 2 * 40 + 10
    with_lines, _ = drawn(hill(), contour_interval=0.5)
    assert with_lines["edge"] > lines["edge"] + 100  # four rings of contours
    assert report["worst_face_balance"] < 1e-6


def sheet_with_a_needle(width):
    """Two halves of one plane that falls eastward, and between them a needle 4 m long that is bent."""
    xyz = np.array([[0, 0, 1.0], [4, 0, 1.0], [4, 4, 0.6], [0, 4, 0.6], [0, width, 1.0]])
    tin = Tin(xyz=xyz[:, [1, 0, 2]], triangle=np.array([[0, 4, 2], [4, 3, 2], [0, 2, 1]])[:, ::-1])
    faces = ground_faces(tin, None)
    return faces, edges_of(faces)


@pytest.mark.parametrize("width", [1e-4, 1e-3, 3e-3])
def test_a_needle_in_a_sheet_shows_no_line(width):
    """One that is too narrow to be seen is left out on the page: no gap is outlined there."""
    faces, edges = sheet_with_a_needle(width)
    smooth, _ = ground_edges(edges, faces, np.array([0]), np.zeros(0))
    scene = Scene(faces=faces, edges=smooth, rank=np.zeros(1), group=np.zeros(1, dtype=int))
    drawing = resolve(scene, planometric(turn=30), origin=np.zeros(3), threads=1)
    seen = drawing.kind != KINDS.index("seam")
    inner = np.flatnonzero(seen & (drawing.edges.length[drawing.dashes.edge] > 4.5))
    length = (drawing.dashes.end - drawing.dashes.begin) * drawing.edges.length[drawing.dashes.edge]
    assert length[inner].sum() < 0.02  # the diagonals are 5 m long and more


def test_a_sharp_fold_shows():
    spots = [(x, y, z) for y, z in ((0, 0.0), (10, 6.0), (20, 0.0)) for x in (0, 20)]
    table = features(
        *[{"role": "spot level", "geometry": shapely.Point(x, y), "top": z} for x, y, z in spots]
    )
    lines, _ = drawn(table)
    ridge_hidden = {**lines}
    assert ridge_hidden["profile"] + lines["edge"] > 60
    assert lines["edge"] >= 20 - 1e-6  # the ridge, or the rim in front


def test_a_needle_in_an_upright_side_shows_no_line():
    """Two corners of the border lie 0.2 µm apart, as where a contour meets it."""
    near = 2.0**-22
    xyz = [(0, 0, 2.0), (8, 0, 2.0), (8, 5, 2.2), (4 + near, 5 + near, 2.1), (4, 5, 2.1), (0, 5, 2.0)]
    tin = Tin(xyz=np.array(xyz), triangle=np.array([[0, 1, 4], [1, 2, 3], [1, 3, 4], [0, 4, 5]]))
    faces = ground_faces(tin, 0.0)
    edges, _ = ground_edges(edges_of(faces), faces, np.array([0]), np.zeros(0))
    scene = Scene(faces=faces, edges=edges, rank=np.zeros(1), group=np.zeros(1, dtype=int))
    drawing = resolve(scene, planometric(turn=180), origin=np.zeros(3), threads=1)  # the side is seen
    seen = drawing.dashes.edge[drawing.kind != KINDS.index("seam")]
    upright = (edges.start[seen, :2] == edges.end[seen, :2]).all(axis=1)
    assert sorted(edges.start[seen[upright], :2].tolist()) == [[0, 5], [8, 5]]  # its ends
