"""Pools in the lowest ground: nothing without a base begins above them, and their walls are drawn."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import box
from solidity import features, stacked

import siteaxo
from siteaxo.solids.standing import settle

CRS = "EPSG:25832"
EAST, NORTH = 690_000.0, 5_334_000.0
DEEP = 0.15  # from the rim of a pool down to its water [m]


def frame(left, bottom, right, top, **fields):
    place = box(EAST + left, NORTH + bottom, EAST + right, NORTH + top)
    return gpd.GeoDataFrame({name: [value] for name, value in fields.items()}, geometry=[place], crs=CRS)


def drawn(*layers):
    model = siteaxo.Site(name="Pool", layers=layers, plane_crs=CRS).stack()
    return model, model.draw(siteaxo.planometric(turn=45), people=False)


def open_area(faces):
    """Area of what is drawn nowhere within the outline of all faces [m²]."""
    parts = shapely.get_parts(shapely.union_all(faces.geometry.to_numpy()))
    return sum(shapely.Polygon(ring).area for part in parts for ring in part.interiors)


@pytest.mark.parametrize("water", [{"drop": DEEP}, {"top": -DEEP}])
def test_a_pool_in_a_single_terrace_without_a_base(water):
    """
    Sides of 6 by 4 m, drawn at 45 degrees, where what lies lower is drawn as much further down.

    The walls at the far sides show as bands as high as they are, but for a triangle at either
    end, whose sides meet at a right angle; the terrace's own near sides show whole.
    """
    model, drawing = drawn(
        siteaxo.Layer(name="yard", role="terrace", source=frame(0, 0, 20, 12), top=0.0),
        siteaxo.Layer(name="pool", role="water", source=frame(5, 4, 11, 8), **water),
    )
    faces = drawing.faces
    assert open_area(faces) == pytest.approx(0.0, abs=1e-6)
    walls = DEEP * (6 + 4) / np.sqrt(2) - 2 * DEEP * (DEEP / 2) / 2
    size = faces.geometry.area.groupby([faces["layer"], faces["part"]]).sum()
    assert size["pool", "floor"] == pytest.approx(6 * 4 - walls, abs=1e-6)
    assert size["yard", "top"] == pytest.approx(20 * 12 - 6 * 4, abs=1e-6)
    assert size["yard", "side"] == pytest.approx(walls + DEEP * (20 + 12) / np.sqrt(2), abs=1e-6)
    assert "floating" not in set(model.findings["code"])


def test_a_pool_in_a_sunken_court_leaves_no_hole():
    """The court is the lowest level that is stated; its pool lies 0.15 m lower."""
    yards = [
        siteaxo.Layer(name=name, role="terrace", source=frame(*place), top=top)
        for name, place, top in (("park", (0, 0, 36, 28), 520.0), ("court", (9, 7, 25, 19), 518.2))
    ]
    pool = siteaxo.Layer(name="pool", role="water", source=frame(11, 9, 14, 17), drop=DEEP)
    _, drawing = drawn(*yards, pool)
    assert open_area(drawing.faces) == pytest.approx(0.0, abs=1e-6)
    side = drawing.faces[drawing.faces["part"] == "side"]
    assert side["level_min"].min() == pytest.approx(518.05)


def test_what_has_no_base_begins_at_the_lowest_water():
    """A terrace beside it too; one with a base of its own keeps it, and no top changes."""
    yard = {"role": "terrace", "geometry": box(0, 0, 20, 12), "top": 0.0}
    beside = {"role": "terrace", "geometry": box(20, 0, 30, 12), "top": 1.0}
    stated = {"role": "terrace", "geometry": box(30, 0, 40, 12), "base": 0.5, "top": 1.0}
    pools = [
        {"role": "water", "geometry": box(x, 4, x + 4, 8), "drop": drop} for x, drop in ((2, 0.2), (12, 0.6))
    ]
    table = settle(features(yard, beside, stated, *pools)).features
    assert table.base.tolist() == pytest.approx([-0.6, -0.6, 0.5, -0.2, -0.6])
    assert table.top.tolist() == pytest.approx([0.0, 1.0, 1.0, -0.2, -0.6])


def surveyed(level, **water):
    """A pool of 6 by 4 m in ground of 20 by 12 m with a level at every metre, *level* of x and y."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(21.0), np.arange(13.0)))
    points = shapely.points(EAST + x, NORTH + y)
    spots = gpd.GeoDataFrame({"lvl": level(x, y)}, geometry=points, crs=CRS)
    return drawn(
        siteaxo.Layer(name="ground", role="ground", source=frame(0, 0, 20, 12), top="survey"),
        siteaxo.Layer(name="spots", role="spot level", source=spots, top="lvl"),
        siteaxo.Layer(name="pool", role="water", source=frame(5, 4, 11, 8), **water),
    )


def settled_top(model):
    return float(model.stack.features.top[model.stack.features.of_role("name") == "water"][0])


