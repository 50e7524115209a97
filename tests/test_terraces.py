"""Terraces that do not meet: overlaps, gaps, slivers."""

import geopandas
import numpy as np
import pytest
import shapely
from solidity import features

import siteaxo
from siteaxo.solids.standing import settle
from siteaxo.solids.terraces import look_at_terraces, mean_width


def terraces(*shapes, others=()):
    rows = [
        {"role": "terrace", "id": name, "geometry": shape, "base": 0.0, "top": float(top)}
        for name, shape, top in shapes
    ]
    return settle(features(*rows, *others)).features


def told(table):
    return [(f.code, f.source_id, f.value) for f in look_at_terraces(table)]


def test_terraces_that_meet():
    assert told(terraces(("A", shapely.box(0, 0, 5, 5), 1), ("B", shapely.box(5, 0, 9, 5), 2))) == []


def test_an_overlap_of_unequal_terraces():
    table = terraces(("A", shapely.box(0, 0, 5, 5), 1), ("B", shapely.box(4.5, 0, 12, 5), 2))
    (finding,) = look_at_terraces(table)
    assert (finding.code, finding.source_id, finding.value) == ("terraces-overlap", "A", "2.5 m²")
    assert "feature B by 2.5 m²; there that one, at 2.000 m, is seen" in finding.message


def test_a_terrace_upon_another_is_no_overlap():
    assert told(terraces(("A", shapely.box(0, 0, 9, 9), 1), ("B", shapely.box(3, 3, 6, 6), 2))) == []


def test_a_court_within_a_terrace_is_no_overlap():
    assert told(terraces(("A", shapely.box(0, 0, 9, 9), 1), ("B", shapely.box(3, 3, 6, 6), 0.5))) == []


@pytest.mark.parametrize(("width", "found"), [(0.02, True), (0.3, True), (0.8, False)])
def test_a_gap_between_terraces(width, found):
    table = terraces(("A", shapely.box(0, 0, 5, 5), 1), ("B", shapely.box(5 + width, 0, 9, 5), 2))
    expected = [("terrace-gap", "A", f"{width:.3f} m")] if found else []
    assert told(table) == expected


def test_a_wall_fills_the_gap():
    wall = {"role": "wall", "geometry": shapely.box(5, 0, 5.3, 5), "base": 0.0, "top": 2.4}
    gap = (("A", shapely.box(0, 0, 5, 5), 1), ("B", shapely.box(5.3, 0, 9, 5), 2))
    assert [code for code, *_ in told(terraces(*gap, others=[wall]))] == []


def test_a_notch_in_one_outline_is_meant():
    notched = shapely.box(0, 0, 9, 9).difference(shapely.box(4, 5, 4.3, 9))
    assert told(terraces(("A", notched, 1))) == []


def test_a_sliver():
    table = terraces(("A", shapely.box(0, 0, 5, 5), 1), ("B", shapely.box(5, 0, 5.04, 5), 2))
    assert told(table) == [("terrace-sliver", "B", "0.040 m")]


def test_mean_width():
    shapes = np.array([shapely.box(0, 0, 20, 0.3), shapely.box(0, 0, 2, 2)])
    assert mean_width(shapes) == pytest.approx([0.3, 2.0])


def test_no_terraces():
    deck = {"role": "deck", "geometry": shapely.box(0, 0, 1, 1), "base": 0, "top": 1}
    assert told(settle(features(deck)).features) == []


def test_slits_that_close_to_a_line_on_the_grid_are_no_areas():
    """A slit between terraces, opened by their place on the map, is an area and a hair that is a line."""
    east, north = 329_990.0, 6_250_000.0

    def rows(*rings, **columns):
        shapes = [shapely.Polygon(np.add(ring, (east, north))) for ring in rings]
        return geopandas.GeoDataFrame(columns, geometry=shapes, crs="EPSG:32756")

    level = rows(
        [
            (8.1377218022, 3.596338595),
            (7.9367061772, -1.399619043),
            (18.9278129803, -1.841853417),
            (19.12882860535, 3.15410422),
        ],
        [
            (4.3177505082, 9.2039144235),
            (1.3195780272, 9.308612914),
            (1.1276307953, 3.8119633645),
            (4.1258032764, 3.707264875),
        ],
        t=[-0.15, 0.75],
    )
    sloping = rows(
        [
            (7.67602041597, 5.084202877),
            (1.67967545387, 5.293599857),
            (1.4528287253, -1.202440519),
            (7.4491736874, -1.411837499),
        ]
    )
    pool = rows(
        [
            (2.88596410915, 7.080186041),
            (1.1597739739, 2.387610244),
            (5.3830921919, 0.834039122),
            (7.1092823271, 5.526614919),
        ]
    )
    site = siteaxo.Site(
        layers=[
            siteaxo.Layer(name="level", role="terrace", source=level, top="t"),
            siteaxo.Layer(
                name="sloping", role="terrace", source=sloping, top=0.8168, low=0.0059, fall_bearing=108.47
            ),
            siteaxo.Layer(name="pool", role="water", source=pool),
        ]
    )
    assert len(site.stack().stack.scene.faces)


@pytest.mark.parametrize("shape", [shapely.box(0, 0, 5, 5), shapely.box(1, 1, 3, 3)])
def test_terraces_at_one_level_over_one_another_whole(shape):
    """Of two with unlike bases, which are no doubles; the later one is seen."""
    rows = [
        {"role": "terrace", "id": name, "geometry": place, "base": base, "top": 1.0}
        for name, place, base in (("A", shapely.box(0, 0, 5, 5), 0.0), ("B", shape, -1.0))
    ]
    table = settle(features(*rows)).features
    assert told(table) == [("terraces-overlap", "A", f"{shape.area:.4g} m²")]
