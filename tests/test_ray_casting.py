"""
Drawings against ray casting: at any place, what is drawn is what a line of sight meets first.

Rays are cast in double precision over every face, and by Embree through the trimesh
package. Neither knows of pages, pairs of faces or half planes.
"""

import numpy as np
import pytest
from reference.lines import certain, clear_of_others, doubled, places
from reference.raycast import Rays, near_segments, sample
from scenes import KINDS, VIEWS
from shapes import Builder, draw, rectangle, shown

from siteaxo.solids.faces import PART_CODE
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.tolerance import Tolerance

AWAY = 5e-3  # distance of samples from every side of every face [m]
SAMPLES = 1000  # to a scene and view: 14 scenes in 12 views make 168 000


class Look:
    """A scene of one kind drawn in one view, with the rays to judge it by."""

    def __init__(self, kind, view, seed):
        self.rng = np.random.default_rng(seed)
        self.scene = KINDS[kind](self.rng)
        self.view = VIEWS[view]
        self.drawing = draw(self.scene, self.view)
        self.rays = Rays(self.scene.faces, self.scene.rank, self.view.matrix)


def looks(kind):
    return [Look(kind, view, 1000 + number) for number, view in enumerate(VIEWS)]


def test_there_are_scenes_enough():
    assert len(KINDS) * len(VIEWS) >= 20
    assert len(KINDS) * len(VIEWS) * SAMPLES >= 100_000


@pytest.mark.parametrize("kind", KINDS)
def test_faces_drawn_are_the_nearest(kind):
    """No sample is mislabelled, among those that do not lie where two planes all but meet."""
    sure_of = 0
    for look in looks(kind):
        points = sample(look.rays.segments, SAMPLES, look.rng, clear=AWAY)
        hits = look.rays.cast(points)
        sure = (hits.aside > AWAY) & (hits.gap > Tolerance().depth)
        wrong = sure & (shown(look.drawing, points) != hits.face)
        assert not wrong.any(), f"{look.view} at {points[wrong][:3]}"
        assert (hits.face >= 0).sum() > SAMPLES / 5
        sure_of += sure.sum()
    assert sure_of > 0.99 * SAMPLES * len(VIEWS)


@pytest.mark.parametrize("kind", KINDS)
def test_faces_drawn_are_hit_first_by_embree(kind):
    """Of faces within the tolerance any may be drawn; nothing is drawn where nothing is hit."""
    pytest.importorskip("embreex")
    from reference.embree import first_hits

    for look in looks(kind)[:: 1 if kind != "planted" else 4]:
        points = sample(look.rays.segments, SAMPLES, look.rng, clear=AWAY)
        hits = look.rays.cast(points)
        points = points[hits.aside > AWAY]
        label, hit = shown(look.drawing, points), first_hits(look.rays, points)
        assert np.array_equal(label >= 0, hit >= 0)
        seen = np.flatnonzero(hit >= 0)
        depth = [look.rays.depth(faces[seen], points[seen]) for faces in (label, hit)]
        assert np.abs(depth[0] - depth[1]).max() < Tolerance().depth


def seams(look, place):
    """Places between faces of one solid that are coplanar, or facets of one crown or of one round side."""
    faces, rays, there = look.scene.faces, look.rays, np.maximum(place.there, 0)
    aligned = (rays.normal[place.face] * rays.normal[there]).sum(axis=1)
    touching = np.abs(rays.depth(place.face, place.xy) - rays.depth(there, place.xy)) < 1e-6
    flush = touching & (aligned > 1 - 5e-9)  # 1e-4 radians
    crown = (faces.part[place.face] == PART_CODE["crown"]) & (faces.part[there] == PART_CODE["crown"])
    sides = (faces.part[place.face] == PART_CODE["side"]) & (faces.part[there] == PART_CODE["side"])
    sides &= touching & (aligned > np.cos(np.radians(15.5)))
    own = faces.solid[place.face] == faces.solid[there]
    return (place.there >= 0) & own & (flush | crown | sides)


@pytest.mark.parametrize("kind", KINDS)
def test_no_line_is_missing_and_no_seam_is_drawn(kind):
    """Wherever a visible face ends a line is drawn, unless it goes on smoothly."""
    count = 0
    for look in looks(kind):
        place = places(look.rays, 600, look.rng, aside=1e-3)
        place = place.take(np.flatnonzero(place.here == place.face))
        drawn = near_segments(place.xy, look.drawing.dashes.xy(look.drawing.edges), 2 * Tolerance().page)
        wrong = drawn == seams(look, place)
        assert not wrong.any(), f"{look.view} at {place.xy[wrong][:3]}"
        count += len(drawn)
    assert count > 1500


