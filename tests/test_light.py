import numpy as np
import pytest
from handmade import planometric_matrix

from siteaxo.craft.light import Light
from siteaxo.errors import SheetError


@pytest.mark.parametrize("turn", [20.0, 30.0, 45.0, 60.0, 70.0])
def test_tops_are_lightest_and_the_two_sides_differ(turn):
    normals = np.concatenate([[[0.0, 0.0, 1.0]], _pair(turn)])
    top, left, right = Light().shades(normals, planometric_matrix(turn))
    assert top == 0
    assert 0 < left < right


def _pair(turn: float) -> np.ndarray:
    """Normals of the sides that look to the lower left and the lower right of the page."""
    page = np.radians([180.0 + turn, 270.0 + turn])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    plan = np.column_stack([np.cos(page), np.sin(page)]) @ np.array([[c, -s], [s, c]])
    return np.column_stack([plan, np.zeros(2)])


@pytest.mark.parametrize("turn", [0.0, 33.0, 200.0])
def test_the_light_turns_with_the_page(turn):
    light, matrix = Light(direction=150.0, elevation=30.0), planometric_matrix(turn)
    toward = light.toward(matrix)
    assert np.linalg.norm(toward) == pytest.approx(1)
    assert toward[2] == pytest.approx(0.5)
    on_page = matrix[:2, :2] @ toward[:2]
    assert np.degrees(np.arctan2(on_page[1], on_page[0])) == pytest.approx(150.0)


def test_the_number_of_tones_is_fixed():
    rng = np.random.default_rng(2)
    normals = rng.normal(size=(2000, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    for tones in (2, 3, 5, 8):
        shades = Light(tones=tones).shades(normals, planometric_matrix(30))
        assert set(shades) == set(range(tones))


def test_shades_follow_the_cosine_with_the_light():
    """J. H. Lambert (1760), from memory."""
    rng = np.random.default_rng(4)
    normals = rng.normal(size=(500, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    light, matrix = Light(), planometric_matrix(60)
    lit = normals @ light.toward(matrix)
    up = normals[:, 2] > 0.5
    shades = light.shades(normals, matrix)
    order = np.argsort(-lit[up])
    assert (np.diff(shades[up][order]) >= 0).all()


@pytest.mark.parametrize(
    "change",
    [{"tones": 1}, {"tones": 2.5}, {"tones": 99}, {"elevation": 91}, {"elevation": -1}, {"direction": "n"}],
)
def test_bad_values_are_refused(change):
    with pytest.raises(SheetError):
        Light(**change)


def test_a_view_from_the_front_has_a_light_too():
    matrix = np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]], dtype=float)
    assert Light().shades(np.array([[0, 0, 1.0], [0, -1.0, 0]]), matrix).tolist()[0] == 0
