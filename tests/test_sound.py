"""Solids looked over: not finite, not planar, without area, twice."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.errors import GeometryError, LevelError
from siteaxo.solids.faces import from_quads
from siteaxo.solids.sound import look_over

CRS = "EPSG:25832"


def stacked(shapes, tops):
    frame = gpd.GeoDataFrame(
        {"ref": [f"B{k}" for k in range(len(shapes))], "top": tops},
        geometry=[shapely.transform(shape, lambda xy: np.add(xy, (5e5, 57e5))) for shape in shapes],
        crs=CRS,
    )
    layer = siteaxo.Layer(name="blocks", role="structure", source=frame, id="ref", base=0, top="top")
    return siteaxo.Site(layers=[layer], plane_crs=CRS).stack()


def test_two_identical_solids_are_told(tmp_path):
    box, other = shapely.box(0, 0, 4, 2), shapely.box(6, 0, 8, 2)
    model = stacked([box, other, shapely.box(0, 0, 4, 2)], [3.0, 3.0, 3.0])
    (row,) = [row for row in model.findings.itertuples() if row.code == "double"]
    assert (row.layer, row.source_id, row.value) == ("blocks", "B2", "B0")
    diagram = model.draw(siteaxo.planometric(30))
    assert set(diagram.faces["source_id"]) == {"B1", "B2"}, "of the two the later is seen"


def test_same_footprint_at_other_levels_is_no_double():
    model = stacked([shapely.box(0, 0, 4, 2)] * 2, [3.0, 4.0])
    assert not (model.findings["code"] == "double").any()


@pytest.fixture
def quads():
    model = stacked([shapely.box(0, 0, 4, 2), shapely.box(6, 0, 8, 2)], [3.0, 4.0])
    flat = np.array([[[0, 0, 0], [4, 0, 0], [4, 4, 0], [0, 4, 0]]] * 2, dtype=float)
    return model.stack.features, flat


def test_faces_that_are_not_planar_are_told(quads):
    features, corners = quads
    corners[1, 2, 2] = 0.2  # one corner 0.2 m up: the mean plane passes 0.05 m from all four
    faces = from_quads(corners, solid=np.array([0, 1]), part=0)
    (finding,) = look_over(features, faces, np.array([0, 1]))
    assert (finding.code, finding.layer, finding.source_id) == ("not-planar", "blocks", "B1")
    assert float(finding.value.split()[0]) == pytest.approx(0.05, abs=2e-3)


def test_features_without_area_are_told(quads):
    features, corners = quads
    corners[0, :, 1] = 0.0
    faces = from_quads(corners, solid=np.array([0, 1]), part=0)
    (finding,) = look_over(features, faces, np.array([0, 1]))
    assert (finding.code, finding.source_id) == ("no-area", "B0")


def test_what_is_not_finite_is_refused(quads):
    features, corners = quads
    corners[1, 3, 0] = np.nan
    faces = from_quads(corners, solid=np.array([0, 1]), part=0)
    with pytest.raises(GeometryError, match=r"Layer 'blocks'.*B1.*not finite"):
        look_over(features, faces, np.array([0, 1]))


def one(shape, role, **levels):
    placed = shapely.transform(shape, lambda xy: xy + np.array([5e5, 5.7e6]))
    source = gpd.GeoDataFrame({"v": [levels.pop("v", 0.0)]}, geometry=[placed], crs=25832)
    return siteaxo.Site(
        name="t", layers=[siteaxo.Layer(name="x", role=role, source=source, **levels)]
    ).stack()


@pytest.mark.parametrize(
    ("role", "levels", "field"),
    [
        ("wall", {"base": 0, "top": "v", "v": 1e20}, "top"),
        ("deck", {"base": "v", "height": 1, "v": 1e20}, "base"),
        ("tree", {"base": 0, "top": "v", "v": 1e5}, "height"),
    ],
)
def test_levels_beyond_anything_on_earth_are_refused(role, levels, field):
    shape = shapely.Point(1, 1) if role == "tree" else shapely.box(0, 0, 8, 6)
    with pytest.raises(LevelError, match=r"Layer 'x': the .* of 1 features is (beyond|higher)") as caught:
        one(shape, role, **levels)
    assert (caught.value.layer, caught.value.field) == ("x", field)


@pytest.mark.parametrize(("role", "size"), [("ramp", {"width": 9e3}), ("steps", {"landing": 1e5})])
def test_a_climb_that_is_all_landings_is_drawn_as_a_block(role, size):
    line = shapely.LineString([(0, 0), (8, 0), (8, 6)])
    model = one(line, role, base=0, top=1.5, **size)
    assert "run-unclear" in set(model.findings["code"])


def test_a_crown_without_any_height_has_no_foliage():
    model = one(shapely.Point(5, 5), "tree", base=0, top=0)
    drawing = model.draw(siteaxo.planometric(turn=30), planting="texture", scale=100)
    planted = drawing.extra.get("planting")
    assert planted is None or len(planted) == 0
