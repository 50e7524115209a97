"""The local plane: worked points of surveys, true metres, and what it refuses."""

import numpy as np
import pyproj
import pytest
import shapely

from siteaxo.errors import CrsError
from siteaxo.source.plane import LocalPlane

GRS80_GEOD = pyproj.Geod(ellps="GRS80")
WGS84_GEOD = pyproj.Geod(ellps="WGS84")
NATIONAL_GRID = LocalPlane.from_crs("EPSG:27700")
OSGB36 = "EPSG:4277"
# Ordnance Survey, "A guide to coordinate systems in Great Britain", Annex C: worked point
OS_LON = 1 + 43 / 60 + 4.5177 / 3600
OS_LAT = 52 + 39 / 60 + 27.2531 / 3600


def moved(plane, lon, lat, crs):
    """Plane coordinates of one place given in a geographic CRS."""
    return shapely.get_coordinates(plane.to_plane([shapely.Point(lon, lat)], crs))[0]


def test_transverse_mercator_of_the_epsg_guidance():
    # EPSG Guidance Note 7-2, Transverse Mercator example: printed 577274.99 and 69740.50
    x, y = moved(NATIONAL_GRID, 0.5, 50.5, OSGB36)
    assert (x, y) == pytest.approx((577274.99, 69740.50), abs=0.01)
    assert NATIONAL_GRID.scale_at(x, y) == pytest.approx(0.99998729, abs=1e-8)
    assert NATIONAL_GRID.convergence_at(x, y) == pytest.approx(1.929561, abs=1e-6)


def test_worked_point_of_the_ordnance_survey():
    x, y = moved(NATIONAL_GRID, OS_LON, OS_LAT, OSGB36)
    assert (x, y) == pytest.approx((651409.903, 313177.270), abs=0.001)
    assert NATIONAL_GRID.scale_at(x, y) == pytest.approx(1.00037732, abs=1e-8)
    assert NATIONAL_GRID.convergence_at(x, y) == pytest.approx(2.957377, abs=1e-6)


def test_equal_area_plane_of_the_epsg_guidance():
    # EPSG Guidance Note 7-2, Lambert Azimuthal Equal Area example (ETRS89-extended / LAEA Europe)
    plane = LocalPlane.from_crs("EPSG:3035")
    x, y = moved(plane, 5.0, 50.0, "EPSG:4258")
    assert (x, y) == pytest.approx((3962799.45, 2999718.85), abs=0.01)


def test_scale_of_a_plane_that_is_not_conformal_is_the_one_farthest_from_true():
    plane = LocalPlane.from_crs("EPSG:3035")
    azimuths = np.arange(0.0, 180.0, 1.0)
    start = (np.full(180, 10.0), np.full(180, 62.0))
    lon, lat, _ = GRS80_GEOD.fwd(*start, azimuths, np.full(180, 100.0))
    here = moved(plane, 10.0, 62.0, "EPSG:4258")
    there = shapely.get_coordinates(plane.to_plane(shapely.points(lon, lat), "EPSG:4258"))
    scales = np.hypot(*(there - here).T) / 100.0
    farthest = scales[np.argmax(np.abs(scales - 1))]
    assert abs(farthest - 1) > 0.003
    assert plane.scale_at(*here) == pytest.approx(farthest, abs=1e-6)


def test_pseudo_mercator_comes_out_in_true_metres():
    # Scale of EPSG:3857 on the ellipsoid at 45 degrees, derived: 1.411845 east, 1.416602 north
    to_mercator = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    x, y = to_mercator.transform(0.0, 45.0)
    plane = LocalPlane.centred_on(0.0, 45.0)
    lines = [
        shapely.LineString([(x - 50, y), (x + 50, y)]),
        shapely.LineString([(x, y - 50), (x, y + 50)]),
    ]
    east, north = shapely.length(plane.to_plane(lines, "EPSG:3857"))
    assert 100 / east == pytest.approx(1.411845, abs=1e-6)
    assert 100 / north == pytest.approx(1.416602, abs=1e-6)


@pytest.mark.parametrize(("east", "excess"), [(500, 3.07e-9), (5000, 3.07e-7), (10000, 1.23e-6)])
def test_scale_grows_with_the_square_of_the_distance(east, excess):
    # Identity of the transverse Mercator: k - 1 = x² / 2R² near the central meridian
    plane = LocalPlane.centred_on(5.0, 52.0)
    assert plane.scale_at(east, 0.0) - 1 == pytest.approx(excess, rel=0.03)
    assert plane.scale_at(-east, 0.0) == pytest.approx(float(plane.scale_at(east, 0.0)), abs=1e-10)


