"""Boxes of paving units against the lines that are drawn."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.bonds import BONDS, Joints, joints_of
from siteaxo.craft.cells import CELLS
from siteaxo.craft.textures import COURSED


@pytest.mark.parametrize("pattern", sorted(CELLS))
def test_units_cover_the_area_once(pattern):
    shape = shapely.Point(1.3, 2.1).buffer(1.7).difference(shapely.box(0.5, 1.5, 1.2, 2.4))
    boxes, owner = CELLS[pattern](0.2, 0.1, np.array([shape.bounds]))
    cells = shapely.box(*boxes.T)
    assert set(owner) == {0}
    within = shapely.area(shapely.intersection(cells, shape)).sum()
    assert within == pytest.approx(shape.area, abs=1e-9)  # none lies on another


@pytest.mark.parametrize("pattern", sorted(CELLS))
def test_units_lie_between_the_joints_that_are_drawn(pattern):
    box = np.array([[0.0, 0.0, 2.0, 1.6]])
    if pattern in COURSED:
        joints = COURSED[pattern](0.2, 0.1, box)
    else:
        families = BONDS[pattern.removesuffix(" 45")](0.2, 0.1)
        parts = []
        for family in families:
            turned = box if family.angle == 0 else np.array([[0.0, -2.0, 1.6, 0.0]])
            parts.append(joints_of(family, turned))
        joints = Joints.joined(parts)
    lines = shapely.union_all(shapely.linestrings(joints.ab))
    cells = shapely.box(*CELLS[pattern](0.2, 0.1, box)[0].T)
    sides = shapely.union_all(shapely.boundary(cells)).intersection(shapely.box(0.05, 0.05, 1.95, 1.55))
    assert shapely.length(sides.difference(lines.buffer(1e-6))) < 1e-3
    inside = shapely.intersection(shapely.buffer(cells, -1e-4), lines)
    assert shapely.length(inside).max() < 1e-9
