"""From layers to features on the local plane."""

import math
import struct

import geopandas as gpd
import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from shapely import affinity

from siteaxo.errors import CrsError, GeometryError, LevelError
from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.site import SiteData

GRID = "EPSG:27700"
EAST, NORTH = 530000.0, 180000.0


def frame(*geometry, crs=GRID, index=None, **columns):
    made = gpd.GeoDataFrame(
        columns, geometry=[affinity.translate(g, EAST, NORTH) for g in geometry], crs=GRID
    )
    made.index = range(len(made)) if index is None else index
    return made.to_crs(crs) if crs != GRID else made


def layer(source, name="terraces", role="terrace", **options):
    return Layer(name=name, role=role, source=source, **{"top": 5, **options})


def gathered(*layers, **options):
    return gather(SiteData(layers=layers, **options))


def test_columns_of_two_layers_stand_row_by_row():
    terraces = frame(
        shapely.box(0, 0, 20, 10), shapely.box(20, 0, 40, 10), index=["a", "b"], fin=[5.0, "6,5"]
    )
    trees = frame(shapely.Point(5, 5), ht=[9.0], crown=[4.0], kind=[" lime "])
    found = gathered(
        layer(terraces, top="fin", base=2),
        layer(trees, "trees", "tree", top=None, height="ht", diameter="crown", clear_stem=2, material="kind"),
    ).features
    assert len(found) == 3
    assert [found.layers[i].name for i in found.layer] == ["terraces", "terraces", "trees"]
    assert [key.role.name for key in found.layers] == ["terrace", "tree"]
    assert found.source_id.tolist() == ["a", "b", "0"]
    assert found.base[:2].tolist() == [2, 2]
    assert np.isnan(found.base[2])
    assert found.top[:2].tolist() == [5, 6.5]
    assert found.height.tolist() == [3, 4.5, 9]
    assert found.below.tolist() == [False, False, True]
    assert found.base_from.tolist() == ["number", "number", "below"]
    assert found.top_from.tolist() == ["field fin", "field fin", "height above base (field ht)"]
    assert found.diameter[2] == 4
    assert found.clear_stem[2] == 2
    assert np.isnan(found.diameter[:2]).all()
    assert found.material.tolist() == ["", "", "lime"]
    assert found.name_of(1) == "layer 'terraces', feature b"


def test_the_plane_is_centred_on_all_that_is_there():
    made = gathered(layer(frame(shapely.box(0, 0, 100, 60))))
    left, bottom, right, top = shapely.total_bounds(made.features.geometry)
    # the centre of the plane is given to a millionth of a degree
    assert (left + right) / 2 == pytest.approx(0, abs=0.15)
    assert (bottom + top) / 2 == pytest.approx(0, abs=0.15)
    assert made.plane.crs.geodetic_crs.name == "OSGB36"
    assert np.array(made.report.scale_at_corners) == pytest.approx(1, abs=1e-9)


def test_two_layers_in_different_crss_fall_on_one_another():
    box = shapely.box(0, 0, 20, 10)
    crss = [GRID, "EPSG:4277"]
    made = gathered(*(layer(frame(box, crs=crs), name=crs) for crs in crss))
    one, other = made.features.geometry
    assert one.hausdorff_distance(other) < 1e-4  # degrees are written with enough digits for that
    assert made.findings == ()


def test_a_datum_shift_is_reported_with_its_accuracy():
    box = shapely.box(0, 0, 20, 10)
    made = gathered(layer(frame(box), "grid"), layer(frame(box, crs="EPSG:4326"), "lonlat"))
    assert made.plane.crs.geodetic_crs.name == "WGS 84"
    (finding,) = [f for f in made.findings if f.code == "datum-shift"]
    assert finding.layer == "grid"
    accuracy = made.report.datum_shift_accuracy_m
    assert accuracy["WGS 84"] == 0
    assert finding.value == f"{accuracy['OSGB36 / British National Grid']:g} m"
    one, other = made.features.geometry
    assert one.hausdorff_distance(other) < 1e-3


