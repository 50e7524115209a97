"""Faces with very many hiders: what one of them covers asks for no union."""

import numpy as np
import pytest
import shapely
from solidity import stacked

import siteaxo
from siteaxo.view import hidden
from siteaxo.view.resolve import resolve


def slab(side, top, at=(0.0, 0.0)):
    x, y = at
    box = shapely.box(x - side / 2, y - side / 2, x + side / 2, y + side / 2)
    return {"role": "structure", "geometry": box, "base": 0.0, "top": top, "id": f"{side:g} {x:g}"}


def seen(*rows):
    """Area seen of the top of each slab, straight from above."""
    stack = stacked(*rows)
    drawing = resolve(stack.scene, siteaxo.planometric(height_factor=0.0), origin=np.zeros(3))
    feature = stack.solid_feature[stack.scene.faces.solid[drawing.face]]
    return np.bincount(feature, shapely.area(drawing.visible.polygon), len(rows))


@pytest.fixture
def unions(monkeypatch):
    """How many polygons are united."""
    counted = []

    def counting(polygon, row, count):
        counted.append(len(polygon))
        return united(polygon, row, count)

    united = hidden.united_on_grid
    monkeypatch.setattr(hidden, "united_on_grid", counting)
    return counted


def test_slabs_under_larger_ones_are_not_seen_and_nothing_is_united(unions):
    sides = np.arange(1.0, 61.0)
    area = seen(*(slab(side, side) for side in sides))
    assert area[:-1].tolist() == [0.0] * 59
    assert area[-1] == pytest.approx(60.0**2)
    assert sum(unions) == 0


def test_a_terraced_mound_shows_its_rims(unions):
    sides = np.arange(60.0, 0.0, -1.0)
    area = seen(*(slab(side, 61.0 - side) for side in sides))
    assert np.allclose(area[:-1], sides[:-1] ** 2 - sides[1:] ** 2, atol=1e-6)
    assert area[-1] == pytest.approx(1.0)
    assert sum(unions) <= 60  # of each face the largest hider only


def test_small_ones_on_one_of_those_in_front_are_left_out(unions):
    """A floor under a slab with 40 posts on it, and 40 posts beside it."""
    posts = [slab(1.0, 3.0, at=(2.0 * k - 40, 3.0)) for k in range(40)]
    beside = [slab(1.0, 3.0, at=(2.0 * k - 40, -30.0)) for k in range(40)]
    area = seen(slab(100.0, 1.0), slab(84.0, 2.0, at=(0.0, 40.0)), *posts, *beside)
    assert area[0] == pytest.approx(100.0**2 - 84.0 * 52.0 - 40.0)  # 52 m of the slab lie over the floor
    assert unions[0] == 41 + 40  # the slab and what is beside it before the floor, the posts before the slab
