"""
Small sites that are hard to get right, drawn whole, with areas worked out by hand.

All are drawn planometrically without a turn, seen from the south: page Y = y + z.
"""

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
import shapely
from solidity import areas, open_edges

import siteaxo
from siteaxo.measure.earthwork import between_surfaces, to_levels
from siteaxo.solids.faces import PART_CODE, take

SITES = Path(__file__).parent / "data" / "hard_sites"
CIRCLE = 0.5 * 32 * math.sin(2 * math.pi / 32)  # banks around corners are drawn with 32 chords to a circle


def stacked(name):
    return siteaxo.read_site(SITES / name / "site.toml").stack()


def visible(model):
    """Visible page area by layer, feature and part."""
    diagram = model.draw()
    assert diagram.report["worst_face_balance"] < 1e-6
    faces = diagram.faces.assign(area=diagram.faces.area)
    return faces.groupby(["layer", "source_id", "part"])["area"].sum().to_dict()


def codes(model):
    return sorted(set(model.findings["code"]))


@pytest.mark.parametrize("name", sorted(path.name for path in SITES.iterdir()))
def test_every_level_can_be_traced(name):
    features = stacked(name).stack.features
    assert np.isfinite(features.base).all()
    assert all(features.base_from)
    assert all(features.top_from)


def test_nested_terraces():
    model = stacked("nested_terraces")
    seen = visible(model)
    # outer 20 × 20 less the middle 12 × 12, the court 2 × 2, and what the middle hides
    # behind it: 12 wide, 1 higher
    assert seen["terraces", "outer", "top"] == pytest.approx(400 - 144 - 4 - 12 * 1)
    assert seen["terraces", "middle", "top"] == pytest.approx(144 - 16 - 4 * 1)
    assert seen["terraces", "inner", "top"] == pytest.approx(16)
    # the court lies half a metre deep: its floor 2 × 2 is hidden for 0.5 by the edge in front,
    # and its back wall, 2 wide, is seen for 0.5 beside the outer front of 20 × 1
    assert seen["terraces", "court", "floor"] == pytest.approx(2 * 1.5)
    assert seen["terraces", "outer", "side"] == pytest.approx(20 * 1 + 2 * 0.5)
    assert seen["terraces", "middle", "side"] == pytest.approx(12)
    assert codes(model) == ["drop-unguarded"]  # edges of one metre


def test_a_bank_between_two_courts():
    model = stacked("bank_between_courts")
    assert codes(model) == []
    terrain = model.stack.terrain
    origin = np.array([420000.0, 310000.0])
    x = np.linspace(10, 14, 9)
    along = np.column_stack([x, np.full(9, 4.0)]) + origin
    assert terrain.tin.level_at(along) == pytest.approx((x - 10) / 2, abs=1e-6)
    steep = terrain.tin.slope > 1e-3
    # two metres wide around 36 m of sides, and around four corners, twice
    assert terrain.tin.plan_area[steep].sum() == pytest.approx(2 * (36 * 2 + 4 * CIRCLE), abs=1e-2)
    work = between_surfaces(terrain.surveyed, terrain.tin)
    each = 80 + 36 + 4 * CIRCLE / 3  # the court, prisms along its sides, quarter cones
    assert (work.cut, work.fill) == (pytest.approx(each, abs=1e-2), pytest.approx(each, abs=1e-2))
    seen = visible(model)
    # one metre deep with banks of two, the lower court is seen whole, and so is the upper
    assert seen["courts", "lower", "top"] == pytest.approx(80, abs=1e-3)
    assert seen["courts", "upper", "top"] == pytest.approx(80, abs=1e-3)
    assert ("courts", "upper", "side") not in seen  # the bank reaches up to its edge


def test_a_bank_beside_a_lower_terrace():
    """All runs across a strip 10 wide: from the south, ground 16, terrace 2, bank 2, terrace 10, bank 4."""
    model = stacked("bank_beside_a_lower_terrace")
    seen = visible(model)
    # the bank falls from 2 to 1 where the lower terrace begins, and ends there: earth 0.5 high
    # stands upright above it; the front of the site is one metre high
    assert seen["ground", "survey", "side"] == pytest.approx(10 * 1 + 10 * 0.5, abs=1e-3)
    # banks show as wide as they are and high toward the south, less high toward the north
    assert seen["ground", "survey", "slope"] == pytest.approx(10 * (16 + (2 + 1) + (4 - 2) + 6), abs=1e-3)
    assert seen["terraces", "lower", "top"] == pytest.approx(10 * 2)
    assert seen["terraces", "lower", "side"] == pytest.approx(10 * 0.5)
    assert seen["terraces", "upper", "top"] == pytest.approx(10 * 10)
    (finding,) = model.findings[model.findings["code"] == "bank-ends"].itertuples()
    assert (finding.source_id, finding.value) == ("upper", "0.500 m")
    assert "feature lower, along 10 m;" in finding.message
    # Nothing is filled beyond the lower terrace, which asks for no bank.
    terrain = model.stack.terrain
    north = np.array([10, 15.9, 17, 19, 32])
    places = np.column_stack([np.full(5, 420005), 310000 + north])
    assert terrain.tin.level_at(places) == pytest.approx([0, 0, 0, 1.5, 1], abs=1e-6)
    work = between_surfaces(terrain.surveyed, terrain.tin)
    assert work.fill == pytest.approx(10 * ((1 + 2) + 10 * 2 + 4 * 2 / 2), abs=0.01)


