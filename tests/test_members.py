from itertools import pairwise

import geopandas
import numpy as np
import pytest
import shapely
from sites_review import CRS, layer

import siteaxo
from siteaxo.craft.members import narrowed, size_across
from siteaxo.craft.owners import owners_of


def drawn(shapes, edges, width, *, role="canopy", outlines=None, scale=200.0):
    """Widths of the edges of one feature."""
    keys = {"layer": "a", "source_id": "1", "role": role}
    faces = geopandas.GeoDataFrame([keys] * len(shapes), geometry=list(shapes))
    lines = geopandas.GeoDataFrame([keys] * len(edges), geometry=[shapely.LineString(one) for one in edges])
    outer = np.full(len(edges), "") if outlines is None else np.array(outlines)
    owners = owners_of(faces, lines)[0]
    return narrowed(np.array(width), lines, faces, owners, outlines=outer, scale=scale)[0].tolist()


POST = [[(0, 0), (0, 3)], [(0.12, 3), (0.12, 0)]]


@pytest.mark.parametrize(("scale", "width"), [(50, 0.35), (100, 0.18), (200, 0.13), (500, 0.13)])
def test_a_post_is_five_lines_wide(scale, width):
    """0.12 m is 2.4, 1.2, 0.6 and 0.24 mm; the widest of ISO 128-2 within a fifth, or its narrowest."""
    assert drawn([shapely.box(0, 0, 0.12, 3)], POST, [0.7, 0.7], scale=scale) == [width, width]


def test_the_end_of_a_post_is_as_fine_as_its_sides():
    end = [[(0, 3), (0.12, 3)]]
    assert drawn([shapely.box(0, 0, 0.12, 3)], POST + end, [0.5] * 3, scale=100) == [0.18] * 3


def test_the_round_foot_of_a_trunk_is_as_fine_as_its_sides():
    """A trunk of 0.2 m, 1 mm at 1:200, on twelve chords of 0.1 to 0.2 mm; across them it is 2 m high."""
    angle = np.radians(np.arange(180, 361, 15))
    foot = np.column_stack([0.1 * np.cos(angle), 0.07 * np.sin(angle)])
    trunk = shapely.Polygon([*foot, (0.1, 2), (-0.1, 2)])
    chords = list(pairwise(foot))
    edges = [[(-0.1, 2), foot[0]], *chords, [foot[-1], (0.1, 2)]]
    assert drawn([trunk], edges, [0.35] * 14, role="tree") == [0.18] * 14


def test_faces_that_meet_count_together():
    """A post of two sides of 0.3 m each is 3 mm across: its edge and its profiles are not narrowed."""
    sides = [shapely.box(0, 0, 0.3, 3), shapely.box(0.3, 0, 0.6, 3)]
    edges = [[(0, 0), (0, 3)], [(0.3, 0), (0.3, 3)], [(0.6, 0), (0.6, 3)]]
    assert drawn(sides, edges, [0.5, 0.25, 0.5]) == [0.5, 0.25, 0.5]


def test_facets_of_something_round_are_no_members():
    """A tower 4 m across, seen as strips of 0.1 m."""
    strips = [shapely.box(0.1 * n, 0, 0.1 * (n + 1), 6) for n in range(40)]
    ends = [[(0, 0), (0, 6)], [(0, 6), (0.1, 6)], [(4, 0), (4, 6)]]
    assert drawn(strips, ends, [0.5] * 3) == [0.5] * 3


def test_the_border_of_the_site_stays_whole():
    strip = [shapely.box(0, 0, 20, 0.2)]
    edge = [[(0, 0), (20, 0)]]
    assert drawn(strip, edge, [0.5], role="lawn", outlines=["site"]) == [0.5]
    assert drawn(strip, edge, [0.5], role="lawn") == [0.18]


def test_what_lies_beyond_a_gap_does_not_count():
    beams = [shapely.box(0, y, 4, y + 0.1) for y in (0.0, 0.2, 0.4)]
    edges = [[(0, y), (4, y)] for y in (0.0, 0.1, 0.2, 0.5)]
    assert drawn(beams, edges, [0.5] * 4) == [0.13] * 4


