"""
The hand-worked visibility scenes, from a site file on disk to the diagram GeoPackage.

Areas are worked out by hand for view P (no turn, heights at full scale: a point lands at
x, y + z) and view H (plan turned 45 degrees, heights at √½, which is the view x + z/2,
y + z/2 after the sheet is turned), and were confirmed by an independent depth buffer.
"""

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely

import siteaxo

CRS = "EPSG:25832"
SHIFT = (500_000.0, 5_700_000.0)
TOPS = ("top", "floor")


def box(x, y):
    return shapely.box(x[0] + SHIFT[0], y[0] + SHIFT[1], x[1] + SHIFT[0], y[1] + SHIFT[1])


def draw(folder, layers, *, turn=0.0, factor=1.0, kind="planometric"):
    """Write layers and a site file, draw, and read back the faces: area by (layer, part)."""
    text = [f'name = "Case"\n[plane]\ncrs = "{CRS}"\nbase_line = 90\n']
    for name, role, features in layers:
        frame = gpd.GeoDataFrame(
            {"b": [float(z[0]) for _, z in features], "t": [float(z[1]) for _, z in features]},
            geometry=[shape for shape, _ in features],
            crs=CRS,
        )
        frame.to_file(folder / f"{name}.gpkg")
        text.append(f'[[layer]]\nname = "{name}"\nsource = "{name}.gpkg"\nrole = "{role}"')
        text.append('base = "b"\ntop = "t"\n')
    text.append(f'[view]\nkind = "{kind}"\n')
    if kind == "planometric":
        text.append(f"turn = {turn}\nheight_factor = {factor!r}\n")
    (folder / "site.toml").write_text("\n".join(text), encoding="utf-8")
    siteaxo.read_site(folder / "site.toml").stack().draw().to_gpkg(folder / "diagram.gpkg")
    faces = gpd.read_file(folder / "diagram.gpkg", layer="faces")
    return faces.assign(area=faces.geometry.area)


def area(faces, layer, *parts, source_id=None):
    rows = (faces["layer"] == layer) & faces["part"].isin(parts)
    if source_id is not None:
        rows &= faces["source_id"] == str(source_id)
    return faces.loc[rows, "area"].sum()


def test_box(tmp_path):
    faces = draw(tmp_path, [("box", "structure", [(box((0, 4), (0, 2)), (0, 3))])])
    assert area(faces, "box", "top") == pytest.approx(8, abs=1e-6)
    assert area(faces, "box", "side") == pytest.approx(12, abs=1e-6)


@pytest.mark.parametrize(
    ("turn", "factor", "total"),
    # Box 4 × 3 × 2: top 12; the two walls seen cast h·k·(w·cos + d·sin).
    [(45, 1.0, 21.899495), (45, 2 / 3, 18.599663), (30, 1.0, 21.928203)],
)
def test_turned_box(tmp_path, turn, factor, total):
    scene = [("box", "structure", [(box((0, 4), (0, 3)), (0, 2))])]
    faces = draw(tmp_path, scene, turn=turn, factor=factor)
    assert faces["area"].sum() == pytest.approx(total, abs=1e-6)


def test_isometric_box(tmp_path):
    faces = draw(tmp_path, [("box", "structure", [(box((0, 4), (0, 3)), (0, 2))])], kind="isometric")
    assert faces["area"].sum() == pytest.approx(1.5 * 26 / math.sqrt(3), abs=1e-6)


def test_terraces(tmp_path):
    steps = [(box((0, 6), (2 * k, 2 * k + 2)), (0, k + 1)) for k in range(3)]
    faces = draw(tmp_path, [("terraces", "terrace", steps)])
    for row in faces["source_id"].unique():
        assert area(faces, "terraces", "top", source_id=row) == pytest.approx(12, abs=1e-6)
        assert area(faces, "terraces", "side", source_id=row) == pytest.approx(6, abs=1e-6)
    assert faces["area"].sum() == pytest.approx(54, abs=1e-6)


def test_deck_with_planter(tmp_path):
    scene = [
        ("deck", "deck", [(box((0, 8), (0, 6)), (0, 1))]),
        ("planter", "planter", [(box((2, 4), (2, 3)), (1, 3))]),
    ]
    faces = draw(tmp_path, scene, turn=45, factor=math.sqrt(0.5))
    assert area(faces, "deck", "top") == pytest.approx(43, abs=1e-6)
    assert area(faces, "deck", "side") == pytest.approx(4 + 3, abs=1e-6)
    assert area(faces, "planter", "top") == pytest.approx(2, abs=1e-6)
    assert area(faces, "planter", "side") == pytest.approx(2 + 1, abs=1e-6)


