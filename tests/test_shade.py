import geopandas
import numpy as np
import pytest
import shapely

from siteaxo.craft.shade import without_slits


def dark(faces, shadows, *, scale, kind="cast"):
    """Shadows on some faces as they are drawn."""
    table = geopandas.GeoDataFrame({"kind": [kind] * len(shadows)}, geometry=shadows)
    return np.asarray(without_slits(table, geopandas.GeoDataFrame(geometry=faces), scale=scale).geometry)


ROOF = shapely.box(0, 0, 9, 6)
TWO = shapely.MultiPolygon([shapely.box(0, 0, 4, 6), shapely.box(4.04, 0, 8, 6)])


@pytest.mark.parametrize(("scale", "area"), [(100, 47.76), (159, 47.76), (161, 48.0), (500, 48.0)])
def test_slits_of_light_are_closed_where_they_are_hairlines(scale, area):
    """A slit of 40 mm is 0.25 mm wide at 1:160; shadows of 4.00 and 3.96 by 6 m lie beside it."""
    assert shapely.area(dark([ROOF], [TWO], scale=scale)[0]) == pytest.approx(area, rel=1e-6)


def test_a_hole_of_light_is_closed_too():
    ring = shapely.box(0, 0, 9, 6) - shapely.box(2, 3, 7, 3.04)
    assert shapely.area(dark([ROOF], [ring], scale=200)[0]) == pytest.approx(54.0)


def test_what_stands_before_a_shadow_is_not_darkened():
    """A post hides 40 mm of the roof between the two parts of its shadow."""
    seen = ROOF - shapely.box(4, 0, 4.04, 6)
    assert shapely.area(dark([seen], [TWO], scale=200)[0]) == pytest.approx(47.76)


def test_light_along_the_edge_of_a_face_stays():
    shadow = shapely.MultiPolygon([shapely.box(0.03, 0, 4, 6), shapely.box(5, 0, 8.97, 6)])
    assert shapely.area(dark([ROOF], [shadow], scale=200)[0]) == pytest.approx(6 * (3.97 + 3.97))


def test_light_that_is_wide_keeps_its_corners():
    """Light in a triangle with a tip of 45°, joined to a slit: what is left of it is the triangle."""
    light = shapely.union_all([shapely.Polygon([(4, 0), (7, 0), (4, 3)]), shapely.box(4, 3 - 1e-9, 4.04, 6)])
    light = shapely.union_all([light, shapely.box(3.9, 2.9, 4.0, 2.94)])
    left = shapely.difference(ROOF, dark([ROOF], [ROOF - light], scale=200)[0])
    assert shapely.area(left) == pytest.approx(4.5, abs=0.01)


def test_what_is_dark_by_itself_is_left_alone():
    assert shapely.equals(dark([ROOF], [TWO], scale=500, kind="own")[0], TWO)


def test_nothing_changes_what_was_given():
    table = geopandas.GeoDataFrame({"kind": ["cast"]}, geometry=[TWO])
    without_slits(table, geopandas.GeoDataFrame(geometry=[ROOF]), scale=500)
    assert table.geometry[0] == TWO


def test_what_is_darkened_is_area_alone():
    """A slit that ends at a line of what is seen touches it and is no line itself."""
    seen = shapely.union_all([shapely.box(0, 0, 9, 3), shapely.box(0, 3, 4, 6), shapely.box(4.04, 3, 9, 6)])
    found = dark([seen], [TWO], scale=200)[0]
    assert found.geom_type in ("Polygon", "MultiPolygon")
    assert shapely.area(found) == pytest.approx(47.76 + 0.04 * 3)
