"""Parallel views against the identities of descriptive geometry."""

import cmath
import math

import numpy as np
import pytest
import shapely
from scenes import KINDS, POHLKE
from shapes import Builder, draw, rectangle, seen_area

from siteaxo.errors import ViewError
from siteaxo.view.projection import (
    View,
    cabinet,
    cavalier,
    dimetric,
    isometric,
    make_view,
    planometric,
    trimetric,
)

AXES = np.eye(3)


def images(view):
    """Images of the three unit axes on the page as complex numbers."""
    return view.matrix[0] + 1j * view.matrix[1]


def slope(axis):
    """Angle of an axis image to the horizontal, 0 to 90 [degrees]."""
    return math.degrees(math.atan2(abs(axis.imag), abs(axis.real)))


def test_isometric_axes():
    """Identities: true scale √(2/3), tilt atan(1/√2), plan axes at 30°."""
    x, y, z = images(isometric(unit_axes=False))
    assert [abs(a) for a in (x, y, z)] == pytest.approx([math.sqrt(2 / 3)] * 3, abs=1e-15)
    assert [slope(x), slope(y)] == pytest.approx([30, 30], abs=1e-12)
    assert (z.real, z.imag) == (0.0, math.sqrt(2 / 3))
    tilt = math.degrees(math.asin(isometric(unit_axes=False).matrix[2, 2]))
    assert tilt == pytest.approx(math.degrees(math.atan(1 / math.sqrt(2))), abs=1e-12)
    assert tilt == pytest.approx(35.264390, abs=1e-6)


def test_isometric_drawn_one_to_one():
    """ISO 5456-3:1996 §5.1 (from memory): axes 1:1:1; the picture is then 1.22 times too large."""
    true, drawn = isometric(unit_axes=False), isometric()
    assert np.abs(images(drawn)) == pytest.approx(np.ones(3), abs=1e-15)
    assert drawn.matrix[:2] / 1.224745 == pytest.approx(true.matrix[:2], abs=1e-6)
    assert np.array_equal(drawn.matrix[2], true.matrix[2])


def test_isometric_circle():
    """A unit circle in plan becomes an ellipse 1.2247 × 0.7071 (identity)."""
    half_axes = np.linalg.svd(isometric().matrix[:2, :2], compute_uv=False)
    assert half_axes == pytest.approx([math.sqrt(1.5), math.sqrt(0.5)], abs=1e-15)


def test_dimetric():
    """ISO 5456-3:1996 §5.2, 1 : ½ : 1, where the angles are rounded to 7° and 42°."""
    x, y, z = images(dimetric())
    assert [abs(a) for a in (x, y, z)] == pytest.approx([1, 0.5, 1], abs=1e-15)
    assert slope(x) == pytest.approx(math.degrees(math.asin(1 / 8)), abs=1e-12)
    assert slope(y) == pytest.approx(math.degrees(math.acos(3 / 4)), abs=1e-12)
    assert (slope(x), slope(y)) == pytest.approx((7.18076, 41.40962), abs=1e-5)
    true = np.abs(images(dimetric(unit_axes=False)))
    assert true == pytest.approx([0.942809, 0.471405, 0.942809], abs=1e-6)


def test_trimetric_foreshortening():
    """fx² = cos²α + sin²α sin²β and so on (identity)."""
    x, y, z = images(trimetric(30, 30))
    assert (abs(x), abs(y), abs(z)) == pytest.approx((0.901388, 0.661438, 0.866025), abs=1e-6)
    assert (slope(x), slope(y)) == pytest.approx((16.1021, 40.8934), abs=1e-4)


@pytest.mark.parametrize("turn", [-170.0, 12.5, 30.0, 88.0])
@pytest.mark.parametrize("tilt", [1.0, 35.0, 60.0, 90.0])
def test_squares_of_foreshortenings_sum_to_two(turn, tilt):
    assert (np.abs(images(trimetric(turn, tilt))) ** 2).sum() == pytest.approx(2, abs=1e-14)


@pytest.mark.parametrize(
    "view", [isometric(), isometric(20), dimetric(), trimetric(33, 21), trimetric(-5, 80)]
)
def test_theorem_of_gauss_holds_for_orthogonal_views(view):
    """Eastwood & Penrose, arXiv math/0001097, eq. (2): A² + B² + C² = 0."""
    assert abs((images(view) ** 2).sum()) < 1e-15


def test_theorem_of_gauss_in_whole_numbers():
    """Eastwood & Penrose: 2−26i, −23+2i, 14+7i are the edges of a cube of edge 27, seen orthogonally."""
    cube = np.array([2 - 26j, -23 + 2j, 14 + 7j])
    assert (cube**2).sum() == 0
    rows = np.stack([cube.real, cube.imag])
    assert rows @ rows.T == pytest.approx(27**2 * np.eye(2))
    view = View(kind="trimetric", matrix=np.vstack([rows, np.cross(*rows)]) / [[27], [27], [27**2]])
    assert view.matrix @ view.matrix.T == pytest.approx(np.eye(3), abs=1e-15)


