"""Planters: a rim, and soil a little below it."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point, box
from solidity import areas, levels, open_edges, solid_of, stacked, volume

GROUND = {"role": "ground", "geometry": box(-10, -10, 20, 20), "base": -1, "top": 0}


def planter(geometry, **more):
    return {"role": "planter", "geometry": geometry, "height": 0.6, "rim": 0.1, **more}


def test_rim_and_soil():
    """2 × 1 m, 0.6 m high: within a rim of 0.1 m the soil lies 0.05 m lower."""
    faces = solid_of(stacked(GROUND, planter(box(0, 0, 2, 1))), 1)
    assert volume(faces) == pytest.approx(2 * 0.6 - 1.8 * 0.8 * 0.05, abs=1e-12)
    assert areas(faces, "floor") == pytest.approx([1.8 * 0.8])
    assert areas(faces, "top") == pytest.approx([2 - 1.8 * 0.8])
    assert levels(faces, "floor") == pytest.approx([0.55])
    assert levels(faces, "top") == pytest.approx([0.6])
    assert open_edges(faces) == 0


def test_without_rim_and_drop_it_is_a_block():
    site = {"role": "planter", "geometry": box(0, 0, 2, 1), "height": 0.6}
    faces = solid_of(stacked(GROUND, site), 1)
    assert areas(faces, "top") == pytest.approx([2.0])
    assert volume(faces) == pytest.approx(1.2)


def test_a_drop_alone_has_the_usual_rim():
    site = {"role": "planter", "geometry": box(0, 0, 2, 1), "height": 0.6, "drop": 0.05}
    assert areas(solid_of(stacked(GROUND, site), 1), "floor") == pytest.approx([1.8 * 0.8])


def test_sizes_of_its_own():
    faces = solid_of(stacked(GROUND, planter(box(0, 0, 2, 1), rim=0.15, drop=0.2)), 1)
    assert volume(faces) == pytest.approx(2 * 0.6 - 1.7 * 0.7 * 0.2, abs=1e-12)


@pytest.mark.parametrize("more", [{"rim": 0.0}, {"drop": 0.0}, {"rim": 0.5}, {"drop": 0.6}])
def test_without_room_for_soil_it_is_a_block(more):
    faces = solid_of(stacked(GROUND, planter(box(0, 0, 2, 1), **more)), 1)
    assert volume(faces) == pytest.approx(1.2)
    assert areas(faces, "top") == pytest.approx([2.0])


def test_around_a_courtyard_and_in_a_waist():
    """A ring keeps a rim on both sides; a waist narrower than two rims parts the soil."""
    ring = box(0, 0, 4, 4) - box(1.5, 1.5, 2.5, 2.5)
    faces = solid_of(stacked(GROUND, planter(ring)), 1)
    soil = (3.8**2) - (1.2**2)
    assert areas(faces, "floor").sum() == pytest.approx(soil, abs=1e-9)
    assert volume(faces) == pytest.approx(15 * 0.6 - soil * 0.05, abs=1e-9)
    assert open_edges(faces) == 0
    waist = (box(0, 0, 1, 1) | box(1, 0.45, 2, 0.55)) | box(2, 0, 3, 1)
    faces = solid_of(stacked(GROUND, planter(waist)), 1)
    assert len(areas(faces, "floor")) == 2
    assert open_edges(faces) == 0


def test_round_planters():
    outline = Point(0, 0).buffer(1)
    faces = solid_of(stacked(GROUND, planter(outline)), 1)
    inner = areas(faces, "floor").sum()
    assert inner == pytest.approx(outline.area * 0.9**2, rel=1e-3)
    assert volume(faces) == pytest.approx(outline.area * 0.6 - inner * 0.05, abs=1e-9)
    assert open_edges(faces) == 0


def test_many_at_once():
    rng = np.random.default_rng(4)
    rows = [planter(box(3 * k, 0, 3 * k + rng.uniform(0.1, 2), rng.uniform(0.1, 2))) for k in range(9)]
    stack = stacked({**GROUND, "geometry": box(-1, -1, 40, 5)}, *rows)
    for row in range(1, 10):
        assert open_edges(solid_of(stack, row)) == 0
        assert volume(solid_of(stack, row)) > 0
