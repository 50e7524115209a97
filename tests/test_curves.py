"""Curves divided more finely than can be drawn: fewer corners, walls that stay, boundaries still shared."""

import geopandas
import numpy as np
import pytest
import shapely
from sites_review import CRS, layer

import siteaxo
from siteaxo.source.curves import OFF, SHORT, coarser


def corners(geometry):
    """How many corners, counted as stored."""
    return shapely.get_num_coordinates(np.asarray(geometry, dtype=object)).tolist()


def bollard(radius, quad_segs, height=1.0):
    """A site of one round post on a court."""
    court = layer("court", "terrace", [shapely.box(-4, -4, 4, 4)], base=0.0, top=0.5)
    post = shapely.Point(0, 0).buffer(radius, quad_segs=quad_segs)
    return siteaxo.Site(
        layers=[court, layer("posts", "structure", [post], base="below", height=height)]
    ).stack()


@pytest.mark.parametrize("radius", [0.005, 0.05, 0.3, 20.0])
@pytest.mark.parametrize("quad_segs", [512, 4096])
def test_chords_are_as_long_as_they_may_be_and_no_longer(radius, quad_segs):
    """A chord of length s lies s² / 8r inside its circle; halving it takes three quarters off that."""
    circle = shapely.Point(500, -300).buffer(radius, quad_segs=quad_segs)
    (made,) = coarser(np.array([circle]))
    assert made.is_valid
    assert shapely.hausdorff_distance(circle, made) <= OFF
    chord = shapely.length(shapely.linestrings(np.stack([s := made.exterior.coords[:-1], s[1:] + s[:1]], 1)))
    fewest = 2 * np.pi * radius / np.sqrt(8 * radius * OFF)
    if 2 * np.pi * radius / (4 * quad_segs) < SHORT:
        assert chord.min() >= min(0.45 * np.sqrt(8 * radius * OFF), 2 * np.pi * radius / (4 * quad_segs))
        assert len(chord) >= 0.99 * fewest


@pytest.mark.parametrize("quad_segs", [64, 128, 1000])
@pytest.mark.parametrize("radius", [0.05, 0.3])
def test_a_post_of_very_many_facets_keeps_its_walls(radius, quad_segs):
    """On the page a cylinder covers its circle and a band as wide as it is, as high as it stands out."""
    drawn = bollard(radius, quad_segs).draw(siteaxo.planometric(turn=30), scale=50)
    seen = drawn.faces[drawn.faces["layer"] == "posts"].geometry.area.sum()
    assert seen == pytest.approx(np.pi * radius**2 + 2 * radius * 1.0, abs=2 * 2e-3)
    (told,) = drawn.findings[drawn.findings["code"] == "fine-curve"].itertuples()
    assert (told.severity, told.layer, told.source_id) == ("info", "posts", "POS00")
    assert told.value == f"{4 * quad_segs + 1} corners"


def test_ordinary_outlines_are_not_touched():
    rng = np.random.default_rng(3)
    boxes = shapely.box(*rng.uniform(0, 50, (2, 20)), *rng.uniform(51, 99, (2, 20)))
    round_ones = shapely.buffer(shapely.points(rng.uniform(0, 50, (20, 2))), 0.1, quad_segs=16)
    notch = shapely.Polygon(
        [(0, 0), (1, 0), (1, 0.02), (1.02, 0.02), (1.02, 0.04), (2, 0.04), (2, 3), (0, 3)]
    )
    every = np.array([*boxes, *round_ones, notch, shapely.Point(1, 2)], dtype=object)
    assert shapely.equals_exact(coarser(every), every).all()
    assert not len(coarser(np.empty(0, dtype=object)))


