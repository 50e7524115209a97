"""Quantities: worked out on paper, read back from written tables, and integrated numerically."""

import math
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from courtyard import court, here, layer
from solidity import stacked

import siteaxo
from siteaxo.craft.finishes import Finish, Laying
from siteaxo.craft.style import Style
from siteaxo.diagram.terraces import terraces_of
from siteaxo.errors import LayerError
from siteaxo.export.tables import write_csv
from siteaxo.measure.grouping import united
from siteaxo.measure.levelling import levelling
from siteaxo.measure.quantities import SUMS, quantities


def slab(x0, x1, y0, y1, base, top, role="structure", **more):
    return {"role": role, "geometry": shapely.box(x0, y0, x1, y1), "base": base, "top": top, **more}


def by_role(stack, **options):
    return quantities(stack, by="role", **options).set_index("role")


def test_a_hut_on_a_terrace():
    hut = {"role": "structure", "geometry": shapely.box(1, 1, 5, 4), "height": 2}
    found = by_role(stacked(slab(0, 10, 0, 10, -1, 0, role="terrace"), hut))
    assert found.loc["structure", "plan_area_m2"] == pytest.approx(12)
    assert found.loc["structure", "side_area_m2"] == pytest.approx(28)
    assert found.loc["structure", "side_length_m"] == pytest.approx(14)
    assert found.loc["structure", "edge_m"] == pytest.approx(14)
    assert found.loc["terrace", "open_area_m2"] == pytest.approx(100 - 12)
    assert found.loc["terrace", "side_area_m2"] == pytest.approx(40)


def test_what_is_overhead_is_lifted_off():
    paving = {"role": "paving", "geometry": shapely.box(0, 0, 10, 10)}
    canopy = slab(2, 6, 2, 6, 2.5, 2.7, role="canopy")
    tree = {"role": "tree", "geometry": shapely.Point(8, 8), "height": 5, "diameter": 3}
    found = by_role(stacked(slab(0, 10, 0, 10, -1, 0, role="terrace"), paving, canopy, tree))
    assert found.loc["paving", "open_area_m2"] == pytest.approx(100)
    assert found.loc["terrace", "open_area_m2"] == pytest.approx(0, abs=1e-9)


def test_true_area_of_a_slope():
    # A ramp of 1 in 12 over 12 m, 2 m wide: its surface is 2 × √(12² + 1²).
    ground = slab(-5, 20, -5, 5, -1, 0, role="terrace")
    high = slab(12, 20, -5, 5, -1, 1, role="terrace", id="high")
    line = shapely.LineString([(0, 0), (12, 0)])
    ramp = {"role": "ramp", "geometry": line, "width": 2.0, "base": 0, "top": 1}
    found = by_role(stacked(ground, high, ramp))
    assert found.loc["ramp", "plan_area_m2"] == pytest.approx(24)
    assert found.loc["ramp", "true_area_m2"] == pytest.approx(2 * math.hypot(12, 1))
    assert found.loc["ramp", "side_area_m2"] == pytest.approx(12)  # two flanks of 12 × 1 / 2


def test_steps_are_counted():
    # 1.2 m in risers of 0.15 m: eight, the last one onto the upper terrace, and seven treads.
    low, high = slab(0, 10, -5, 0, -1, 0, role="terrace"), slab(0, 10, 3, 9, -1, 1.2, role="terrace")
    flight = {"role": "steps", "geometry": shapely.box(2, 0, 4, 3), "base": 0.0, "top": 1.2, "riser": 0.15}
    found = by_role(stacked(low, {**high, "id": "high"}, flight))
    row = found.loc["steps"]
    assert (row["flights"], row["risers"], row["treads"]) == (1, 8, 7)


def test_units_to_the_square_metre():
    # Masonry, April 1995, Table 1: nominal 4 × 8 in pavers are 4.5 to the square foot, 48.44 to the m².
    inch = 0.0254
    laying = Laying(pattern="running bond", length=8 * inch, width=4 * inch)
    style = replace(Style(), finishes={"paver": Finish(flat=laying)})
    paving = {"role": "paving", "geometry": shapely.box(0, 0, 10, 5), "material": "paver"}
    planter = {"role": "planter", "geometry": shapely.box(1, 1, 3, 2), "height": 0.5}
    found = by_role(stacked(slab(0, 10, 0, 5, -1, 0, role="terrace"), paving, planter), style=style)
    assert found.loc["paving", "paving_units"] == pytest.approx(48 * 48.44, rel=1e-4)
    assert 4.5 / (12 * inch) ** 2 == pytest.approx(48.44, abs=0.005)