def test_only_what_is_its_own_counts():
    ends = np.array([[[0.0, 0.0], [0.0, 3.0]]])
    both = np.array([shapely.box(0, 0, 0.12, 3), shapely.box(-1, 0, 0, 3)])
    size = size_across(ends, np.array([1.0]), np.array([7]), both, np.array([7, 8]))
    assert size == pytest.approx([0.12])


def test_a_line_within_a_member_is_finer_than_those_around_it():
    """A beam with a top of 0.1 m and a side of 0.2 m is 1.5 mm across at 1:200; its top alone is 0.5 mm."""
    faces = [shapely.box(0, 0, 4, 0.2), shapely.box(0, 0.2, 4, 0.3)]
    edges = [[(0, y), (4, y)] for y in (0.0, 0.2, 0.3)]
    assert drawn(faces, edges, [0.7, 0.35, 0.7]) == [0.25, 0.13, 0.25]


@pytest.mark.parametrize("told", [False, True])
def test_what_is_too_thin_for_its_line_is_told_on_request(told):
    """A rail of 5 cm is 0.25 mm at 1:200, less than three of the narrowest lines; a post of 12 cm 0.6."""
    keys = {"layer": "a", "role": "rail"}
    shapes = [shapely.box(0, 0, 4, 0.05), shapely.box(0, 1, 0.12, 4)]
    faces = geopandas.GeoDataFrame([{**keys, "source_id": k} for k in "12"], geometry=shapes)
    ends = [shapely.LineString([(0, 0), (4, 0)]), shapely.LineString([(0, 1), (0, 4)])]
    lines = geopandas.GeoDataFrame([{**keys, "source_id": k} for k in "12"], geometry=ends)
    none = np.array(["", ""])
    width, thin = narrowed(
        np.array([0.13, 0.13]), lines, faces, owners_of(faces, lines)[0], outlines=none, scale=200, told=told
    )
    assert width.tolist() == [0.13, 0.13]
    assert thin.tolist() == [told, False]


def test_no_post_of_a_pergola_is_black_on_paper():
    """Posts of 10 or 12 cm at 1:500 are 0.24 mm at most: only the narrowest line of ISO 128-2 is left."""
    ground = layer("ground", "ground", [shapely.box(0, 0, 12, 8)], base=-1.0, top=0.0)
    posts = layer("frame", "canopy", [shapely.box(2, 2, 9, 6)], base=2.5, top=2.6, posts=[2.0], beams=[0.7])
    site = siteaxo.Site(name="Frame", layers=[ground, posts], plane_crs=CRS, base_line=90.0)
    lines = site.stack().draw(siteaxo.planometric(turn=30), scale=500).edges
    frame = lines[lines["role"] == "canopy"]
    long = frame[(frame["line_mm"] == 0.13)].length.sum()
    assert long > 0.95 * frame.length.sum()


def test_a_beam_is_as_fine_where_it_passes_before_another():
    """Rafters 0.1 m wide; a bearer 3 m long lies across the first, just under its middle."""
    rafters = [shapely.box(0, y, 4, y + 0.1) for y in (0.0, 1.0, 2.0)]
    sides = [[(0, y), (4, y)] for y in (0.0, 0.1, 1.0, 1.1, 2.0, 2.1)]
    bearer = shapely.box(1.95, -3, 2.05, 0)
    assert drawn([*rafters, bearer], sides, [0.5] * 6) == [0.13] * 6
    assert drawn([*rafters, bearer], sides, [0.5] * 6, role="deck") == [0.13, 0.5, 0.13, 0.13, 0.13, 0.13]
    post, slab = shapely.box(0, -1, 0.1, 0), shapely.box(-4, 0, 4, 3)  # most of this canopy is wide
    edges = [[(0, -1), (0, 0)], [(0.1, 0), (0.1, -1)], [(-4, 3), (4, 3)], [(4, 3), (4, 0)]]
    assert drawn([post, slab], edges, [0.5] * 4) == [0.13, 0.13, 0.5, 0.5]