def test_scale_agrees_with_geodesics():
    plane = LocalPlane.centred_on(5.0, 52.0)
    x = np.array([-20000.0, 3000.0, 40000.0])
    y = np.array([10000.0, -7000.0, 0.0])
    start, end = plane.to_lonlat(x - 50, y), plane.to_lonlat(x + 50, y)
    _, _, true = WGS84_GEOD.inv(*start, *end)
    assert plane.scale_at(x, y) == pytest.approx(100 / true, abs=1e-9)


def test_directions_at_the_origin_are_true_azimuths():
    # GeographicLib's geodesic test set: 8935244.5604818 m, azimuth 111.098748429560 degrees
    lat, lon = 35.60777, -139.44815
    azimuth, _, distance = WGS84_GEOD.inv(lon, lat, -69.95921, -11.17491)
    assert distance == pytest.approx(8935244.5604818, abs=1e-6)
    assert azimuth == pytest.approx(111.098748429560, abs=1e-11)
    on_the_way = WGS84_GEOD.fwd(lon, lat, azimuth, 500.0)[:2]
    x, y = moved(LocalPlane.centred_on(lon, lat), *on_the_way, "EPSG:4326")
    angle = np.radians(111.098748429560)
    assert (x, y) == pytest.approx((500 * np.sin(angle), 500 * np.cos(angle)), abs=1e-5)


def test_the_origin_is_the_centre():
    plane = LocalPlane.centred_on(-3.2, 55.95)
    assert moved(plane, -3.2, 55.95, "EPSG:4326") == pytest.approx((0, 0), abs=1e-9)
    assert plane.scale_at(0.0, 0.0) == pytest.approx(1, abs=1e-10)
    assert plane.convergence_at(0.0, 0.0) == pytest.approx(0, abs=1e-12)
    assert pyproj.CRS.from_wkt(plane.wkt) == plane.crs
    assert {axis.unit_name for axis in plane.crs.axis_info} == {"metre"}


def test_the_plane_keeps_the_datum_it_is_given():
    plane = LocalPlane.centred_on(OS_LON, OS_LAT, datum=OSGB36)
    assert moved(plane, OS_LON, OS_LAT, OSGB36) == pytest.approx((0, 0), abs=1e-7)
    assert plane.shift_accuracy(pyproj.CRS("EPSG:27700")) == 0.0


def test_feet_of_the_two_kinds():
    # 85 FR 62698: over 2,000,000 ft the international and the US survey foot differ by 4.000008 ft
    line = "+proj=tmerc +lat_0=0 +lon_0=0 +ellps=GRS80 +units={} +no_defs +type=crs"
    plane = LocalPlane.from_crs(line.format("m"))
    far = [shapely.Point(2_000_000, 0)]
    international, survey = (
        float(shapely.get_x(plane.to_plane(far, line.format(unit)))[0]) for unit in ("ft", "us-ft")
    )
    assert international == pytest.approx(2_000_000 * 0.3048, abs=1e-6)
    assert survey == pytest.approx(2_000_000 * 1200 / 3937, abs=1e-6)
    assert (survey - international) / 0.3048 == pytest.approx(4.000008, abs=1e-5)


def test_data_in_feet_agree_with_data_in_metres():
    # EPSG:2263 and EPSG:32118 are one projection, in US survey feet and in metres
    plane = LocalPlane.from_crs("EPSG:32118")
    metres = np.array([300000.0, 60000.0])
    feet = shapely.Point(metres * 3937 / 1200)
    assert shapely.get_coordinates(plane.to_plane([feet], "EPSG:2263"))[0] == pytest.approx(metres, abs=1e-6)


def test_axis_order_does_not_matter():
    # EPSG:31467 names northing first; data have x, the easting, first all the same
    plane = LocalPlane.centred_on(9.0, 50.0, datum="EPSG:4314")
    x, y = shapely.get_coordinates(plane.to_plane([shapely.Point(3500000, 5540000)], "EPSG:31467"))[0]
    assert abs(x) < 1  # on the central meridian of both
    assert abs(y) < 5000


