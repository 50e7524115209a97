"""Roofs: planes that meet the eaves and one another, with the pitch they should have."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, box
from solidity import areas, codes, features, open_edges, solid_of, stacked, vector_areas, volume, warps

import siteaxo.solids.roof as roof_module
from siteaxo.solids.faces import PART_CODE
from siteaxo.solids.making import Job
from siteaxo.solids.roof import make_roofs, pitched
from siteaxo.solids.surfaces import Surfaces
from siteaxo.solids.walks import Walks

ELL = Polygon([(0, 0), (10, 0), (10, 4), (4, 4), (4, 9), (0, 9)])
TEE = Polygon([(0, 0), (12, 0), (12, 4), (8, 4), (8, 9), (4, 9), (4, 4), (0, 4)])
PITCH = 40.0
RISE = np.tan(np.radians(PITCH))


def laid(outline, shape, *, base=3.0, top=3.0, pitch=PITCH):
    one = pitched(
        np.array([outline], dtype=object),
        np.array([base]),
        np.array([top]),
        pitch=np.array([pitch]),
        shape=np.array([shape], dtype=object),
        solid=np.array([0]),
    )
    return one.faces, float(one.top[0])


def roof(outline, **more):
    return {"role": "roof", "geometry": outline, "base": 3.0, "top": 3.0, **more}


def pitches(faces):
    """Pitch of every roof plane [degrees]."""
    area = vector_areas(faces)[faces.part == PART_CODE["roof"]]
    return np.degrees(np.arctan2(np.hypot(area[:, 0], area[:, 1]), area[:, 2]))


@pytest.mark.parametrize(("a", "b"), [(10, 6), (7, 6.5), (6, 10)])
def test_hip_of_a_rectangle(a, b):
    """Ridge a − b long, area a·b/cos p, volume of a wedge and a pyramid (identities)."""
    faces, top = laid(box(0, 0, a, b), "hip")
    long, short = max(a, b), min(a, b)
    assert top == pytest.approx(3 + short / 2 * RISE, abs=1e-9)
    ridge = np.unique(faces.xyz[faces.xyz[:, 2] > 3 + 1e-9].round(9), axis=0)
    assert len(ridge) == 2
    assert np.linalg.norm(ridge[0] - ridge[1]) == pytest.approx(long - short, abs=1e-9)
    assert areas(faces, "roof").sum() == pytest.approx(a * b / np.cos(np.radians(PITCH)), abs=1e-9)
    height = top - 3
    assert volume(faces) == pytest.approx(height * short * (long / 2 - short / 6), abs=1e-9)
    assert open_edges(faces) == 0


def test_hip_of_a_square_is_a_pyramid():
    faces, top = laid(box(0, 0, 6, 6), "hip")
    assert len(areas(faces, "roof")) == 4
    assert volume(faces) == pytest.approx(36 * (top - 3) / 3, abs=1e-9)


@pytest.mark.parametrize("turn", [0, 33.3])
@pytest.mark.parametrize("outline", [ELL, TEE, box(0, 0, 12, 12) - box(4, 4, 8, 7)], ids=["L", "T", "court"])
def test_all_planes_of_a_hip_have_the_pitch(outline, turn):
    outline = shapely.affinity.rotate(outline, turn, origin=(0, 0))
    faces, _ = laid(outline, "hip")
    assert pitches(faces) == pytest.approx(np.full(len(pitches(faces)), PITCH), abs=1e-9)
    assert len(pitches(faces)) == shapely.get_num_coordinates(outline) - 1 - len(outline.interiors)
    assert areas(faces, "roof").sum() == pytest.approx(outline.area / np.cos(np.radians(PITCH)), abs=1e-9)
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-9


def test_an_l_shaped_hip():
    """
    Both arms are 4 m wide: ridges at 2 m, and one valley from (4, 4) to (2, 2).

    The arms hold prisms of 4 + 3 m (2h each metre) and two half pyramids (8h/3 each), the
    corner square 8h: there the roof is min(m, 4 − m)·h/2 with m the nearer outer side.
    """
    faces, top = laid(ELL, "hip")
    height = top - 3
    assert height == pytest.approx(2 * RISE, abs=1e-9)
    corner = {tuple(p) for p in faces.xyz[faces.xyz[:, 2] > 3.01, :2].round(9).tolist()}
    assert corner == {(2, 2), (8, 2), (2, 7)}
    assert volume(faces) == pytest.approx(height * (2 * 7 + 2 * 8 / 3 + 8), abs=1e-9)


@pytest.mark.parametrize("shape", ["shed", "gable", "hip"])
@pytest.mark.parametrize("outline", [box(0, 0, 10, 6), ELL, TEE], ids=["rectangle", "L", "T"])
def test_planes_meet_the_eaves(outline, shape):
    faces, _ = laid(outline, shape)
    low = np.abs(faces.xyz[:, 2] - 3.0) < 1e-9
    corner = {tuple(p) for p in faces.xyz[low, :2].round(9).tolist()}
    assert {tuple(p) for p in shapely.get_coordinates(outline).tolist()} <= corner
    assert faces.xyz[:, 2].min() >= 3.0 - 1e-9
    plan = vector_areas(faces)[faces.part == PART_CODE["roof"], 2].sum()
    assert plan == pytest.approx(outline.area, abs=1e-9)
    assert open_edges(faces) == 0


def test_gable():
    """Half a box: its ridge runs along the longer side, over its whole length."""
    faces, top = laid(box(0, 0, 10, 6), "gable")
    assert top == pytest.approx(3 + 3 * RISE, abs=1e-9)
    assert volume(faces) == pytest.approx(10 * 6 * (top - 3) / 2, abs=1e-9)
    assert areas(faces, "side") == pytest.approx([6 * (top - 3) / 2] * 2, abs=1e-9)
    ridge = np.unique(faces.xyz[faces.xyz[:, 2] > 3.01].round(9), axis=0)
    assert ridge[:, :2].tolist() == [[0, 3], [10, 3]]


def test_gables_of_an_l():
    """A gable at the end of each arm, hips and a valley in the corner."""
    faces, top = laid(ELL, "gable")
    assert areas(faces, "side") == pytest.approx([4 * (top - 3) / 2] * 2, abs=1e-9)
    assert len(areas(faces, "roof")) == 4


def test_gables_of_a_t():
    faces, top = laid(TEE, "gable")
    assert areas(faces, "side") == pytest.approx([4 * (top - 3) / 2] * 3, abs=1e-9)


def test_a_square_has_two_gables():
    faces, top = laid(box(0, 0, 6, 6), "gable")
    assert areas(faces, "side") == pytest.approx([6 * (top - 3) / 2] * 2, abs=1e-9)


def test_shed_rises_from_the_longer_southern_side():
    faces, top = laid(box(0, 0, 10, 6), "shed")
    assert top == pytest.approx(3 + 6 * RISE, abs=1e-9)
    assert volume(faces) == pytest.approx(10 * 6 * (top - 3) / 2, abs=1e-9)
    assert set(faces.xyz[faces.xyz[:, 2] > 3.01, 1].tolist()) == {6.0}
    assert areas(faces, "roof") == pytest.approx([60 / np.cos(np.radians(PITCH))], abs=1e-9)


def test_shed_over_a_courtyard():
    outline = box(0, 0, 12, 12) - box(4, 4, 8, 8)
    faces, top = laid(outline, "shed")
    assert volume(faces) == pytest.approx(outline.area * (top - 3) / 2, abs=1e-9)
    assert open_edges(faces) == 0


def test_a_ridge_level_goes_before_a_pitch():
    faces, top = laid(box(0, 0, 10, 6), "hip", top=4.5, pitch=PITCH)
    assert top == 4.5
    assert pitches(faces) == pytest.approx(np.full(4, np.degrees(np.arctan(0.5))), abs=1e-9)


@pytest.mark.parametrize("noise", [1e-9, 1e-7, 1e-5, 1e-3])
@pytest.mark.parametrize("outline", [box(0, 0, 10, 6), box(0, 0, 6, 6), ELL, TEE], ids=["a", "b", "L", "T"])
def test_surveyed_outlines_are_never_quite_square(outline, noise):
    rng = np.random.default_rng(3)
    for _ in range(8):
        corner = shapely.get_coordinates(outline)[:-1]
        rough = Polygon(corner + rng.normal(0, noise, corner.shape))
        faces, _ = laid(rough, "hip")
        area = areas(faces, "roof").sum()
        assert area == pytest.approx(rough.area / np.cos(np.radians(PITCH)), abs=1e-3 + 30 * noise)
        assert warps(faces) < 2e-4
        assert open_edges(faces) == 0


def test_a_pitch_raises_the_top_of_the_feature():
    stack = stacked(roof(box(0, 0, 10, 6), pitch=45, shape="hip"))
    assert stack.features.top[0] == pytest.approx(6.0)
    assert stack.features.top_from[0] == "pitch of the roof"
    assert stack.features.height[0] == pytest.approx(3.0)


def test_without_a_shape_a_roof_is_a_slab():
    stack = stacked(roof(box(0, 0, 10, 6), top=3.3))
    faces = solid_of(stack, 0)
    assert volume(faces) == pytest.approx(18.0)
    assert areas(faces, "roof") == pytest.approx([60.0])


def test_parapet():
    """A slab of 0.3 m, its edge 0.5 m higher and 0.2 m wide."""
    stack = stacked(roof(box(0, 0, 10, 6), top=3.3, shape="flat", parapet=0.5))
    faces = solid_of(stack, 0)
    inner = 9.6 * 5.6
    assert areas(faces, "roof") == pytest.approx([inner], abs=1e-9)
    assert volume(faces) == pytest.approx(60 * 0.3 + (60 - inner) * 0.5, abs=1e-9)
    assert faces.xyz[:, 2].max() == pytest.approx(3.8)
    assert open_edges(faces) == 0
    assert stack.features.top[0] == 3.3


def test_an_outline_that_cannot_be_resolved_stays_flat_and_is_a_finding(monkeypatch):
    monkeypatch.setattr(roof_module, "skeleton_of", lambda *arguments: None)
    stack = stacked(roof(box(0, 0, 10, 6), top=4.0, shape="hip"))
    assert codes(stack) == ["roof-unresolved"]
    assert volume(solid_of(stack, 0)) == pytest.approx(60.0)


def test_planes_as_they_were_measured():
    """A plane with its own Z is drawn as it is and seen from both sides."""
    plane = Polygon([(0, 0, 3), (4, 0, 3), (4, 3, 4.5), (0, 3, 4.5)])
    table = features(roof(shapely.force_2d(plane)))
    table = table.with_columns(geometry_z=np.array([plane], dtype=object))
    surfaces = Surfaces.of(table)
    job = Job(
        features=table,
        drawn=table.geometry,
        whole=table.geometry,
        support=np.array([-1]),
        sunken=np.array([False]),
        laid=np.array([False]),
        surfaces=surfaces,
        walks=Walks.of(table, table.geometry, surfaces),
    )
    made = make_roofs(job, np.array([0]))
    assert len(made.faces) == 1
    assert made.faces.two_sided.all()
    assert areas(made.faces, "roof") == pytest.approx([4 * np.hypot(3, 1.5)])
    assert vector_areas(made.faces)[0, 2] > 0
    assert dict(made.top) == {0: 4.5}
