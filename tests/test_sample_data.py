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
    *("width", "diameter", "clear_stem", "material", "rim", "shape"),
}

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
    shapes = table.to_crs(GRID).geometry.to_numpy()
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
        if key in layer and layer[key] != "below"
    }
    columns = {key: read.get(key, missing) for key in ("base", "top", "height")}
    columns |= {"name": table.get("name", table.get("species")), "layer": layer["name"]}
    return geopandas.GeoDataFrame(columns, geometry=plan_of(table, layer), crs=GRID)


@pytest.fixture(scope="module")
def layers() -> Layers:
    return {layer["name"]: layer for layer in site_file()["layer"]}


@pytest.fixture(scope="module")
def site(layers: Layers) -> dict[str, Table]:
    return {name: with_levels(layer) for name, layer in layers.items()}


@pytest.fixture(scope="module")
def terrace(site: dict[str, Table]) -> dict[str, Any]:
    """Terraces by name, the court taken out of the terrace around it."""
    shapes = dict(zip(site["terraces"].name, site["terraces"].geometry, strict=True))
    shapes["Basin terrace"] = shapes["Basin terrace"].difference(shapes["Sunken court"])
    return shapes


@pytest.fixture(scope="module")
def level(site: dict[str, Table]) -> dict[str, float]:
    return dict(zip(site["terraces"].name, site["terraces"].top, strict=True))


def joined(site: dict[str, Table], *names: str) -> Any:
    return shapely.union_all(np.concatenate([site[name].geometry.to_numpy() for name in names]))


# -- formats


def test_site_file_has_only_known_keys(layers: Layers) -> None:
    top = site_file()
    assert set(top) == {"name", "plane", "levels", "view", "sheet", "layer"}
    assert set(top["plane"]) == {"crs", "base_line"}
    assert top["view"] == {"kind": "planometric", "turn": 60, "height_factor": 1.0}
    assert top["sheet"]["size"] == "A3"
    for layer in layers.values():
        assert set(layer) <= LAYER_KEYS
        assert layer["role"] in ROLES


def test_size_of_the_site(layers: Layers, site: dict[str, Table]) -> None:
    assert len(layers) >= 12
    assert sum(map(len, site.values())) >= 150
    assert len(site["trees"]) == pytest.approx(40, abs=2)
    assert len(site["steps"]) >= 2
    wanted = {"ground", "terrace", "deck", "planter", "seat", "wall", "steps", "ramp", "structure", "canopy"}
    wanted |= {"roof", "paving", "lawn", "water", "tree", "path", "hedge", "rail"}
    assert {layer["role"] for layer in layers.values()} == wanted


def test_fields_named_in_the_site_file_exist(layers: Layers) -> None:
    for layer in layers.values():
        fields = set(layer_table(layer).columns)
        keys = LAYER_KEYS - {"name", "source", "table", "role", "crs", "unit"}
        named = {layer[key] for key in keys & set(layer) if isinstance(layer[key], str)} - {"below"}
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


def test_text_outside_ascii_survives() -> None:
    species = geopandas.read_file(SITE / "trees.shp")["species"]
    assert "Tilia × europaea" in set(species)


def test_geopackage_has_the_surfaces() -> None:
    assert set(pyogrio.list_layers(SITE / "design.gpkg")[:, 0]) == {"paving", "lawn", "water"}
    assert geopandas.read_file(SITE / "design.gpkg", layer="paving")["material"].nunique() == 3


def test_reference_systems(layers: Layers) -> None:
    for name, layer in layers.items():
        crs = pyproj.CRS(layer_table(layer).crs)
        if name == "trees":
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
        assert set(shapes.geom_type) <= {"Point", "LineString", "Polygon"}


# -- ground and terraces


def test_terraces_tile_the_boundary(site: dict[str, Table], terrace: dict[str, Any]) -> None:
    boundary = site["boundary"].geometry.iloc[0]
    shapes = np.array(list(terrace.values()))
    assert shapely.area(shapes).sum() == pytest.approx(boundary.area, abs=1e-4)
    assert shapely.union_all(shapes).symmetric_difference(boundary).area < 1e-4
    assert site["boundary"].top.iloc[0] < site["terraces"].top.min()
    assert (site["terraces"].base == site["boundary"].top.iloc[0]).all()


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
        assert lengths[runner_up] < 0.9 * lengths[longest]


# -- ways between levels


def test_steps_and_ramp_join_two_levels(
    site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    floors = [(level[name], shape) for name, shape in terrace.items()]
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
    site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    walls = site["walls"][site["walls"].name != "Quarry parapet"]
    for wall in walls.itertuples():
        lower = [name for name, shape in terrace.items() if shape.buffer(MM).contains(wall.geometry)]
        assert {level[name] for name in lower} == {wall.base}, wall.name
        edge = wall.geometry.boundary.buffer(MM)
        along = {name: edge.intersection(shape.boundary).length for name, shape in terrace.items()}
        upper = [name for name, length in along.items() if length > 0.5 and level[name] > wall.base]
        assert upper, wall.name
        above = wall.top - max(level[name] for name in upper)
        assert above == pytest.approx(0.0 if wall.name == "Belvedere wall" else 0.1, abs=1e-9), wall.name


# -- what stands on something


def supports(
    site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float], layers: Layers
) -> Table:
    """Tops of everything that may carry something, with the level and stacking order of each."""
    rows = [(shape, level[name], ROLES["terrace"].order) for name, shape in terrace.items()]
    for name in ("steps", "ramp", "deck", "walls", "buildings", "kiln", "posts", "roof"):
        order = ROLES[layers[name]["role"]].order
        rows += [(feature.geometry, feature.top, order) for feature in site[name].itertuples()]
    shapes, tops, orders = zip(*rows, strict=True)
    return geopandas.GeoDataFrame({"top": tops, "order": orders}, geometry=list(shapes), crs=GRID)


