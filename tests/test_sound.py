"""Solids looked over: not finite, not planar, without area, twice."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.errors import GeometryError
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
