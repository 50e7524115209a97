"""A site drawn with people, shadows and planting, from layers to tables."""

from datetime import UTC, datetime

import courtyard
import numpy as np
import pandas as pd
import places
import pytest
import shapely

import siteaxo
from siteaxo.craft.crowd import Crowd
from siteaxo.craft.people import SHORTEST, TALLEST
from siteaxo.diagram.layers import EXTRA_COLUMNS
from siteaxo.errors import SiteaxoError, ViewError
from siteaxo.view.sun import Sun

TREE = courtyard.layer(
    "tree",
    "tree",
    courtyard.here(shapely.Point(22, 10)),
    base="below",
    height=5.0,
    diameter=3.0,
    clear_stem=2.2,
)
PLAZA = courtyard.layer("plaza", "people", courtyard.box(0, 13, 16.5, 20), base="below")
NOON = datetime(2025, 6, 21, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def model():
    return courtyard.court(extra=[TREE]).stack()


@pytest.fixture(scope="module")
def drawn(model):
    return model.draw(
        siteaxo.planometric(turn=30), people=Crowd(density=0.06), shadows=NOON, planting="texture", scale=200
    )


def names(diagram):
    return set(diagram.extra) - {"patterns", "labels"}


def total(frame):
    return frame.geometry.area.sum()


def test_a_drawing_stays_as_it_was(model):
    assert names(model.draw(siteaxo.planometric(turn=30))) == set()


def test_areas_for_people_bring_people(model):
    diagram = courtyard.court(extra=[TREE, PLAZA]).stack().draw(siteaxo.planometric(turn=30))
    assert names(diagram) == {"people"}
    assert (
        names(courtyard.court(extra=[PLAZA]).stack().draw(siteaxo.planometric(turn=30), people=False))
        == set()
    )


def test_tables(drawn):
    assert names(drawn) == {"people", "shadows", "planting"}
    for name in names(drawn):
        frame = drawn.extra[name]
        assert set(EXTRA_COLUMNS) <= set(frame.columns)
        assert not frame.geometry.is_empty.any()
        assert frame.geometry.is_valid.all()
    assert set(drawn.extra["people"]["role"]) == {"people"}
    assert set(drawn.extra["shadows"]["kind"]) == {"own", "cast"}
    assert set(drawn.extra["planting"]["role"]) == {"tree"}


def test_people_take_the_place_of_what_they_hide(model, drawn):
    bare = model.draw(siteaxo.planometric(turn=30))
    people = drawn.extra["people"]
    pieces = people[people["line_mm"] == 0]
    figures = shapely.union_all(pieces.geometry.array)
    on_site = shapely.intersection(figures, shapely.union_all(bare.faces.geometry.array))
    assert total(bare.faces) - total(drawn.faces) == pytest.approx(on_site.area, abs=1e-3)
    assert shapely.intersection(figures, shapely.union_all(drawn.faces.geometry.array)).area < 1e-4


def test_where_feet_dip_into_a_slope_no_line_is_drawn():
    """People stand upright across the fall of a ramp of 1 in 10; their feet are as wide as 0.3 m."""
    ramp = places.layer("ramp", "ramp", [shapely.LineString([(15, 0), (15, 30)])], base=0, top=3, width=30.0)
    yard = places.layer("yard", "terrace", [shapely.box(0, -10, 30, 0)], base=-1.0, top=0.0)
    model = siteaxo.Site(layers=[yard, ramp], base_line=90.0).stack()
    diagram = model.draw(siteaxo.planometric(turn=90), people=Crowd(density=0.08, seed=4))
    people, lines = diagram.extra["people"], diagram.edges[diagram.edges["layer"] == "ramp"]
    areas = people[people.geometry.area > 0]
    middle = shapely.line_interpolate_point(lines.geometry.to_numpy(), 0.5, normalized=True)
    assert len(areas) > 100
    assert not len(areas.sindex.query(middle, predicate="dwithin", distance=1e-4)[0])
    bare = model.draw(siteaxo.planometric(turn=90), people=False).edges
    assert lines.length.sum() == pytest.approx(bare[bare["layer"] == "ramp"].length.sum(), rel=0.2)


def test_figures_are_of_human_height(drawn):
    people = drawn.extra["people"]
    pieces = people[(people["line_mm"] == 0) & people["kind"].isin(["standing", "waiting", "walking"])]
    whole = shapely.union_all(shapely.buffer(pieces.geometry.array, 1e-3))
    tall = np.ptp(shapely.bounds(shapely.get_parts(whole))[:, [1, 3]], axis=1)
    assert tall.max() <= TALLEST + 0.02
    assert (tall > SHORTEST).sum() >= 3


def test_shadows_lie_on_faces(model, drawn):
    shadows = drawn.extra["shadows"]
    faces = shapely.union_all(shapely.buffer(drawn.faces.geometry.array, 1e-5))
    assert shapely.length(shapely.difference(shadows.geometry.array, faces)).max() < 1e-3
    assert (shadows["opacity"] > 0).all()
    assert (shadows["opacity"] < 1).all()
    cast = shadows[shadows["kind"] == "cast"]
    assert set(cast["layer"]) >= {"court", "deck"}
    # the house is 3 m high and 6 m square: its shadow alone by the formula is some 20 m²
    assert total(cast) > 20


def test_people_cast_shadows(model, drawn):
    alone = model.draw(siteaxo.planometric(turn=30), people=False, shadows=NOON)
    more = total(drawn.extra["shadows"]) - total(alone.extra["shadows"])
    figures = total(drawn.extra["people"])
    assert 0.02 * figures < more < 3 * figures


def test_translucent_crowns_let_what_is_beneath_be_seen(model):
    view = siteaxo.planometric(turn=30)
    solid = model.draw(view, planting="outline")
    clear = model.draw(view, planting="translucent")
    assert (solid.faces["part"] == "crown").any()
    assert not (clear.faces["part"] == "crown").any()
    assert (
        not clear.edges["role"].eq("tree").any()
        or clear.edges[clear.edges["role"] == "tree"]["kind"].notna().all()
    )
    crowns = clear.extra["planting"].query("kind == 'crown'")
    seen = solid.faces[solid.faces["part"] == "crown"]
    assert total(crowns) == pytest.approx(total(seen), abs=1e-5)
    assert total(clear.faces) > total(solid.faces) - total(seen)
    # every row still names its own feature
    trunk = clear.faces[clear.faces["layer"] == "tree"]
    assert set(trunk["part"]) <= {"side", "top"}


def test_translucent_with_people_and_shadows(model):
    diagram = model.draw(
        siteaxo.planometric(turn=30), people=True, shadows="conventional", planting="translucent"
    )
    assert names(diagram) == {"people", "shadows", "planting"}
    assert set(diagram.edges["layer"]) <= {key.name for key in model.stack.features.layers}


def test_plans_show_people_and_plants_from_above(model):
    crowd = Crowd(density=0.1)
    diagram = model.draw(siteaxo.planometric(turn=30, height_factor=0), people=crowd, planting="texture")
    assert names(diagram) == {"planting", "people"}
    assert set(diagram.extra["planting"]["kind"]) == {"symbol", "shade"}
    people = diagram.extra["people"]
    whole = shapely.union_all(shapely.buffer(people[people["line_mm"] == 0].geometry.array, 1e-3))
    width = np.ptp(shapely.bounds(shapely.get_parts(whole)).reshape(-1, 2, 2), axis=1).max(axis=1)
    # shoulders are about 0.26 of a height of 1.2 to 1.9 m (from memory); nobody fills more than a bicycle
    assert 0.3 < np.median(width) < 0.65
    assert width.max() < 2.0


def test_people_under_a_roof_are_not_seen_from_above(model):
    crowd = Crowd(density=0.5, seed=2)
    diagram = model.draw(siteaxo.planometric(turn=0, height_factor=0), people=crowd)
    roof = diagram.faces[diagram.faces["layer"].isin(["high", "low"])]
    people = shapely.union_all(diagram.extra["people"].geometry.array)
    assert shapely.intersection(people, shapely.union_all(roof.geometry.array)).area < 1e-6


def test_same_site_same_tables(model, drawn):
    again = model.draw(
        siteaxo.planometric(turn=30), people=Crowd(density=0.06), shadows=NOON, planting="texture", scale=200
    )
    for name in names(drawn):
        pd.testing.assert_frame_equal(
            pd.DataFrame(drawn.extra[name].drop(columns="geometry")),
            pd.DataFrame(again.extra[name].drop(columns="geometry")),
        )
        assert shapely.equals_exact(
            drawn.extra[name].geometry.array, again.extra[name].geometry.array, tolerance=0
        ).all()


def test_light_of_ones_own(model):
    low, high = (
        model.draw(siteaxo.planometric(turn=30), shadows=Sun(bearing=200, elevation=e)) for e in (20, 70)
    )
    cast = [d.extra["shadows"].query("kind == 'cast'") for d in (low, high)]
    assert total(cast[0]) > 1.5 * total(cast[1])


def test_grid_and_true_north_differ_by_the_convergence(model):
    # On EPSG:25832, 500 000 m east is the central meridian: no convergence there. The sun of
    # the June noon stands south, so the house's shadow falls due north in plan.
    view = siteaxo.planometric(turn=0, height_factor=0)
    noon = datetime(2025, 6, 21, 11, 25, 30, tzinfo=UTC)  # true noon at 9° east, equation of time 1.9 min
    diagram = model.draw(view, shadows=noon)
    shadows = diagram.extra["shadows"]
    dark = shapely.union_all(shadows.geometry.array)
    house = diagram.plan[diagram.plan["layer"] == "house"].geometry.array[0]
    north = shapely.intersection(
        dark, shapely.box(house.bounds[0] - 1, house.bounds[3], house.bounds[2] + 1, house.bounds[3] + 1)
    )
    left, _, right, _ = north.bounds
    assert left == pytest.approx(house.bounds[0], abs=0.03)
    assert right == pytest.approx(house.bounds[2], abs=0.03)


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"shadows": datetime(2025, 6, 21, 12)}, ViewError, "no time zone"),
        ({"shadows": datetime(2025, 12, 21, 1, tzinfo=UTC)}, ViewError, "below the horizon"),
        ({"shadows": "evening"}, ViewError, "conventional"),
        ({"planting": "lush"}, SiteaxoError, "detail"),
    ],
)
def test_what_cannot_be_drawn(model, options, error, words):
    with pytest.raises(error, match=words):
        model.draw(siteaxo.planometric(turn=30), **options)


def test_figure_and_geopackage(drawn, tmp_path):
    drawn.to_gpkg(tmp_path / "diagram.gpkg")
    figure = drawn.figure(scale=200)
    figure.savefig(tmp_path / "diagram.svg")
    text = (tmp_path / "diagram.svg").read_text(encoding="utf-8")
    for name in ("people", "planting", "shadows"):
        assert f'id="{name}"' in text or f'id="{name}_' in text