def test_a_pool_in_surveyed_ground_lies_below_its_rim():
    """As in a terrace: walls at the far sides, as high as the drop, in level ground at 2 m."""
    model, drawing = surveyed(lambda x, y: np.full(len(x), 2.0), drop=DEEP)
    assert settled_top(model) == pytest.approx(2.0 - DEEP)
    faces = drawing.faces
    walls = DEEP * (6 + 4) / np.sqrt(2) - 2 * DEEP * (DEEP / 2) / 2
    size = faces.geometry.area.groupby([faces["layer"], faces["part"]]).sum()
    assert size["pool"].sum() == pytest.approx(6 * 4 - walls, abs=1e-6)
    assert size["ground", "slope"] == pytest.approx(20 * 12 - 6 * 4, abs=1e-6)
    assert open_area(faces) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("height", [None, 0.5])
def test_a_pool_in_sloping_ground_lies_below_the_lowest_place_of_its_rim(height):
    """The ground rises by 1 in 10 eastward, so that its rim is lowest at x = 5, at 0.5 m."""
    water = {"drop": DEEP} if height is None else {"drop": DEEP, "height": height}
    model, drawing = surveyed(lambda x, y: x / 10, **water)
    assert settled_top(model) == pytest.approx(0.5 - DEEP)
    assert model.stack.features.base_from[model.stack.features.of_role("name") == "water"][0].endswith(
        "less its drop"
    )
    assert open_area(drawing.faces) == pytest.approx(0.0, abs=1e-6)


def test_a_pool_over_a_hollow_lies_below_its_rim_and_not_below_the_hollow():
    model, drawing = surveyed(lambda x, y: np.where((abs(x - 8) < 2) & (abs(y - 6) < 1), 0.0, 2.0), drop=DEEP)
    assert settled_top(model) == pytest.approx(2.0 - DEEP)
    water = drawing.faces[drawing.faces["layer"] == "pool"].geometry.area.sum()
    walls = DEEP * (6 + 4) / np.sqrt(2) - 2 * DEEP * (DEEP / 2) / 2
    assert water == pytest.approx(6 * 4 - walls, abs=1e-6)


AFLOAT = [
    ({"role": "tree", "height": 4.0}, shapely.Point(8, 6)),
    ({"role": "note"}, shapely.Point(8, 6)),
    ({"role": "people"}, box(6, 5, 9, 7)),
]


@pytest.mark.parametrize(
    ("what", "place"), [*AFLOAT, ({"role": "structure", "height": 0.5}, box(7, 5, 8, 6))]
)
@pytest.mark.parametrize("pool", [{"drop": 0.4}, {"top": 1.6, "base": 0.5}])
def test_what_lies_on_a_pool_in_a_terrace_stands_at_its_level(what, place, pool):
    """And not at the lowest level of the site, 3 m further down."""
    yard = {"role": "terrace", "geometry": box(0, 0, 20, 12), "base": -1.4, "top": 2.0}
    water = {"role": "water", "id": "W", "geometry": box(5, 4, 11, 8), **pool}
    found = settle(features(yard, water, {"geometry": place, **what}))
    assert found.features.base[2] == pytest.approx(1.6)
    assert found.support[2] == 1
    assert found.features.base_from[2] == "top of layer 'water', feature W"
    assert found.findings == ()


def test_what_else_carries_it_comes_before_the_water():
    yard = {"role": "terrace", "geometry": box(0, 0, 20, 12), "base": -1.4, "top": 2.0}
    water = {"role": "water", "geometry": box(5, 4, 11, 8), "drop": 0.4}
    deck = {"role": "deck", "geometry": box(7, 0, 9, 12), "base": 1.8, "top": 2.1}
    tree = {"role": "tree", "geometry": shapely.Point(8, 6), "height": 4.0}
    edge = {"role": "people", "geometry": box(3, 5, 6, 7)}  # a third of it over the water
    table = settle(features(yard, water, deck, tree, edge)).features
    assert table.base[3:].tolist() == pytest.approx([2.1, 2.0])


@pytest.mark.parametrize(("what", "place"), AFLOAT)
def test_what_lies_on_a_pool_in_surveyed_ground_stands_at_its_level(what, place):
    spots = [
        {"role": "spot level", "geometry": shapely.Point(x, y), "top": x / 10}
        for x in (0.0, 20.0)
        for y in (0.0, 12.0)
    ]
    water = {"role": "water", "geometry": box(5, 4, 11, 8), "drop": 0.4}
    beside = {"geometry": shapely.affinity.translate(place, 7.0), **what}
    stack = stacked(*spots, water, {"geometry": place, **what}, beside)
    level = {
        name: stack.features.base[stack.features.of_role("name") == name] for name in (what["role"], "water")
    }
    assert level["water"] == pytest.approx([0.5 - 0.4])
    lowest = shapely.bounds(beside["geometry"])[0] / 10  # of the ground under it
    assert level[what["role"]] == pytest.approx([0.1, lowest])
