"""Exploded views: tiers, lifts that hide nothing, lift lines, the plan beneath."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import shapely
from courtyard import CRS, box, court, here, layer
from places import PLACES

import siteaxo
from siteaxo.diagram.clearance import least_shift, outline_of
from siteaxo.diagram.terraces import terraces_of
from siteaxo.diagram.tiers import tiers_by
from siteaxo.errors import FieldError, ViewError

VIEW = siteaxo.planometric(turn=60)


@pytest.fixture(scope="module")
def model():
    return court().stack()


@pytest.fixture(scope="module")
def apart(model):
    return model.exploded_view(VIEW, people=True)


def drawn_alone(model, apart, tier):
    """Faces of one tier, drawn where it is lifted to but without all others."""
    from dataclasses import replace

    from siteaxo.craft.crowns import _some_edges
    from siteaxo.solids.faces import take
    from siteaxo.view.resolve import resolve

    own = apart.faces[apart.faces["tier"] == tier]
    names = set(zip(own["layer"], own["source_id"], strict=True))
    features = model.stack.features
    mine = np.array(
        [
            (features.layers[features.layer[row]].name, features.source_id[row]) in names
            for row in model.stack.solid_feature
        ]
    )
    scene = model.stack.scene
    face = np.flatnonzero(mine[scene.faces.solid])
    edge = np.flatnonzero(mine[scene.edges.solid])
    part = replace(scene, faces=take(scene.faces, face), edges=_some_edges(scene.edges, edge, face))
    drawing = resolve(part, VIEW.after_turning(model.squaring), origin=model.origin)
    return float(shapely.area(drawing.visible.polygon).sum()), float(own.geometry.area.sum())


def test_themes_are_tiers_from_the_ground_up(apart):
    tiers = list(dict.fromkeys(beside.text for beside in apart.beside))
    assert tiers == ["Ground", "Surfaces", "Structures", "People", "Plan"]
    assert set(apart.faces["tier"]) == {"Ground", "Surfaces", "Structures", "Plan"}
    lift = apart.faces[apart.faces["tier"] != "Plan"].groupby("tier")["lift_m"].agg(["min", "max"])
    assert (lift["min"] == lift["max"]).all()
    assert lift.loc["Ground", "max"] == 0 < lift.loc["Surfaces", "max"] < lift.loc["Structures", "max"]
    assert set(apart.extra["people"]["tier"]) == {"People"}


@pytest.mark.parametrize("tier", ["Ground", "Surfaces", "Structures"])
def test_automatic_gaps_hide_nothing(model, apart, tier):
    """What is seen of a tier is what is seen of it when it is drawn by itself."""
    by_itself, in_company = drawn_alone(model, apart, tier)
    assert in_company == pytest.approx(by_itself, abs=1e-6)


@pytest.mark.parametrize("factor", [1.0, 2 / 3])
def test_a_gap_of_depth_by_height_factor_hides_nothing_and_less_hides_something(factor):
    """Two slabs of 4 × 4 m turned by 45 degrees: the depth of the plan on the page is 4 √2 m."""
    site = siteaxo.Site(
        name="slabs",
        layers=[
            layer("low", "ground", box(0, 4, 0, 4), base=0.0, top=1.0),
            layer("high", "deck", box(0, 4, 0, 4), base="below", height=0.5),
        ],
        plane_crs=CRS,
        base_line=90.0,
    )
    view, depth = siteaxo.planometric(turn=45, height_factor=factor), 4 * np.sqrt(2)
    seen = {}
    for part in (1.0, 0.9):
        apart = site.stack().exploded_view(view, by="role", gaps=part * depth / factor, plan=False)
        seen[part] = apart.faces[apart.faces["layer"] == "low"]
    assert seen[1.0]["visible_share"].to_numpy() == pytest.approx(1.0, abs=1e-9)
    # The tips of two squares stood on their corners overlap in a square of diagonal 0.1 depth.
    gone = seen[1.0].geometry.area.sum() - seen[0.9].geometry.area.sum()
    assert gone == pytest.approx((0.1 * depth) ** 2 / 2, rel=1e-6)


def test_least_shift_of_a_turned_rectangle_is_its_longest_column():
    """A 6 × 4 rectangle turned by 30 degrees is cut by upright lines in at most 4 / cos 30 (identity)."""
    shape = shapely.affinity.rotate(shapely.box(0, 0, 6, 4), 30)
    outline = outline_of(np.array([shape]))
    assert least_shift(outline, outline) == pytest.approx(4 / np.cos(np.radians(30)), rel=1e-12)


def test_least_shift_of_concave_outlines():
    """An L lifted off itself: the greatest height of a column of it, and a smaller one off a bar beside."""
    ell = shapely.Polygon([(0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (0, 3)])
    bar = shapely.box(2, 0, 4, 0.5)
    one, other = outline_of(np.array([ell])), outline_of(np.array([bar]))
    assert least_shift(one, one) == pytest.approx(3.0)
    assert least_shift(one, other) == pytest.approx(1.0)
    assert least_shift(other, one) == pytest.approx(0.5)
    assert least_shift(one, outline_of(np.array([shapely.box(9, 0, 10, 1)]))) == -np.inf


def test_levels_in_the_tables_are_those_of_the_site(model, apart):
    drawn = model.draw(VIEW, people=False)
    for name in ("level_min", "level_max"):
        real = drawn.faces.groupby(["layer", "source_id"])[name].max()
        lifted = apart.faces[apart.faces["tier"] != "Plan"].groupby(["layer", "source_id"])[name].max()
        shared = real.index.intersection(lifted.index)
        assert len(shared) > 8
        assert lifted[shared].to_numpy() == pytest.approx(real[shared].to_numpy(), abs=1e-9)
    assert apart.plan["top"].to_numpy() == pytest.approx(drawn.plan["top"].to_numpy())


def test_every_point_is_lifted_straight_up_the_page(model, apart):
    drawn = model.draw(VIEW, people=False)
    deck = lambda frame: frame[(frame["layer"] == "deck") & (frame["part"] == "top")]  # noqa: E731
    before, after = deck(drawn.faces), deck(apart.faces[apart.faces["tier"] != "Plan"])
    step = after.geometry.iloc[0].centroid.y - before.geometry.iloc[0].centroid.y
    assert step == pytest.approx(after["lift_m"].iloc[0], abs=1e-6)
    assert after.geometry.iloc[0].centroid.x == pytest.approx(before.geometry.iloc[0].centroid.x, abs=1e-6)


def test_lift_lines_stand_on_matching_corners_and_are_vertical(apart):
    lines = apart.extra["lift_lines"]
    xy = shapely.get_coordinates(lines.geometry.array).reshape(-1, 2, 2)
    assert np.abs(xy[:, 0, 0] - xy[:, 1, 0]) == pytest.approx(0.0, abs=1e-9)
    assert (xy[:, 1, 1] > xy[:, 0, 1]).all()
    assert set(lines["line_mm"]) == {0.13}
    ground = lines[(lines["tier"] == "Ground") & (lines["foot"] == "Plan")]
    # A 24 × 20 m court turned by 60 degrees: three corners of its plan are farthest left, right, down.
    corners = np.array([[-12, -10], [12, -10], [-12, 10], [12, 10]]) @ VIEW.matrix[:2, :2].T
    x = shapely.get_coordinates(ground.geometry.array)[:, 0]
    assert len(np.unique(x.round(6))) >= 2
    assert np.abs(x[:, None] - corners[:, 0]).min(axis=1) == pytest.approx(0.0, abs=1e-6)


def test_lift_lines_are_hidden_exactly_where_faces_are_in_front(model):
    """Compared with looking along the line of sight at points of the lines, face by face."""
    from siteaxo.craft.apart import pull_apart
    from siteaxo.craft.people import People
    from siteaxo.solids.faces import newell

    view = VIEW.after_turning(model.squaring)
    apart = pull_apart(model.stack, People.nobody(), view, model.origin, by="role", gaps=1.0, plan=True)
    faces = apart.raised.scene.faces
    mean, normal = newell(faces, faces.xyz)
    sight = np.array([*(-view.matrix[1, :2]), 1.0])  # a step toward the viewer: up, and forward in plan
    lean = normal @ sight
    front = np.flatnonzero(lean > 1e-9)
    flat = [faces.xyz[i:j] @ view.matrix[:2].T for i, j in pairwise(faces.ring_start)]
    areas = np.array(
        [shapely.Polygon(r[0], r[1:]) for r in (flat[i:j] for i, j in pairwise(faces.face_start))]
    )
    areas, mean, normal, lean = areas[front], mean[front], normal[front], lean[front]
    checked = 0
    for number in range(len(apart.lines)):
        foot, head = apart.lines.xyz[number]
        mine = apart.seen.edge == number
        for t in np.linspace(0.03, 0.97, 20):
            point = foot + t * (head - foot)
            at = shapely.Point(point @ view.matrix[:2].T)
            step = ((mean - point) * normal).sum(axis=1) / lean
            inside = shapely.contains(areas, at)
            near = shapely.distance(shapely.boundary(areas), at) < 0.02
            if (near & (step > -0.01)).any() or (inside & (np.abs(step) < 0.01)).any():
                continue  # too near to call
            seen = bool(((apart.seen.begin[mine] <= t) & (t <= apart.seen.end[mine])).any())
            assert seen != bool((inside & (step > 0)).any())
            checked += 1
    assert checked > 60
    assert (apart.seen.end - apart.seen.begin).sum() < len(apart.lines)  # something is hidden


def test_the_plan_lies_clear_beneath(apart):
    plan = apart.faces[apart.faces["tier"] == "Plan"]
    rest = apart.faces[apart.faces["tier"] != "Plan"]
    assert plan.geometry.area.sum() == pytest.approx(24 * 20, rel=1e-6)
    assert shapely.union_all(plan.geometry.array).intersection(
        shapely.union_all(rest.geometry.array)
    ).area == pytest.approx(0.0, abs=1e-9)
    assert plan.total_bounds[1] < rest.total_bounds[1]


def test_the_plan_is_cut_where_a_close_tier_hides_it(model):
    close = model.exploded_view(VIEW, gaps=0.2, people=False)
    plan = close.faces[close.faces["tier"] == "Plan"]
    rest = shapely.union_all(close.faces[close.faces["tier"] != "Plan"].geometry.array)
    assert shapely.area(shapely.intersection(plan.geometry.array, rest)).max() < 1e-9


def test_terraces_take_with_them_what_stands_on_them():
    stack = PLACES["quay"]().stack().stack
    features, home = stack.features, terraces_of(stack)
    layers = np.array([key.name for key in features.layers])[features.layer]
    bearer = dict(zip(layers, layers[home], strict=True))
    assert {bearer[name] for name in ("setts", "shed", "shed_roof", "limes", "wall")} == {"quay"}
    assert bearer["piles"] == bearer["bed"] == "bed"
    tiers = tiers_by(stack, "terrace")
    assert tiers.names == ("Level −0.40 m", "Level 3.40 m")


def test_tiers_by_a_field_of_ones_own():
    frame = gpd.GeoDataFrame(
        {"no": ["a", "b", "c"], "built": ["1890", "1920", None]},
        geometry=[box(2, 4, 2, 4), box(6, 8, 2, 4), box(10, 12, 2, 4)],
        crs=CRS,
    )
    houses = siteaxo.Layer(name="houses", role="structure", source=frame, id="no", base="below", height=3.0)
    site = siteaxo.Site(
        name="Row",
        layers=[layer("ground", "ground", box(0, 14, 0, 6), base=0.0, top=1.0), houses],
        plane_crs=CRS,
        base_line=90.0,
    )
    diagram = site.stack().exploded_view(VIEW, by="built", plan=False)
    tier = dict(zip(diagram.faces["source_id"], diagram.faces["tier"], strict=True))
    assert (tier["a"], tier["b"], tier["c"], tier["0"]) == ("1890", "1920", "other", "other")
    with pytest.raises(
        FieldError, match="'bilt': it is none of theme, terrace, role, layer, and no layer has"
    ):
        site.stack().exploded_view(VIEW, by="bilt")
    with pytest.raises(FieldError, match="Did you mean 'terrace'"):
        site.stack().exploded_view(VIEW, by="terace")


@pytest.mark.parametrize("view", ["terrace", 60])
def test_what_is_no_view_is_refused(model, view):
    for draw in (model.exploded_view, model.draw, model.sequence):
        with pytest.raises(ViewError, match=rf"The view is {view!r}; give one such as siteaxo\.planometric"):
            draw(view)


def test_named_tiers_a_layer_says_more_than_its_theme(model):
    by = {"Floor": ["ground", "surfaces"], "Rest": "structures", "Seats": ["bench"], "Bits": "furniture"}
    diagram = model.exploded_view(VIEW, by=by, people=False, plan=False)
    tier = dict(zip(diagram.faces["layer"], diagram.faces["tier"], strict=True))
    assert (tier["court"], tier["lawn"], tier["house"]) == ("Floor", "Floor", "Rest")
    assert (tier["bench"], tier["planter"]) == ("Seats", "Bits")
    with pytest.raises(ViewError, match="Did you mean 'planting'"):
        model.exploded_view(VIEW, by={"a": "plantin"})
    with pytest.raises(ViewError, match="Layer 'planter' is in no tier"):
        model.exploded_view(VIEW, by={"a": ["ground", "surfaces", "structures"]})


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"gaps": [1.0]}, "3 tiers and 1 gaps"),
        ({"gaps": "wide"}, "'auto'"),
        ({"gaps": float("nan")}, "gaps"),
        ({"view": siteaxo.planometric(turn=30, height_factor=0.0)}, "does not show heights"),
    ],
)
def test_bad_requests_say_what_to_do(model, options, words):
    with pytest.raises(ViewError, match=words):
        model.exploded_view(**{"view": VIEW, "people": False, **options})


def test_isometric_and_cabinet_views_are_pulled_apart_too(model):
    for view in (siteaxo.isometric(), siteaxo.cabinet()):
        diagram = model.exploded_view(view, people=False)
        by_tier = diagram.faces[diagram.faces["tier"] != "Plan"].dissolve("tier").geometry
        assert by_tier["Ground"].intersection(by_tier["Surfaces"]).area < 1e-9
        assert by_tier["Surfaces"].intersection(by_tier["Structures"]).area < 1e-9


def test_words_stand_beside_the_drawing_and_do_not_meet(apart):
    figure = apart.figure(sheet="A3", scale="fit", orientation="portrait")
    labels = figure.drawing.extra["labels"]
    words = labels[labels["text"].isin([one.text for one in apart.beside])]
    assert len(words) == len(apart.beside)
    right = apart.bounds[2]
    assert (words.geometry.bounds["minx"] > right).all()
    heights = np.sort(words.geometry.bounds["miny"].to_numpy())
    assert np.diff(heights).min() > 2.5 * figure_scale(figure) / 1000


def figure_scale(figure):
    return figure.drawing.scale


def test_the_geopackage_has_tiers_and_lift_lines(apart, tmp_path):
    path = tmp_path / "apart.gpkg"
    apart.to_gpkg(path)
    for table in ("faces", "edges", "hidden_edges", "plan", "lift_lines", "people"):
        assert "tier" in gpd.read_file(path, layer=table).columns, table
    faces = gpd.read_file(path, layer="faces")
    assert {"tier", "lift_m", "level_max"} <= set(faces.columns)
    assert len(gpd.read_file(path, layer="lift_lines")) == len(apart.extra["lift_lines"])


def test_ground_that_is_a_surface_is_the_lowest_tier():
    """Levels of the ground reach above the lower terrace; it lies beneath both all the same."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 30, 7), np.linspace(0, 20, 5)))
    points = [here(shapely.Point(*spot)) for spot in zip(x, y, strict=True)]
    spots = gpd.GeoDataFrame({"lvl": 10 + 0.15 * y}, geometry=points, crs=CRS)
    site = siteaxo.Site(
        name="Hill",
        layers=[
            layer("hill", "ground", box(0, 30, 0, 20), base=8.0, top="survey"),
            siteaxo.Layer(name="spots", role="spot level", source=spots, top="lvl"),
            layer("low", "terrace", box(5, 12, 5, 12), base=9, top=11.2),
            layer("high", "terrace", box(16, 25, 8, 16), base=9, top=12.5),
            layer("tree", "tree", here(shapely.Point(8, 9)), base="below", height=5.0),
        ],
        plane_crs=CRS,
        base_line=90.0,
    )
    stack = site.stack().stack
    tiers = tiers_by(stack, "terrace")
    assert tiers.names == ("Ground", "Level 11.20 m", "Level 12.50 m")
    names = [stack.features.layers[k].name for k in stack.features.layer]
    assert dict(zip(names, tiers.feature.tolist(), strict=True))["tree"] == 1