def test_what_has_no_level_lies_wholly_on_one_support(
    layers: Layers, site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    under = supports(site, terrace, level, layers)
    standing = {name: layer for name, layer in layers.items() if layer["base"] == "below"}
    assert {"seats", "planters", "rails", "hedges", "trees", "free_walls"} <= set(standing)
    for name, layer in standing.items():
        assert site[name].base.isna().all()
        may_carry = under[under.order < ROLES[layer["role"]].order]
        for feature in site[name].itertuples():
            core = feature.geometry if name == "trees" else feature.geometry.buffer(-2 * MM)
            touched = may_carry[may_carry.intersects(core)]
            highest = touched[touched.top == touched.top.max()]
            assert highest.buffer(MM).contains(feature.geometry).any(), (name, feature.name)


def test_deck_carries_seats_and_planters(site: dict[str, Table]) -> None:
    deck = site["deck"].geometry.iloc[0]
    assert site["planters"].within(deck).sum() >= 2
    assert site["seats"].within(deck).sum() >= 1
    assert deck.intersects(site["terraces"].set_index("name").geometry["Sunken court"])


def test_canopy_is_walked_beneath(
    site: dict[str, Table], terrace: dict[str, Any], level: dict[str, float]
) -> None:
    canopy, posts = site["canopy"].iloc[0], site["posts"]
    assert terrace["Basin terrace"].contains(canopy.geometry)
    assert canopy.base - level["Basin terrace"] >= 2.6
    tea = posts[posts.name == "Canopy post"]
    assert tea.within(canopy.geometry).all()
    assert (tea.top == canopy.base).all()
    deck = site["deck"].iloc[0]
    others = posts[posts.name != "Canopy post"]
    assert others.within(deck.geometry).all()
    assert (others.top == deck.base).all()
    assert (posts.base == level["Basin terrace"]).all()


def test_roof_oversails_the_pavilion(site: dict[str, Table]) -> None:
    pavilion = site["buildings"].set_index("name").loc["Pavilion"]
    roof = site["roof"].iloc[0]
    assert roof.geometry.contains(pavilion.geometry)
    assert roof.base == pavilion.top
    assert not site["trees"].within(roof.geometry).any()


def test_kiln_levels_in_feet(site: dict[str, Table], level: dict[str, float]) -> None:
    kiln = site["kiln"].set_index("name")
    assert kiln.base.min() == pytest.approx(level["Lower terrace"], abs=1e-6)
    assert kiln.loc["Kiln body"].base == kiln.loc["Draw arch stage"].top
    assert len(kiln.loc["Kiln body"].geometry.interiors) == 1


# -- surfaces


def test_surfaces_stay_on_one_terrace(site: dict[str, Table], terrace: dict[str, Any]) -> None:
    shapes = np.array(list(terrace.values()))
    for name in ("paving", "lawn", "water", "paths"):
        for feature in site[name].itertuples():
            on = shapely.area(shapely.intersection(shapes, feature.geometry))
            assert (on > 1e-6).sum() == 1, (name, feature.name)
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
    )
    assert trees.geometry.distance(taken).min() > 0.15
    table = layer_table(layers["trees"])
    assert table.crown_m.between(3.0, 6.0).all()
    assert (table.stem_m < table.height_m).all()
    assert trees.within(site["boundary"].geometry.iloc[0]).all()
    near = shapely.distance(trees.geometry.to_numpy()[:, None], trees.geometry.to_numpy()[None])
    assert near[~np.eye(len(trees), dtype=bool)].min() > 1.5


# -- the page


def test_turned_plan_fits_its_sheet(
    site: dict[str, Table],
    layers: Layers,
    level: dict[str, float],
    terrace: dict[str, Any],
) -> None:
    # A3 landscape at 1:200: what a strip of titles leaves, 360 x 230 mm of paper, is 72 x 46 m.
    turn = np.radians(60 - (90 - BASE_BEARING))
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    floor = site["boundary"].base.iloc[0]

    def page(shapes: np.ndarray, z: float | np.ndarray) -> np.ndarray:
        xy, which = shapely.get_coordinates(shapes, return_index=True)
        flat = xy @ rotation.T
        return flat + np.column_stack([np.zeros(len(flat)), (np.broadcast_to(z, len(shapes)) - floor)[which]])

    corners = [
        page(site[name].geometry.to_numpy(), z)
        for name, z in (("boundary", floor), ("kiln", site["kiln"].top))
    ]
    table, trees = layer_table(layers["trees"]), site["trees"].geometry.to_numpy()
    on = np.array(
        [max(level[name] for name, shape in terrace.items() if shape.contains(tree)) for tree in trees]
    )
    half = (table.height_m - table.stem_m).to_numpy() / 2
    radius = table.crown_m.to_numpy() / 2
    middle = page(trees, on + table.stem_m.to_numpy() + half)
    reach = np.column_stack([radius, np.hypot(radius, half)])  # silhouette of an upright ellipsoid
    everything = np.vstack([*corners, middle - reach, middle + reach])
    width, height = np.ptp(everything, axis=0)
    assert width < 72
    assert height < 46


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