@pytest.mark.parametrize("crs", ["EPSG:3857", "EPSG:4326", "EPSG:32630", "EPSG:2263"])
def test_areas_are_true_whatever_the_crs(crs):
    # Built from geodesics about 51.5 N: 100 m × 60 m, and 40.7 N for the state plane in feet
    lon, lat = (-73.97, 40.7) if crs == "EPSG:2263" else (-1.0, 51.5)
    ellipsoid = "GRS80" if crs == "EPSG:2263" else "WGS84"
    geod = pyproj.Geod(ellps=ellipsoid)
    half = math.hypot(50, 30)
    azimuths = [math.degrees(math.atan2(x, y)) for x, y in ((-50, -30), (50, -30), (50, 30), (-50, 30))]
    ring = [geod.fwd(lon, lat, azimuth, half)[:2] for azimuth in azimuths]
    source = "EPSG:4269" if crs == "EPSG:2263" else "EPSG:4326"
    data = gpd.GeoDataFrame(geometry=[shapely.Polygon(ring)], crs=source).to_crs(crs)
    made = gathered(layer(data))
    area = shapely.area(made.features.geometry)[0]
    assert area == pytest.approx(6000, rel=1e-6)
    assert area == pytest.approx(abs(geod.geometry_area_perimeter(shapely.Polygon(ring))[0]), rel=1e-6)


def test_open_footprints_from_their_own_file():
    # Footprints bundled with momepy (BSD-3-Clause); their origin is OpenStreetMap, © its contributors,
    # ODbL 1.0. They come in EPSG:3857 and are read from the installed package.
    momepy = pytest.importorskip("momepy")
    path = momepy.datasets.get_path("bubenec")
    made = gathered(
        Layer(name="buildings", role="structure", source=path, table="buildings", id="uID", height=12)
    )
    raw = pyogrio.read_dataframe(path, layer="buildings")
    geod = pyproj.Geod(ellps="WGS84")
    rings = shapely.orient_polygons(raw.to_crs(4326).geometry.to_numpy())
    true = np.array([abs(geod.geometry_area_perimeter(ring)[0]) for ring in rings])
    found = shapely.area(made.features.geometry)
    assert made.features.source_id.tolist() == raw["uID"].astype(str).tolist()
    assert np.abs(found / true - 1).max() < 1e-6
    assert raw.area.sum() / found.sum() == pytest.approx(2.43, abs=0.01)


def test_layers_of_one_crs_share_the_finding_on_their_datum_shift():
    box = shapely.box(0, 0, 20, 10)
    grids = [layer(frame(box), name) for name in ("upper", "lower")]
    lonlat = [layer(frame(box, crs="EPSG:4326"), name) for name in ("lonlat", "other lonlat")]
    made = gathered(*grids, *lonlat)
    (finding,) = [f for f in made.findings if f.code == "datum-shift"]
    assert finding.layer == ""
    assert finding.message.startswith("upper, lower: from OSGB36 / British National Grid")


def test_a_plane_of_the_users_choice_keeps_coordinates():
    made = gathered(layer(frame(shapely.box(0, 0, 20, 10))), plane_crs=GRID)
    assert shapely.total_bounds(made.features.geometry).tolist() == [EAST, NORTH, EAST + 20, NORTH + 10]
    with pytest.raises(CrsError, match="metres are not metres"):
        gathered(layer(frame(shapely.box(0, 0, 20, 10))), plane_crs="EPSG:3857")
    with pytest.raises(CrsError, match="a metre of the site would measure"):
        gathered(layer(frame(shapely.box(0, 0, 20, 10))), plane_crs="EPSG:3395")


def test_the_longest_side_of_the_ground_is_the_base_line():
    ground = affinity.rotate(shapely.box(0, 0, 40, 20), 25, origin=(0, 0))
    terrace = affinity.rotate(shapely.box(0, 0, 90, 10), -10, origin=(0, 0))
    made = gathered(layer(frame(terrace)), layer(frame(ground), "ground", "ground"), plane_crs=GRID)
    assert made.base_line_bearing == pytest.approx(65, abs=1e-6)
    alone = gathered(layer(frame(terrace)), layer(frame(ground), "lawns", "lawn"), plane_crs=GRID)
    assert alone.base_line_bearing == pytest.approx(100, abs=1e-6)  # the terraces' where there is no ground
    lawns = gathered(layer(frame(ground), "lawns", "lawn"), plane_crs=GRID)
    assert lawns.base_line_bearing == pytest.approx(65, abs=1e-6)


def test_the_base_line_may_be_given():
    assert gathered(layer(frame(shapely.box(0, 0, 40, 20))), base_line=78).base_line_bearing == 78.0


def test_trees_alone_have_no_side():
    made = gathered(layer(frame(shapely.Point(0, 0), shapely.Point(9, 4)), "trees", "tree"))
    assert made.base_line_bearing == 90.0


