"""
The levels of the sample site: where each comes from, and that every source and form is there.

Levels are read from the stacked model and traced back to the files that lie on disk.
"""

from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.solids.faces import normals

SITE = Path(__file__).parent.parent / "sample_data" / "wrenlow" / "site.toml"


@pytest.fixture(scope="module")
def model():
    return siteaxo.read_site(SITE).stack()


@pytest.fixture(scope="module")
def rows(model):
    """Layer, id, levels and their sources of all features."""
    table = model.stack.features
    names = np.array([key.name for key in table.layers], dtype=object)
    return geopandas.pd.DataFrame(
        {
            "layer": names[table.layer],
            "id": table.source_id,
            "base": table.base,
            "top": table.top,
            "base_from": table.base_from,
            "top_from": table.top_from,
        }
    )


def faces_of(model, layer):
    stack = model.stack
    names = np.array([key.name for key in stack.features.layers], dtype=object)
    own = names[stack.features.layer][stack.solid_feature] == layer
    faces = stack.scene.faces
    return np.flatnonzero(own[faces.solid]), faces


def read(name, table=None):
    return geopandas.read_file(SITE.parent / name, layer=table)


def test_every_level_says_where_it_comes_from(rows):
    assert np.isfinite(rows[["base", "top"]]).all(axis=None)
    for column in ("base_from", "top_from"):
        assert (rows[column].astype(str).str.len() > 0).all()


@pytest.mark.parametrize(
    ("layer", "column", "words"),
    [
        ("terraces", "top_from", "field fin_lvl"),
        ("kiln", "top_from", "field top_ft"),
        ("bothy", "top_from", "greatest of its own Z"),
        ("bothy", "base_from", "ground beneath it"),
        ("shed", "base_from", "least of its own Z"),
        ("blocks", "top_from", "mean of its own Z"),
        ("blocks", "base_from", "ground beneath it"),
        ("paths", "top_from", "ground beneath it"),
        ("roof_planes", "top_from", "its own Z"),
        ("lodge", "top_from", "storeys (field storeys) × storey_height (field storey_m)"),
        ("lodge", "base_from", "top of layer"),
        ("pitched_roofs", "top_from", "pitch of the roof"),
        ("boundary", "top_from", "contours"),
        ("boundary", "top_from", "field_contours"),
        ("boundary", "top_from", "floor"),
        ("boundary", "top_from", "foot"),
        ("boundary", "top_from", "breaklines"),
        ("seats", "base_from", "top of layer"),
        ("seats", "top_from", "height above base"),
        ("rill", "base_from", "less its drop"),
        ("green", "top_from", "fall"),
        ("picnic", "top_from", "finished levels PG01, PG02, PG03"),
        ("court", "top_from", "finished levels PE01, PE02"),
        ("brow_paths", "top_from", "its own Z"),
        ("field_path", "top_from", "its own Z"),
    ],
)
def test_sources_of_levels(rows, layer, column, words):
    found = rows[rows["layer"] == layer][column].astype(str)
    assert len(found)
    assert found.str.contains(words, regex=False).any(), found.unique()


def test_levels_that_fields_state_are_taken_over(rows):
    stated = read("terraces.shp").set_index("feat_id")
    own = rows[rows["layer"] == "terraces"].set_index("id")
    np.testing.assert_allclose(own["top"], stated["fin_lvl"][own.index], atol=1e-9)
    kiln = read("kiln.shp").set_index("feat_id")
    own = rows[rows["layer"] == "kiln"].set_index("id")
    np.testing.assert_allclose(own["top"], kiln["top_ft"][own.index] * 0.3048, atol=1e-9)
    lodge, own = read("lodge.shp").iloc[0], rows[rows["layer"] == "lodge"].iloc[0]
    assert own["top"] - own["base"] == pytest.approx(lodge["storeys"] * lodge["storey_m"])


def test_ground_passes_through_its_spot_levels_and_contours(model):
    tin = model.stack.terrain.surveyed
    for table, level in (
        ("spots", None),
        ("contours", "level_m"),
        ("field_contours", None),
        ("breaklines", None),
    ):
        source = read("meadow.gpkg", table)
        shapes = source.geometry.to_numpy()
        moved = model.gathered.plane.to_plane(shapely.force_2d(shapes), source.crs)
        xy, owner = shapely.get_coordinates(moved, return_index=True)
        z = shapely.get_coordinates(shapes, include_z=True)[:, 2]
        z = z if level is None else source[level].to_numpy()[owner]
        on = ~np.isnan(tin.level_at(xy))
        assert on.sum() > len(xy) / 3
        np.testing.assert_allclose(tin.level_at(xy[on]), z[on], atol=1e-3)


def test_ground_passes_through_its_grids(model):
    tin, plane = model.stack.terrain.surveyed, model.gathered.plane
    for name in ("foot", "floor"):
        x, y, z = cells_of(SITE.parent / f"{name}.asc")
        xy = shapely.get_coordinates(plane.to_plane(shapely.points(x, y), "EPSG:27700"))
        found = tin.level_at(xy)
        on = ~np.isnan(found)
        assert on.sum() > len(z) / 3
        np.testing.assert_allclose(found[on], z[on], atol=1e-3)