def test_steps_that_wrap_a_corner():
    model = stacked("steps_around_a_corner")
    seen = visible(model)
    # an angle 1.2 wide along 6 and 7.2: three treads of 0.4; of four risers of 0.15 the
    # last is the terrace's own side
    assert seen["steps", "S1", "tread"] == pytest.approx(7.2 * 1.2 + 6 * 1.2)
    assert seen["steps", "S1", "riser"] == pytest.approx(0.15 * (7.2 + 6.8 + 6.4))
    assert seen["terraces", "upper", "side"] == pytest.approx(6 * 0.15)
    assert seen["terraces", "upper", "top"] == pytest.approx(36)
    assert model.stack.walks.flights.riser.tolist() == pytest.approx([0.15], abs=1e-9)
    assert codes(model) == []


def test_a_bridge_over_a_sunken_path():
    model = stacked("bridge_over_a_sunken_path")
    seen = visible(model)
    # The path, 10 × 3 and two metres lower, shows its last metre, without the 2 m of bridge.
    assert seen["path", "P1", "top"] == pytest.approx((10 - 2) * 1)
    # The wall behind it, 2 high, is hidden by the bridge 2 wide.
    assert seen["terraces", "north", "side"] == pytest.approx((10 - 2) * 2)
    # The bridge, 5 long and 0.3 thick, hides 1.3 of the far terrace and 1 of the near one.
    assert seen["terraces", "north", "top"] == pytest.approx(60 - 2 * 1.3)
    assert seen["terraces", "south", "top"] == pytest.approx(60 - 2 * 1)
    assert seen["terraces", "south", "side"] == pytest.approx(10 * 3)
    assert seen["bridge", "B1", "top"] == pytest.approx(2 * 5)
    assert seen["bridge", "B1", "side"] == pytest.approx(2 * 0.3)
    assert codes(model) == ["drop-unguarded"]


def test_a_hip_roof_over_an_angle():
    model = stacked("hip_roof_in_an_angle")
    stack = model.stack
    solid = np.flatnonzero(stack.features.of_role("name")[stack.solid_feature] == "roof")
    roof = take(stack.scene.faces, np.flatnonzero(np.isin(stack.scene.faces.solid, solid)))
    # Every plane is pitched at 30 degrees: the footprint of 120 m² by 1 / cos 30°.
    assert areas(roof, "roof").sum() == pytest.approx(120 / math.cos(math.radians(30)), abs=1e-6)
    # Both wings are 6 wide, so the ridges lie 3 tan 30° above eaves at 3.
    assert stack.features.top.max() == pytest.approx(3 + 3 * math.tan(math.radians(30)), abs=1e-9)
    seen = visible(model)
    assert seen["barn", "barn", "side"] == pytest.approx((6 + 6) * 3)
    assert codes(model) == []


def test_terraces_that_slope():
    """A rises from 1.4 to 2.0 northward, B falls from 1.4 to 0.8 eastward; page Y = y + z."""
    model = stacked("sloping_terraces")
    seen = visible(model)
    assert seen["paving", "P", "top"] == pytest.approx(4 * (4 + 0.4))
    assert seen["two levels", "A", "top"] == pytest.approx(10 * (6 + 0.6) - 4 * 4.4)
    assert seen["two levels", "A", "side"] == pytest.approx(10 * 1.4)
    # The hut stands at 1.1, the lowest level under it, and reaches 3.1; the ground falls from
    # 1.22 to 1.1 along its front. What it hides lies all on B.
    assert seen["hut", "H", "top"] == pytest.approx(4)
    assert seen["hut", "H", "side"] == pytest.approx(2 * (3.1 - 1.16))
    assert seen["own levels", "B", "top"] == pytest.approx(10 * 6 - 2 * (2 + 3.1 - 1.16))
    assert seen["own levels", "B", "side"] == pytest.approx(10 * 1.1)
    # C goes on from 2.0 to 2.2; D begins at 1.1, where B lies at 1.4 falling to 0.8
    assert seen["planned", "C", "top"] == pytest.approx(10 * (4 + 0.2))
    assert seen["planned", "D", "top"] == pytest.approx(10 * (4 + 0.8) - 5 * 0.3 / 2)
    assert seen["planned", "D", "side"] == pytest.approx(5 * 0.3 / 2)
    assert codes(model) == ["drop-unguarded"]


