"""
A view study of real open data against ray casting by Embree, with its sampling error.

Buildings of a quarter of Prague, from the ``momepy`` package (BSD-3-Clause), whose documentation
gives OpenStreetMap as their origin (© OpenStreetMap contributors, ODbL 1.0).
"""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from reference.raycast import Rays

import siteaxo

momepy = pytest.importorskip("momepy")
pytest.importorskip("embreex")

SAMPLES = 300_000
SIGMAS = 4.5  # of some 280 shares none lies so far off by chance more than once in 500 runs


@pytest.fixture(scope="module")
def model():
    buildings = gpd.read_file(momepy.datasets.get_path("bubenec"), layer="buildings")
    raised = buildings.assign(high=9.0 + 3.0 * (buildings["uID"] % 5))
    layer = siteaxo.Layer(
        name="buildings", role="structure", source=raised, id="uID", base=190, height="high"
    )
    return siteaxo.Site(name="Street block", layers=[layer]).stack()


def test_shares_are_those_of_ray_casting(model):
    from reference.embree import first_hits

    study = model.study(turns=(30, 240))
    scene, origin = model.stack.scene, model.origin
    near = replace(scene.faces, xyz=scene.faces.xyz - origin)
    features = study.features
    assert features["share"].between(0, 1).all()
    assert features["surface_share"].between(0, 1).all()
    rng = np.random.default_rng(60)
    for number, candidate in enumerate(study.candidates):
        rays = Rays(near, scene.rank, study.matrices[number])
        low, high = rays.segments.min(axis=(0, 1)), rays.segments.max(axis=(0, 1))
        face = first_hits(rays, rng.uniform(low, high, (SAMPLES, 2)))
        ids = model.stack.features.source_id.astype(str)
        hit = ids[model.stack.solid_feature[scene.faces.solid[face[face >= 0]]]]
        page = float(np.prod(high - low))
        own = features[features["view"] == candidate.name].set_index("source_id")
        counted = np.array([(hit == one).sum() for one in own.index])
        chance = own["visible_m2"].to_numpy() / page
        expected = SAMPLES * chance
        error = np.sqrt(SAMPLES * chance * (1 - chance))
        assert (np.abs(counted - expected) <= SIGMAS * error + 1e-6).all()
        total = own["visible_m2"].sum() / page
        assert (face >= 0).mean() == pytest.approx(total, abs=SIGMAS * np.sqrt(total * (1 - total) / SAMPLES))
        # The stated sampling error of the shares, as a standard deviation.
        sampling = error / SAMPLES * page / own["facing_m2"].to_numpy()
        assert np.median(sampling) < 0.03
        assert sampling.max() < 0.1  # of the smallest building


def test_nothing_is_seen_twice(model):
    # What is seen adds up to the area that all buildings cover on the page.
    study = model.study(turns=(60,))
    drawn = model.draw(siteaxo.planometric(60))
    assert study.features["visible_m2"].sum() == pytest.approx(drawn.faces.union_all().area, rel=1e-9)
    shares = drawn.faces.groupby("source_id")["geometry"].apply(lambda g: gpd.GeoSeries(g).area.sum())
    own = study.features.set_index("source_id")["visible_m2"]
    assert np.abs(own.loc[shares.index] - shares).max() < 1e-6