def test_whole_and_cut_units_by_hand():
    # Slabs of 0.5 × 0.5 m on 4.2 × 3 m: 8 whole columns of 6, and one that is cut, 6 of it.
    # A planter from (1.1, 1.1) to (1.9, 1.9) takes away the 2 × 2 slabs it lies on, each in part:
    # of columns and rows 2 and 3 (1.0 to 2.0) every slab is touched and none is left whole.
    style = replace(
        Style(), finishes={"slab": Finish(flat=Laying(pattern="stack bond", length=0.5, width=0.5))}
    )
    paving = {"role": "paving", "geometry": shapely.box(0, 0, 4.2, 3), "material": "slab"}
    planter = {"role": "planter", "geometry": shapely.box(1.1, 1.1, 1.9, 1.9), "height": 0.5}
    pool = {"role": "structure", "geometry": shapely.box(2.5, 0, 3.5, 1), "height": 1, "id": "hut"}
    stack = stacked(slab(0, 10, 0, 5, -1, 0, role="terrace"), paving, planter, pool)
    found = quantities(stack, by="material", style=style).set_index("material").loc["slab"]
    assert (found["whole_units"], found["cut_units"]) == (8 * 6 - 4 - 4, 6 + 4)
    assert found["paving_units"] == pytest.approx((4.2 * 3 - 0.64 - 1) / 0.25)
    turned = quantities(stack, by="feature", style=style, base_line=90.0).set_index("role").loc["paving"]
    # Laid from (4.2, 0), the lower left corner in axes turned by a quarter: the planter cuts 3 × 2
    # slabs; of the 3 × 2 that the hut stands on two are gone and four cut; six are cut at the west.
    assert (turned["whole_units"], turned["cut_units"]) == (48 - 6 - 6, 6 + 6 + 4)


def test_crowns_that_overlap_are_counted_once():
    # Two circles of radius 2 whose middles are 2 apart share r²·(2π/3 − √3/2).
    places = [(0, 0), (2, 0), (20, 0)]
    trees = [
        {"role": "tree", "geometry": shapely.Point(*xy), "height": 6, "diameter": 4, "id": str(k)}
        for k, xy in enumerate(places)
    ]
    found = by_role(stacked(slab(-5, 25, -5, 5, -1, 0, role="terrace"), *trees))
    lens = 4 * (2 * math.pi / 3 - math.sqrt(3) / 2)
    assert found.loc["tree", "trees"] == 3
    assert found.loc["tree", "crown_cover_m2"] == pytest.approx(12 * math.pi - lens, rel=0.007)  # polygons
    assert found.loc["tree", "plan_area_m2"] == pytest.approx(12 * math.pi, rel=0.007)


def test_cut_and_fill_in_level_ground():
    ground = slab(0, 30, 0, 30, -5, 0, role="ground")
    raised, sunk = slab(1, 11, 1, 11, -5, 1, role="terrace"), slab(20, 25, 20, 25, -5, -2, role="terrace")
    stack = stacked(ground, raised, {**sunk, "id": "sunk"})
    work = levelling(stack)
    assert np.nan_to_num(work.fill).tolist() == pytest.approx([0, 100, 0])
    assert np.nan_to_num(work.cut).tolist() == pytest.approx([0, 0, 50])
    found = by_role(stack)
    assert (found.loc["terrace", "cut_m3"], found.loc["terrace", "fill_m3"]) == pytest.approx((50, 100))
    assert math.isnan(found.loc["ground", "cut_m3"])


def test_terraces_over_one_another_are_not_counted_twice():
    ground = slab(0, 30, 0, 30, -5, 0, role="ground")
    low, high = slab(0, 10, 0, 10, -5, 1, role="terrace"), slab(0, 5, 0, 10, -5, 2, role="terrace", id="h")
    work = levelling(stacked(ground, low, high))
    assert work.fill[1:].tolist() == pytest.approx([50, 100])