def test_the_walls_between_terraces_that_slope():
    walls = stacked("sloping_terraces").retaining_walls
    found = walls.set_index(["upper_id", "lower_id"])[["length", "height", "area"]]
    expected = {
        ("A", "yard"): (10, 1.4, 14),
        ("B", "yard"): (10, 1.4, 11),
        ("C", "D"): (4, 0.9, 4 * (0.9 + 0.3) / 2),
        ("A", "B"): (6, 0.6, 6 * 0.3),
        ("B", "D"): (5, 0.3, 0.75),
        ("D", "B"): (5, 0.3, 0.75),
    }
    assert set(found.index) == set(expected)
    for pair, figures in expected.items():
        assert found.loc[pair].tolist() == pytest.approx(figures, abs=1e-9)
    assert walls.crs == "EPSG:27700"
    assert walls.geometry.length.tolist() == pytest.approx(walls["length"].tolist())


def test_what_reaches_across_terraces():
    """A path and a hedge climb two steps of half a metre in pieces; a hut stays whole on the second."""
    model = stacked("path_across_terraces")
    seen = visible(model)
    assert seen["path", "P1", "top"] == pytest.approx(12)
    # three pieces, half a metre wide; of each front but the first what is behind it shows
    assert seen["hedge", "split", "top"] == pytest.approx(0.5 * 10)
    assert seen["hedge", "split", "side"] == pytest.approx(0.5 * (0.6 + 0.5 + 0.5))
    assert seen["hut", "whole", "top"] == pytest.approx(10)
    assert seen["hut", "whole", "side"] == pytest.approx(2 * 2)
    # the hut stands on the middle terrace, at half a metre: its image reaches from Y = 2.5 to 9.5
    assert seen["terraces", "low", "top"] == pytest.approx(40 - 4 - 0.5 * 3 - 2 * 1.5)
    assert seen["terraces", "middle", "top"] == pytest.approx(40 - 4 - 0.5 * 4 - 2 * 4)
    assert seen["terraces", "high", "top"] == pytest.approx(40 - 4 - 0.5 * 3.6 - 2 * 0.5)
    assert codes(model) == ["kept-whole", "split-across"]


def test_contours_in_feet_under_terraces_in_metres():
    model = stacked("contours_in_feet")
    terrain = model.stack.terrain
    rise = 10 * 0.3048 / 10  # ten feet in ten metres
    xy = np.random.default_rng(3).uniform(0, 30, (50, 2))
    found = terrain.tin.level_at(xy + np.array([420000, 310000]))
    assert found == pytest.approx(30 * 0.3048 + rise * xy[:, 1], abs=1e-6)
    features = model.stack.features
    courts = np.flatnonzero(features.of_role("name") == "terrace")
    cut, fill = to_levels(terrain.surveyed, features.geometry[courts], features.top[courts])
    # T1 lies at 11.0 where the ground rises from 10.668 to 12.192 over 5 m, 10 m wide;
    # T2 at 16.0, from 15.24 to 16.764
    for k, (top, low) in enumerate([(11.0, 10.668), (16.0, 15.24)]):
        below, above = (top - low) / rise, (low + 5 * rise - top) / rise
        assert fill[k] == pytest.approx(10 * rise * below**2 / 2, rel=1e-6)
        assert cut[k] == pytest.approx(10 * rise * above**2 / 2, rel=1e-6)
    seen = visible(model)
    assert seen["terraces", "T1", "top"] == pytest.approx(50)
    # the front of T1 stands 11 − 10.668 out of the ground
    assert seen["terraces", "T1", "side"] == pytest.approx(10 * (11 - 10.668), abs=1e-6)
    ground = np.flatnonzero(features.of_role("form") == "terrain")[0]
    solid = np.flatnonzero(model.stack.solid_feature == ground)
    block = take(model.stack.scene.faces, np.flatnonzero(np.isin(model.stack.scene.faces.solid, solid)))
    assert open_edges(block) == 0
    slope = areas(block)[block.part == PART_CODE["slope"]].sum()
    assert slope == pytest.approx((900 - 100) * math.hypot(1, rise), abs=1e-4)
    assert "looks-like-feet" not in codes(model)


def test_the_same_contours_without_their_unit_are_told(tmp_path):
    for file in (SITES / "contours_in_feet").iterdir():
        shutil.copy(file, tmp_path / file.name)
    site = tmp_path / "site.toml"
    site.write_text(site.read_text().replace('unit = "ft"\n', ""))
    findings = siteaxo.read_site(site).stack().findings
    (finding,) = findings[findings["code"] == "looks-like-feet"].itertuples()
    assert (finding.layer, finding.value) == ("contours", "30.00 to 60.00 m")


@pytest.mark.parametrize("turn", [0, 30, 60])
def test_no_leader_of_a_level_crosses_the_hut_on_sloping_terraces(turn):
    """On A4 at 1:500 there is little room beside it, and yet enough."""
    model = stacked("sloping_terraces")
    drawing = model.draw(siteaxo.planometric(turn)).figure(sheet="A4", scale=500).drawing
    words, faces = drawing.extra["labels"], drawing.faces
    leaders = words[(words["kind"] == "leader")].geometry.to_numpy()
    hut = shapely.union_all(faces[faces["layer"] == "hut"].geometry.to_numpy())
    assert len(leaders) >= 3
    assert shapely.length(shapely.intersection(leaders, shapely.buffer(hut, -0.05))).max() == 0
