"""Planting as drawn: foliage, branches, fronds, translucent crowns, symbols on the plan."""

import courtyard
import numpy as np
import pytest
import shapely

from siteaxo.craft.branches import branching, palm_fronds
from siteaxo.craft.crowns import plants_of, seen_of, without_crowns
from siteaxo.craft.foliage import foliage
from siteaxo.craft.style import Style
from siteaxo.craft.symbols import SYMBOLS, hedge_symbol, plan_symbol
from siteaxo.craft.trees import planting_rows
from siteaxo.errors import SheetError
from siteaxo.solids.faces import PART_CODE
from siteaxo.view.projection import planometric, trimetric
from siteaxo.view.resolve import resolve

VIEW = planometric(turn=35)
LIGHT = Style().light.toward(VIEW.matrix)


def tree(name, x, y, **fields):
    size = {"height": 6.0, "diameter": 4.0, "clear_stem": 1.6} | fields
    return courtyard.layer(name, "tree", courtyard.here(shapely.Point(x, y)), base="below", **size)


def garden(*layers):
    yard = courtyard.layer("yard", "terrace", courtyard.box(-10, 30, -10, 20), base=0.0, top=1.0)
    site = courtyard.siteaxo.Site(layers=[yard, *layers], plane_crs=courtyard.CRS, base_line=90.0)
    return site.stack()


@pytest.fixture(scope="module")
def model():
    hedge = courtyard.layer(
        "hedge",
        "hedge",
        courtyard.here(shapely.LineString([(0, -6), (12, -6)])),
        base="below",
        height=1.2,
        width=0.8,
    )
    wall = courtyard.layer("wall", "wall", courtyard.box(5, 15, -2.6, -2.2), base="below", height=5.5)
    return garden(
        tree("oak", 0, 0),
        tree("pine", 10, 0, shape="conical"),
        tree("poplar", 16, 4, shape="columnar", diameter=2.0, height=8.0),
        tree("box", 20, 4, height=1.2, diameter=1.4, clear_stem=0.1),
        hedge,
        wall,
    )


@pytest.fixture(scope="module")
def drawing(model):
    return resolve(model.stack.scene, VIEW, origin=model.origin)


def strokes_of(model, **options):
    plants = plants_of(model.stack)
    asked = {"origin": model.origin, "towards_light": LIGHT, "scale": 200.0} | options
    return plants, foliage(plants, model.stack.scene, VIEW, **asked)


def test_kinds_of_plants(model):
    plants = plants_of(model.stack)
    layers = [key.name for key in model.stack.features.layers]
    named = {
        layers[model.stack.features.layer[f]]: k for f, k in zip(plants.feature, plants.kind, strict=True)
    }
    assert named == {
        "oak": "deciduous",
        "pine": "conifer",
        "poplar": "columnar",
        "box": "shrub",
        "hedge": "hedge",
    }


def test_what_is_seen_of_a_plant_is_the_union_of_its_faces(model, drawing):
    plants = plants_of(model.stack)
    seen = seen_of(plants, model.stack.scene, drawing)
    solid = model.stack.scene.faces.solid[drawing.face]
    for number, shape in zip(plants.solid, seen, strict=True):
        parts = drawing.visible.polygon[solid == number]
        assert shape.area == pytest.approx(shapely.area(parts).sum(), abs=1e-5)
    pine = np.flatnonzero(plants.kind == "conifer")[0]
    whole = drawing.page.polygon[drawing.page.faces.solid == plants.solid[pine]]
    whole_area = shapely.union_all(whole, grid_size=2.0**-24).area
    assert 0 < seen[pine].area < 0.8 * whole_area  # the wall stands before it


def test_strokes_lie_on_their_plants(model):
    plants, strokes = strokes_of(model)
    assert set(strokes.plant) == set(range(len(plants)))
    page = resolve(model.stack.scene, VIEW, origin=model.origin).page
    for row, solid in enumerate(plants.solid):
        outline = shapely.union_all(page.polygon[page.faces.solid == solid], grid_size=2.0**-24)
        own = strokes.line[strokes.plant == row]
        inside = shapely.length(shapely.intersection(own, outline)).sum() / shapely.length(own).sum()
        assert inside > 0.9