@pytest.mark.parametrize("factor", [0.0, 0.5, 2 / 3, 1.0])
def test_residual_of_a_planometric_view(factor):
    """Plan oblique: A² + B² = 0, so the sum's size is k² (identity)."""
    x, y, z = images(planometric(37, factor))
    assert abs(x**2 + y**2) < 1e-15
    assert abs(x**2 + y**2 + z**2) == pytest.approx(factor**2, abs=1e-15)


def test_residual_of_the_rounded_dimetric():
    """7° and 42° drawn 1 : ½ : 1 are nearly, not quite, orthogonal: 0.00760 (identity)."""
    axes = [cmath.rect(1, math.radians(-7)), cmath.rect(0.5, math.radians(42)), 1j]
    assert abs(sum(a * a for a in axes)) == pytest.approx(0.00760, abs=5e-6)
    assert abs((images(dimetric()) ** 2).sum()) < 1e-15


@pytest.mark.parametrize("turn", [0, 30, 45, 60, 123.4, -77])
def test_planometric_keeps_the_plan(turn):
    """ISO 5456-3:1996 §5.3 (from memory): the plan in true shape, heights 1:1 straight up."""
    view = planometric(turn)
    plan = view.matrix[:2, :2]
    assert plan @ plan.T == pytest.approx(np.eye(2), abs=1e-15)
    assert np.linalg.det(plan) == pytest.approx(1, abs=1e-15)
    assert view.to_page([[0, 0, 1]])[0].tolist() == [0, 1, 1]


def test_fronts_of_cavalier_and_cabinet():
    """ISO 5456-3:1996 §5.3: the front in true shape, the receding axis at 45° and at 1 or ½."""
    for view, ratio in ((cavalier(), 1), (cabinet(), 0.5)):
        x, y, z = images(view)
        assert (x, z) == (1, 1j)
        assert cmath.polar(y) == pytest.approx((ratio, math.pi / 4), abs=1e-15)


def test_sines_are_exact():
    half, root_2, root_3 = 0.5, math.sqrt(0.5), math.sqrt(0.75)
    assert planometric(60).matrix[:2, :2].tolist() == [[half, -root_3], [root_3, half]]
    assert planometric(45).matrix[:2, :2].tolist() == [[root_2, -root_2], [root_2, root_2]]
    assert planometric(180).matrix[:2, :2].tolist() == [[-1, 0], [0, -1]]
    assert planometric(-270).matrix[:2, :2].tolist() == [[0, -1], [1, 0]]
    assert isometric().matrix[1, 0] == isometric().matrix[1, 1]
    assert trimetric(0, 90).matrix.tolist() == np.eye(3).tolist()


@pytest.mark.parametrize("turn", [90, 180, 270, 360])
def test_right_angles_leave_no_trace(turn):
    page = planometric(turn).to_page([[3, 1, 0]])[0, :2]
    assert set(np.abs(page).tolist()) == {3.0, 1.0}


@pytest.mark.parametrize(
    "view", [planometric(60), planometric(30, 2 / 3), isometric(), dimetric(), trimetric(10, 70), cabinet(20)]
)
def test_to_plan_undoes_to_page(view):
    points = np.random.default_rng(4).uniform(-500, 500, (50, 3))
    page = view.to_page(points)[:, :2]
    assert view.to_plan(page, level=points[:, 2]) == pytest.approx(points[:, :2], abs=1e-9)
    assert view.to_plan(page[:1], level=points[0, 2]) == pytest.approx(points[:1, :2], abs=1e-9)


def test_to_plan_needs_a_plan():
    front = View(kind="front", matrix=[[1, 0, 0], [0, 0, 1], [0, -1, 0]])
    with pytest.raises(ViewError, match="edge-on"):
        front.to_plan([[0, 0]], level=0)


def test_parallels_stay_parallel():
    """No vanishing point: equal lengths on parallel lines stay equal (common practice)."""
    view = View(kind="any", matrix=POHLKE)
    start = np.random.default_rng(1).uniform(-50, 50, (20, 3))
    step = view.to_page(np.add(start, [3, -2, 5])) - view.to_page(start)
    assert np.ptp(step, axis=0).max() < 1e-12


def test_views_are_values():
    assert planometric(60) == planometric(60.0)
    assert hash(planometric(60)) == hash(planometric(60.0))
    assert planometric(60) != planometric(61)
    assert planometric(60) != planometric(60, 0.5)
    assert planometric() != "planometric"
    assert View(kind="a", matrix=np.eye(3)) == View(kind="a", matrix=np.eye(3) * [[1, 1, 1]] + 0.0)
    negative = np.eye(3)
    negative[0, 1] = -0.0
    assert hash(View(kind="a", matrix=negative)) == hash(View(kind="a", matrix=np.eye(3)))
    with pytest.raises(ValueError, match="read-only"):
        planometric().matrix[0, 0] = 2
    with pytest.raises(AttributeError):
        planometric().turn = 3