def test_slivers_of_the_plan_that_fold_when_it_is_moved_are_sound_or_gone(model):
    from dataclasses import replace

    from siteaxo.diagram.exploded import with_plan_below

    whole = model.exploded_view(VIEW, plan=False)
    plan = model.draw(siteaxo.planometric(turn=60, height_factor=0))
    thin = shapely.Polygon([(0, 0), (1e-17, 0), (0, 1e-17)])
    assert thin.is_valid
    shapes = [thin, *plan.faces.geometry.iloc[1:]]
    below = with_plan_below(whole, replace(plan, faces=plan.faces.set_geometry(shapes)), -50.3)
    assert shapely.is_valid(below.faces.geometry.to_numpy()).all()
    assert len(below.faces) == len(whole.faces) + len(plan.faces) - 1


def bridged():
    """Three terraces, bridges over the lower ones, a bench and a rail on one of these."""
    bench = layer("bench", "seat", box(11, 12, 4, 6), base=2.4, top=2.85)
    return siteaxo.Site(
        name="Bridges",
        layers=[
            layer("low", "terrace", box(0, 30, 0, 8), base=-1.0, top=0.0),
            layer("middle", "terrace", box(0, 30, 8, 15), base=-1.0, top=1.2),
            layer("high", "terrace", box(0, 30, 15, 24), base=-1.0, top=2.4),
            layer("stream", "water", box(0, 30, 3, 5), drop=0.3),
            layer("span", "deck", box(10, 13, 2, 16), base=2.2, top=2.4),
            bench,
            layer("rail", "rail", box(10, 10.05, 2, 16), base="below", height=1.1),
            layer("short", "deck", box(20, 22, 2, 9), base=1.0, top=1.15),
            layer("planks", "deck", box(25, 27, 2, 6), base=0.05, top=0.15),
            layer("table", "deck", box(2, 6, 9, 12), base="below", height=0.4),
            layer("arch", "deck", box(15, 17, 1, 15.3), base=3.4, top=3.6),
        ],
        plane_crs=CRS,
        base_line=90.0,
    )


