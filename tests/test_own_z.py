"""Levels from the Z of coordinates: which Z, in which unit, and what stands for none."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import GeometryError, LevelError
from siteaxo.source.datum import vertical_axis
from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.levels import levels_of
from siteaxo.source.own_z import with_own_z
from siteaxo.source.reading import read_layer
from siteaxo.source.site import SiteData

GABLE = shapely.Polygon([(0, 0, 3), (8, 0, 3), (8, 2, 5), (8, 4, 4), (0, 4, 4)])


def raw(*geometries, crs="EPSG:27700", role="structure", columns=None, **options):
    columns = columns or {"nr": list(range(len(geometries)))}
    frame = gpd.GeoDataFrame(columns, geometry=list(geometries), crs=crs)
    return read_layer(Layer(name="blocks", role=role, source=frame, **options))


@pytest.mark.parametrize(
    ("options", "expected", "said"),
    [
        ({"base": 0, "top_z": "max"}, (0, 5), "greatest of its own Z"),
        ({"base": 0, "top_z": "min"}, (0, 3), "least of its own Z"),
        ({"base_z": "min", "top_z": "max"}, (3, 5), "greatest of its own Z"),
        # of five vertices; the one that closes the ring does not count twice
        ({"base": 0, "top_z": "mean"}, (0, 19 / 5), "mean of its own Z"),
    ],
)
def test_floor_eaves_or_ridge(options, expected, said):
    kept, levels = levels_of(raw(GABLE, **options))
    assert (levels.base[0], levels.top[0]) == pytest.approx(expected)
    assert levels.top_from[0] == said
    assert "z-unused" not in [f.code for f in kept.findings]


def test_a_field_goes_before_z():
    table = raw(GABLE, GABLE, columns={"ridge": [7.5, np.nan]}, base=0, top="ridge", top_z="max")
    _, levels = levels_of(table)
    assert levels.top.tolist() == [7.5, 5.0]
    assert levels.top_from.tolist() == ["field ridge", "greatest of its own Z"]


def test_height_below_a_z():
    _, levels = levels_of(raw(GABLE, top_z="max", height=2.0))
    assert (levels.base[0], levels.base_from[0]) == (3.0, "top less height (number)")


@pytest.mark.parametrize("nothing", [np.nan, -9999.0, -1000.0, 1e38])
def test_z_that_stands_for_no_level(nothing):
    odd = shapely.Polygon([(0, 0, nothing), (4, 0, 2), (4, 4, 2)])
    flat = shapely.box(0, 0, 3, 3)
    kept, levels = levels_of(raw(GABLE, odd, flat, base=0, top_z="max"))
    assert levels.top.tolist() == [5.0]
    said = [(f.code, f.source_id, f.field) for f in kept.findings if f.code in ("missing-level", "no-level")]
    assert ("missing-level", "1", "Z") in said
    assert ("missing-level", "2", "Z") in said
    assert ("no-level", "2", "Z") in said


def test_units_of_z():
    # EPSG:6360: NAVD88 heights in US survey feet, 1200/3937 m.
    feet = "EPSG:26910+6360"
    assert vertical_axis(feet) == pytest.approx(1200 / 3937)
    assert vertical_axis("EPSG:26910") is None
    assert vertical_axis(None) is None
    _, own = levels_of(raw(GABLE, crs=feet, base=0, top_z="max"))
    assert own.top[0] == pytest.approx(5 * 1200 / 3937)
    kept, said = levels_of(raw(GABLE, crs=feet, base=0, top_z="max", unit="m"))
    assert said.top[0] == 5.0
    (finding,) = [f for f in kept.findings if f.code == "unit-disagrees"]
    assert "the layer's unit is kept" in finding.message
    _, site = levels_of(raw(GABLE, base=0, top_z="max"), unit="ft")
    assert site.top[0] == pytest.approx(5 * 0.3048)


def test_a_vertical_axis_that_points_down():
    # EPSG:5715: depth below mean sea level, metres, positive down.
    assert vertical_axis("EPSG:27700+5715") == -1.0
    deep = shapely.transform(GABLE, lambda c: c * [1, 1, -1], include_z=True)
    _, levels = levels_of(raw(deep, crs="EPSG:27700+5715", base=0, top_z="max"))
    assert levels.top[0] == 5.0


@pytest.mark.parametrize(
    ("role", "options", "said"),
    [
        ("structure", {"base": 0, "top_z": "highest"}, "top_z"),
        ("structure", {"base": 0, "top_z": "each"}, "for the top of ground"),
        ("ground", {"base_z": "each", "top": 1}, "for the top of ground"),
        ("structure", {"base": 0, "top": "survey"}, "only the top of ground"),
        ("ground", {"base": "survey", "top": 1}, "only the top of ground"),
    ],
)
def test_words_that_are_refused(role, options, said):
    with pytest.raises(LevelError, match=said):
        raw(GABLE, role=role, **options)


def test_breaklines_take_their_own_z_vertex_by_vertex():
    kerb = shapely.LineString([(400000, 300000, 2), (400010, 300000, 3)])
    contour = shapely.LineString([(400000, 300010), (400010, 300010)])
    layers = [
        Layer(name="kerbs", role="breakline", source=gpd.GeoDataFrame(geometry=[kerb], crs="EPSG:27700")),
        Layer(
            name="contours",
            role="contour",
            top="lvl",
            source=gpd.GeoDataFrame({"lvl": [5.0]}, geometry=[contour], crs="EPSG:27700"),
        ),
    ]
    features = gather(SiteData(layers=layers, plane_crs="EPSG:27700")).features
    assert shapely.get_coordinates(features.geometry_z[0], include_z=True)[:, 2].tolist() == [2.0, 3.0]
    assert features.geometry_z[1] is None
    assert (features.top[1], features.top_from[1]) == (5.0, "field lvl")


def test_z_goes_along_onto_the_plane():
    kerb = shapely.LineString([(-1.0, 52.0, 7.0), (-1.001, 52.001, 8.0)])
    frame = gpd.GeoDataFrame(geometry=[kerb], crs="EPSG:4326")
    features = gather(SiteData(layers=[Layer(name="k", role="breakline", source=frame)])).features
    flat = shapely.get_coordinates(features.geometry)
    spatial = shapely.get_coordinates(features.geometry_z, include_z=True)
    assert spatial[:, :2].tolist() == flat.tolist()
    assert spatial[:, 2].tolist() == [7.0, 8.0]


def test_spot_levels_of_a_multipoint_keep_theirs():
    spots = shapely.MultiPoint([(400000, 300000, 1.5), (400005, 300000, 2.5)])
    frame = gpd.GeoDataFrame(geometry=[spots], crs="EPSG:27700")
    features = gather(SiteData(layers=[Layer(name="s", role="spot level", source=frame)])).features
    z = shapely.get_coordinates(features.geometry_z, include_z=True)[:, 2]
    assert sorted(z) == [1.5, 2.5]


def test_contours_must_be_lines_and_spots_points():
    frame = gpd.GeoDataFrame({"z": [1]}, geometry=[shapely.Point(0, 0)], crs="EPSG:27700")
    site = SiteData(layers=[Layer(name="c", role="contour", source=frame, top="z")])
    with pytest.raises(GeometryError, match="role 'contour' needs lines"):
        gather(site)


def test_geometries_with_z_of_another_unit():
    point = np.array([shapely.Point(1, 2)], dtype=object)
    high = np.array([shapely.Point(1, 2, 10)], dtype=object)
    assert shapely.get_z(with_own_z(point, high, 0.3048)[0]) == pytest.approx(3.048)
