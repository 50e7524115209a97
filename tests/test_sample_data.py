"""
The files of the sample site, as they lie on disk: formats, levels, and whether the place holds together.

Every measure is taken from the files with general-purpose libraries, never from the code that wrote them.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely

from siteaxo.source.roles import ROLES

HOME = Path(__file__).resolve().parents[1] / "sample_data"
SITE = HOME / "wrenlow"
GRID = "EPSG:27700"
MM = 0.001  # m
OSGB = "Ordnance Survey of Great Britain 1936"
FOOT = 0.3048  # m, exact: 85 FR 62698
BASE_BEARING = 78.0  # degrees, stated in the site file
LAYER_KEYS = {
    *("name", "source", "table", "role", "crs", "base", "top", "height", "unit", "id"),
    *("width", "diameter", "clear_stem", "material", "rim", "drop", "shape", "parapet", "pitch"),
    *("base_z", "top_z", "storeys", "storey_height", "bank", "low", "fall_bearing", "density"),
    *("riser", "cheek", "landing", "posts", "beams", "across"),
}
WORDS = {
    "below",
    "survey",
    "finished levels",
    "each",
    "min",
    "mean",
    "max",
    "whole",
    "split",
}  # what is no name of a field
GRIDS = (".asc",)
EXTRA = ("brow_walls", "lodge", "bothy", "shed", "store", "blocks")
WALKS = ("steps", "ramp", "switchback", "curved_steps", "brow_steps")

Table = geopandas.GeoDataFrame
Layers = dict[str, dict[str, Any]]


def site_file() -> dict[str, Any]:
    return tomllib.loads((SITE / "site.toml").read_text(encoding="utf-8"))


def layer_table(layer: dict[str, Any], folder: Path = SITE) -> Table:
    return geopandas.read_file(folder / layer["source"], layer=layer.get("table"), engine="pyogrio")


def field_or_number(table: Table, value: Any) -> np.ndarray:
    column = table[value] if isinstance(value, str) else np.full(len(table), value)
    return np.asarray(column, dtype=float)


def plan_of(table: Table, layer: dict[str, Any]) -> np.ndarray:
    """Footprints on the National Grid: lines at their width, with square ends and mitred corners."""
    shapes = shapely.force_2d(table.to_crs(GRID).geometry.to_numpy())
    if layer["name"] == "curved_steps":
        one, other = shapely.get_parts(shapes)
        ring = np.vstack([shapely.get_coordinates(one), shapely.get_coordinates(other)[::-1]])
        return np.array([shapely.Polygon(ring)], dtype=object)
    if "width" not in layer:
        return shapes
    half = field_or_number(table, layer["width"]) / 2
    return shapely.buffer(shapes, half, cap_style="flat", join_style="mitre", mitre_limit=10)


def with_levels(layer: dict[str, Any]) -> Table:
    """Name, footprint and levels in metres; NaN where the file gives none."""
    table = layer_table(layer)
    metre = FOOT if layer.get("unit") == "ft" else 1.0
    missing = np.full(len(table), np.nan)
    read = {
        key: field_or_number(table, layer[key]) * metre
        for key in ("base", "top", "height")
        if key in layer and layer[key] not in WORDS
    }
    columns = {key: read.get(key, missing) for key in ("base", "top", "height")}
    columns |= {"name": table.get("name", table.get("species")), "layer": layer["name"]}
    return geopandas.GeoDataFrame(columns, geometry=plan_of(table, layer), crs=GRID)


@pytest.fixture(scope="module")
def layers() -> Layers:
    tables = site_file()["layer"]
    return {layer["name"]: layer for layer in tables if not layer["source"].endswith(GRIDS)}


@pytest.fixture(scope="module")
def site(layers: Layers) -> dict[str, Table]:
    return {name: with_levels(layer) for name, layer in layers.items()}


@pytest.fixture(scope="module")
def terraces(site: dict[str, Table]) -> Table:
    """All terraces, whatever layer they are in; the court is taken out of the terrace around it."""
    every = pd.concat([site[name] for name in ("terraces", "banked", "green")])
    table = geopandas.GeoDataFrame(every, crs=GRID).set_index("name", drop=False)
    court = table.geometry["Sunken court"]
    table.loc["Basin terrace", "geometry"] = table.geometry["Basin terrace"].difference(court)
    return table


@pytest.fixture(scope="module")
def terrace(terraces: Table) -> dict[str, Any]:
    return dict(zip(terraces.name, terraces.geometry, strict=True))


@pytest.fixture(scope="module")
def floor(terraces: Table) -> dict[float, Any]:
    """What lies at each level."""
    return {top: shapely.union_all(group.geometry.to_numpy()) for top, group in terraces.groupby("top")}


@pytest.fixture(scope="module")
def meadow(site: dict[str, Table], terrace: dict[str, Any]) -> Any:
    """The site without its terraces."""
    return site["boundary"].geometry.iloc[0].difference(shapely.union_all(list(terrace.values())))


@pytest.fixture(scope="module")
def level(terraces: Table) -> dict[str, float]:
    return dict(zip(terraces.name, terraces.top, strict=True))


def joined(site: dict[str, Table], *names: str) -> Any:
    return shapely.union_all(np.concatenate([site[name].geometry.to_numpy() for name in names]))


# -- formats


def test_site_file_has_only_known_keys(layers: Layers) -> None:
    top = site_file()
    assert set(top) == {"name", "style", "plane", "levels", "view", "sheet", "layer"}
    assert set(top["plane"]) == {"crs", "base_line"}
    assert top["view"] == {"kind": "planometric", "turn": 60, "height_factor": 1.0}
    assert top["sheet"]["size"] == "A3"
    for layer in layers.values():
        assert set(layer) <= LAYER_KEYS
        assert layer["role"] in ROLES


def test_size_of_the_site(layers: Layers, site: dict[str, Table]) -> None:
    assert len(layers) >= 12
    assert sum(map(len, site.values())) >= 150
    assert len(site["trees"]) == pytest.approx(50, abs=5)
    assert sum(path.stat().st_size for path in HOME.rglob("*") if path.is_file()) < 3e6
    assert len(site["steps"]) >= 2
    wanted = {"ground", "terrace", "deck", "planter", "seat", "wall", "steps", "ramp", "structure", "canopy"}
    wanted |= {"roof", "paving", "lawn", "water", "tree", "path", "hedge", "rail"}
    wanted |= {"contour", "breakline", "spot level", "finished level", "people", "note"}
    assert {layer["role"] for layer in layers.values()} == wanted


def test_fields_named_in_the_site_file_exist(layers: Layers) -> None:
    for layer in layers.values():
        fields = set(layer_table(layer).columns)
        keys = LAYER_KEYS - {"name", "source", "table", "role", "crs", "unit"}
        named = {layer[key] for key in keys & set(layer) if isinstance(layer[key], str)} - WORDS
        assert named <= fields, layer["name"]


def test_feature_ids_are_unique(layers: Layers) -> None:
    ids = np.concatenate([layer_table(layer)["feat_id"].to_numpy() for layer in layers.values()])
    assert len(set(ids)) == len(ids)


def test_shapefiles_are_complete() -> None:
    names = sorted(SITE.glob("*.shp"))
    assert len(names) >= 12
    for path in names:
        assert path.with_suffix(".cpg").read_text() == "UTF-8"
        assert all(path.with_suffix(end).exists() for end in (".dbf", ".shx", ".prj"))
        fields = pyogrio.read_info(path)["fields"]
        assert max(len(field) for field in fields) <= 10
    assert any(len(f) > 10 for f in pyogrio.read_info(SITE / "design.gpkg", layer="water")["fields"])


def test_grid_of_the_quarry_floor_lies_below_every_terrace(terraces: Table) -> None:
    words = (SITE / "floor.asc").read_text("ascii").split()
    header = {key: float(value) for key, value in zip(words[:12:2], words[1:12:2], strict=True)}
    levels = np.array(words[12:], dtype=float)
    assert len(levels) == header["ncols"] * header["nrows"]
    known = levels[levels != header["nodata_value"]]
    assert len(known) > 50
    assert terraces.base.max() < known.min() < known.max() < terraces.top.min()


def test_grid_of_the_foot_of_the_field_lies_in_the_meadow(site: dict[str, Table]) -> None:
    """Its levels are known within the meadow and 1.5 m beyond; contours keep out of it."""
    words = (SITE / "foot.asc").read_text("ascii").split()
    header = {key: float(value) for key, value in zip(words[:12:2], words[1:12:2], strict=True)}
    size = int(header["nrows"]), int(header["ncols"])
    levels = np.array(words[12:], dtype=float).reshape(size)
    row, column = np.nonzero(levels != header["nodata_value"])
    cell = header["cellsize"]
    east = header["xllcorner"] + (column + 0.5) * cell
    north = header["yllcorner"] + (size[0] - row - 0.5) * cell
    places = shapely.points(east, north)
    assert len(places) > 25
    site_and_more = site["boundary"].geometry.iloc[0].buffer(1.5 + MM)
    assert shapely.covers(site_and_more, places).all()
    lines = joined(site, "contours", "field_contours")
    assert shapely.distance(lines, places).min() > 0.3 - MM


def test_contours_have_their_level_in_a_field_or_in_their_z() -> None:
    flat = geopandas.read_file(SITE / "meadow.gpkg", layer="contours")
    spatial = geopandas.read_file(SITE / "meadow.gpkg", layer="field_contours")
    assert not flat.has_z.any()
    assert spatial.has_z.all()
    assert set(spatial.columns) == {"feat_id", "geometry"}
    z = [np.unique(shapely.get_coordinates(line, include_z=True)[:, 2]) for line in spatial.geometry]
    assert all(len(levels) == 1 for levels in z)
    levels = np.concatenate(z)
    assert levels.max() < flat["level_m"].min()
    assert np.unique(np.concatenate([levels, flat["level_m"]]) * 2 % 1).tolist() == [0]


def test_least_greatest_and_mean_of_own_z_are_told_apart(layers: Layers) -> None:
    """Each of the three says another level than the other two would."""
    said = {("shed", "base_z"): "min", ("bothy", "top_z"): "max", ("blocks", "top_z"): "mean"}
    for (name, key), how in said.items():
        assert layers[name][key] == how
        for shape in layer_table(layers[name]).geometry:
            z = shapely.get_coordinates(shape, include_z=True)[:-1, 2]
            assert len({round(level, 3) for level in (z.min(), z.max(), z.mean())}) == 3, name


def test_text_outside_ascii_survives() -> None:
    species = geopandas.read_file(SITE / "trees.shp")["species"]
    assert "Tilia × europaea" in set(species)


def test_geopackage_has_the_surfaces() -> None:
    assert set(pyogrio.list_layers(SITE / "design.gpkg")[:, 0]) == {"paving", "lawn", "water", "rill"}
    assert geopandas.read_file(SITE / "design.gpkg", layer="paving")["material"].nunique() == 6


def test_reference_systems(layers: Layers) -> None:
    for name, layer in layers.items():
        crs = pyproj.CRS(layer_table(layer).crs)
        if name in ("trees", "people", "notes"):
            assert crs.to_epsg() == 4326
        elif name == "kiln":
            assert crs.axis_info[0].unit_conversion_factor == pytest.approx(FOOT, abs=1e-12)
            assert pyproj.CRS(layer_table(layer).crs).geodetic_crs.datum.name == OSGB
        else:
            assert crs.to_epsg() == 27700, name


def test_feet_read_back_as_the_same_places() -> None:
    kiln = geopandas.read_file(SITE / "kiln.shp")
    feet = shapely.get_coordinates(kiln.geometry.to_numpy())
    metres = shapely.get_coordinates(kiln.to_crs(GRID).geometry.to_numpy())
    np.testing.assert_allclose(feet * FOOT, metres, atol=1e-6)


def test_geometries_are_valid_and_single(layers: Layers) -> None:
    for layer in layers.values():
        shapes = layer_table(layer).geometry
        assert shapes.is_valid.all()
        pair = {"MultiLineString"} if layer["name"] == "curved_steps" else set()
        assert set(shapes.geom_type) <= {"Point", "LineString", "Polygon"} | pair


# -- ground and terraces


def test_terraces_lie_beside_one_another_within_the_site(
    site: dict[str, Table], terraces: Table, terrace: dict[str, Any]
) -> None:
    boundary = site["boundary"].geometry.iloc[0]
    shapes = np.array(list(terrace.values()))
    whole = shapely.union_all(shapes)
    assert shapely.area(shapes).sum() == pytest.approx(whole.area, abs=1e-4)
    assert boundary.buffer(MM).contains(whole)
    assert 0.55 < whole.area / boundary.area < 0.85
    assert (terraces.base == site["boundary"].base.iloc[0]).all()
    assert site["boundary"].top.isna().all(), "the survey says how high the ground is"


def test_court_is_sunk_into_one_terrace(site: dict[str, Table], level: dict[str, float]) -> None:
    shapes = site["terraces"].set_index("name").geometry
    court = shapes["Sunken court"]
    assert shapes["Basin terrace"].contains(court)
    assert shapes["Basin terrace"].exterior.distance(court) > 1.0
    assert level["Sunken court"] < level["Basin terrace"]


def test_longest_side_of_the_site_is_the_base_line(site: dict[str, Table]) -> None:
    outline = site["boundary"].geometry.iloc[0]
    for ring in (outline.exterior, outline.convex_hull.exterior):
        sides = np.diff(shapely.get_coordinates(ring.simplify(MM)), axis=0)
        lengths = np.hypot(*sides.T)
        longest, runner_up = np.argsort(lengths)[::-1][:2]
        bearing = np.degrees(np.arctan2(*sides[longest])) % 180
        assert bearing == pytest.approx(BASE_BEARING, abs=1e-6)
        assert lengths[runner_up] < 0.95 * lengths[longest]


# -- ways between levels


def test_steps_and_ramp_join_two_levels(site: dict[str, Table], floor: dict[float, Any]) -> None:
    floors = list(floor.items())
    floors += list(zip(site["deck"].top, site["deck"].geometry, strict=True))
    for flight in [*site["steps"].itertuples(), *site["ramp"].itertuples()]:
        foot = [top for top, shape in floors if shape.buffer(MM).contains(flight.geometry)]
        assert foot == [flight.base], flight.name
        edge = flight.geometry.boundary.buffer(MM)
        met = [top for top, shape in floors if edge.intersection(shape.boundary).length > 1.5]
        assert flight.top in met, flight.name


def test_risers_and_treads(site: dict[str, Table]) -> None:
    # 4 to 7 in risers, treads of 11 in or more: 2010 ADA Standards 504.2;
    # 2 x riser + tread of 24 to 26 in, here with 1 in more: common practice.
    for flight in site["steps"].itertuples():
        sides = np.diff(shapely.get_coordinates(flight.geometry.exterior), axis=0)
        depth = np.hypot(*sides.T).min()
        risers = (flight.top - flight.base) / 0.15
        assert risers == pytest.approx(round(risers), abs=1e-9)
        tread = depth / (round(risers) - 1)
        assert tread == pytest.approx(0.35, abs=1e-6)
        assert 4 * 0.0254 <= 0.15 <= 7 * 0.0254
        assert 24 <= (2 * 0.15 + tread) / 0.0254 <= 27


def test_steps_all_round_lead_up_to_the_sundial(site: dict[str, Table], terrace: dict[str, Any]) -> None:
    steps, plinth = site["plinth_steps"].iloc[0], site["buildings"].set_index("name").loc["Sundial plinth"]
    (hole,) = steps.geometry.interiors
    assert shapely.Polygon(hole).symmetric_difference(plinth.geometry).area < MM
    assert terrace["Grove terrace"].contains(steps.geometry)
    assert (steps.base, steps.top) == (plinth.base, plinth.top)
    # three risers of 150 mm; the treads between the two outlines, 2 x riser + tread as above: common practice
    depth = hole.distance(steps.geometry.exterior)
    assert (steps.top - steps.base) / 3 == pytest.approx(0.15, abs=1e-9)
    assert 24 <= (2 * 0.15 + depth / 2) / 0.0254 <= 27


def test_a_glazed_rail_a_bond_of_its_own_and_a_height_in_survey_feet(layers: Layers) -> None:
    rails = layer_table(layers["rails"]).set_index("name")
    assert rails.form.value_counts().to_dict() == {"bars": len(rails) - 1, "panel": 1}
    style = tomllib.loads((SITE / site_file()["style"]).read_text(encoding="utf-8"))
    assert {"weave"} == set(style["patterns"])
    assert layer_table(layers["paving"]).material.str.endswith("basket weave").any()
    assert layers["store"]["unit"] == "ft-us"  # 1200/3937 m: the foot of the U.S. survey
    assert float(layer_table(layers["store"]).height_ft.iloc[0]) * 1200 / 3937 == pytest.approx(
        2.21, abs=0.01
    )


def test_ramp_slopes(site: dict[str, Table]) -> None:
    # 1 in 12 and 760 mm of rise per run at most, landings of 1525 mm: 2010 ADA Standards 405.2, 405.6, 405.7;
    # the landing here is 1.50 m, so the check allows an inch.
    runs = site["ramp"]
    length = runs.geometry.length / 2 - 1.8
    rise = runs.top - runs.base
    assert (rise / length <= 1 / 12).all()
    assert (rise <= 0.76).all()
    assert runs.geometry.iloc[0].distance(runs.geometry.iloc[1]) > 1.525 - 0.0254 - MM


# -- walls


def test_retaining_walls_stand_low_and_show_their_coping(
    site: dict[str, Table], floor: dict[float, Any]
) -> None:
    walls = site["walls"][~site["walls"].name.str.contains("arapet")]
    for wall in walls.itertuples():
        lower = [top for top, shape in floor.items() if shape.buffer(MM).contains(wall.geometry)]
        assert lower == [wall.base], wall.name
        if wall.name == "Lane wall return":
            continue  # it holds a bank, which comes down to it
        edge = wall.geometry.boundary.buffer(MM)
        along = {top: edge.intersection(shape.boundary).length for top, shape in floor.items()}
        upper = [top for top, length in along.items() if length > 0.5 and top > wall.base]
        assert upper, wall.name
        above = wall.top - max(upper)
        assert above == pytest.approx(0.0 if wall.name == "Belvedere wall" else 0.1, abs=1e-9), wall.name


# -- what stands on something


def supports(site: dict[str, Table], floor: dict[float, Any], layers: Layers) -> Table:
    """Tops of everything that may carry something, with the level and stacking order of each."""
    rows = [(shape, top, ROLES["terrace"].order) for top, shape in floor.items()]
    names = [*WALKS, "deck", "walls", "copings", "buildings", "kiln", "posts", "roof"]
    for name in names:
        order = ROLES[layers[name]["role"]].order
        rows += [(feature.geometry, feature.top, order) for feature in site[name].itertuples()]
    shapes, tops, orders = zip(*rows, strict=True)
    return geopandas.GeoDataFrame({"top": tops, "order": orders}, geometry=list(shapes), crs=GRID)


def test_what_has_no_level_lies_wholly_on_one_support(
    layers: Layers, site: dict[str, Table], floor: dict[float, Any], meadow: Any
) -> None:
    under = supports(site, floor, layers)
    standing = {name: layer for name, layer in layers.items() if layer.get("base") == "below"}
    assert {"seats", "planters", "rails", "hedges", "trees", "free_walls", "lodge"} <= set(standing)
    on_ground = 0
    for name, layer in standing.items():
        assert site[name].base.isna().all()
        may_carry = under[under.order < ROLES[layer["role"]].order]
        for feature in site[name].itertuples():
            core = feature.geometry if name == "trees" else feature.geometry.buffer(-2 * MM)
            touched = may_carry[may_carry.intersects(core)]
            if not len(touched) or name in ("pitched_roofs", "paths"):
                on_ground += meadow.buffer(MM).contains(feature.geometry)
                continue
            if layer.get("across") == "split":
                assert shapely.union_all(touched.buffer(MM).to_numpy()).contains(feature.geometry)
                continue
            highest = touched[touched.top == touched.top.max()]
            assert highest.buffer(MM).contains(feature.geometry).any(), (name, feature.name)
    assert on_ground >= 10


def test_deck_carries_seats_and_planters(site: dict[str, Table]) -> None:
    deck = site["deck"].geometry.iloc[0]
    assert site["planters"].within(deck).sum() >= 2
    assert site["seats"].within(deck).sum() >= 1
    assert deck.intersects(site["terraces"].set_index("name").geometry["Sunken court"])


def test_canopies_are_walked_beneath(
    layers: Layers, site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    canopies = site["canopy"].set_index("name")
    for name, on in (("Tea canopy", "Pavilion garden"), ("Vine pergola", "Vine terrace")):
        assert terrace[on].contains(canopies.geometry[name])
        assert canopies.base[name] - level[on] >= 2.2
    table = layer_table(layers["canopy"]).set_index("name")
    assert (table.post_m > 0).all()
    assert (table.beam_m > 0).to_dict() == {"Tea canopy": False, "Vine pergola": True}
    deck, posts = site["deck"].iloc[0], site["posts"]
    assert posts.within(deck.geometry).all()
    assert (posts.top == deck.base).all()
    assert (posts.base == level["Basin terrace"]).all()


def test_roof_oversails_the_pavilion(site: dict[str, Table]) -> None:
    pavilion = site["buildings"].set_index("name").loc["Pavilion"]
    roof = site["roof"].iloc[0]
    pitched = site["pitched_roofs"].geometry.to_numpy()
    for under in ("lodge", "bothy", "store"):
        assert shapely.covers(pitched, site[under].geometry.iloc[0]).sum() == 1
    assert site["roof_planes"].geometry.union_all().contains(site["shed"].geometry.iloc[0])
    assert roof.geometry.contains(pavilion.geometry)
    assert roof.base == pavilion.top
    assert not site["trees"].within(roof.geometry).any()


def test_kiln_levels_in_feet(site: dict[str, Table], level: dict[str, float]) -> None:
    kiln = site["kiln"].set_index("name")
    assert kiln.base.min() == pytest.approx(level["Lower terrace"], abs=1e-6)
    assert kiln.loc["Kiln body"].base == kiln.loc["Draw arch stage"].top
    assert len(kiln.loc["Kiln body"].geometry.interiors) == 1


# -- surfaces


def test_surfaces_stay_on_one_terrace(site: dict[str, Table], terrace: dict[str, Any], meadow: Any) -> None:
    shapes = np.array([*terrace.values(), meadow])
    for name in ("paving", "lawn", "water", "paths"):
        for feature in site[name].itertuples():
            on = shapely.area(shapely.intersection(shapes, feature.geometry, grid_size=1e-6))
            assert (on > 1e-4).sum() == 1, (name, feature.name)
            assert on.max() == pytest.approx(feature.geometry.area, abs=1e-4), (name, feature.name)


def test_surfaces_do_not_overlap(site: dict[str, Table]) -> None:
    names = (
        "paving",
        "lawn",
        "water",
        "paths",
        "steps",
        "ramp",
        "walls",
        "free_walls",
        "buildings",
        "kiln",
        "hedges",
        *EXTRA,
    )
    shapes = np.concatenate([site[name].geometry.to_numpy() for name in names])
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    surfaces = sum(len(site[name]) for name in names[:4])
    apart = (first < surfaces) & (first < second)
    shared = shapely.area(shapely.intersection(shapes[first[apart]], shapes[second[apart]]))
    assert apart.sum() > 50
    assert shared.max() < 1e-4


def test_surfaces_cover_most_of_the_terraces(site: dict[str, Table], terrace: dict[str, Any]) -> None:
    covered = joined(
        site,
        "paving",
        "lawn",
        "water",
        "paths",
        "steps",
        "ramp",
        "walls",
        "free_walls",
        "buildings",
        "kiln",
        "hedges",
        "deck",
        *EXTRA,
    )
    whole = shapely.union_all(list(terrace.values()))
    bare = whole.difference(covered).area
    pits = 14 * 1.2**2
    assert bare < pits + 0.02 * whole.area


def test_water_lies_below_its_terrace(
    site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    for water in site["water"].itertuples():
        assert terrace["Basin terrace"].contains(water.geometry)
        assert 0.15 - 1e-9 <= level["Basin terrace"] - water.top <= 0.3
        assert water.base < water.top


def test_main_stair_faces_the_basin(site: dict[str, Table]) -> None:
    along = np.radians(BASE_BEARING)
    across = np.array([-np.cos(along), np.sin(along)])
    middle = [
        shapely.get_coordinates(site[layer].set_index("name").geometry[name].centroid)[0] @ across
        for layer, name in (("steps", "Main stair"), ("steps", "Grove stair"), ("water", "Basin"))
    ]
    assert max(middle) - min(middle) < 1e-6


# -- planting


def test_trees_stand_free(site: dict[str, Table], layers: Layers) -> None:
    trees = site["trees"]
    taken = joined(
        site,
        "paving",
        "water",
        "paths",
        "steps",
        "ramp",
        "walls",
        "free_walls",
        "buildings",
        "kiln",
        "deck",
        "canopy",
        "roof",
        "planters",
        "seats",
        "hedges",
        *EXTRA,
        *WALKS,
    )
    assert trees.geometry.distance(taken).min() > 0.15
    table = layer_table(layers["trees"])
    assert table.crown_m.between(1.3, 6.0).all()
    assert (table.stem_m < table.height_m).all()
    assert trees.within(site["boundary"].geometry.iloc[0]).all()
    near = shapely.distance(trees.geometry.to_numpy()[:, None], trees.geometry.to_numpy()[None])
    assert near[~np.eye(len(trees), dtype=bool)].min() > 1.5


# -- the script


def make(out: Path) -> Path:
    command = [sys.executable, str(HOME / "make_sample.py"), "--out", str(out)]
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}
    subprocess.run(command, check=True, capture_output=True, env=environment)
    return out / "wrenlow"


def test_script_is_repeatable(tmp_path: Path, layers: Layers) -> None:
    first, second = make(tmp_path / "a"), make(tmp_path / "b")
    names = sorted(path.name for path in first.iterdir())
    assert names == sorted(path.name for path in SITE.iterdir())
    assert all((first / name).read_bytes() == (second / name).read_bytes() for name in names)
    assert (first / "site.toml").read_text() == (SITE / "site.toml").read_text()
    for layer in layers.values():
        new, old = layer_table(layer, first), layer_table(layer)
        assert new.drop(columns="geometry").equals(old.drop(columns="geometry")), layer["name"]
        places = [shapely.get_coordinates(table.geometry.to_numpy()) for table in (new, old)]
        np.testing.assert_allclose(*places, atol=1e-8 if layer["name"] == "trees" else 1e-6, rtol=0)