def cells_of(path):
    """Middles of the cells of an ASCII grid, and their levels, without those that have none."""
    words = path.read_text("ascii").split()
    head = dict(zip(words[:12:2], map(float, words[1:12:2]), strict=True))
    z = np.array(words[12:], dtype=float).reshape(int(head["nrows"]), -1)
    row, column = np.nonzero(z != head["nodata_value"])
    x = head["xllcorner"] + (column + 0.5) * head["cellsize"]
    y = head["yllcorner"] + (len(z) - row - 0.5) * head["cellsize"]
    return x, y, z[row, column]


@pytest.mark.parametrize("name", ["foot", "floor"])
@pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")  # between rasterio and affine
def test_a_grid_gives_the_same_ground_as_an_image(name, tmp_path):
    """The grid written as a GeoTIFF by GDAL's own driver, read through the extra."""
    rasterio = pytest.importorskip("rasterio")
    with rasterio.open(SITE.parent / f"{name}.asc") as grid:
        band, profile = grid.read(1), grid.profile
    profile |= {"driver": "GTiff", "dtype": "float64", "crs": "EPSG:27700"}
    with rasterio.open(tmp_path / f"{name}.tif", "w", **profile) as image:
        image.write(band.astype(float), 1)
    keys = {"name": name, "role": "spot level", "crs": "EPSG:27700"}
    ground = [
        siteaxo.Site(name="Grid", layers=[siteaxo.Layer(source=path, **keys)], plane_crs="EPSG:27700")
        .stack()
        .stack.terrain.tin
        for path in (SITE.parent / f"{name}.asc", tmp_path / f"{name}.tif")
    ]
    x, y, z = cells_of(SITE.parent / f"{name}.asc")
    one, other = (tin.level_at(np.column_stack([x, y])) for tin in ground)
    np.testing.assert_allclose(one, z, atol=1e-6)
    # GDAL reads levels of an ASCII grid as 32-bit numbers: 2⁻²⁰ of 16 m is 1.5e-5
    np.testing.assert_allclose(other, one, atol=2e-5)


def test_hip_roof_of_the_lodge(model):
    chosen, faces = faces_of(model, "pitched_roofs")
    up = normals(faces)[chosen]
    sloping = (up[:, 2] > 0.1) & (up[:, 2] < 0.99)
    pitch = np.degrees(np.arccos(up[sloping, 2]))
    hip, gable, shed = (np.isclose(pitch, angle, atol=1e-6).sum() for angle in (38, 42, 14))
    assert (hip, gable, shed) == (6, 2, 1)  # an L has six eaves
    assert len(pitch) == 9


def test_roof_planes_are_as_they_were_measured(model):
    chosen, faces = faces_of(model, "roof_planes")
    assert len(chosen) == len(read("roof_planes.shp")) == 4
    z = shapely.get_coordinates(read("roof_planes.shp").geometry.to_numpy(), include_z=True)[:, 2]
    start = faces.vertex_start
    own = np.concatenate([faces.xyz[start[k] : start[k + 1], 2] for k in chosen])
    assert sorted(set(np.round(own, 6))) == sorted(set(np.round(z, 6)))


def test_tilted_green_slopes_from_side_to_side(model, rows):
    green = rows[rows["layer"] == "green"].iloc[0]
    stated = read("green.shp").iloc[0]
    assert green["top"] == pytest.approx(stated["high_lvl"])
    chosen, faces = faces_of(model, "green")
    start = faces.vertex_start
    top = max(chosen, key=lambda k: normals(faces)[k, 2])
    z = faces.xyz[start[top] : start[top + 1], 2]
    assert (z.min(), z.max()) == pytest.approx((stated["low_lvl"], stated["high_lvl"]), abs=1e-3)


def test_picnic_green_is_laid_to_its_pegs(model):
    pegs = read("pegs.shp")
    chosen, faces = faces_of(model, "picnic")
    top = max(chosen, key=lambda k: normals(faces)[k, 2])
    start = faces.vertex_start
    xyz = faces.xyz[start[top] : start[top + 1]]
    at = model.gathered.plane.to_plane(pegs.geometry.to_numpy(), pegs.crs)
    for place, level in zip(shapely.get_coordinates(at), pegs["fin_lvl"], strict=True):
        corner = xyz[np.hypot(*(xyz[:, :2] - place).T).argmin()]
        assert corner[:2] == pytest.approx(place, abs=1e-3)
        assert corner[2] == pytest.approx(level, abs=1e-3)


