"""Soft shade on crowns: on the side away from the light, within the crown, the darker inside the lighter."""

import courtyard
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.craft.crescents import CRESCENTS, crescents
from siteaxo.craft.crowns import plants_of, seen_of
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

LIGHT = np.array([-1.0, 0.0, 1.0]) / np.sqrt(2)


@pytest.fixture(scope="module")
def found():
    point = courtyard.here(shapely.Point(22, 10))
    tree = courtyard.layer("tree", "tree", point, base="below", height=6.0, diameter=4.0, clear_stem=2.0)
    model = courtyard.court(extra=[tree]).stack()
    view = planometric(turn=0, height_factor=0)
    drawing = resolve(model.stack.scene, view, origin=model.origin)
    plants = plants_of(model.stack)
    seen = seen_of(plants, model.stack.scene, drawing)
    shade = crescents(plants, seen, model.stack.scene, view, origin=model.origin, towards_light=LIGHT)
    return seen[0], *shade


def test_crescents_are_what_a_moved_circle_uncovers(found):
    # Two circles of radius r whose middles lie d apart leave a lune of r²(π − 2 acos(d/2r)) + d/2·√(4r² − d²)
    # uncovered (common geometry). The crown is 4 m wide.
    _, area, plant, shade = found
    assert plant.tolist() == [0, 0]
    radius = 2.0
    for tone, share in CRESCENTS:
        d = share * 2 * radius
        lens = 2 * radius**2 * np.arccos(d / (2 * radius)) - d / 2 * np.sqrt(4 * radius**2 - d**2)
        lune = np.pi * radius**2 - lens
        assert area[shade == tone][0].area == pytest.approx(lune, rel=0.03)


def test_shade_lies_away_from_the_light_and_in_the_crown(found):
    crown, area, _, _ = found
    assert shapely.area(shapely.difference(area, crown)).max() < 1e-9
    for one in area:
        assert one.centroid.x > crown.centroid.x + 1.0
        assert one.centroid.y == pytest.approx(crown.centroid.y, abs=0.05)
    light, dark = area
    assert shapely.difference(dark, light).area < 1e-3


def test_crowns_have_one_tone_under_their_shade():
    point = courtyard.here(shapely.Point(22, 10))
    tree = courtyard.layer("tree", "tree", point, base="below", height=6.0, diameter=4.0, clear_stem=2.0)
    model = courtyard.court(extra=[tree]).stack()
    fills = {
        detail: set(model.draw(planting=detail).faces.query("part == 'crown'")["fill"])
        for detail in ("texture", "outline")
    }
    assert len(fills["texture"]) == 1
    assert len(fills["outline"]) > 2
    diagram = model.draw(siteaxo.planometric(turn=30), planting="texture")
    assert set(diagram.extra["planting"].query("kind == 'shade'")["fill"]) <= {
        diagram.style.shaded(diagram.style.top("tree"), tone, soft=True) for tone, _ in CRESCENTS
    }
