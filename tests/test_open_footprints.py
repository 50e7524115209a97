"""
Real open data: building footprints of a quarter of Prague, in EPSG:3857.

They come with the ``momepy`` package (BSD-3-Clause), whose documentation gives
OpenStreetMap as their origin (© OpenStreetMap contributors, ODbL 1.0). Read from the installed
package; nothing of them is kept here.
"""

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely

import siteaxo

momepy = pytest.importorskip("momepy")


@pytest.fixture(scope="module")
def buildings():
    return gpd.read_file(momepy.datasets.get_path("bubenec"), layer="buildings")


@pytest.fixture(scope="module")
def model(buildings):
    raised = buildings.assign(high=9.0 + 3.0 * (buildings["uID"] % 5))
    layer = siteaxo.Layer(
        name="buildings", role="structure", source=raised, id="uID", base=190, height="high"
    )
    return siteaxo.Site(name="Street block", layers=[layer]).stack()


def test_areas_are_true_metres(buildings, model):
    geod = pyproj.Geod(ellps="WGS84")
    lonlat = buildings.to_crs(4326)
    rings = shapely.orient_polygons(lonlat.geometry.to_numpy())  # holes count against the area
    true = np.array([abs(geod.geometry_area_perimeter(shape)[0]) for shape in rings])
    features = model.stack.features
    found = gpd.GeoSeries(features.geometry).area.groupby(features.source_id).sum()
    found = found.loc[buildings["uID"].astype(str)].to_numpy()
    assert np.abs(found / true - 1).max() < 1e-6
    assert buildings.area.sum() / true.sum() == pytest.approx(2.43, abs=0.01)


@pytest.mark.parametrize("turn", [30, 60])
def test_they_draw(buildings, model, turn):
    diagram = model.draw(siteaxo.planometric(turn))
    # Of n separate prisms seen from above, every top that is not behind a taller one shows.
    assert set(diagram.faces["source_id"]) <= set(buildings["uID"].astype(str))
    assert diagram.faces.loc[diagram.faces["part"] == "top", "visible_share"].mean() > 0.5
    union = diagram.faces.union_all()
    assert diagram.faces.area.sum() == pytest.approx(union.area, rel=1e-9)
    assert diagram.report["worst_face_balance"] < 1e-6
