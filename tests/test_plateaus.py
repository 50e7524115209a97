"""Level triangles inside contours: edges turned in bends, spots added within last contours."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.mesh import edge_keys
from siteaxo.solids.network import network
from siteaxo.solids.plateaus import is_level, rounded
from siteaxo.solids.triangulation import triangulated

NONE = np.zeros((0, 3))


def at_level(xy, level):
    return shapely.LineString(np.column_stack([xy, np.full(len(xy), float(level))]))


def hill(levels, *, waves=0.15, corners=48):
    """Closed contours of a wavy hill whose contour at z has a mean radius of 10 (10 − z)."""
    angle = np.linspace(0, 2 * np.pi, corners + 1)
    reach = 1 + waves * np.sin(3 * angle)
    unit = np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])
    unit[-1] = unit[0]
    return np.array([at_level(unit * 10 * (10 - z), z) for z in levels])


def spurs():
    """Hairpin contours of a valley that opens to the east, the innermost last."""
    arm = [np.column_stack([np.linspace(60, 8 * k, 30), np.full(30, 3.0 + 2 * k)]) for k in range(4)]
    return np.array([at_level(np.vstack([a, a[::-1] * [1, -1]]), 4 - k) for k, a in enumerate(arm[::-1])])


def away(lines):
    """The lines 300 m to the east."""
    return shapely.transform(lines, lambda c: c + np.array([300, 0, 0]), include_z=True)


def prepared(lines, spots=NONE):
    net = network(lines, spots)
    return net.xy, net.level, net.segment, net.source < len(lines)


def level_area(result, contour):
    more = np.append(contour, np.zeros(len(result.xy) - len(contour), dtype=bool))
    flat = is_level(result.triangle, result.level, more)
    return shapely.area(shapely.polygons(result.xy[result.triangle[flat]])).sum()


def test_bends_are_opened_by_turning_edges_alone():
    xy, level, segment, contour = prepared(spurs())
    before = triangulated(xy, segment)
    assert is_level(before, level, contour).sum() > 20
    result = rounded(xy, level, segment, contour, spots=False)
    assert result.added == 0
    assert result.turned >= 6  # both corners of three bends
    kept = is_level(result.triangle, result.level, contour)
    inside = shapely.contains_xy(
        shapely.Polygon(shapely.get_coordinates(spurs()[-1])), xy[result.triangle[kept]].mean(axis=1)
    )
    assert inside.all()  # only within the innermost hairpin is there nothing to turn to


def test_a_hilltop_is_rounded_off_by_less_than_half_a_step():
    xy, level, segment, contour = prepared(hill(range(3, 10)))
    result = rounded(xy, level, segment, contour)
    assert level_area(result, contour) == pytest.approx(0.0, abs=1e-9)
    top = result.level.max()
    assert 9.0 < top <= 9.5
    # its slope outside is about 1 in 10 and its summit some 10 m from the last contour:
    # half of the rise that this makes
    assert top == pytest.approx(9.5, abs=0.1)
    assert np.hypot(*result.xy[np.argmax(result.level)]) < 2.0


def test_a_hollow_goes_down():
    lines = hill(range(3, 10))
    sunk = shapely.transform(lines, lambda c: c * [1, 1, -1], include_z=True)
    xy, level, segment, contour = prepared(sunk)
    result = rounded(xy, level, segment, contour)
    assert -9.5 <= result.level.min() < -9.0


def test_a_spot_on_the_summit_is_enough():
    lines = hill(range(3, 10), waves=0.0)
    xy, level, segment, contour = prepared(lines, np.array([[0.0, 0.0, 9.8]]))
    result = rounded(xy, level, segment, contour)
    assert result.level.max() == 9.8
    assert level_area(result, contour) == 0.0
    assert not len(result.area)


def test_contours_stay_edges():
    xy, level, segment, contour = prepared(np.concatenate([hill(range(3, 10)), away(spurs())]))
    result = rounded(xy, level, segment, contour)
    ends = result.triangle[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    assert np.isin(edge_keys(segment, len(result.xy)), edge_keys(ends, len(result.xy))).all()


def test_level_ground_between_spots_is_left_alone():
    spots = np.array([[0.0, 0, 1], [10, 0, 1], [10, 10, 1], [0, 10, 1]])
    net = network(np.zeros(0, dtype=object), spots)
    result = rounded(net.xy, net.level, net.segment, np.zeros(4, dtype=bool))
    assert (result.added, result.turned, len(result.triangle)) == (0, 0, 2)


def test_a_lone_contour_says_nothing_about_its_inside():
    ring = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10], [0, 0]])
    xy, level, segment, contour = prepared(np.array([at_level(ring, 5)]))
    result = rounded(xy, level, segment, contour)
    assert (result.added, set(result.level)) == (0, {5.0})
