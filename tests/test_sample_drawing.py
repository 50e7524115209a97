"""
The sample site drawn: every visible face against independent ray casting.

Rays are cast by Embree through the trimesh package, which knows nothing of pages,
pairs or half planes. Embree works in single precision, so samples keep away from edges.
"""

from pathlib import Path

import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.solids.faces import Faces

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")

SITE = next((Path(__file__).parent.parent / "sample_data").glob("*/site.toml"))
SAMPLES = 20_000
AWAY = 5e-3  # distance of samples from every edge [m]
FLUSH = 3e-3  # depths of surfaces that lie flush: the tolerance, and the single precision of Embree [m]


def triangles_of(faces: Faces) -> tuple[np.ndarray, np.ndarray]:
    """Triangulate faces in the plane that shows each of them widest; corners and face of each triangle."""
    corners, owner = [], []
    start, rings = faces.vertex_start, faces.ring_start
    for face in range(len(faces)):
        loops = [
            faces.xyz[rings[r] : rings[r + 1]]
            for r in range(faces.face_start[face], faces.face_start[face + 1])
        ]
        points = faces.xyz[start[face] : start[face + 1]]
        axis = int(np.abs(_area_vector(loops[0])).argmax())
        keep = [k for k in range(3) if k != axis]
        flat = shapely.Polygon(loops[0][:, keep], [loop[:, keep] for loop in loops[1:]])
        for part in shapely.get_parts(shapely.constrained_delaunay_triangles(flat)):
            flat_corners = shapely.get_coordinates(part)[:3]
            near = ((points[:, keep][None] - flat_corners[:, None]) ** 2).sum(axis=2).argmin(axis=1)
            corners.append(points[near])
            owner.append(face)
    return np.array(corners), np.array(owner)


def _area_vector(loop: np.ndarray) -> np.ndarray:
    local = loop - loop[0]
    return np.cross(local, np.roll(local, -1, axis=0)).sum(axis=0)


def depth_at(point: np.ndarray, triangles: np.ndarray) -> float:
    """Depth at which a line of sight first meets triangles on the page; minus infinity if it meets none."""
    a, b, c = triangles.transpose(1, 0, 2)
    one, two, to = (b - a)[:, :2], (c - a)[:, :2], point - a[:, :2]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        second = (to[:, 0] * two[:, 1] - to[:, 1] * two[:, 0]) / area
        third = (one[:, 0] * to[:, 1] - one[:, 1] * to[:, 0]) / area
    with np.errstate(invalid="ignore"):
        within = (second >= 0) & (third >= 0) & (second + third <= 1) & (np.abs(area) > 1e-9)
    depth = a[:, 2] + second * (b - a)[:, 2] + third * (c - a)[:, 2]
    return float(np.max(depth[within], initial=-np.inf))


@pytest.fixture(scope="module")
def model():
    return siteaxo.read_site(SITE).stack()


@pytest.mark.parametrize(
    "view",
    [siteaxo.planometric(60), siteaxo.planometric(30, 2 / 3), siteaxo.isometric(), siteaxo.cabinet(20)],
    ids=["planometric 60", "planometric 30 shortened", "isometric", "cabinet"],
)
def test_visible_faces_are_those_that_rays_meet(model, view):
    scene = model.stack.scene
    diagram = model.draw(view, people=False)
    matrix, origin = diagram.view.matrix, model.origin
    page_polygons = diagram.faces.geometry.to_numpy()
    rng = np.random.default_rng(7)
    left, bottom, right, top = diagram.bounds
    page = rng.uniform((left, bottom), (right, top), (SAMPLES, 2))
    lines = shapely.STRtree(diagram.edges.geometry.to_numpy())
    near = np.unique(lines.query(shapely.points(page), predicate="dwithin", distance=AWAY)[0])
    borders = shapely.STRtree(shapely.boundary(page_polygons))
    near = np.union1d(near, borders.query(shapely.points(page), predicate="dwithin", distance=AWAY)[0])
    page = np.delete(page, near, axis=0)
    assert len(page) > 5_000

    corners, owner = triangles_of(scene.faces)
    mesh = trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False)
    caster = trimesh.ray.ray_pyembree.RayMeshIntersector(mesh)
    inverse = np.linalg.inv(matrix)
    depth = (scene.faces.xyz - origin) @ matrix[2]
    start = np.column_stack([page, np.full(len(page), depth.max() + 5.0)]) @ inverse.T + origin
    towards = np.broadcast_to(-inverse[:, 2] / np.linalg.norm(inverse[:, 2]), start.shape)
    hit = caster.intersects_first(start, towards)
    plane_point = corners[hit, 0]
    normal = np.cross(corners[hit, 1] - corners[hit, 0], corners[hit, 2] - corners[hit, 0])
    reach = ((plane_point - start) * normal).sum(axis=1) / (towards * normal).sum(axis=1)
    reached = ((start + reach[:, None] * towards) - origin) @ matrix[2]

    tree = shapely.STRtree(page_polygons)
    point, face = tree.query(shapely.points(page), predicate="within")
    assert len(np.unique(point)) == len(point), "no page point lies in two visible faces"
    seen = np.full(len(page), -1)
    seen[point] = face
    assert np.array_equal(seen >= 0, hit >= 0), "something is seen exactly where a ray meets something"

    both = np.flatnonzero(seen >= 0)
    rows = diagram.faces.iloc[seen[both]]
    solid = model.stack.solid_feature[scene.faces.solid[owner[hit[both]]]]
    same = rows["source_id"].to_numpy() == model.stack.features.source_id[solid]
    names = np.array([key.name for key in model.stack.features.layers], dtype=object)
    same &= rows["layer"].to_numpy() == names[model.stack.features.layer[solid]]
    # Where surfaces lie flush in one another, rank decides and a ray cannot: depths must agree.
    triangle_name = names[model.stack.features.layer[model.stack.solid_feature[scene.faces.solid[owner]]]]
    triangle_id = model.stack.features.source_id[model.stack.solid_feature[scene.faces.solid[owner]]]
    for row, name, source in zip(
        np.flatnonzero(~same), rows["layer"][~same], rows["source_id"][~same], strict=True
    ):
        mine = corners[(triangle_name == name) & (triangle_id == source)]
        met = depth_at(page[both[row]], (mine - origin) @ matrix.T)
        assert abs(met - reached[both[row]]) < FLUSH, rows.iloc[row]


def test_balances(model):
    report = model.draw(people=False).report
    assert report["worst_face_balance"] < 1e-6
    assert report["worst_edge_balance"] < 1e-9
    assert report["visible_length"] + report["hidden_length"] == pytest.approx(
        report["edge_length"], rel=1e-12
    )


def test_the_drawing_has_room_on_the_sheet_that_the_site_asks_for(model):
    figure = model.draw(people=False).figure()
    assert figure.description.startswith("Wrenlow Quarry Garden, drawn 1:200 at A3.")