def test_most_foliage_is_where_the_light_does_not_reach(model):
    # Light from the upper left: the lower right half of a crown has more strokes.
    plants, strokes = strokes_of(model)
    row = int(np.flatnonzero(plants.kind == "deciduous")[0])
    middle = shapely.get_coordinates(shapely.centroid(strokes.line[strokes.plant == row]))
    page = resolve(model.stack.scene, VIEW, origin=model.origin).page
    crown = shapely.union_all(page.polygon[page.faces.solid == plants.solid[row]])
    centre = np.array(crown.centroid.coords[0])
    away = (middle - centre) @ np.array([1.0, -1.0])
    assert (away > 0).sum() > 1.4 * (away < 0).sum()


def test_strokes_keep_their_distance_on_paper(model):
    fine, coarse = (strokes_of(model, scale=s)[1] for s in (100.0, 1000.0))
    assert len(coarse.line) < 0.5 * len(fine.line)
    for strokes in (fine, coarse):
        assert shapely.is_valid(strokes.line).all()


def test_a_tree_keeps_its_foliage_whatever_stands_beside_it(model):
    _, with_others = strokes_of(model)
    alone = garden(tree("oak", 0, 0))
    _, strokes = strokes_of(alone, origin=model.origin)
    plants = plants_of(model.stack)
    row = int(np.flatnonzero(plants.kind == "deciduous")[0])
    mine = with_others.line[with_others.plant == row]
    assert shapely.equals_exact(mine, strokes.line, tolerance=1e-6).all()


def test_other_seeds_and_other_ids_draw_other_strokes(model):
    one, other = (strokes_of(model, seed=s)[1] for s in (0, 1))
    assert shapely.length(one.line).sum() != shapely.length(other.line).sum()


@pytest.mark.parametrize("detail", ["texture", "translucent"])
def test_rows_are_cut_by_what_is_seen(model, drawing, detail):
    rows = planting_rows(
        model.stack, drawing, VIEW, origin=model.origin, style=Style(), scale=200, detail=detail
    )
    plants = plants_of(model.stack)
    seen = shapely.union_all(seen_of(plants, model.stack.scene, drawing))
    kinds = rows.columns["kind"]
    for kind in set(kinds) - {"outline"}:
        shapes = rows.geometry[kinds == kind]
        assert shapely.distance(shapely.buffer(seen, 1e-6), shapes).max() == 0
        beyond = shapely.difference(shapes, shapely.buffer(seen, 1e-6))
        assert (shapely.length(beyond) < 1e-5).all()
    expected = {
        "texture": {"foliage", "shade"},
        "translucent": {"foliage", "branch", "crown", "outline"},
    }
    assert expected[detail] == set(kinds)
    areas = np.isin(kinds, ["crown", "shade"])
    assert (rows.columns["draw_order"][kinds == "shade"] < 0).all()  # under the lines
    assert (rows.columns["line_mm"][~areas] > 0).all()
    assert (rows.columns["fill"][areas] != "").all()
    if detail == "translucent":
        assert (rows.columns["opacity"][areas] == 0.5).all()
        hedges = rows.columns["role"] == "hedge"
        assert set(kinds[hedges]) == {"foliage"}


def test_translucent_crowns_cover_what_is_seen_of_them(model, drawing):
    rows = planting_rows(
        model.stack, drawing, VIEW, origin=model.origin, style=Style(), scale=200, detail="translucent"
    )
    plants = plants_of(model.stack)
    seen = seen_of(plants, model.stack.scene, drawing)[plants.kind != "hedge"]
    crowns = rows.geometry[rows.columns["kind"] == "crown"]
    assert shapely.area(crowns).sum() == pytest.approx(shapely.area(seen).sum())


def test_outline_adds_nothing(model, drawing):
    rows = planting_rows(
        model.stack, drawing, VIEW, origin=model.origin, style=Style(), scale=200, detail="outline"
    )
    assert len(rows) == 0


def test_unknown_detail(model, drawing):
    with pytest.raises(SheetError, match="texture"):
        planting_rows(
            model.stack, drawing, VIEW, origin=model.origin, style=Style(), scale=200, detail="textured"
        )


def test_winter(model):
    scene = model.stack.scene
    bare, face, edge = without_crowns(scene)
    assert not (bare.faces.part == PART_CODE["crown"]).any()
    assert len(bare.faces) == (scene.faces.part != PART_CODE["crown"]).sum()
    assert np.array_equal(bare.faces.solid, scene.faces.solid[face])
    assert np.array_equal(bare.edges.start, scene.edges.start[edge])
    members = scene.edges.face[np.isin(scene.edges.member_edge, edge)]
    assert np.array_equal(face[bare.edges.face], members)
    seen = resolve(bare, VIEW, origin=model.origin).visible.polygon
    assert shapely.area(seen).sum() > 0