def test_cut_and_fill_in_sloping_ground_by_integration():
    # z = 0.1 x + 0.05 y, a terrace at 0.9 m: the integrals of the difference, by SciPy.
    integrate = pytest.importorskip("scipy.integrate")
    spots = [
        {"role": "spot level", "geometry": shapely.Point(x, y), "top": 0.1 * x + 0.05 * y, "base": 0}
        for x in (0, 10, 20)
        for y in (0, 10, 20)
    ]
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 20, 20)}
    terrace = slab(3, 13, 4, 12, -2, 0.9, role="terrace")
    stack = stacked(*spots, ground, terrace)
    work = levelling(stack)
    row = int(np.flatnonzero(stack.features.of_role("name") == "terrace")[0])

    def level(x):  # y at which the ground has the terrace's level
        return np.clip(18 - 2 * x, 4, 12)

    def depth(y, x):
        return abs(0.1 * x + 0.05 * y - 0.9)

    above = integrate.dblquad(depth, 3, 13, level, lambda x: 12, epsabs=1e-6)[0]
    below = integrate.dblquad(depth, 3, 13, lambda x: 4, level, epsabs=1e-6)[0]
    assert work.cut[row] == pytest.approx(above, abs=1e-6)
    assert work.fill[row] == pytest.approx(below, abs=1e-6)
    assert work.cut[row] - work.fill[row] == pytest.approx(80 * (0.1 * 8 + 0.05 * 8 - 0.9))


def test_pieces_of_ground_of_one_layer_are_one_row():
    pieces = [slab(k, k + 1, 0, 1, -1, 0, role="ground", id=f"g{k}") for k in (0, 3, 6)]
    found = quantities(stacked(*pieces, slab(10, 12, 0, 2, -1, 0, role="terrace")), by="terrace")
    assert found["features"].tolist() == [3, 1]
    assert found["plan_area_m2"].tolist() == pytest.approx([3, 4])


def test_what_belongs_to_a_terrace():
    low, high = slab(0, 10, 0, 5, -1, 0, role="terrace", id="low"), slab(0, 10, 5, 9, -1, 1, role="terrace")
    table = {"role": "deck", "geometry": shapely.box(1, 6, 4, 8), "height": 0.4}
    pot = {"role": "planter", "geometry": shapely.box(2, 6.5, 3, 7.5), "height": 0.4}
    stated = slab(8, 9, 1, 2, 0, 1)
    astray = slab(50, 51, 1, 2, 0, 1, id="astray")
    stack = stacked(low, {**high, "id": "high"}, table, pot, stated, astray)
    names = [stack.features.source_id[k] if k >= 0 else None for k in terraces_of(stack, nearest=False)]
    assert names == ["low", "high", "high", "high", "low", None]
    found = quantities(stack, by="terrace").set_index("terrace")
    assert found["features"].to_dict() == {"terrace low": 2, "terrace high": 3, "": 1}
    assert found["plan_area_m2"].to_dict() == pytest.approx({"terrace low": 50, "terrace high": 40, "": 0})


def test_ground_goes_on_under_terraces():
    spots = [
        {"role": "spot level", "geometry": shapely.Point(x, y), "top": 0.1 * x, "base": 0}
        for x in (0, 20)
        for y in (0, 20)
    ]
    ground = {"role": "ground", "geometry": shapely.box(0, 0, 20, 20)}
    terrace = slab(3, 13, 4, 12, -2, 0.9, role="terrace", id="t")
    on_it = slab(8, 13.5, 5, 6, 0.9, 1.5)  # its end reaches over the edge
    stack = stacked(*spots, ground, terrace, on_it)
    own = np.flatnonzero(stack.features.of_role("name") == "structure")[0]
    assert stack.features.source_id[terraces_of(stack, nearest=False)[own]] == "t"


def test_notes_and_areas_for_people_are_no_quantities():
    note = {"role": "note", "geometry": shapely.Point(1, 1), "id": "here"}
    people = {"role": "people", "geometry": shapely.box(1, 1, 3, 3)}
    stack = stacked(slab(0, 10, 0, 10, -1, 0, role="terrace"), note, people)
    for by in ("role", "material", "terrace", "feature"):
        assert len(quantities(stack, by=by)) == 1


