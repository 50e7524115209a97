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


FLAT = shapely.Polygon(
    [
        (-3.4047809313368824, 17.05343072587045),
        (-3.404780931336883, 17.05343072587045),
        (1.1872171759605408, 19.7),
    ]
)
"""Two of its corners are one but for rounding: its mitre there would be endless."""
WIDE = shapely.box(-10, -10, 30, 30)


@pytest.mark.parametrize("by", [0.03, -0.03])
@pytest.mark.parametrize(
    ("area", "seen"),
    [
        (FLAT, shapely.Polygon()),
        (shapely.MultiPolygon([FLAT, shapely.box(50, 50, 60, 60)]), shapely.box(50, 50, 60, 60)),
        (shapely.Polygon(WIDE.exterior, [FLAT.exterior]), WIDE),
        (
            shapely.Polygon(WIDE.exterior, [FLAT.exterior, shapely.box(0, 0, 2, 2).exterior]),
            WIDE - shapely.box(0, 0, 2, 2),
        ),
    ],
    ids=["alone", "part", "hole", "one of two holes"],
)
def test_what_has_no_width_is_nothing(area, seen, by):
    assert 0 < FLAT.area < 1e-12
    found = offset(np.array([area, RING]), by, join_style="mitre")
    wanted = shapely.buffer(np.array([seen, RING]), by, join_style="mitre")
    assert shapely.area(shapely.symmetric_difference(found, wanted)) == pytest.approx(0, abs=1e-12)


BENT = shapely.Polygon([(0, 0), (3, 0), (3, 2), (1e-15, 2), (0, 2 - 4e-15)])
"""A court of 3 by 2 m, two of whose corners are one but for rounding."""
SKEWED = shapely.Polygon(
    [
        (23.105207442686957, -0.3916245965684346),
        (23.91183740539756, -1.4434971280440183),
        (22.95966034126839, -2.173675487583697),
        (21.681860924182406, -0.5073820905488735),
        (22.63403791509296, 0.22279627378828123),
        (23.10520744268696, -0.3916245965684356),
    ]
)
"""A step of 1.2 by 2.1 m that is turned; the library gives an outline that crosses itself for it."""


@pytest.mark.parametrize("more", [(), (SIEVE,)], ids=["alone", "amid many holes"])
def test_corners_that_are_one_but_for_rounding_are_one(more):
    for area, sides in ((BENT, (3.0, 2.0)), (SKEWED, (1.199917, 2.099835))):
        outer = shapely.MultiPolygon([area, *(shapely.transform(one, lambda xy: xy + 60) for one in more)])
        (found,) = offset(np.array([outer]), -0.15, quad_segs=2, join_style="mitre")
        (rest,) = offset(np.array([*more, shapely.Polygon()])[:1], -0.15, quad_segs=2, join_style="mitre")
        assert shapely.is_valid(found)
        inner = (sides[0] - 0.3) * (sides[1] - 0.3)
        assert found.area - rest.area == pytest.approx(inner, abs=1e-5)


NOTCHED = shapely.Polygon(
    [
        (31.947807324246682, 6.332724030788751),
        (28.145971785317816, -0.25224826654589416),
        (28.193080129279387, -0.24287948801969578),
        (28.036902117579192, -0.6002134059879015),
        (27.99645973454566, -0.5112107341148437),
        (27.922495617616153, -0.6393203422213628),
        (27.83018689592843, -0.47169032268932665),
    ]
)
"""What is seen of a yard above people that stand close; the library's mitres in it cross one another."""


@pytest.mark.parametrize("more", [(), (SIEVE,)], ids=["alone", "amid many holes"])
def test_mitres_that_cross_one_another_are_untied(more):
    by, how = -0.075, {"quad_segs": 2, "join_style": "mitre"}
    assert not shapely.is_valid(shapely.buffer(NOTCHED, by, **how))
    area = shapely.MultiPolygon([NOTCHED, *(shapely.transform(one, lambda xy: xy + 60) for one in more)])
    (found,) = offset(np.array([area]), by, **how)
    assert shapely.is_valid(found)
    mine = shapely.intersection(found, shapely.box(0, -10, 40, 10))
    assert shapely.distance(mine, NOTCHED.exterior) >= -by - 1e-9
    rounded = shapely.buffer(NOTCHED, by, quad_segs=64)
    assert shapely.area(shapely.difference(mine, rounded)) < 1e-4
    assert 0 < mine.area <= rounded.area  # mitres take away more than arcs


def test_a_notch_within_many_holes_is_cut_out():
    """The whole of a wide yard with forty holes and the notched one is moved ring by ring."""
    yard = shapely.Polygon(shapely.box(-9, -9, 60, 60).exterior, [NOTCHED.exterior])
    holes = shapely.transform(
        shapely.MultiPolygon(list(shapely.get_parts(shapely.union_all(HOLES)))), lambda xy: xy * 0.5 + [5, 30]
    )
    yard = yard - holes
    assert shapely.get_num_interior_rings(yard) > 20
    (found,) = offset(np.array([yard]), 0.075, quad_segs=2, join_style="mitre")
    assert shapely.is_valid(found)
    least, most = (shapely.buffer(yard, 0.075 * limit, quad_segs=16) for limit in (0.999, 5.0))
    assert shapely.area(shapely.difference(least, found)) < 1e-6  # as arcs would grow at least
    assert shapely.area(shapely.difference(found, most)) < 1e-6  # mitres reach five times as far at most