def test_court_is_laid_to_its_two_edges(model):
    edges = read("court_edges.shp")
    chosen, faces = faces_of(model, "court")
    top = max(chosen, key=lambda k: normals(faces)[k, 2])
    start = faces.vertex_start
    xyz = faces.xyz[start[top] : start[top + 1]]
    at = model.gathered.plane.to_plane(edges.geometry.to_numpy(), edges.crs)
    for line, level in zip(at, edges["fin_lvl"], strict=True):
        on = shapely.distance(shapely.points(xyz[:, :2]), line) < 1e-3
        assert on.sum() == 2
        assert xyz[on, 2] == pytest.approx(level, abs=1e-3)


def test_blocks_are_as_high_as_their_tops_are_on_the_average(rows):
    blocks = read("blocks.shp").set_index("feat_id")
    own = rows[rows["layer"] == "blocks"].set_index("id")
    for name, shape in blocks.geometry.items():
        z = shapely.get_coordinates(shape, include_z=True)[:-1, 2]  # its last corner is its first
        assert own["top"][name] == pytest.approx(z.mean(), abs=1e-9)
        assert 0.3 < own["top"][name] - own["base"][name] < 0.7


def test_paths_along_the_brow_are_fit_to_walk(model):
    """No steeper than 1 in 20 along, level across: 2010 ADA Standards 403.3 allows 1 in 48."""
    told = model.cautions()
    walks = told[told["code"].isin(["walk-steep", "cross-slope"])]
    assert walks["layer"].tolist() == ["field_path"]
    assert not (model.findings["layer"] == "brow_paths").any()
    chosen, faces = faces_of(model, "brow_paths")
    up = normals(faces)[chosen]
    tops = up[up[:, 2] > 0.5]
    assert (np.hypot(*tops[:, :2].T) / tops[:, 2]).max() < 1 / 20
    for line in read("brow_paths.shp").geometry:
        xyz = np.array(line.coords)
        ends = shapely.get_coordinates(
            model.gathered.plane.to_plane(np.array([shapely.force_2d(line)]), "EPSG:27700")
        )[[0, -1]]
        near = [np.hypot(*(faces.xyz[:, :2] - end).T) < 0.61 for end in ends]
        own = np.isin(faces.vertex_face, chosen[up[:, 2] > 0.5])
        assert [faces.xyz[own & here, 2].tolist() for here in near] == [
            pytest.approx([z] * int((own & here).sum()), abs=2e-3)
            for z, here in zip(xyz[[0, -1], 2], near, strict=True)
        ]


def test_field_path_falls_along_and_is_level_across(model):
    (line,) = read("field_path.shp").geometry
    ends = np.array(line.coords)
    run = np.hypot(*(ends[1] - ends[0])[:2])
    chosen, faces = faces_of(model, "field_path")
    up = normals(faces)[chosen]
    (top,) = up[up[:, 2] > 0.5]
    gradient = -top[:2] / top[2]
    assert np.hypot(*gradient) == pytest.approx((ends[1] - ends[0])[2] / run, rel=1e-3)  # the grid's scale
    assert "cross-slope" not in model.cautions().query("layer == 'field_path'")["code"].tolist()


def test_south_wall_steps_with_the_terraces(rows):
    """Half a metre high, on the garden at 13.20 and on the grove terrace at 14.40."""
    walls = rows[(rows["layer"] == "free_walls") & (rows["id"] == "F03")]
    assert sorted(walls["base"]) == pytest.approx([13.2, 14.4])
    assert (walls["top"] - walls["base"]).to_numpy() == pytest.approx(0.5)


def test_flights_and_ramps(model):
    walks, features = model.stack.walks, model.stack.features
    names = np.array([key.name for key in features.layers], dtype=object)[features.layer]
    flights = walks.flights
    assert flights.riser.max() <= 0.1501
    assert flights.riser.min() >= 0.149
    # 1 in 12 at most: 2010 ADA Standards 405.2
    assert walks.ramps.slope.max() <= 1 / 12
    rests = walks.floor.tracks
    turning = [k for k, row in enumerate(walks.feature) if names[row] in ("switchback", "brow_steps")]
    landings = {names[walks.feature[k]]: int(rests.rests[rests.track == k].sum()) for k in turning}
    assert landings["switchback"] >= 2
    assert landings["brow_steps"] >= 1
    assert len(flights.cheek_of) == 6  # both flanks of three flights


def test_forms_of_trees_and_planters(model):
    features = model.stack.features
    forms = set(features.shape[features.of_role("form") == "tree"])
    assert {"round", "conical", "columnar", "spreading"} <= forms
    planter = features.of_role("form") == "planter"
    assert (features.rim[planter] > 0).all()
    assert (features.drop[planter] >= 0.09).all()


def test_nothing_is_wrong_with_it(model):
    findings = model.findings
    assert not (findings["severity"] == "error").any()
    warned = findings[findings["severity"] == "warning"]
    assert set(warned["code"]) == {"datum-shift", "drop-unguarded"}
    drops = warned[warned["code"] == "drop-unguarded"]  # beside its steps and ramps; the cautions mark where
    cautions = model.cautions().query("code == 'drop'")
    assert set(drops["source_id"]) == set(cautions["source_id"])