def test_rows_add_up():
    model = court().stack()
    roles, materials, features = (model.quantities(by=by) for by in ("role", "material", "feature"))
    for name in set(SUMS) - {"features", "crown_cover_m2"}:
        whole = features[name].sum()
        assert roles[name].sum() == pytest.approx(whole)
        assert materials[name].sum() == pytest.approx(whole)
    assert roles["features"].sum() == len(features)
    with pytest.raises(LayerError, match=r"kind of quantities 'roles'.*'role'"):
        model.quantities(by="roles")


def test_they_are_what_the_geopackage_says(tmp_path):
    trees = layer("trees", "tree", *here(shapely.points([[3, 18], [5, 18], [12, 3]])), height=6, diameter=4)
    sample = court(extra=[trees]).stack()
    sample.draw(siteaxo.planometric(60), people=False).to_gpkg(tmp_path / "diagram.gpkg")
    plan = gpd.read_file(tmp_path / "diagram.gpkg", layer="plan")
    keys = ["layer", "source_id"]
    own = sample.quantities(by="feature").set_index(keys)
    written = plan.assign(area=plan.area, edge=plan.length).groupby(keys)[["area", "edge"]].sum()
    assert len(own) == len(written)
    for column, name in (("area", "plan_area_m2"), ("edge", "edge_m")):
        there = written[column].reindex(own.index).to_numpy()
        assert np.abs(there / own[name].to_numpy() - 1).max() < 1e-9
    roles = sample.quantities(by="role").set_index("role")
    sums = plan.assign(area=plan.area).groupby("role")["area"].sum()
    assert np.abs(sums / roles.loc[sums.index, "plan_area_m2"] - 1).max() < 1e-9
    crowns = plan[plan["role"] == "tree"].union_all().area
    assert roles.loc["tree", "crown_cover_m2"] == pytest.approx(crowns, rel=1e-9)
    assert roles.loc["tree", "trees"] == (plan["role"] == "tree").sum()


def test_written_and_read_again(tmp_path):
    found = court().stack().quantities(by="feature")
    found.to_file(tmp_path / "q.gpkg")
    again = gpd.read_file(tmp_path / "q.gpkg")
    assert again.crs == found.crs
    assert np.abs(again.area - again["plan_area_m2"]).max() < 1e-9
    assert np.abs(again.length - again["edge_m"]).max() < 1e-9
    write_csv(found.drop(columns="geometry"), tmp_path / "q.csv")
    head, *rows = (tmp_path / "q.csv").read_text(encoding="utf-8").splitlines()
    assert head.startswith("layer,source_id,role,material,terrace,features,plan_area_m2")
    assert len(rows) == len(found)


def test_a_figure_of_them(tmp_path):
    model = court().stack()
    figure = model.quantities_figure(sheet="A4")
    figure.savefig(tmp_path / "q.svg")
    text = (tmp_path / "q.svg").read_text(encoding="utf-8")
    for words in ("plan area", "By material", "By terrace", "464.0", "Check local codes"):
        assert words in text
    with pytest.raises(siteaxo.SiteaxoError, match="rows of quantities do not fit on A4"):
        model.quantities_figure(sheet="A4", by=["feature"] * 9)


def test_a_terrace_that_falls():
    # 10 × 10 m, from 1 m at its east side down to 0 at its west: half a metre of fill on the mean.
    ground = slab(-5, 15, -5, 15, -5, 0, role="ground")
    falls = {**slab(0, 10, 0, 10, -5, 1, role="terrace"), "low": 0.0, "fall_bearing": 270.0}
    stack = stacked(ground, falls)
    work = levelling(stack)
    assert (work.cut[1], work.fill[1]) == (pytest.approx(0, abs=1e-6), pytest.approx(50, rel=1e-6))
    found = by_role(stack)
    assert found.loc["terrace", "true_area_m2"] == pytest.approx(10 * math.hypot(10, 1))


