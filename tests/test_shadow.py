"""Shadows: worked by hand, by the formula for a box, and by casting rays to the light."""

import numpy as np
import pytest
import scenes
import shapely
from reference.raycast import Rays, near_segments, sample
from scenes import Builder

from siteaxo.solids.faces import from_quads, normals
from siteaxo.view.projection import planometric, trimetric
from siteaxo.view.resolve import resolve
from siteaxo.view.shadow import cast_shadows
from siteaxo.view.sun import Sun

ORIGIN = np.zeros(3)
GROUND = [(-40, -40), (40, -40), (40, 40), (-40, 40)]
PLAN = planometric(turn=30, height_factor=0.0)
SOUTH = planometric(turn=0)  # a point lands at x, y + z; seen from the south


def rectangle(x0, x1, y0, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def shadows(scene, view, sun, **options):
    drawing = resolve(scene, view, origin=ORIGIN)
    return cast_shadows(scene, drawing, view, origin=ORIGIN, sun=sun, **options)


def area_on(found, scene, solid, *, own=False, upward=None):
    """Dark area on one solid, on its level or its upright faces where asked."""
    rows = (scene.faces.solid[found.face] == solid) & (found.own == own)
    if upward is not None:
        rows &= (normals(scene.faces)[found.face, 2] > 0.5) == upward
    return shapely.area(found.polygon[rows]).sum()


def test_box_at_the_sun_of_nrel():
    # Box w × d × h: shadow beyond the footprint = h·cot a·(w·|cos A| + d·|sin A|);
    # 4 × 3 × 2 at the sun of NREL's example: 11.05166.
    b = Builder()
    ground = b.prism(GROUND, -1, 0)
    b.prism(rectangle(0, 4, 0, 3), 0, 2)
    scene = b.scene()
    found = shadows(scene, PLAN, Sun(bearing=194.34024, elevation=90 - 50.11162))
    assert area_on(found, scene, ground) == pytest.approx(11.05166, abs=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_boxes_by_the_formula(seed):
    rng = np.random.default_rng(seed)
    w, d, h = rng.uniform(0.5, 6, 3)
    bearing, elevation = rng.uniform(0, 360), rng.uniform(20, 80)
    b = Builder()
    ground = b.prism(GROUND, -1, 0)
    b.prism(rectangle(0, w, 0, d), 0, h)
    scene = b.scene()
    found = shadows(scene, PLAN, Sun(bearing=bearing, elevation=elevation))
    a, e = np.radians(bearing), np.radians(elevation)
    expected = h / np.tan(e) * (w * abs(np.cos(a)) + d * abs(np.sin(a)))
    assert area_on(found, scene, ground) == pytest.approx(expected, abs=1e-4)


def test_terraces():
    # Light from the north at 45 degrees: each terrace darkens a strip of the next lower
    # one that is as wide as it is high, and its own riser is turned from the light.
    b = Builder()
    steps = [b.prism(rectangle(0, 10, 4 * k, 4 * k + 4), -1, z) for k, z in enumerate((0.0, 1.5, 2.0))]
    scene = b.scene()
    found = shadows(scene, SOUTH, Sun(bearing=0, elevation=45))
    for step, strip, riser in zip(steps, (1.5, 0.5, 0.0), (1.0, 1.5, 0.5), strict=True):
        assert area_on(found, scene, step) == pytest.approx(10 * strip, abs=1e-5)
        assert area_on(found, scene, step, own=True) == pytest.approx(10 * riser, abs=1e-5)


def test_flight_of_steps():
    # Risers of 0.15 m and treads of 0.30 m: at 45 degrees from behind, half of every tread
    # but the top one; the landing below receives the strip of the first riser.
    b = Builder()
    landing = b.prism(rectangle(0, 2, -3, 0), -1, 0)
    treads = [b.prism(rectangle(0, 2, 0.3 * k, 0.3 * k + 0.3), -1, 0.15 * (k + 1)) for k in range(6)]
    scene = b.scene()
    found = shadows(scene, SOUTH, Sun(bearing=0, elevation=45))
    for solid in (landing, *treads[:-1]):
        assert area_on(found, scene, solid) == pytest.approx(2 * 0.15, abs=5e-6)
    assert area_on(found, scene, treads[-1]) == 0


def test_shadow_climbs_a_wall():
    # Box 1 × 1 × 3 and a wall 2 m behind it; light whose shadows run one metre east and one
    # north for each metre of height. By hand: on the ground ∫(y + 1)dy − 1 = 0.5 up to
    # y = 1 and 2 × 2 = 4 to the wall; 0.5 of it stands hidden behind the box. On the wall
    # ∫(2 − v)dv = 1.5.
    b = Builder()
    ground = b.prism(GROUND, -1, 0)
    b.prism(rectangle(0, 1, 0, 1), 0, 3)
    wall = b.prism(rectangle(-10, 10, 3, 3.5), 0, 12)
    scene = b.scene()
    sun = Sun.towards([-1, -1, 1])
    for view, expected in ((PLAN, 4.5), (SOUTH, 4.0)):
        found = shadows(scene, view, sun)
        dark = found.polygon[scene.faces.solid[found.face] == ground]
        plan = shapely.transform(dark, lambda xy, view=view: view.to_plan(xy, level=0.0))
        front = shapely.intersection(plan, shapely.box(-40, -40, 40, 3))
        assert shapely.area(front).sum() == pytest.approx(expected, abs=1e-5)
    assert area_on(found, scene, wall, upward=False) == pytest.approx(1.5, abs=1e-5)


def test_what_lies_flush_casts_no_shadow():
    b = Builder()
    b.prism(GROUND, -1, 0)
    b.prism(rectangle(0, 5, 0, 5), 0, 0)
    b.prism(rectangle(5, 9, 0, 5), -1, 0)
    assert len(shadows(b.scene(), SOUTH, Sun(bearing=200, elevation=30))) == 0


def test_sheets_are_dark_on_the_side_turned_from_the_light():
    b = Builder()
    corners = np.array([[0, 0, 0], [4, 0, 0], [4, 0, 3], [0, 0, 3]], dtype=float)
    sheet = b.faces([corners], two_sided=True)
    scene = b.scene()
    assert area_on(shadows(scene, SOUTH, Sun(bearing=10, elevation=40)), scene, sheet, own=True) == (
        pytest.approx(12)
    )
    assert len(shadows(scene, SOUTH, Sun(bearing=170, elevation=40))) == 0


def test_casters_cast_but_are_not_drawn():
    # A sheet 2 m wide and 3 m high across the light throws 2 × 3·cot 60° on level ground.
    b = Builder()
    ground = b.prism(GROUND, -1, 0)
    scene = b.scene()
    corners = np.array([[[-1, 0, 0], [1, 0, 0], [1, 0, 3], [-1, 0, 3]]], dtype=float)
    sheet = from_quads(corners, solid=np.array([0]), part=0, two_sided=True)
    found = shadows(scene, SOUTH, Sun(bearing=180, elevation=60), casters=sheet)
    assert set(found.face) <= set(range(len(scene.faces)))
    assert area_on(found, scene, ground) == pytest.approx(2 * 3 / np.tan(np.radians(60)), abs=1e-5)


def test_tiles_make_no_difference():
    scene = scenes.KINDS["gridded"](np.random.default_rng(3))
    sun, view = Sun(bearing=130, elevation=35), planometric(50)
    whole, tiled = (shadows(scene, view, sun, tile=tile) for tile in (None, 4))
    assert whole.face.tolist() == tiled.face.tolist()
    assert shapely.area(whole.polygon) == pytest.approx(shapely.area(tiled.polygon), abs=1e-5)


@pytest.mark.parametrize(
    "kind", ["angled", "decks", "sunken", "tilted", "terrain", "cyclic", "sheets", "planted"]
)
@pytest.mark.parametrize("view", [planometric(35), trimetric(250, 40)], ids=["oblique", "orthographic"])
def test_rays_to_the_light(kind, view):
    # Every page point shows a point of the site; it is dark where a ray from it to the light
    # meets a face, or where the face is turned from the light.
    rng = np.random.default_rng(5)
    scene = scenes.KINDS[kind](rng)
    sun = Sun(bearing=rng.uniform(0, 360), elevation=rng.uniform(20, 70))
    found = shadows(scene, view, sun)
    assert found.worst_balance < 2e-5
    eye, light = (Rays(scene.faces, scene.rank, matrix) for matrix in (view.matrix, sun.view.matrix))
    rings = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(found.polygon)))
    outline = np.stack([rings[:-1], rings[1:]], axis=1)
    outline = outline[np.hypot(*(outline[:, 1] - outline[:, 0]).T) > 0]
    points = np.concatenate(
        [sample(eye.segments, 800, rng, clear=2e-3), sample(outline, 800, rng, clear=2e-3)]
    )
    points = points[~near_segments(points, eye.segments, 2e-3)]
    hits = eye.cast(points)
    sound = (hits.face >= 0) & (hits.gap > 5e-3) & (hits.aside > 5e-3)
    points, face, depth = points[sound], hits.face[sound], hits.depth[sound]
    there = np.column_stack([points, depth]) @ np.linalg.inv(view.matrix).T @ sun.view.matrix.T
    lead = light.cast(there[:, :2]).depth - there[:, 2]
    normal = eye.normal[face] * np.where(eye.facing[face] < 0, -1.0, 1.0)[:, None]
    lit = normal @ sun.direction
    clear = (np.abs(lit) > 5e-3) & ~((lead > 1e-9) & (lead < 5e-3))
    clear &= ~near_segments(there[:, :2], light.segments, 2e-3)
    dark = (lead > 1e-6) | (lit <= 0)
    row, hit = shapely.STRtree(found.polygon).query(shapely.points(points), predicate="intersects")
    drawn = np.zeros(len(points), dtype=bool)
    drawn[row[found.face[hit] == face[row]]] = True
    assert clear.sum() > 300
    assert dark[clear].any()
    assert not dark[clear].all()
    assert (drawn == dark)[clear].all()


def test_shadows_lie_within_what_is_seen_and_never_overlap():
    scene = scenes.KINDS["planted"](np.random.default_rng(8))
    view, sun = planometric(40), Sun(bearing=220, elevation=30)
    drawing = resolve(scene, view, origin=ORIGIN)
    found = cast_shadows(scene, drawing, view, origin=ORIGIN, sun=sun)
    seen = dict(zip(drawing.face.tolist(), drawing.visible.polygon, strict=True))
    beyond = [
        shapely.difference(p, seen[f]).area for f, p in zip(found.face.tolist(), found.polygon, strict=True)
    ]
    assert max(beyond) < 1e-5
    assert shapely.area(shapely.union_all(found.polygon)) == pytest.approx(
        shapely.area(found.polygon).sum(), abs=1e-4
    )