def test_parts_keep_the_levels_and_the_id_of_their_feature():
    two = shapely.MultiPolygon([shapely.box(0, 0, 5, 5), shapely.box(10, 0, 15, 5)])
    bow_tie = shapely.Polygon([(20, 0), (24, 4), (24, 0), (20, 4)])
    data = frame(two, bow_tie, shapely.box(30, 0, 35, 5), index=["a", "b", "c"], fin=[1.0, 2.0, 3.0])
    made = gathered(layer(data, top="fin", base=0), plane_crs=GRID)
    assert made.features.source_id.tolist() == ["a", "a", "b", "b", "c"]
    assert made.features.top.tolist() == [1, 1, 2, 2, 3]
    assert [(f.code, f.source_id) for f in made.findings] == [("split", "a"), ("made-valid", "b")]
    assert shapely.area(made.features.geometry).sum() == pytest.approx(83)  # 25 + 25 + 4 + 4 + 25


def test_a_multipoint_tree():
    trees = frame(shapely.MultiPoint([(0, 0), (5, 5)]), shapely.Point(9, 9), ht=[8.0, 6.0])
    made = gathered(layer(trees, "trees", "tree", top=None, height="ht"))
    assert made.features.height.tolist() == [8, 8, 6]
    assert [f.code for f in made.findings] == ["split"]


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_coordinates_that_are_not_finite(value):
    with np.errstate(invalid="ignore"):
        bad = shapely.Polygon([(0, 0), (value, 5), (5, 5)])
    data = gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 1, 1), bad], crs=GRID)
    with pytest.raises(GeometryError, match=r"'terraces': 1 feature has .* not finite numbers \(ids 1\)"):
        gathered(layer(data))


def test_a_place_that_cannot_be_transformed_is_named():
    # the view from a geostationary satellite ends 5.4e6 m from its middle
    view = "+proj=geos +h=35785831 +lon_0=0 +sweep=y +ellps=GRS80 +type=crs"
    data = gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 1e7, 1e7)], crs=view)
    with pytest.raises(CrsError, match="Layer 'terraces': its coordinates"):
        gathered(layer(data))


def test_top_below_base_and_text_for_a_level():
    box = shapely.box(0, 0, 5, 5)
    with pytest.raises(LevelError, match="'terraces': 1 feature has its top below its base"):
        gathered(layer(frame(box, fin=[1.0]), base=2, top="fin"))
    with pytest.raises(LevelError, match=r"field 'fin' has texts .* values 'high'"):
        gathered(layer(frame(box, fin=["high"]), top="fin"))


def test_units_of_site_and_layer():
    box = shapely.box(0, 0, 5, 5)
    made = gathered(layer(frame(box), "a", base=0), layer(frame(box), "b", base=0, unit="m"), unit="ft")
    assert made.features.top.tolist() == pytest.approx([1.524, 5.0], rel=1e-15)


def test_a_damaged_shapefile_is_gathered_but_for_its_broken_record(tmp_path):
    boxes = [shapely.box(10 * i, 0, 10 * i + 5, 5) for i in range(4)]
    frame(*boxes, fin=[1.0, 2.0, 3.0, 4.0]).to_file(tmp_path / "terraces.shp")
    shp = bytearray((tmp_path / "terraces.shp").read_bytes())
    shx = (tmp_path / "terraces.shx").read_bytes()
    at = struct.unpack_from(">i", shx, 100 + 8)[0] * 2 + 8  # content of the second record
    struct.pack_into("<i", shp, at, 77)
    (tmp_path / "terraces.shp").write_bytes(shp)
    made = gathered(layer(tmp_path / "terraces.shp", top="fin"))
    assert made.features.top.tolist() == [1, 3, 4]
    assert [(f.severity, f.code, f.layer, f.source_id) for f in made.findings] == [
        ("error", "broken-record", "terraces", "1")
    ]


def test_nothing_handed_over_is_changed():
    data = frame(shapely.force_3d(shapely.box(0, 0, 5, 5), 3.0), fin=[4.0])
    before = data.copy(deep=True)
    gathered(layer(data, top="fin"))
    assert data.equals(before)
    assert data.geometry.has_z.all()


def test_the_order_of_layers_does_not_move_anything():
    layers = [
        layer(frame(shapely.box(0, 0, 20, 10)), "a"),
        layer(frame(shapely.box(50, 40, 60, 50), crs="EPSG:4277"), "b"),
    ]
    one, other = gathered(*layers), gathered(*reversed(layers))
    assert one.plane == other.plane
    assert one.base_line_bearing == other.base_line_bearing
    assert shapely.equals_exact(one.features.geometry, other.features.geometry[::-1], 0.0).all()
