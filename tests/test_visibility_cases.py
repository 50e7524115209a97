"""
Scenes whose visible areas and line lengths can be worked out by hand.

View P shows the plan unturned with heights 1:1 (x, y + z); view H leans heights along
the diagonal (x + z/2, y + z/2). In both the higher of two points at one place is nearer.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from scenes import KINDS, VIEWS
from shapes import Builder, draw, rectangle, seen_area

from siteaxo.solids.faces import PART_CODE
from siteaxo.view.audit import audit
from siteaxo.view.projection import View, isometric, planometric, trimetric

CASES = json.loads((Path(__file__).parent / "data" / "visibility-cases.json").read_text())
P = planometric(0)
H = View(kind="planometric", matrix=[[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
H_TURNED = planometric(45, math.sqrt(0.5))
TOP, SIDE = PART_CODE["top"], PART_CODE["side"]


def blocks(*bounds):
    """Boxes given as x0, x1, y0, y1, z0, z1."""
    site = Builder()
    for x0, x1, y0, y1, z0, z1 in bounds:
        site.prism(shapely.box(x0, y0, x1, y1), z0, z1)
    return site.scene()


def areas(scene, view, solid, part):
    """Visible areas of the faces of one solid and part, larger first [m²]."""
    seen = seen_area(draw(scene, view), len(scene.faces))
    rows = (scene.faces.solid == solid) & (scene.faces.part == part)
    return sorted(seen[rows][seen[rows] > 1e-9], reverse=True)


def area(scene, view, solid, part):
    return sum(areas(scene, view, solid, part))


@pytest.fixture(params=CASES, ids=lambda case: case["name"])
def case(request):
    return request.param


def of_case(case):
    """The scene and view of a stored case, and its drawing."""
    site = Builder()
    for prism in case["prisms"]:
        outer, *holes = prism["rings"]
        site.prism(shapely.Polygon(outer, holes), prism["z0"], prism["z1"])
    for face in case["faces"]:
        site.faces([np.array(face["xyz"], dtype=float)], part="top", two_sided=True)
    view = planometric(case["view"]["theta_deg"], case["view"]["k"])
    scene = site.scene()
    return scene, draw(scene, view)


def test_stored_areas(case):
    """Closed forms: faces keyed by solid and part, 0 the top and 1 all sides together."""
    scene, drawing = of_case(case)
    seen = seen_area(drawing, len(scene.faces))
    for key, wanted in case["expect"]["area"].items():
        solid, part = map(int, key.split(":"))
        rows = (scene.faces.solid == solid) & (scene.faces.part == part)
        assert seen[rows].sum() == pytest.approx(wanted, abs=1e-6), key


LENGTHS = {
    "visible_edge_length": "visible_length",
    "deduplicated_length": "drawn_length",
    "hidden_edge_length": "hidden_length",
}
STORED = [
    pytest.param(case, LENGTHS[name], wanted, id=f"{case['name']}, {LENGTHS[name]}")
    for case in CASES
    for name, wanted in case["expect"].items()
    if name in LENGTHS and wanted is not None
]


@pytest.mark.parametrize(("case", "figure", "wanted"), STORED)
def test_stored_lengths(case, figure, wanted):
    assert of_case(case)[1].report[figure] == pytest.approx(wanted, abs=1e-6)


def test_stored_cases_balance(case):
    _, drawing = of_case(case)
    assert drawing.report["worst_face_balance"] < 1e-6
    assert drawing.report["worst_edge_balance"] < 1e-12


def test_one_box_in_five_views():
    """A box 4 × 3 × 2: every visible area in closed form."""
    box = blocks((0, 4, 0, 3, 0, 2))
    assert area(box, P, 0, TOP) == pytest.approx(12, abs=1e-6)
    assert areas(box, P, 0, SIDE) == pytest.approx([8], abs=1e-6)

    def whole(view):
        return draw(box, view).report["visible_area"]

    assert whole(planometric(45)) == pytest.approx(12 + 14 / math.sqrt(2), abs=1e-6)
    assert whole(planometric(45)) == pytest.approx(21.899495, abs=1e-6)
    assert whole(planometric(45, 2 / 3)) == pytest.approx(18.599663, abs=1e-6)
    assert whole(planometric(30)) == pytest.approx(21.928203, abs=1e-6)
    assert whole(isometric(unit_axes=False)) == pytest.approx(26 / math.sqrt(3), abs=1e-6)
    assert whole(isometric()) == pytest.approx(1.5 * 26 / math.sqrt(3), abs=1e-6)


def test_three_terraces():
    scene = blocks((0, 6, 0, 2, 0, 1), (0, 6, 2, 4, 0, 2), (0, 6, 4, 6, 0, 3))
    for solid in range(3):
        assert area(scene, P, solid, TOP) == pytest.approx(12, abs=1e-6)
        assert area(scene, P, solid, SIDE) == pytest.approx(6, abs=1e-6)
    assert draw(scene, P).report["visible_area"] == pytest.approx(54, abs=1e-6)


@pytest.mark.parametrize("view", [H, H_TURNED], ids=["leaning", "turned"])
def test_planter_on_a_deck(view):
    scene = blocks((0, 8, 0, 6, 0, 1), (2, 4, 2, 3, 1, 3))
    assert area(scene, view, 0, TOP) == pytest.approx(43, abs=1e-6)
    assert areas(scene, view, 0, SIDE) == pytest.approx([4, 3], abs=1e-6)
    assert area(scene, view, 1, TOP) == pytest.approx(2, abs=1e-6)
    assert areas(scene, view, 1, SIDE) == pytest.approx([2, 1], abs=1e-6)


@pytest.mark.parametrize(("depth", "floor", "wall"), [(2, 8, 8), (4, 0, 16), (5, 0, 16)])
def test_sunken_court(depth, floor, wall):
    """Ground 10 × 10 with a court [3, 7]²; its south wall faces away and is never seen."""
    site = Builder()
    court = rectangle(3, 3, 4, 4)
    site.prism(shapely.Polygon(rectangle(0, 0, 10, 10), [court[::-1]]), -depth, 0)
    site.prism(court, -depth, -depth)
    scene = site.scene()
    assert area(scene, P, 0, TOP) == pytest.approx(84, abs=1e-6)
    assert area(scene, P, 1, TOP) == pytest.approx(floor, abs=1e-6)
    sides = sorted([10 * depth, wall], reverse=True)  # the outer south wall, the court's north wall
    assert areas(scene, P, 0, SIDE) == pytest.approx(sides, abs=1e-6)


@pytest.mark.parametrize(
    ("height", "top", "wall"), [(2, 0, 0), (3, 0, 0), (3.5, 1, 0), (4, 2, 0), (4.5, 2, 1)]
)
def test_box_behind_a_taller_one(height, top, wall):
    scene = blocks((0, 4, 0, 1, 0, 5), (1, 3, 2, 3, 0, height))
    assert area(scene, P, 1, TOP) == pytest.approx(top, abs=1e-6)
    assert area(scene, P, 1, SIDE) == pytest.approx(wall, abs=1e-6)


def test_canopy():
    scene = blocks((0, 12, 0, 10, 0, 0), (2, 8, 2, 6, 3, 3.5))
    drawing = draw(scene, P)
    assert area(scene, P, 0, TOP) == pytest.approx(93, abs=1e-6)
    assert area(scene, P, 1, TOP) == pytest.approx(24, abs=1e-6)
    assert area(scene, P, 1, SIDE) == pytest.approx(3, abs=1e-6)
    ground = drawing.visible.polygon[np.flatnonzero(drawing.face == 0)[0]]
    assert shapely.intersection(ground, shapely.box(2, 2, 8, 6)).area == pytest.approx(18, abs=1e-6)


def test_cube_behind_a_cube():
    """Two unit cubes one cube diagonal apart along the line of sight: the rear one is hidden whole."""
    scene = blocks((0, 1, 0, 1, 0, 1), (-1, 0, -1, 0, 1, 2))
    view = isometric(unit_axes=False)
    drawing = draw(scene, view)
    seen = seen_area(drawing, len(scene.faces))
    assert seen[scene.faces.solid == 0].max() < 1e-9
    front = seen[(scene.faces.solid == 1) & (seen > 0)]
    assert front == pytest.approx([1 / math.sqrt(3)] * 3, abs=1e-6)
    assert drawing.report["visible_area"] == pytest.approx(math.sqrt(3), abs=1e-6)
    drawn_one_to_one = draw(scene, isometric()).report["visible_area"]
    assert drawn_one_to_one == pytest.approx(1.5 * math.sqrt(3), abs=1e-6)
    assert (drawing.edges.solid[drawing.dashes.edge] == 1).all()
    assert drawing.report["drawn_length"] == pytest.approx(9 * math.sqrt(2 / 3), abs=1e-6)


def test_orthographic_at_45_degrees_shows_root_half_of_every_area():
    for scene in (
        blocks((0, 4, 0, 3, 0, 2)),
        blocks((0, 6, 0, 2, 0, 1), (0, 6, 2, 4, 0, 2), (0, 6, 4, 6, 0, 3)),
        blocks((0, 12, 0, 10, 0, 0), (2, 8, 2, 6, 3, 3.5)),
    ):
        oblique, ortho = (seen_area(draw(scene, v), len(scene.faces)) for v in (P, trimetric(0, 45)))
        assert ortho == pytest.approx(oblique * math.sqrt(0.5), abs=1e-6)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_scene_balances(kind, view):
    """What is seen and what is hidden of every face and edge make the whole; the page is covered once."""
    scene = KINDS[kind](np.random.default_rng(21))
    drawing = draw(scene, VIEWS[view])
    assert drawing.report["worst_face_balance"] < 1e-6
    assert drawing.report["worst_edge_balance"] < 1e-12
    assert drawing.report["visible_length"] + drawing.report["hidden_length"] == pytest.approx(
        drawing.report["edge_length"], rel=1e-12
    )
    result = audit(scene, VIEWS[view], drawing, origin=np.zeros(3))
    assert result.passed
    assert result.visible == pytest.approx(result.covered, abs=2e-6)
