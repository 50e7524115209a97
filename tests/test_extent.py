"""Which plane suits the layers of a site."""

import pyproj
import pytest
import shapely

from siteaxo.errors import CrsError
from siteaxo.source.datum import same_datum, shared_datum
from siteaxo.source.extent import Extent, check_scale, choose_plane
from siteaxo.source.plane import LocalPlane


def extent(bounds, crs="EPSG:4326", name="ground"):
    return Extent(layer=name, crs=pyproj.CRS(crs), bounds=bounds)


def test_the_automatic_plane_is_centred_on_all_layers():
    plane = choose_plane([extent((5.0, 52.0, 5.001, 52.001)), extent((5.003, 52.003, 5.004, 52.004))])
    lon, lat = plane.to_lonlat(0.0, 0.0)
    assert (float(lon), float(lat)) == pytest.approx((5.002, 52.002), abs=1e-9)
    assert plane.crs.geodetic_crs.name == "WGS 84"


def test_the_datum_is_the_one_all_layers_share():
    grid = extent((530000, 180000, 530100, 180100), "EPSG:27700")
    lonlat = extent((-0.1276, 51.5, -0.1274, 51.51), "EPSG:4277")
    assert choose_plane([grid, lonlat]).crs.geodetic_crs.name == "OSGB36"


def test_layers_of_different_datums_meet_on_wgs84():
    grid = extent((530000, 180000, 530100, 180100), "EPSG:27700")
    lonlat = extent((-0.1276, 51.5, -0.1274, 51.51), "EPSG:4326")
    assert choose_plane([grid, lonlat]).crs.geodetic_crs.name == "WGS 84"


@pytest.mark.parametrize(
    ("codes", "name"),
    [
        ((27700, 4277), "OSGB36"),
        ((27700, 4326), "WGS 84"),
        ((27700, 4326, 27700), "OSGB36"),
        ((3857, 4326, 32631), "WGS 84"),
        ((25832, 4258), "ETRS89"),
        ((27572,), "WGS 84"),  # counts longitudes from Paris, in grads
    ],
)
def test_shared_datum(codes, name):
    assert shared_datum([pyproj.CRS(code) for code in codes]).name == name


def test_a_bound_crs_has_no_datum_to_share():
    bound = pyproj.CRS("+proj=tmerc +ellps=bessel +towgs84=598,73,418,0,0,0,0 +type=crs")
    assert bound.is_bound
    assert not same_datum(bound, bound)


def test_a_site_on_the_date_line():
    plane = choose_plane(
        [extent((179.9995, -17.0, 179.9999, -16.999)), extent((-179.999, -17, -179.9985, -16.999))]
    )
    lon, _ = plane.to_lonlat(0.0, 0.0)
    assert abs(float(lon)) == pytest.approx(180, abs=0.001)
    points = plane.to_plane(shapely.points([[179.9995, -17.0], [-179.9985, -17.0]]), "EPSG:4326")
    assert shapely.distance(*points) < 250  # 0.002 degrees of longitude at 17 degrees south


def test_a_site_wider_than_100_km_is_refused():
    near = extent((5.0, 52.0, 5.001, 52.001), name="paving")
    far = extent((6.6, 52.0, 6.601, 52.001), name="trees")  # 110 km to the east
    with pytest.raises(CrsError, match=r"110 km wide.*paving at 52\.\d+, 5\.\d+, trees at 52\.\d+, 6\.6"):
        choose_plane([near, far])


def test_a_site_of_95_km_is_taken():
    assert choose_plane([extent((5.0, 52.0, 6.38, 52.001))]).area == pytest.approx((5.0, 52.0, 6.38, 52.001))


def test_layers_on_two_continents_are_refused():
    with pytest.raises(CrsError, match="Has a layer the wrong CRS"):
        choose_plane([extent((5, 52, 5.1, 52.1)), extent((-175, -40, -174.9, -39.9))])


@pytest.mark.parametrize(
    ("bounds", "crs"),
    [((530000, 180000, 530100, 180100), "EPSG:4326"), ((1e30, 0, 1e30, 10), "EPSG:27700")],
)
def test_coordinates_that_do_not_suit_their_crs_are_refused(bounds, crs):
    with pytest.raises(CrsError, match=r"Layer 'ground': its coordinates .* do not lie where"):
        choose_plane([extent(bounds, crs)])


def test_a_plane_of_the_users_choice():
    plane = choose_plane([extent((9.0, 50.0, 9.001, 50.001))], "EPSG:25832")
    assert plane.crs.to_epsg() == 25832


def test_a_plane_made_for_elsewhere_is_refused():
    # EPSG:3395 is a true Mercator: at 60 degrees its metres are about twice too long
    plane = LocalPlane.from_crs("EPSG:3395")
    (point,) = plane.to_plane([shapely.Point(10, 60)], "EPSG:4326")
    with pytest.raises(CrsError, match=r"a metre of the site would measure 1\.99"):
        check_scale(plane, (point.x, point.y, point.x + 100, point.y + 100))


def test_a_national_grid_is_near_enough():
    check_scale(LocalPlane.from_crs("EPSG:27700"), (400000, 200000, 400100, 200100))  # k = 0.9996
