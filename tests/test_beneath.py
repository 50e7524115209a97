"""Ground that goes on under what is lifted off it, and stays open where something is let into it."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from courtyard import CRS, box, court, here, layer

import siteaxo
from siteaxo.solids.beneath import with_ground_beneath
from siteaxo.solids.faces import areas, normals

VIEW = siteaxo.planometric(turn=45)
SIZES = {"ground": 30 * 20, "lawn": 8 * 6, "terrace": 6 * 5, "pool": 4 * 3, "cellar": 3 * 3}


def hill(*, contours=None):
    """Ground that rises by 1 in 10 northward, and what stands on it and in it, in metres."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 30, 7), np.linspace(0, 20, 5)))
    points = [here(shapely.Point(*spot)) for spot in zip(x, y, strict=True)]
    spots = gpd.GeoDataFrame({"lvl": 10 + y / 10}, geometry=points, crs=CRS)
    return siteaxo.Site(
        name="Hill",
        layers=[
            layer("hill", "ground", box(0, 30, 0, 20), top="survey"),
            siteaxo.Layer(name="spots", role="spot level", source=spots, top="lvl"),
            layer("lawn", "lawn", box(1, 9, 1, 7), base="below"),
            layer("terrace", "terrace", box(11, 17, 8, 13), top=11.0),
            layer("pool", "water", box(20, 24, 2, 5), drop=0.4),
            layer("deck", "deck", box(2, 7, 10, 14), base="below", height=0.5),
            layer("seat", "seat", box(3, 6, 3, 3.5), base="below", height=0.45),
            layer("house", "structure", box(20, 25, 12, 18), base=10.9, top=14.0),
            layer("cellar", "structure", box(26, 29, 12, 15), base=9.0, top=14.0),
        ],
        contour_interval=contours,
        plane_crs=CRS,
        base_line=90.0,
    )


def seen_from_above(stack, name):
    """Area in plan of the faces of a layer that look upward [m²]."""
    features, faces = stack.features, stack.scene.faces
    names = np.array([key.name for key in features.layers])[features.layer[stack.solid_feature]]
    mine = (names[faces.solid] == name) & (normals(faces)[:, 2] > 1e-6)
    return float((areas(faces) * normals(faces)[:, 2])[mine].sum())


def by_theme(stack):
    return np.unique(stack.features.of_role("theme"), return_inverse=True)[1]


def test_ground_and_lawn_are_whole_under_what_stands_on_them():
    """The house is founded 0.3 m below the ground; terrace, pool and cellar are let into it."""
    stack = hill().stack().stack
    whole = with_ground_beneath(stack, by_theme(stack))
    let_in = SIZES["terrace"] + SIZES["pool"] + SIZES["cellar"]
    assert seen_from_above(whole, "hill") == pytest.approx(SIZES["ground"] - let_in, abs=1e-6)
    assert seen_from_above(whole, "lawn") == pytest.approx(SIZES["lawn"], abs=1e-6)
    on_it = 5 * 4 + 3 * 0.5 + 5 * 6
    assert seen_from_above(stack, "hill") == pytest.approx(SIZES["ground"] - let_in - on_it, abs=1e-6)
    for name in ("deck", "house", "cellar", "terrace", "pool", "seat"):
        assert seen_from_above(whole, name) == pytest.approx(seen_from_above(stack, name)), name


def test_what_stays_with_the_ground_still_stands_in_it():
    stack = hill().stack().stack
    group = np.zeros(len(stack.features), dtype=np.int64)
    assert with_ground_beneath(stack, group) is stack
    names = np.array([key.name for key in stack.features.layers])[stack.features.layer]
    deck_off = with_ground_beneath(stack, np.where(names == "deck", 1, 0))
    gained = seen_from_above(deck_off, "hill") - seen_from_above(stack, "hill")
    assert gained == pytest.approx(5 * 4, abs=1e-6)


def test_ground_of_several_features_is_there_once():
    """A mound of a group of its own: all ground is one solid, in the group of the first."""
    site = hill()
    more = layer("mound", "ground", box(12, 16, 2, 5), top=12.5)
    stack = replace(site, layers=[*site.layers, more]).stack().stack
    names = np.array([key.name for key in stack.features.layers])[stack.features.layer]
    apart = with_ground_beneath(stack, np.select([names == "mound", names == "deck"], [2, 1], 0))
    form = apart.features.of_role("form")[apart.solid_feature]
    assert [names[row] for row in apart.solid_feature[form == "terrain"]] == ["hill"]
    assert seen_from_above(apart, "hill") > seen_from_above(stack, "hill") + 5 * 4 - 1e-6


def test_contours_go_on_beneath():
    """The contour at 11 m runs along y = 10: under the deck, and into the terrace at that level."""
    stack = hill(contours=0.5).stack().stack
    whole = with_ground_beneath(stack, by_theme(stack))
    length = []
    for one in (stack, whole):
        edges, mine = one.scene.edges, one.contour & (np.abs(one.scene.edges.start[:, 2] - 11.0) < 1e-9)
        ground = np.isin(
            edges.solid, np.flatnonzero(one.features.of_role("form")[one.solid_feature] == "terrain")
        )
        step = (edges.end - edges.start)[mine & ground]
        length.append(np.hypot(*step[:, :2].T).sum())
    assert length[1] - length[0] == pytest.approx(5.0, abs=1e-6)  # the width of the deck at y = 10


def test_level_ground_of_one_piece_is_whole_as_it_is():
    stack = court().stack().stack
    assert with_ground_beneath(stack, by_theme(stack)) is stack


def test_pulled_apart_the_drawing_shows_it():
    """The page is seen through the ground where the pool and the cellar are let into it, and nowhere else."""
    drawing = hill().stack().exploded_view(VIEW, people=False, plan=False)
    tier = drawing.faces[drawing.faces["tier"] == "Ground"]
    outline = shapely.union_all(tier.geometry.array)
    holes = [shapely.Polygon(ring).area for part in shapely.get_parts(outline) for ring in part.interiors]
    assert sum(size > 1e-9 for size in holes) == 2
    lawn = drawing.faces[drawing.faces["layer"] == "lawn"].geometry.array
    assert not any(part.interiors for shape in lawn for part in shapely.get_parts(shape))