@pytest.mark.parametrize(
    ("depth", "floor", "wall"),
    [(2, 8, 8), (4, 0, 16), (5, 0, 16)],
)
def test_sunken_court(tmp_path, depth, floor, wall):
    scene = [
        ("ground", "ground", [(box((0, 10), (0, 10)), (-depth, 0))]),
        ("court", "terrace", [(box((3, 7), (3, 7)), (-depth, -depth))]),
    ]
    faces = draw(tmp_path, scene)
    assert area(faces, "ground", "top") == pytest.approx(84, abs=1e-6)
    assert area(faces, "court", *TOPS) == pytest.approx(floor, abs=1e-6)
    # The ground's own south face, 10 wide, is seen whole; the rest is the court's north wall.
    assert area(faces, "ground", "side") == pytest.approx(10 * depth + wall, abs=1e-6)


@pytest.mark.parametrize(("height", "top", "wall"), [(3, 0, 0), (3.5, 1, 0), (4, 2, 0), (4.5, 2, 1)])
def test_low_wall_behind_a_high_one(tmp_path, height, top, wall):
    scene = [
        ("front", "structure", [(box((0, 4), (0, 1)), (0, 5))]),
        ("back", "structure", [(box((1, 3), (2, 3)), (0, height))]),
    ]
    faces = draw(tmp_path, scene)
    assert area(faces, "back", "top") == pytest.approx(top, abs=1e-6)
    assert area(faces, "back", "side") == pytest.approx(wall, abs=1e-6)


def test_canopy(tmp_path):
    scene = [
        ("ground", "ground", [(box((0, 12), (0, 10)), (0, 0))]),
        ("canopy", "canopy", [(box((2, 8), (2, 6)), (3, 3.5))]),
    ]
    faces = draw(tmp_path, scene)
    assert area(faces, "ground", *TOPS) == pytest.approx(93, abs=1e-6)
    assert area(faces, "canopy", "top") == pytest.approx(24, abs=1e-6)
    assert area(faces, "canopy", "side") == pytest.approx(3, abs=1e-6)
    beneath = shapely.box(2, 2, 8, 6)
    ground = faces.loc[faces["layer"] == "ground"].union_all()
    middle = np.rint(np.add((6, 5), SHIFT)) - SHIFT  # page coordinates count from the site's middle
    moved = shapely.transform(ground, lambda xy: xy + middle)
    assert moved.intersection(beneath).area == pytest.approx(18, abs=1e-6)


def test_cubes_behind_one_another(tmp_path):
    # The line of sight runs along (1, 1, -1) in plan and level when the plan is turned 45 degrees.
    scene = [
        ("front", "structure", [(box((0, 1), (0, 1)), (1, 2))]),
        ("rear", "structure", [(box((1, 2), (1, 2)), (0, 1))]),
    ]
    faces = draw(tmp_path, scene, kind="isometric")
    assert area(faces, "rear", "top", "side") == pytest.approx(0, abs=1e-6)
    fronts = faces.loc[faces["layer"] == "front", "area"].to_numpy()
    assert fronts == pytest.approx(np.full(3, 1.5 / math.sqrt(3)), abs=1e-6)


def test_map_frame_keeps_what_lies_in_place(tmp_path):
    scene = [
        ("slab", "ground", [(box((0, 12), (0, 10)), (0, 0))]),
        ("block", "structure", [(box((2, 5), (3, 7)), (0, 4))]),
    ]
    draw(tmp_path, scene, turn=60)
    site = siteaxo.read_site(tmp_path / "site.toml")
    site.stack().draw().to_gpkg(tmp_path / "map.gpkg", frame="map")
    plan = gpd.read_file(tmp_path / "map.gpkg", layer="plan")
    assert plan.crs.equals(CRS)
    source = gpd.read_file(tmp_path / "slab.gpkg")
    found = plan.loc[plan["layer"] == "slab"].geometry.iloc[0]
    assert shapely.hausdorff_distance(found, source.geometry.iloc[0]) < 1e-3
    faces = gpd.read_file(tmp_path / "map.gpkg", layer="faces")
    slab = faces.loc[faces["layer"] == "slab"].geometry.iloc[0]
    corner = shapely.Point(SHIFT)
    assert slab.distance(corner) < 1e-3
    # Heights lean along one bearing: the block's top is its footprint moved 4 m toward it.
    top = faces.loc[(faces["layer"] == "block") & (faces["part"] == "top")].geometry.iloc[0]
    lean = np.array([math.sin(math.radians(60)), math.cos(math.radians(60))]) * 4
    wanted = shapely.transform(box((2, 5), (3, 7)), lambda xy: xy + lean)
    assert shapely.hausdorff_distance(top, wanted) < 1e-3


def test_source_ids_join_back(tmp_path):
    scene = [("blocks", "structure", [(box((k * 6, k * 6 + 4), (0, 3)), (0, 1 + k)) for k in range(4)])]
    faces = draw(tmp_path, scene, turn=30)
    source = gpd.read_file(tmp_path / "blocks.gpkg", fid_as_index=True)
    tops = faces.loc[faces["part"] == "top"].assign(fid=lambda rows: rows["source_id"].astype(int))
    joined = tops.merge(source[["t"]], left_on="fid", right_index=True)
    assert len(joined) == 4
    assert np.allclose(joined["level_max"], joined["t"])