def test_a_view_does_not_share_its_matrix():
    matrix = np.eye(3)
    view = View(kind="a", matrix=matrix)
    matrix[0, 0] = 5
    assert view.matrix[0, 0] == 1


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: planometric(math.nan), "turn must be finite"),
        (lambda: planometric("left"), "turn must be a number"),
        (lambda: planometric(60, -1), "height_factor must be finite and at least 0"),
        (lambda: planometric(60, math.inf), "height_factor"),
        (lambda: trimetric(30, 0), "above 0 and at most 90"),
        (lambda: trimetric(30, 90.5), "above 0 and at most 90"),
        (lambda: cavalier(receding_angle=None), "receding_angle"),
        (lambda: View(kind="a", matrix=np.ones((3, 3))), "singular"),
        (lambda: View(kind="a", matrix=np.eye(2)), "3 × 3"),
        (lambda: View(kind="a", matrix=np.full((3, 3), np.nan)), "finite"),
        (lambda: planometric().to_page([1, 2, 3]), "shaped"),
        (lambda: planometric().to_page([[1, 2]]), "shaped"),
        (lambda: planometric().to_plan([[1, 2, 3]], level=0), "shaped"),
        (lambda: make_view("isometrik"), "isometric"),
        (lambda: make_view("planometric", hight_factor=1), "height_factor"),
    ],
)
def test_errors(make, words):
    with pytest.raises(ViewError, match=words):
        make()


def test_views_by_name():
    assert make_view("planometric", turn=30, height_factor=0.5) == planometric(30, 0.5)
    assert make_view("cabinet") == cabinet()


def test_handedness():
    assert all(v.handedness == 1 for v in (planometric(200), isometric(), dimetric(), cavalier(), cabinet(9)))
    assert View(kind="a", matrix=np.diag([-1.0, 1, 1])).handedness == -1


@pytest.mark.parametrize("view", [planometric(20), isometric(45), cabinet(10)])
def test_turning_the_plan_first(view):
    points = np.random.default_rng(2).uniform(-9, 9, (10, 3))
    turned = np.column_stack([rectangle(0, 0, 1, 1, 35)[[1, 3]].T @ points[:, :2].T]).T
    other = view.after_turning(35)
    assert other.to_page(points) == pytest.approx(
        view.to_page(np.column_stack([turned, points[:, 2]])), abs=1e-12
    )
    assert other.turn == view.turn


@pytest.mark.parametrize(("factor", "elevation"), [(1, 45), (2 / 3, 56.3099), (0.5, 63.4349), (2, 26.56505)])
@pytest.mark.parametrize("kind", ["boxes", "tilted", "gridded"])
def test_visibility_invariance(kind, factor, elevation):
    """
    Plan oblique with height factor k hides what an orthographic view at elevation arccot k hides.

    Its picture is stretched by 1/sin of that elevation (derived from the matrices).
    """
    assert math.degrees(math.atan2(1, factor)) == pytest.approx(elevation, abs=1e-4)
    tilt = math.degrees(math.atan2(1, factor))
    scene = KINDS[kind](np.random.default_rng(8))
    oblique, ortho = (draw(scene, view) for view in (planometric(30, factor), trimetric(30, tilt)))
    areas = [seen_area(drawing, len(scene.faces)) for drawing in (oblique, ortho)]
    assert areas[1] == pytest.approx(areas[0] * math.sin(math.radians(tilt)), abs=2e-6)
    lengths = [drawing.report["edge_length"] for drawing in (oblique, ortho)]
    assert lengths[1] < lengths[0]


def test_any_three_axes_make_a_view():
    """Pohlke (1860): the images of three edges of a cube may be chosen at will."""
    rng = np.random.default_rng(11)
    site = Builder()
    site.prism(rectangle(0, 0, 1, 1), 0, 1)
    scene = site.scene()
    for _ in range(25):
        rows = rng.uniform(-1, 1, (2, 3))
        sight = np.cross(*rows)
        view = View(kind="any", matrix=np.vstack([rows, sight * rng.choice([-1, 1])]))
        a, b, c = rows.T
        hexagon = sum(abs(p[0] * q[1] - p[1] * q[0]) for p, q in ((a, b), (b, c), (c, a)))
        assert draw(scene, view).report["visible_area"] == pytest.approx(hexagon, abs=1e-6)


def test_depth_may_be_counted_along_the_page_too():
    """Only the order along each line of sight matters, not what depth does across the page."""
    scene = KINDS["tilted"](np.random.default_rng(3))
    view = View(kind="any", matrix=POHLKE)
    shear = np.array([[1, 0, 0], [0, 1, 0], [0.4, -0.7, 1.0]])
    other = View(kind="any", matrix=shear @ POHLKE)
    first, second = draw(scene, view), draw(scene, other)
    assert np.array_equal(first.face, second.face)
    gap = shapely.area(shapely.symmetric_difference(first.visible.polygon, second.visible.polygon))
    assert gap.max() < 1e-6
    assert first.report["drawn_length"] == pytest.approx(second.report["drawn_length"], abs=1e-6)