def test_branches_stay_in_the_crown(model):
    plants, features = plants_of(model.stack), model.stack.features
    stems = shapely.get_coordinates(shapely.centroid(features.geometry[plants.feature]))
    sprays = branching(plants, features, stems)
    row = plants.feature[sprays.plant]
    reach = np.hypot(*(sprays.xyz[..., :2] - stems[sprays.plant][:, None]).transpose(2, 0, 1))
    assert (reach <= features.diameter[row][:, None] / 2).all()
    foot, tip = features.base[row] + features.clear_stem[row], features.top[row]
    assert (sprays.xyz[..., 2] <= tip[:, None]).all()
    assert (sprays.xyz[..., 2] >= foot[:, None] - 0.12 * features.diameter[row][:, None]).all()
    assert "hedge" not in set(plants.kind[sprays.plant])


def test_fronds_arch_and_droop(model):
    plants = plants_of(model.stack)
    palm = plants.take(np.flatnonzero(plants.kind == "deciduous"))
    palm = type(palm)(
        solid=palm.solid, feature=palm.feature, kind=np.array(["palm"], dtype=object), name=palm.name
    )
    features = model.stack.features
    stems = shapely.get_coordinates(shapely.centroid(features.geometry[palm.feature]))
    ribs, leaflets = palm_fronds(palm, features, stems)
    height = ribs.xyz[..., 2]
    assert (height.argmax(axis=1) > 0).all()  # up first
    assert (height[:, -1] < height.max(axis=1)).all()  # then down
    assert (np.hypot(*(ribs.xyz[..., :2] - stems[0]).transpose(2, 0, 1)) <= 2.0).all()
    on_rib = shapely.distance(
        shapely.multilinestrings(list(ribs.xyz[..., :2])), shapely.points(leaflets.xyz[:, 0, :2])
    )
    assert on_rib.max() < 1e-9


@pytest.mark.parametrize("kind", SYMBOLS)
@pytest.mark.parametrize("radius", [0.4, 1.7, 5.0])
def test_symbols_stay_within_the_crown(kind, radius):
    lines = plan_symbol(kind, radius, "a", 1)
    assert max(np.hypot(*line.T).max() for line in lines) <= radius * (1 + 1e-9)
    outline = shapely.Polygon(lines[0])
    assert lines[0][0] == pytest.approx(lines[0][-1], abs=1e-9)
    assert outline.is_valid
    assert outline.area > 0.4 * np.pi * radius**2
    assert outline.contains(shapely.Point(0, 0))
    again = plan_symbol(kind, radius, "a", 1)
    assert all(np.array_equal(one, other) for one, other in zip(lines, again, strict=True))
    assert len(plan_symbol(kind, radius, "a", 1, detail="outline")) == 1


@pytest.mark.parametrize("kind", ["deciduous", "conifer", "palm"])
def test_symbols_differ_from_plant_to_plant(kind):
    one, other = (plan_symbol(kind, 2.0, "seed", name)[0] for name in ("t1", "t2"))
    assert not np.allclose(one, other)


@pytest.mark.parametrize(
    "footprint",
    [
        shapely.box(0, 0, 6, 0.8),
        shapely.LineString([(0, 0), (4, 1), (5, 4)]).buffer(0.4, cap_style="flat", join_style="mitre"),
        shapely.Point(0, 0).buffer(3).difference(shapely.Point(0, 0).buffer(2.2)),
    ],
    ids=["straight", "bent", "ring"],
)
def test_hedges_on_plan(footprint):
    lines = hedge_symbol(footprint, 1, "h")
    assert len(lines) == 1 + len(footprint.interiors)
    for line in lines:
        assert shapely.LineString(line).length > 0
        assert shapely.difference(shapely.LineString(line), shapely.buffer(footprint, 0.02)).length < 0.02


@pytest.mark.parametrize("view", [planometric(20, 0.0), trimetric(20, 90)], ids=["planometric", "trimetric"])
def test_plan_views_have_symbols(model, view):
    drawing = resolve(model.stack.scene, view, origin=model.origin)
    rows = planting_rows(model.stack, drawing, view, origin=model.origin, style=Style(), scale=200)
    assert set(rows.columns["kind"]) == {"symbol", "shade"}
    plants = plants_of(model.stack)
    assert set(rows.columns["source_id"]) == set(model.stack.features.source_id[plants.feature])
    seen = shapely.union_all(seen_of(plants, model.stack.scene, drawing))
    assert shapely.length(shapely.difference(rows.geometry, shapely.buffer(seen, 1e-6))).max() < 1e-5
