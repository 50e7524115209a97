"""Rails: posts, bars, and what they follow."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, box
from solidity import areas, open_edges, solid_of, stacked, volume, warps

from siteaxo.solids import limits
from siteaxo.solids.courses import Courses, posts_along
from siteaxo.solids.rail import MIDDLE, POST

GROUND = {"role": "ground", "geometry": box(-10, -10, 40, 40), "base": -1, "top": 0}


def rail(line, **more):
    return {"role": "rail", "geometry": line, "height": 1.05, **more}


def courses(*lines, level=0.0):
    xy, owner = shapely.get_coordinates(np.array(lines, dtype=object), return_index=True)
    start = np.searchsorted(owner, np.arange(len(lines) + 1))
    return Courses(xy=xy, level=np.full(len(xy), level), start=start)


def posts(line, spacing=1.5):
    return posts_along(courses(line), np.array([spacing])).xy


def test_usual_spacing():
    """Posts no more than 1.5 m apart (common practice)."""
    assert limits.POST_SPACING == 1.5


@pytest.mark.parametrize(("length", "count"), [(1.5, 2), (1.51, 3), (6, 5), (6.1, 6), (0.3, 2)])
def test_posts_stand_evenly_and_no_farther_apart_than_allowed(length, count):
    place = posts(LineString([(0, 0), (length, 0)]))
    assert np.sort(place[:, 0]) == pytest.approx(np.linspace(0, length, count))


def test_posts_stand_at_corners():
    place = posts(LineString([(0, 0), (2, 0), (2, 1)]))
    assert {tuple(p) for p in place.round(9).tolist()} == {(0, 0), (1, 0), (2, 0), (2, 1)}


def test_posts_on_a_curve_are_spaced_along_it():
    angle = np.radians(np.linspace(0, 180, 31))
    line = LineString(np.column_stack([5 * np.cos(angle), 5 * np.sin(angle)]))
    place = posts(line)
    way = np.sort(shapely.line_locate_point(line, shapely.points(place)))
    assert len(place) == np.ceil(line.length / 1.5) + 1
    assert np.diff(way) == pytest.approx(line.length / (len(place) - 1), abs=1e-9)


def test_a_ring_has_no_post_twice():
    place = posts(LineString([(0, 0), (3, 0), (3, 3), (0, 3), (0, 0)]))
    assert len(place) == 8
    assert len(np.unique(place.round(6), axis=0)) == 8


def test_a_level_rail():
    """Five posts of 0.05 × 0.05 × 1.00 m under a bar of 0.05 × 0.05 m, with a middle bar of 0.03 × 0.03 m."""
    faces = solid_of(stacked(GROUND, rail(LineString([(0, 0), (6, 0)]))), 1)
    whole = 5 * POST**2 * (1.05 - POST) + 6 * POST**2 + 6 * MIDDLE**2
    assert volume(faces) == pytest.approx(whole, abs=1e-9)
    assert faces.xyz[:, 2].max() == pytest.approx(1.05)
    assert faces.xyz[:, 2].min() == 0
    assert open_edges(faces) == 0
    assert areas(faces, "soffit").max() == pytest.approx(6 * POST)


def test_bars_are_mitred_around_corners_and_rings():
    """Around a square of 3 m the bars cover 3.05² − 2.95² and 3.03² − 2.97² m²."""
    ring = LineString([(0, 0), (3, 0), (3, 3), (0, 3), (0, 0)])
    faces = solid_of(stacked(GROUND, rail(ring)), 1)
    top = areas(faces, "top").sum() - 8 * POST**2  # without the heads of the posts
    assert top == pytest.approx(0.60 + 0.36, abs=1e-9)
    assert open_edges(faces) == 0
    assert warps(faces) < 1e-12


def test_two_rails_that_meet_end_to_end_share_a_post():
    """Three and three posts, of which one is shared."""
    rows = [rail(LineString([(0, 0), (3, 0)])), rail(LineString([(6, 0), (3, 0)]))]
    stack = stacked(GROUND, *rows)
    heads = [(np.abs(areas(solid_of(stack, row), "top") - POST**2) < 1e-9).sum() for row in (1, 2)]
    assert heads == [3, 2]


def test_closer_posts_on_request():
    faces = solid_of(stacked(GROUND, rail(LineString([(0, 0), (6, 0)]), posts=0.5)), 1)
    heads = areas(faces, "top")
    assert (np.abs(heads - POST**2) < 1e-9).sum() == 13


def test_low_rails_have_no_middle_bar():
    faces = solid_of(stacked(GROUND, rail(LineString([(0, 0), (1, 0)]), height=0.3)), 1)
    assert volume(faces) == pytest.approx(2 * POST**2 * 0.25 + POST**2, abs=1e-12)


def test_a_rail_follows_a_ramp_and_goes_on_level_beyond_it():
    """1 m in 14 m, and 2 m of rail before its foot."""
    ramp = {"role": "ramp", "geometry": LineString([(0, 0), (14, 0)]), "base": 0, "top": 1, "width": 2}
    stack = stacked(GROUND, ramp, rail(LineString([(-2, 0.9), (14, 0.9)])))
    assert stack.support[2] == 1
    faces = solid_of(stack, 2)
    high = faces.xyz[:, 2] - np.clip(faces.xyz[:, 0] / 14, 0, 1)
    assert high.max() == pytest.approx(1.05, abs=1e-9)
    bar = faces.xyz[np.abs(high - 1.05) < 1e-9]
    assert np.unique(bar[:, 0].round(9)) == pytest.approx([-2, 0, 14])
    foot = faces.xyz[:, 2] < np.clip(faces.xyz[:, 0] / 14, 0, 1) + 0.01
    assert faces.xyz[foot & (faces.xyz[:, 0] < -0.1), 2] == pytest.approx(0)
    assert open_edges(faces) == 0


def test_a_rail_follows_the_nosings_of_a_flight():
    """The line of the nosings rises from 0.15 to 1.20 m over 2.45 m; posts reach down to the treads."""
    deck = {"role": "deck", "geometry": box(2.45, -2, 6, 2), "base": 0, "top": 1.2}
    flight = {"role": "steps", "geometry": box(0, -1, 2.45, 1), "base": 0, "top": 1.2}
    stack = stacked(GROUND, flight, deck, rail(LineString([(0.1, 0.9), (2.35, 0.9)])))
    faces = solid_of(stack, 3)
    over = faces.xyz[:, 2] - (0.15 + faces.xyz[:, 0] * 1.05 / 2.45)
    assert over.max() == pytest.approx(1.05, abs=1e-9)
    for x in (0.1, 2.35):
        near = np.abs(faces.xyz[:, 0] - x) < 0.026
        assert faces.xyz[near, 2].min() == pytest.approx(0.15 * (1 + np.floor(x / 0.35)), abs=1e-9)


def test_a_rail_with_a_base_of_its_own_is_level():
    ramp = {"role": "ramp", "geometry": LineString([(0, 0), (14, 0)]), "base": 0, "top": 1, "width": 2}
    faces = solid_of(stacked(GROUND, ramp, rail(LineString([(0, 0.9), (14, 0.9)]), base=1.0)), 2)
    assert faces.xyz[:, 2].min() == 1.0
    assert faces.xyz[:, 2].max() == pytest.approx(2.05)


def test_polygons_are_raised_as_they_are():
    faces = solid_of(stacked(GROUND, rail(box(0, 0, 3, 0.1))), 1)
    assert volume(faces) == pytest.approx(3 * 0.1 * 1.05)


def test_panels_hide_nothing_and_stand_between_foot_and_top_bar():
    """3 m of rail, 1.1 m high: a sheet from 0.1 m above its foot to the underside of the bar."""
    rail = {"role": "rail", "geometry": LineString([(1, 5), (4, 5)]), "height": 1.1, "shape": "panel"}
    ground = {"role": "terrace", "geometry": box(0, 0, 10, 10), "base": -1, "top": 0}
    stack = stacked(ground, rail)
    assert areas(stack.panels.faces).tolist() == pytest.approx([3 * (1.1 - 0.05 - 0.1)])
    assert stack.panels.faces.two_sided.all()
    assert stack.panels.feature.tolist() == [1]
    bars = stacked(ground, {**rail, "shape": "bars"})
    assert len(bars.panels) == 0
    middle = len(solid_of(bars, 1)) - len(solid_of(stack, 1))
    assert middle == 6  # the middle bar is left out


def test_panels_climb_with_the_flight_they_stand_on():
    low = {"role": "terrace", "geometry": box(0, 0, 10, 4), "base": -1, "top": 0}
    high = {"role": "terrace", "geometry": box(0, 6.45, 10, 9), "base": -1, "top": 1.2}
    flight = {"role": "steps", "geometry": box(2, 4, 4, 6.45), "base": 0, "top": 1.2}
    rail = {"role": "rail", "geometry": LineString([(2.1, 4), (2.1, 6.45)]), "height": 1.0, "shape": "panel"}
    stack = stacked(low, high, flight, rail)
    sheet = stack.panels.faces
    # upright, parallel to the nosings: as high everywhere
    assert areas(sheet).sum() == pytest.approx(2.45 * (1.0 - 0.05 - 0.1), abs=1e-9)
    assert np.ptp(sheet.xyz[:, 2]) > 1.0 + 0.85
