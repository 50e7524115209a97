"""
Kinds of lines on scenes made by hand, and on scenes of every kind by ray casting.

Planometric views turned by 30 degrees see tops, south and west sides: a box w × d × h
has edges w + d + h between two visible faces, profiles w + d + 2h, and a foot w + d.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.ops
from reference.lines import places
from reference.raycast import Rays
from scenes import KINDS as SCENES
from scenes import VIEWS
from shapes import Builder, draw, kind_length, rectangle

from siteaxo.solids.faces import PART_CODE
from siteaxo.view.kinds import EDGE, FOOT, KINDS, PROFILE, SEAM
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.resolve import resolve
from siteaxo.view.tolerance import Tolerance

VIEW = planometric(30)


def lengths(site, solid=None, view=VIEW):
    return kind_length(draw(site.scene(), view), solid)


def is_kind(edge=0.0, profile=0.0, foot=0.0):
    return pytest.approx({"edge": edge, "profile": profile, "foot": foot, "seam": 0.0}, abs=1e-6)


def line_between(drawing, start, end, view=VIEW):
    """Length drawn along a line of the site, and the kinds of what is drawn there."""
    ends = view.to_page([start, end])[:, :2]
    line = shapely.LineString(ends).buffer(1e-3, cap_style="flat")
    dashes = shapely.linestrings(drawing.dashes.xy(drawing.edges))
    common = shapely.length(shapely.intersection(dashes, line))
    there = common > 0.01
    return common[there].sum(), {KINDS[kind] for kind in drawing.kind[there]}


def test_box_alone():
    """Without ground its lower front edges are profiles too."""
    site = Builder()
    site.prism(rectangle(0, 0, 4, 2), 0, 3)
    assert lengths(site) == is_kind(edge=4 + 2 + 3, profile=2 * (4 + 2) + 2 * 3)


def test_box_on_a_slab():
    site = Builder()
    slab = site.prism(rectangle(-10, -10, 30, 30), -1, 0)
    box = site.prism(rectangle(0, 0, 4, 2), 0, 3)
    assert lengths(site, slab) == is_kind(edge=30 + 30 + 1, profile=2 * 60 + 2)
    assert lengths(site, box) == is_kind(edge=4 + 2 + 3, profile=4 + 2 + 2 * 3, foot=4 + 2)


def test_planters_on_a_deck_on_the_ground():
    site = Builder()
    site.prism(rectangle(-10, -10, 40, 40), -1, 0)
    deck = site.prism(rectangle(0, 0, 8, 6), 0, 0.5)
    planter = site.prism(rectangle(2, 2, 2, 1), 0.5, 1.5)
    assert lengths(site, deck)["foot"] == pytest.approx(14, abs=1e-6)
    assert lengths(site, planter) == is_kind(edge=2 + 1 + 1, profile=3 + 2, foot=3)


def party(heights, groups):
    """Two neighbours 4 and 5 wide and 3 deep, the second east of the first, on their own."""
    site = Builder()
    site.prism(rectangle(0, 0, 4, 3), 0, heights[0], group=groups[0])
    site.prism(rectangle(4, 0, 5, 3), 0, heights[1], group=groups[1])
    return site


def test_equal_neighbours_of_one_group_show_no_seam():
    site = Builder()
    site.prism(rectangle(0, 0, 9, 3), 0, 2)
    assert lengths(party((2, 2), (0, 0))) == pytest.approx(lengths(site), abs=1e-6)


def test_equal_neighbours_of_two_groups_are_parted_by_an_edge():
    """The roof edge, 3, and the upright between the two fronts, 2, are drawn once."""
    site = Builder()
    site.prism(rectangle(0, 0, 9, 3), 0, 2)
    whole, parted = lengths(site), lengths(party((2, 2), (0, 1)))
    assert parted == pytest.approx({**whole, "edge": whole["edge"] + 3 + 2}, abs=1e-6)


@pytest.mark.parametrize(("groups", "seam"), [((0, 0), 0), ((0, 1), 2)])
def test_a_taller_neighbour_stands_on_the_lower_roof(groups, seam):
    """East neighbour 3 high beside one 2 high: its west wall meets the lower roof in a foot of 3."""
    site = party((2, 3), groups)
    together = lengths(site)
    assert together["foot"] == pytest.approx(3, abs=1e-6)
    drawing = draw(site.scene(), VIEW)
    assert line_between(drawing, (4, 0, 2), (4, 3, 2)) == (pytest.approx(3, abs=5e-3), {"foot"})
    assert line_between(drawing, (4, 0, 2), (4, 0, 3)) == (pytest.approx(1, abs=5e-3), {"edge"})
    length, kinds = line_between(drawing, (4, 0, 0.02), (4, 0, 1.98))
    assert (length, kinds) == (pytest.approx(0.98 * seam, abs=5e-3), {"edge"} if seam else set())


def test_a_lower_neighbour_behind_the_taller():
    """Seen from the west, the roof edge of the taller is a profile in front of the lower roof."""
    drawing = draw(party((3, 2), (0, 0)).scene(), VIEW)
    assert line_between(drawing, (4, 0, 3), (4, 3, 3)) == (pytest.approx(3, abs=5e-3), {"profile"})
    assert lengths(party((3, 2), (0, 0)))["foot"] == 0


@pytest.mark.parametrize("view", [VIEW, planometric(45, 2 / 3), isometric(), planometric(20, 0)], ids=str)
def test_a_terrace_cut_in_two_by_a_survey_polygon_shows_no_line(view):
    whole, cut = Builder(), Builder()
    for site in (whole, cut):
        site.prism(rectangle(-5, -5, 25, 25), -1, 0, group=9)
    outline = shapely.Polygon(rectangle(0, 0, 12, 8))
    whole.prism(outline, 0, 1.2, group=0)
    for part in shapely.ops.split(outline, shapely.LineString([(3, -1), (7, 9)])).geoms:
        cut.prism(part, 0, 1.2, group=0)
    assert lengths(cut, view=view) == pytest.approx(lengths(whole, view=view), abs=1e-5)


def test_terraces_of_different_lengths():
    """The back edge of the lower is a profile for 2 m, then the foot of the upper for 8 m."""
    site = Builder()
    lower = site.prism(rectangle(0, 0, 10, 4), 0, 1)
    site.prism(rectangle(2, 4, 12, 4), 0, 2)
    drawing = draw(site.scene(), VIEW)
    assert line_between(drawing, (0, 4, 1), (1.99, 4, 1)) == (pytest.approx(1.99, abs=5e-3), {"profile"})
    assert line_between(drawing, (2.01, 4, 1), (10, 4, 1)) == (pytest.approx(7.99, abs=5e-3), {"foot"})
    assert kind_length(drawing)["foot"] == pytest.approx(8, abs=5e-4)
    back_east_uprights_front_west = 2 + 4 + 2 + 10 + 4
    assert kind_length(drawing, lower)["profile"] == pytest.approx(back_east_uprights_front_west, abs=5e-4)


def test_a_curved_wall_shows_no_facets():
    """Upright lines only where the curve turns out of sight; rims in full."""
    ring = shapely.Point(0, 0).buffer(3, quad_segs=12)
    site = Builder()
    site.prism(ring, 0, 2)
    drawing = draw(site.scene(), VIEW)
    source = drawing.edges.source[drawing.dashes.edge]
    edges = site.scene().edges
    upright = edges.start[source, 2] != edges.end[source, 2]
    assert upright.sum() == 2
    assert (drawing.kind[upright] == PROFILE).all()
    seen = kind_length(drawing)
    assert seen["edge"] == pytest.approx(ring.length / 2, rel=0.05)
    assert seen["edge"] + seen["profile"] == pytest.approx(1.5 * ring.length + 2 * 2, rel=0.02)


def test_an_octagonal_wall_shows_its_corners():
    turn = np.linspace(0, 2 * np.pi, 8, endpoint=False)
    site = Builder()
    site.prism(np.column_stack([3 * np.cos(turn), 3 * np.sin(turn)]), 0, 2)
    scene = site.scene()
    drawing = draw(scene, planometric(30))
    source = drawing.edges.source[drawing.dashes.edge]
    upright = scene.edges.start[source, 2] != scene.edges.end[source, 2]
    assert np.bincount(drawing.kind[upright], minlength=4)[[PROFILE, EDGE]].tolist() == [2, 3]


@pytest.mark.parametrize("view", ["planometric 60", "isometric", "cabinet"])
def test_a_crown_shows_its_outline_only(view):
    """Its drawn length is the outline of the union of its facets, found by an overlay."""
    site = Builder()
    site.tree(3, 4, 0, 8, 5)
    scene = site.scene()
    drawing = draw(scene, VIEWS[view])
    crown = scene.faces.part == PART_CODE["crown"]
    page = scene.faces.xyz @ VIEWS[view].matrix[:2].T
    start = scene.faces.vertex_start
    facets = [shapely.Polygon(page[start[f] : start[f + 1]]) for f in np.flatnonzero(crown)]
    outline = shapely.union_all(facets, grid_size=2**-24)
    seen = kind_length(drawing, 0)
    assert seen["profile"] == pytest.approx(outline.exterior.length, abs=1e-4)
    assert seen["edge"] == seen["foot"] == 0


def test_trunks_stand_on_the_ground():
    site = Builder()
    site.prism(rectangle(-5, -5, 20, 20), -1, 0)
    site.tree(3, 4, 0, 8, 5)
    drawing = draw(site.scene(), VIEW)
    assert kind_length(drawing, 2)["foot"] > 0
    assert kind_length(drawing, 1)["foot"] == 0


@pytest.mark.parametrize(("group", "edge"), [(0, 0), (1, 8)])
def test_paving_without_height(group, edge):
    """A sheet of another group is outlined on its slab; one of the same group is not seen."""
    site = Builder()
    site.prism(rectangle(-5, -5, 20, 20), -1, 0, group=0)
    sheet = site.prism(rectangle(0, 0, 2, 2), 0, 0, group=group)
    assert lengths(site, sheet) == is_kind(edge=edge)


def test_fronts_in_one_plane_seen_nearly_edge_on():
    """Two neighbours 10 and 11 m long, their common front turned to within 0.2 degrees of edge-on."""
    for step in range(20):
        spin = rectangle(0, 0, 1, 1, 59.8 + step * 1e-3)[[1, 3]]
        site = Builder()
        site.prism(rectangle(0, 0, 10, 3) @ spin, 0, 2)
        site.prism(rectangle(10, 0, 11, 3) @ spin, 0, 2)
        assert lengths(site)["foot"] == 0


def test_lines_where_solids_pass_through_one_another_are_edges():
    """A post 0.4 × 0.4 through a ramp of slope ½: the crossing runs 0.4 along and √(0.4² + 0.2²) up."""
    site = Builder()
    site.wedge(rectangle(0, 0, 8, 4), -1, [0, 4, 4, 0])
    site.prism(rectangle(4, 1, 0.4, 0.4), 0, 6)
    drawing = draw(site.scene(), VIEW)
    crossing = drawing.edges.source[drawing.dashes.edge] < 0
    assert (drawing.kind[crossing] == EDGE).all()
    page = VIEW.to_page([[4, 1, 2], [4.4, 1, 2.2], [4, 1.4, 2]])[:, :2]
    wanted = np.hypot(*(page[1] - page[0])) + np.hypot(*(page[2] - page[0]))
    length = (drawing.dashes.end - drawing.dashes.begin) * drawing.edges.length[drawing.dashes.edge]
    assert length[crossing].sum() == pytest.approx(wanted, abs=1e-6)


def test_no_line_is_a_seam():
    drawing = draw(SCENES["gridded"](np.random.default_rng(0)), VIEW)
    assert not (drawing.kind == SEAM).any()


def test_kinds_do_not_depend_on_the_number_of_threads():
    scene = SCENES["planted"](np.random.default_rng(2))
    one, two = (resolve(scene, VIEW, origin=np.zeros(3), threads=n, tile=None) for n in (1, 2))
    assert np.array_equal(one.kind, two.kind)
    assert np.array_equal(one.dashes.begin, two.dashes.begin)
    assert all(a.equals(b) for a, b in zip(one.visible.polygon, two.visible.polygon, strict=True))


def expected(rays, scene, place, aside):
    """The kind at each place, from the faces seen on either side of it."""
    faces, here, there = scene.faces, place.here, np.maximum(place.there, 0)
    gap = rays.depth(there, place.xy) - rays.depth(here, place.xy)
    touching = (place.there >= 0) & (np.abs(gap) < 1e-6)
    outward = np.sign(rays.facing)[:, None] * rays.normal
    beyond = place.xy - aside * place.inward
    step = rays.point(there, beyond) - rays.point(here, place.xy)
    valley = (outward[here] * step).sum(axis=1) > 1e-4 * aside
    coplanar = (outward[here] * outward[there]).sum(axis=1) > 1 - 1e-9
    one = faces.solid[here] == faces.solid[there]
    crown = one & (faces.part[here] == PART_CODE["crown"]) & (faces.part[there] == PART_CODE["crown"])
    kind = np.full(len(here), PROFILE)
    kind[touching] = EDGE
    kind[touching & valley & ~one & ~coplanar] = FOOT
    group = scene.group[faces.solid]
    kind[touching & coplanar & (group[here] == group[there])] = SEAM
    kind[touching & crown] = SEAM
    sides = one & (faces.part[here] == PART_CODE["side"]) & (faces.part[there] == PART_CODE["side"])
    round_off = (outward[here] * outward[there]).sum(axis=1) > np.cos(np.radians(15.5))
    kind[touching & sides & round_off] = SEAM
    return kind


def compared(kind, *, one_group, count=300, aside=2e-3):
    """Kinds wanted and drawn at points of a scene that are clear of all other lines, in all views."""
    wanted, drawn = [], []
    for number, view in enumerate(VIEWS.values()):
        rng = np.random.default_rng(100 + number)
        scene = SCENES[kind](rng)
        if one_group:
            scene = replace(scene, group=np.zeros_like(scene.group))
        drawing = draw(scene, view)
        rays = Rays(scene.faces, scene.rank, view.matrix)
        place = places(rays, count, rng, aside=aside)
        place = place.take(np.flatnonzero(place.here == place.face))
        wanted.append(expected(rays, scene, place, aside))
        tree = shapely.STRtree(shapely.linestrings(drawing.dashes.xy(drawing.edges)))
        rows, nearest = tree.query_nearest(
            shapely.points(place.xy), max_distance=2 * Tolerance().page, all_matches=False
        )
        drawn.append(np.full(len(place.xy), SEAM))
        drawn[-1][rows] = drawing.kind[nearest]
    return np.concatenate(wanted), np.concatenate(drawn)


@pytest.mark.parametrize("kind", SCENES)
def test_kinds_by_ray_casting(kind):
    """The faces seen on either side of a line tell its kind."""
    wanted, drawn = compared(kind, one_group=False)
    assert len(wanted) > 500
    assert np.bincount(4 * wanted + drawn, minlength=16).reshape(4, 4)[~np.eye(4, dtype=bool)].sum() == 0


@pytest.mark.parametrize("kind", ["gridded", "terraces", "duplicated"])
def test_lines_between_neighbours_of_one_group(kind):
    """But for the seams between them, neighbours of one group are drawn like others."""
    wanted, drawn = compared(kind, one_group=True)
    assert np.array_equal(wanted[wanted != SEAM], drawn[wanted != SEAM])
    assert (wanted == SEAM).sum() > 20


@pytest.mark.parametrize("kind", ["gridded", "terraces", "duplicated"])
def test_neighbours_of_one_group_show_no_seams(kind):
    wanted, drawn = compared(kind, one_group=True)
    assert (drawn[wanted == SEAM] == SEAM).all()