def test_what_features_share_they_still_share():
    """A pool in a lawn, part of the pool, a kerb along it, in rings begun anywhere and either way round."""
    pool = shapely.Point(0, 0).buffer(3, quad_segs=1000)
    ring = np.array(pool.exterior.coords[:-1])
    hole = np.roll(ring, 777, axis=0)[::-1]
    lawn = shapely.Polygon([(-9, -9), (9, -9), (9, 9), (-9, 9)], [hole])
    west = shapely.Polygon([*ring[1000:3001], (0.0, 0.5)])
    kerb = shapely.LineString(ring[500:2500])
    every = np.array([pool, lawn, west, kerb], dtype=object)
    made = coarser(every)
    assert all(now < was / 4 for now, was in zip(corners(made), corners(every), strict=True))
    around = shapely.Polygon(made[1].interiors[0])
    assert shapely.symmetric_difference(around, made[0]).area == 0
    kept = {tuple(xy) for xy in made[0].exterior.coords}
    assert {tuple(xy) for xy in made[2].exterior.coords} - kept == {(0.0, 0.5)}
    assert {tuple(xy) for xy in made[3].coords} <= kept
    assert shapely.difference(made[2], made[0]).area < 1e-12


def test_lines_keep_their_ends_and_small_rings_three_corners():
    turn = np.linspace(0, 1.5 * np.pi, 400)
    spiral = np.column_stack([np.cos(turn), np.sin(turn)]) * np.linspace(0.2, 0.4, 400)[:, None]
    speck = shapely.Point(5, 5).buffer(4e-5, quad_segs=8)
    line, dot = coarser(np.array([shapely.LineString(spiral), speck], dtype=object))
    assert line.coords[0] == tuple(spiral[0])
    assert line.coords[-1] == tuple(spiral[-1])
    assert len(line.coords) < 200
    assert dot.is_valid
    assert dot.area > 0


def test_corners_with_levels_of_their_own_all_stay():
    """A sloping ring whose corners carry Z is not thinned: each of them is a level that was surveyed."""
    turn = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    xyz = np.column_stack([np.cos(turn), np.sin(turn), 2 + 0.1 * np.cos(turn)])
    rows = geopandas.GeoDataFrame(geometry=[shapely.Polygon(xyz)], crs=CRS)
    top = siteaxo.Layer(name="top", role="terrace", source=rows, base=0.0, top_z="each")
    model = siteaxo.Site(layers=[top]).stack()
    assert "fine-curve" not in model.draw(siteaxo.planometric(turn=30), scale=50).findings["code"].tolist()


def test_a_ring_of_a_hundred_thousand_corners_is_drawn_with_its_wall():
    """A closed curve 80 m across, 2 m high: its outline and its wall are where closed forms say."""
    turn = np.linspace(0, 2 * np.pi, 100_000, endpoint=False)
    ring = shapely.Polygon(40 * np.column_stack([np.cos(turn), np.sin(turn)]))
    model = siteaxo.Site(layers=[layer("hall", "structure", [ring], base=0.0, top=2.0)]).stack()
    drawn = model.draw(siteaxo.planometric(turn=30), scale=500)
    scale = np.sqrt(drawn.plan.geometry.area.sum() / (np.pi * 1600))  # of the map at this place
    assert scale == pytest.approx(1.0, abs=6e-4)
    assert drawn.faces.geometry.area.sum() == pytest.approx(
        np.pi * 1600 * scale**2 + 80 * scale * 2, rel=2e-5
    )
    assert drawn.findings["code"].tolist() == ["fine-curve"]


@pytest.mark.parametrize("turn", [0, 17, 30, 45])
@pytest.mark.parametrize("radius", [0.03, 0.06, 0.15])
@pytest.mark.parametrize("quad_segs", [8, 16, 64])
def test_a_round_post_has_an_outline_on_either_side(radius, quad_segs, turn):
    """Two upright profiles as high as the post: of a facet seen nearly edge-on no seam hides the outline."""
    drawn = bollard(radius, quad_segs, height=3.0).draw(siteaxo.planometric(turn=turn), scale=50)
    lines = drawn.edges[(drawn.edges["layer"] == "posts") & (drawn.edges["kind"] == "profile")]
    ends = shapely.get_coordinates(lines.geometry.to_numpy()).reshape(-1, 2, 2)
    upright = ends[np.abs(ends[:, 0, 0] - ends[:, 1, 0]) < 1e-6]
    across, length = upright[:, 0, 0], np.abs(upright[:, 0, 1] - upright[:, 1, 1])
    assert np.ptp(across) == pytest.approx(2 * radius, abs=2e-3)
    for side in (across.min(), across.max()):
        assert length[np.abs(across - side) < 1e-3].sum() == pytest.approx(3.0, abs=0.01)