def test_unions_by_group_are_those_of_shapely():
    """Discs at random, some of which meet, and odd ones; shapely unites those of a group all at once."""
    rng = np.random.default_rng(5)
    discs = shapely.buffer(shapely.points(rng.uniform(0, 60, (300, 2))), rng.uniform(0.5, 3, 300))
    shapes = np.array(
        [*discs, None, shapely.Polygon(), shapely.Point(1, 2), shapely.MultiPolygon([*discs[:2]])]
    )
    number = np.r_[rng.integers(0, 5, 300), 1, 6, 7, 8]
    found = united(shapes, number, 9)
    for group, shape in enumerate(found):
        whole = shapely.unary_union(shapes[number == group])
        assert shape.geom_type == whole.geom_type
        assert shapely.symmetric_difference(shape, whole).area < 1e-9
        assert shape.area == pytest.approx(whole.area, rel=1e-12)
    assert found[5].is_empty
    assert found[6].is_empty


def terrace(x0, x1, y0, y1, top, id, base=-1):
    return slab(x0, x1, y0, y1, base, top, role="terrace", id=id)


def test_surfaces_laid_over_one_another_count_once():
    yard = slab(0, 20, 0, 20, -1, 0, role="terrace")
    setts = [
        slab(1, 6, 1, 6, math.nan, math.nan, role="paving"),
        slab(4, 9, 4, 9, math.nan, math.nan, role="paving"),
    ]
    lawn, mat = (
        slab(10, 19, 10, 19, math.nan, 0.1, role="lawn"),
        slab(12, 14, 12, 14, math.nan, 0.2, role="paving"),
    )
    found = by_role(stacked(yard, *setts, lawn, mat))
    # Two squares of 5 m with 2 × 2 m in common, and 2 × 2 m laid on the lawn of 9 × 9 m.
    assert found.loc["paving", ["plan_area_m2", "true_area_m2"]].tolist() == pytest.approx([46 + 4] * 2)
    assert found.loc["lawn", ["plan_area_m2", "open_area_m2"]].tolist() == pytest.approx([81 - 4] * 2)
    assert found.loc["terrace", "plan_area_m2"] == pytest.approx(400)
    doubled = by_role(stacked(yard, setts[0], {**setts[0], "id": "again"}))
    assert doubled.loc["paving", "plan_area_m2"] == pytest.approx(25)


def test_paths_that_cross_on_a_slope_count_once():
    frame = {"crs": "EPSG:25832"}
    corners = [shapely.Point(x, y) for x in (0, 20) for y in (0, 20)]
    levels = gpd.GeoDataFrame({"z": [0.0, 5.0, 0.0, 5.0]}, geometry=corners, **frame)
    lines = [shapely.LineString([(0, 10), (20, 10)]), shapely.LineString([(10, 0), (10, 20)])]
    sources = {
        "ground": {
            "source": gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 20, 20)], **frame),
            "top": "survey",
        },
        "spot level": {"source": levels, "top": "z"},
        "path": {"source": gpd.GeoDataFrame(geometry=lines, **frame), "width": 2},
        "lawn": {"source": gpd.GeoDataFrame(geometry=[shapely.box(2, 2, 18, 18)], **frame)},
    }
    layers = [siteaxo.Layer(name=role, role=role, **own) for role, own in sources.items()]
    found = by_role(siteaxo.Site(layers=layers, plane_crs="EPSG:25832", base_line=90).stack().stack)
    # Two paths of 2 × 20 m; of the lawn, 16 m square, they take a cross of arms 2 m wide.
    assert found.loc["path", "plan_area_m2"] == pytest.approx(2 * 40 - 4)
    assert found.loc["lawn", "plan_area_m2"] == pytest.approx(256 - (2 * 32 - 4))


def test_of_surfaces_at_one_level_the_one_counts_that_is_drawn():
    bed = {"role": "lawn", "geometry": shapely.box(3, 3, 6, 6)}
    setts = {"role": "paving", "geometry": shapely.box(1, 1, 9, 9)}
    found = by_role(stacked(slab(0, 10, 0, 10, -1, 0, role="terrace"), setts, bed))
    assert found["open_area_m2"].reindex(["lawn", "paving"]).tolist() == pytest.approx([0, 64])
    assert found["plan_area_m2"].reindex(["lawn", "paving"]).tolist() == pytest.approx([0, 64])