def test_bridges_go_with_the_terrace_they_land_on():
    """
    The terrace at a bridge's level, though most of it hangs over lower ones, or a step above it.

    Planks over a stream join two banks of one terrace; an arch higher than all lands on the
    highest; a table on one terrace stays there; what stands on a bridge goes with it.
    """
    stack = bridged().stack().stack
    features, home = stack.features, terraces_of(stack)
    names = np.array([key.name for key in features.layers])[features.layer]
    bearer = dict(zip(names, names[home], strict=True))
    found = {name: bearer[name] for name in ("span", "bench", "rail", "short", "planks", "table", "arch")}
    high, low = dict.fromkeys(("span", "bench", "rail", "arch"), "high"), {"planks": "low"}
    assert found == {**high, **low, "short": "middle", "table": "middle"}
    assert bearer["stream"] == "low"


def test_tiers_and_quantities_know_the_same_terraces():
    model = bridged().stack()
    drawn = model.exploded_view(VIEW, by="terrace", plan=False, people=False).faces
    tier = drawn.drop_duplicates("layer").set_index("layer")["tier"]
    rows = model.quantities(by="feature").drop_duplicates("layer").set_index("layer")["terrace"]
    level = {"low 0": "Level 0.00 m", "middle 0": "Level 1.20 m", "high 0": "Level 2.40 m"}
    assert {name: level[rows[name]] for name in rows.index} == tier[rows.index].to_dict()
