"""The ground of a site, read from contours, spot levels, breaklines and its own Z."""

import geopandas
import numpy as np
import pytest
import shapely
from shapely import affinity
from solidity import features

import siteaxo
from siteaxo.errors import GeometryError, LevelError
from siteaxo.solids.terrain import read_ground


def line(*points):
    return shapely.LineString(points)


def contours(*levels, layer="contours"):
    """Straight lines 10 m apart at rising levels, 40 m long."""
    return [
        {"role": "contour", "layer": layer, "geometry": line((0, 10 * k), (40, 10 * k)), "top": level}
        for k, level in enumerate(levels)
    ]


def with_z(table, geometries):
    """The features with their own Z."""
    own = np.full(len(table), None, dtype=object)
    own[list(geometries)] = list(geometries.values())
    return table.with_columns(geometry_z=own)


def framed(shape):
    return geopandas.GeoDataFrame(geometry=[affinity.translate(shape, 5e5, 5.7e6)], crs=25832)


def stacked(*layers):
    return siteaxo.Site(layers=list(layers)).stack()


def test_a_site_without_levels_of_the_ground_is_left_alone():
    table = features({"role": "terrace", "geometry": shapely.box(0, 0, 4, 4), "top": 1.0})
    same, terrain = read_ground(table)
    assert terrain is None
    assert same is table


def test_contours_make_a_ground_of_their_own():
    terrace = {"role": "terrace", "geometry": shapely.box(0, 0, 4, 4), "top": 1.0}
    table, terrain = read_ground(features(*contours(1, 2, 3), terrace))
    assert [key.name for key in table.layers][-1] == "ground"
    assert len(table) == 2  # the terrace and the ground; contours are used up
    ground = 1
    assert (table.base[ground], table.top[ground]) == (1.0, 3.0)
    assert table.base_from[ground] == "lowest of the surface of contours"
    assert table.top_from[ground] == "highest of the surface of contours"
    assert table.geometry[ground].area == pytest.approx(800)
    assert table.of_role("form")[ground] == "terrain"
    assert not table.of_role("supports")[ground]
    assert terrain.tin.level_at([[20, 15]])[0] == pytest.approx(2.5)
    assert terrain.findings == ()


def test_ground_that_is_drawn_says_how_far_it_reaches():
    ground = {"role": "ground", "geometry": shapely.box(5, 5, 15, 15), "id": "G"}
    table, terrain = read_ground(features(*contours(1, 2, 3), ground))
    assert table.source_id.tolist() == ["G"]
    assert terrain.tin.plan_area.sum() == pytest.approx(100)
    assert (table.base[0], table.top[0]) == pytest.approx((1.5, 2.5))


def test_ground_beyond_the_contours_is_a_finding():
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 40, 30), "id": "G"}
    _, terrain = read_ground(features(*contours(1, 2, 3), ground))
    (finding,) = terrain.findings
    assert (finding.code, finding.severity, finding.layer) == ("beyond-levels", "warning", "contours")
    assert finding.value == "400 m²"


def test_ground_keeps_a_base_below_its_surface():
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 40, 20), "base": -2.0, "id": "G"}
    table, _ = read_ground(features(*contours(1, 2, 3), ground))
    assert (table.base[0], table.base_from[0]) == (-2.0, "number")


def test_own_z_counts_vertex_by_vertex():
    table = features(
        {"role": "breakline", "geometry": line((0, 0), (40, 0)), "top": 2.0},
        {"role": "contour", "geometry": line((0, 10), (40, 10)), "top": 5.0},
    )
    table = with_z(table, {0: line((0, 0, 1), (40, 0, 3))})
    _, terrain = read_ground(table)
    assert terrain.tin.level_at([[0, 0], [20, 0], [40, 0], [20, 10]]) == pytest.approx([1, 2, 3, 5])


def test_ground_of_patches():
    patch = shapely.Polygon([(0, 0, 0), (10, 0, 2), (10, 10, 2), (0, 10, 0)])
    table = with_z(
        features({"role": "ground", "geometry": shapely.box(0, 0, 10, 10), "top": 1.0}), {0: patch}
    )
    table, terrain = read_ground(table)
    assert terrain.tin.level_at([[5, 5]])[0] == pytest.approx(1.0)
    assert (table.base[0], table.top[0], table.of_role("form")[0]) == (0.0, 2.0, "terrain")


def test_levels_that_contradict_each_other():
    spot = {"role": "spot level", "geometry": shapely.Point(10, 10), "top": 2.4, "id": "S9"}
    other = {"role": "spot level", "geometry": shapely.Point(15, 15), "top": 2.6, "id": "S10"}
    _, terrain = read_ground(features(*contours(1, 2, 3), spot, other))
    (finding,) = terrain.findings
    assert (finding.code, finding.layer, finding.source_id) == ("ground-levels-differ", "spot level", "S9")
    assert finding.value == "2.400 m"
    assert "layer 'contours', feature 1 gives 2.000 m, which is kept" in finding.message


def test_a_crossing_of_two_contours_is_told_once_at_its_worst():
    crossing = {"role": "contour", "layer": "x", "geometry": line((5, -1), (5, 21)), "top": 7.0, "id": "C"}
    _, terrain = read_ground(features(*contours(1, 2, 3), crossing))
    assert [f.value for f in terrain.findings] == ["7.000 m"] * 3
    assert all(f.source_id == "C" for f in terrain.findings)


def test_a_hilltop_is_told():
    ring = [shapely.LineString(shapely.Point(0, 0).buffer(r).exterior.coords) for r in (30, 20, 10)]
    rows = [{"role": "contour", "geometry": g, "top": float(k)} for k, g in enumerate(ring)]
    _, terrain = read_ground(features(*rows))
    (finding,) = terrain.findings
    assert (finding.code, finding.severity) == ("plateau", "info")
    inside = float(finding.value.removesuffix(" m²"))
    assert inside == pytest.approx(shapely.Polygon(ring[2]).area, rel=1e-3)


def test_ground_on_a_survey_that_is_not_there():
    with pytest.raises(
        LevelError, match=r"'ground' takes its top from the survey, but no layer gives levels"
    ):
        read_ground(features({"role": "ground", "geometry": shapely.box(0, 0, 4, 4)}))


@pytest.mark.parametrize("role", ["contour", "breakline"])
def test_levels_of_the_ground_with_only_a_height(role):
    line = shapely.LineString([(0, 0), (8, 0), (8, 6)])
    with pytest.raises(LevelError, match="have no level of their own") as caught:
        stacked(siteaxo.Layer(name="lines", role=role, source=framed(line), height=0.8))
    assert (caught.value.layer, caught.value.field) == ("lines", "top")


def test_too_few_levels_name_their_layer():
    with pytest.raises(GeometryError, match=r"'spots' make no ground"):
        read_ground(
            features({"role": "spot level", "layer": "spots", "geometry": shapely.Point(0, 0), "top": 1})
        )


def test_ground_off_its_levels():
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 4, 4), "id": "G"}
    away = {"role": "ground", "geometry": shapely.box(500, 500, 504, 504), "id": "H"}
    _, terrain = read_ground(features(*contours(1, 2, 3), ground, away))
    assert terrain.tin.plan_area.sum() == pytest.approx(32)  # nearest levels, said as a finding
    assert terrain.findings[0].value == "16 m²"