@pytest.mark.parametrize("kind", KINDS)
def test_no_line_is_drawn_where_nothing_ends(kind):
    """
    Right beside a drawn line one of its own faces is seen; beside a crossing, one on either side.

    Where edges of several solids coincide the line may be any one's.
    """
    count = 0
    for look in looks(kind):
        dashes, edges = look.drawing.dashes, look.drawing.edges
        ends = dashes.xy(edges)
        length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        pick = look.rng.choice(len(ends), 600, p=length / length.sum())
        unit = (ends[pick, 1] - ends[pick, 0]) / length[pick, None]
        xy = ends[pick, 0] + look.rng.random((600, 1)) * length[pick, None] * unit
        crossing = edges.source[dashes.edge[pick]] < 0
        aside = np.where(crossing, 2e-5, 1e-3)
        clear = np.flatnonzero(clear_of_others(xy, unit, look.rays.segments, 4e-3))
        xy, aside, crossing, edge = xy[clear], aside[clear], crossing[clear], dashes.edge[pick[clear]]
        across = aside[:, None] * np.column_stack([-unit[clear, 1], unit[clear, 0]])
        sides = [look.rays.cast(xy + across), look.rays.cast(xy - across)]
        sure = np.logical_and(*(sure_beside(look, edge, hits, xy, crossing) for hits in sides))
        ends_here = sides[0].face != sides[1].face
        own = [belongs(look, edge, hits.face, xy, flush=crossing | ends_here) for hits in sides]
        wrong = sure & ~np.where(crossing, own[0] & own[1], own[0] | own[1])
        assert not wrong.any(), f"{look.view} at {xy[wrong][:3]}"
        count += sure.sum()
    assert count > 2000


def sure_beside(look, edge, hits, xy, crossing):
    """Whether what is seen beside a line is beyond doubt; a crossing must be met or missed by a tolerance."""
    edges, rays = look.drawing.edges, look.rays
    first = np.searchsorted(edges.member_edge, edge)
    member = look.drawing.face[edges.member_face[np.minimum(first, len(edges.member_face) - 1)]]
    gap = np.abs(rays.depth(np.maximum(hits.face, 0), xy) - rays.depth(member, xy))
    return np.where(crossing, (gap < 1e-6) | (gap > Tolerance().depth), certain(rays, hits, xy, 1e-3))


def belongs(look, edge, face, xy, *, flush=False):
    """Whether faces seen are members of edges, or at least meet the edge where that will do."""
    edges, drawing, rays = look.drawing.edges, look.drawing, look.rays
    start = np.searchsorted(edges.member_edge, np.arange(len(edges) + 1))
    result = np.zeros(len(edge), dtype=bool)
    flush = np.broadcast_to(flush, len(edge)) & (face >= 0)
    for k in range(int(np.diff(start).max())):
        row = np.flatnonzero(start[edge] + k < start[edge + 1])
        member = drawing.face[edges.member_face[start[edge[row]] + k]]
        gap = rays.depth(member, xy[row]) - rays.depth(np.maximum(face[row], 0), xy[row])
        result[row] |= (member == face[row]) | (flush[row] & (np.abs(gap) < 1e-6))
    return result


@pytest.mark.parametrize("kind", KINDS)
def test_hidden_lines_are_hidden(kind):
    """Right beside a hidden line its faces are not seen, unless a nearer line is drawn at its place."""
    count = 0
    for look in looks(kind)[::3]:
        dashes, edges = look.drawing.hidden, look.drawing.edges
        ends = dashes.xy(edges)
        length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        keep = np.flatnonzero((length > 0.02) & (edges.source[dashes.edge] >= 0))
        if not len(keep):
            continue
        middle, edge = ends[keep].mean(axis=1), dashes.edge[keep]
        unit = (ends[keep, 1] - ends[keep, 0]) / length[keep, None]
        clear = clear_of_others(middle, unit, look.rays.segments, 4e-3)
        clear &= ~near_segments(middle, look.drawing.dashes.xy(edges), 2 * Tolerance().page)
        middle, edge, unit = middle[clear], edge[clear], unit[clear]
        across = 1e-3 * np.column_stack([-unit[:, 1], unit[:, 0]])
        for hits in (look.rays.cast(middle + across), look.rays.cast(middle - across)):
            sure = certain(look.rays, hits, middle, 1e-3)
            wrong = sure & belongs(look, edge, hits.face, middle)
            assert not wrong.any(), f"{look.view} at {middle[wrong][:3]}"
            count += sure.sum()
    assert count > 50


@pytest.mark.parametrize("kind", KINDS)
def test_no_line_is_drawn_twice(kind):
    """By comparing each drawn line with each: none run along one another for more than 5 mm."""
    for look in looks(kind):
        lines = look.drawing.dashes.xy(look.drawing.edges)
        pairs = doubled(lines, aside=1e-4, length=5e-3)
        assert not len(pairs), f"{look.view}: {lines[pairs[0]]}"


def test_a_ramp_under_ground_draws_nothing():
    """Its upper edge lies in the ground's plane; all of it is hidden."""
    site = Builder()
    site.prism(rectangle(0, 0, 10, 10), -3, 0)
    ramp = site.wedge(rectangle(2, 2, 6, 2), -2, [-1, -0.01, -0.01, -1])
    assert not (lines_of(site, ramp)).any()


@pytest.mark.parametrize("view", [planometric(30), planometric(20, 0), isometric()], ids=str)
def test_a_ramp_that_comes_up_to_the_ground_from_below_draws_nothing(view):
    site = Builder()
    site.prism(rectangle(0, 0, 10, 10), -3, 0)
    ramp = site.wedge(rectangle(2, 2, 6, 2), -2, [-1, 0, 0, -1])
    assert not (lines_of(site, ramp, view)).any()


def test_a_ridge_that_touches_a_canopy_from_below_draws_nothing():
    site = Builder()
    site.prism(rectangle(0, 0, 10, 10), 3, 3)
    roof = site.gable(rectangle(2, 2, 6, 4), 1, 3)
    assert not (lines_of(site, roof)).any()


def lines_of(site, solid, view=None):
    drawing = draw(site.scene(), view or planometric(30))
    return drawing.edges.solid[drawing.dashes.edge] == solid