def test_data_in_the_planes_own_crs_stay_to_the_bit():
    box = shapely.box(651409.903, 313177.27, 651419.1, 313187.3)
    (same,) = NATIONAL_GRID.to_plane([box], "EPSG:27700")
    assert shapely.equals_exact(same, box, 0.0)


def test_z_is_left_out_and_the_input_not_changed():
    given = shapely.Point(0.5, 50.5, 12.0)
    (point,) = NATIONAL_GRID.to_plane([given], OSGB36)
    assert not point.has_z
    assert given.z == 12.0
    (flat,) = NATIONAL_GRID.to_plane([given], "EPSG:27700")
    assert not flat.has_z


def test_the_vertical_part_of_a_compound_crs_is_left_out():
    plane = LocalPlane.from_crs("EPSG:28992")
    point = shapely.Point(155000, 463000)
    assert plane.to_plane([point], "EPSG:7415")[0].equals(point)  # Amersfoort / RD New + NAP height


def test_nothing_can_be_done_is_infinite():
    (point,) = LocalPlane.centred_on(5.0, 52.0).to_plane([shapely.Point(5.0, 95.0)], "EPSG:4326")
    assert not np.isfinite(shapely.get_coordinates(point)).any()


@pytest.mark.parametrize(
    ("crs", "reason"),
    [
        ("EPSG:4326", "not projected"),
        ("EPSG:3857", "metres are not metres"),
        ("EPSG:2263", "US survey foot"),
        ("EPSG:2048", "east and north"),
        ("EPSG:4978", "places on the Earth in plan"),
        ("no such thing", "no known coordinate reference system"),
    ],
)
def test_unsuitable_planes_are_refused_with_the_reason(crs, reason):
    with pytest.raises(CrsError, match=reason):
        LocalPlane.from_crs(crs)


@pytest.mark.parametrize(("lon", "lat", "datum"), [(5, 95, "EPSG:4326"), (5, 52, "EPSG:27700")])
def test_impossible_centres_are_refused(lon, lat, datum):
    with pytest.raises(CrsError, match="cannot be centred"):
        LocalPlane.centred_on(lon, lat, datum=datum)


def test_report_over_a_site():
    plane = LocalPlane.centred_on(5.0, 52.0)
    report = plane.report((-5000, -500, 5000, 500), ["EPSG:4326", "EPSG:3857"])
    # all four corners are 5 km from the central meridian: x² / 2R² = 3.07e-7
    assert np.array(report.scale_at_corners) - 1 == pytest.approx(3.07e-7, rel=0.01)
    assert report.convergence_at_centre == pytest.approx(0, abs=1e-9)
    accuracy = report.datum_shift_accuracy_m
    assert accuracy["WGS 84"] == 0
    assert accuracy["WGS 84 / Pseudo-Mercator"] == 0


def test_accuracy_of_a_datum_shift():
    # EPSG dataset: OSGB36 to WGS 84 (6) is good to 2 m, with the grid of the survey to 1 m
    plane = LocalPlane.centred_on(-1.5, 52.5)
    assert 0.1 <= plane.shift_accuracy(pyproj.CRS("EPSG:27700")) <= 2.0


def test_true_north_is_where_geodesics_say():
    x, y = moved(NATIONAL_GRID, OS_LON, OS_LAT, OSGB36)
    lon, lat, _ = pyproj.Geod(ellps="airy").fwd(OS_LON, OS_LAT, 0.0, 100.0)
    due_north = moved(NATIONAL_GRID, lon, lat, OSGB36) - (x, y)
    report = NATIONAL_GRID.report((x - 1, y - 1, x + 1, y + 1))
    bearing = np.degrees(np.arctan2(*due_north))
    assert report.true_north_bearing == pytest.approx(bearing, abs=1e-4)
    assert bearing < 0  # east of the central meridian true north lies to the left


def test_there_and_back():
    plane = LocalPlane.centred_on(5.0, 52.0)
    lon, lat = plane.to_lonlat([100.0], [-250.0])
    assert moved(plane, lon[0], lat[0], "EPSG:4326") == pytest.approx((100, -250), abs=1e-7)


def test_accuracy_that_is_not_known_is_none():
    sphere = pyproj.CRS("+proj=longlat +R=6370997 +no_defs +type=crs")
    assert LocalPlane.centred_on(5.0, 52.0).shift_accuracy(sphere) is None
