"""Level triangles inside contours: edges turned in bends, spots added within last contours."""

import numpy as np
import pytest
import shapely

from siteaxo.solids.mesh import edge_keys
from siteaxo.solids.network import network
from siteaxo.solids.plateaus import is_level, rounded
from siteaxo.solids.survey import Survey, surface_of
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


def level_area(result, contour, within=None):
    """Area of level triangles, of those in the middle of an outline when it is given."""
    more = np.append(contour, np.zeros(len(result.xy) - len(contour), dtype=bool))
    flat = is_level(result.triangle, result.level, more)
    if within is not None:
        outline = shapely.Polygon(shapely.get_coordinates(within))
        flat &= shapely.contains_xy(outline, result.xy[result.triangle].mean(axis=1))
    return shapely.area(shapely.polygons(result.xy[result.triangle[flat]])).sum()


def square(x, y, side, level):
    """A closed contour, its lower left corner first."""
    return at_level(shapely.get_coordinates(shapely.box(x, y, x + side, y + side)), level)


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
    lines = hill(range(3, 10))
    xy, level, segment, contour = prepared(lines)
    result = rounded(xy, level, segment, contour)
    assert level_area(result, contour, lines[0]) == pytest.approx(0.0, abs=1e-9)
    assert result.level.min() == 3.0  # in the bays of the lowest contour nothing is made up
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


def playground(*more):
    """Two mounds of two steps on ground that is level from one side to the other, 40 by 20 m."""
    sides = [at_level([(0, y), (40, y)], 34.0) for y in (0, 20)]
    mounds = [square(x + k, 6 + k, 8 - 2 * k, 34.0 + 0.4 * k) for x in (6, 26) for k in (0, 1, 2)]
    return np.array([*sides, *mounds, *more])


def test_ground_between_several_contours_of_one_level_is_level():
    """Only the tops of the mounds, 4 by 4 m each, are rounded off."""
    xy, level, segment, contour = prepared(playground())
    result = rounded(xy, level, segment, contour)
    assert result.level.min() == 34.0
    assert np.sort(result.area) == pytest.approx([16, 16])
    assert result.from_level == pytest.approx([34.8, 34.8])
    assert level_area(result, contour) == pytest.approx(40 * 20 - 2 * 8 * 8)
    tin = surface_of(Survey(contours=playground())).tin
    places = [(20, 10), (1, 10), (39, 19), (30, 3), (10, 6.5)]  # the last half way up a step
    assert tin.level_at(places) == pytest.approx([34, 34, 34, 34, 34.2])


def test_a_spot_on_level_ground_draws_only_its_own_surroundings():
    survey = Survey(contours=playground(), spots=np.array([[20.0, 10.0, 34.3]]))
    tin = surface_of(survey).tin
    assert tin.level_at([(20, 10), (1, 10), (39, 10)]) == pytest.approx([34.3, 34, 34])
    assert tin.xyz[:, 2].min() == 34.0


def test_mounds_whose_feet_cross_make_no_hollow():
    """Contours of one level cross twice; the square of 2 m that both enclose stays level."""
    xy, level, segment, contour = prepared(
        np.array([square(0, 0, 10, 5.0), square(3, 3, 2, 6.0), square(8, 8, 10, 5.0), square(13, 13, 2, 6.0)])
    )
    result = rounded(xy, level, segment, contour)
    assert result.level.min() == 5.0
    assert np.sort(result.area) == pytest.approx([4, 4])


@pytest.mark.parametrize("around", [0.0, 5.0])
@pytest.mark.parametrize("beyond", [[], [(15.0, 60.0, 2.0)]])
def test_ground_around_a_closed_contour_stays_level(around, beyond):
    """In the bay of a mound like a U, whether the ground ends at its arms or is told to go on level."""
    foot = [(0, 0), (30, 0), (30, 20), (20, 20), (20, 10), (10, 10), (10, 20), (0, 20), (0, 0)]
    step = shapely.Polygon(foot).buffer(-2, join_style="mitre").exterior
    lines = np.array([at_level(foot, 2.0), at_level(shapely.get_coordinates(step), 3.0)])
    area = shapely.box(-around, -around, 30 + around, 20 + around)
    survey = Survey(contours=lines, spots=np.array(beyond).reshape(-1, 3))
    tin = surface_of(survey, area=area).tin
    assert tin.level_at([(15, 15), (15, 19), (15, 11), (15, 9)]) == pytest.approx([2, 2, 2, 2.5])
    assert tin.xyz[:, 2].min() == pytest.approx(2.0, abs=1e-9)


def test_a_spot_on_a_summit_at_the_level_of_its_contour_says_that_it_is_level():
    """A summit like an L, 12 m long and 4 m wide both ways, with a spot at the end of one of its arms."""
    ring = [(4, 4), (16, 4), (16, 8), (8, 8), (8, 16), (4, 16), (4, 4)]
    survey = Survey(
        contours=np.array([square(0, 0, 20, 5.0), at_level(ring, 6.0)]), spots=np.array([[6.0, 14.0, 6.0]])
    )
    assert surface_of(survey).tin.level_at([(6, 6), (14, 6), (6, 12)]) == pytest.approx([6, 6, 6])
