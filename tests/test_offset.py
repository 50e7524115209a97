"""Areas that grow and shrink, against the library's own way for the same areas."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.offset import offset

RNG = np.random.default_rng(12)
HOLES = shapely.buffer(shapely.points(RNG.uniform(1, 39, (60, 2))), RNG.uniform(0.1, 0.6, 60), quad_segs=3)
SIEVE = shapely.box(0, 0, 40, 40) - shapely.union_all(HOLES)
TWO = shapely.union_all([SIEVE, shapely.transform(SIEVE, lambda xy: xy + np.array([40.3, 1.0]))])
RING = shapely.Point(0, 0).buffer(3) - shapely.Point(0, 0).buffer(1)


@pytest.mark.parametrize("by", [0.05, 0.4, 3.0, -0.05, -0.4, -3.0])
@pytest.mark.parametrize("how", [{"join_style": "mitre", "mitre_limit": 10.0}, {"quad_segs": 2}])
def test_the_same_as_the_library(by, how):
    areas = np.array([SIEVE, RING, TWO, shapely.Polygon()])
    assert shapely.get_num_interior_rings(SIEVE) > 40
    assert TWO.geom_type == "MultiPolygon"
    found = offset(areas, by, **how)
    wanted = shapely.buffer(areas, by, **how)
    assert shapely.is_valid(found).all()
    assert shapely.area(shapely.symmetric_difference(found, wanted)) == pytest.approx(0, abs=1e-6)
    assert shapely.area(found) == pytest.approx(shapely.area(wanted), abs=1e-6)