def test_a_lawn_on_a_roof_covers_none_below_the_house():
    meadow = {"role": "lawn", "geometry": shapely.box(0, 0, 10, 10)}
    house = {"role": "structure", "geometry": shapely.box(2, 2, 6, 6), "height": 3.0}
    roof = slab(3, 5, 3, 5, 3.0, 3.2, role="lawn")
    found = by_role(stacked(slab(0, 10, 0, 10, -1, 0, role="terrace"), meadow, house, roof))
    assert found.loc["lawn", "plan_area_m2"] == pytest.approx(100 + 4)


@pytest.mark.parametrize(
    ("other", "plan"),
    [
        (terrace(0, 10, 0, 5, 0, "b"), (0, 50)),
        (terrace(0, 10, 0, 5, 0, "b", base=-2), (0, 50)),
        (terrace(2, 4, 1, 3, 0, "b", base=-2), (46, 4)),
        (terrace(8, 14, 0, 5, 0, "b"), (40, 30)),
        (terrace(8, 14, 0, 5, 1, "b"), (40, 30)),
        (terrace(8, 14, 0, 5, -0.5, "b"), (50, 20)),
    ],
)
def test_terraces_over_one_another_count_where_they_are_seen(other, plan):
    """Worked by hand: a terrace of 10 × 5 m at 0 m and another one; every place counts once."""
    one = terrace(0, 10, 0, 5, 0, "a")
    stack = stacked(one, other)
    found = quantities(stack, by="terrace").set_index("terrace")
    own = [found.loc[f"terrace {name}", "plan_area_m2"] for name in "ab"]
    assert own == pytest.approx(plan, abs=1e-9)
    whole = shapely.union(one["geometry"], other["geometry"]).area
    for by in ("role", "material", "terrace", "feature"):
        rows = quantities(stack, by=by)
        for name in ("plan_area_m2", "open_area_m2", "true_area_m2"):
            assert rows[name].sum() == pytest.approx(whole), (by, name)
        assert rows.geometry.area.sum() == pytest.approx(whole)


def test_what_reaches_beyond_a_terrace_is_not_open_within_it():
    """
    Worked by hand: a bridge of 12 × 1 m joins two terraces, a metre of it over either.

    One, of 50 m², has a pool of 4 m² in it, so 46 m²; the bridge belongs to the other, so it
    hides a square metre of the first, and adds nothing to what is open of its own.
    """
    bridge = slab(9, 21, 2, 3, -0.2, 0, role="deck")
    pool = slab(2, 4, 1, 3, -0.5, -0.3, role="water")
    far, near = terrace(0, 10, 0, 5, 0, "far"), terrace(20, 30, 0, 5, 0, "near")
    stack = stacked(far, near, bridge, pool)
    found = quantities(stack, by="terrace").set_index("terrace")
    assert found["plan_area_m2"].to_dict() == pytest.approx({"terrace far": 46, "terrace near": 50})
    home = stack.features.source_id[terraces_of(stack)[2]]
    open_ = {f"terrace {name}": size - (name != home) for name, size in (("far", 46), ("near", 50))}
    assert found["open_area_m2"].to_dict() == pytest.approx(open_)


def test_open_is_never_larger_than_plan():
    """Terraces, decks, pools and walls at random; plan areas of terraces against shapely's union of all."""
    rng = np.random.default_rng(11)
    for _ in range(12):
        corner, size = rng.uniform(0, 20, (16, 2)), rng.uniform(1, 9, (16, 2))
        level = rng.choice([0.0, 0.0, 0.6, 1.2, 2.4], 16)
        roles = ["terrace"] * 7 + ["deck"] * 4 + ["water"] * 2 + ["structure"] * 3
        rows = [
            slab(x, x + w, y, y + d, -1.0 if role == "terrace" else z + 0.1, z + 0.3, role=role, id=str(k))
            for k, (role, (x, y), (w, d), z) in enumerate(zip(roles, corner, size, level, strict=True))
        ]
        stack = stacked(*rows)
        found = quantities(stack, by="terrace").set_index("terrace").drop(index="", errors="ignore")
        assert (found["open_area_m2"] <= found["plan_area_m2"] + 1e-9).all()
        settled = stack.features.geometry[stack.features.of_role("name") == "terrace"]
        assert found["plan_area_m2"].sum() == pytest.approx(shapely.union_all(settled).area)
