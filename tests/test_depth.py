"""Who hides whom: ranges of depth, ties, faces that cross, and what a lost pair does."""

import numpy as np
import pytest
import shapely
from scenes import KINDS, VIEWS
from shapes import Builder, draw, rectangle, shown

from siteaxo.view import depth
from siteaxo.view import drawn as engine
from siteaxo.view.audit import audit
from siteaxo.view.candidates import overlapping_pairs
from siteaxo.view.depth import Hiding, _corner_range, _range_over, _range_within, who_hides_whom
from siteaxo.view.overlay import checked_intersection
from siteaxo.view.page import onto_page
from siteaxo.view.pieces import pieces_of
from siteaxo.view.projection import planometric
from siteaxo.view.tolerance import THIN, Tolerance

ORIGIN = np.zeros(3)
PLAN = planometric(0, 0)


def sheets(*corners, rank=None):
    """Page faces of two-sided sheets seen in plan, with their solids in order, and their ranks."""
    site = Builder()
    for points in corners:
        site.faces([np.array(points, dtype=float)], two_sided=True)
    page = onto_page(site.scene().faces, PLAN, ORIGIN, Tolerance())
    return page, np.arange(len(page)) if rank is None else np.array(rank)


def level(x, y, width, depth, z):
    return np.column_stack([rectangle(x, y, width, depth), np.full(4, z)])


def decide(page, rank):
    first, second = overlapping_pairs(page, pieces_of(page))
    return who_hides_whom(page, first, second, rank, Tolerance())


@pytest.mark.parametrize("upper", [0, 1])
def test_the_higher_sheet_hides_the_lower(upper):
    levels = [1.0, 2.0] if upper else [2.0, 1.0]
    hiding = decide(*sheets(level(0, 0, 4, 4, levels[0]), level(2, 2, 4, 4, levels[1])))
    assert (hiding.hider.tolist(), hiding.hidden.tolist()) == ([upper], [1 - upper])
    assert shapely.area(hiding.region).tolist() == [16]
    assert not hiding.tie.any()
    assert not hiding.partial.any()


@pytest.mark.parametrize(("rank", "winner"), [([0, 1], 1), ([5, 2], 0), ([3, 3], 1)])
@pytest.mark.parametrize("gap", [0.0, 0.0004])
def test_in_one_plane_rank_decides_then_order(rank, winner, gap):
    page, ranks = sheets(level(0, 0, 4, 4, 1), level(2, 2, 4, 4, 1 + gap), rank=rank)
    hiding = decide(page, ranks)
    assert (hiding.hider.tolist(), hiding.tie.tolist()) == ([winner], [True])


def test_beyond_the_tolerance_depth_decides():
    page, rank = sheets(level(0, 0, 4, 4, 1.0011), level(2, 2, 4, 4, 1), rank=[0, 1])
    assert decide(page, rank).hider.tolist() == [0]


def test_faces_that_touch_do_not_overlap():
    page, _ = sheets(level(0, 0, 4, 4, 0), level(4, 0, 4, 4, 1), level(4 - THIN / 2, 4, 2, 2, 1))
    assert overlapping_pairs(page, pieces_of(page))[0].tolist() == []


def test_crossing_faces_hide_one_another_on_either_side():
    """A ramp from 0 to 2 through a sheet at 1: each is in front over half of their overlap."""
    ramp = [[0, 0, 0], [4, 0, 2], [4, 3, 2], [0, 3, 0]]
    page, rank = sheets(ramp, level(-1, 1, 6, 1, 1))
    hiding = decide(page, rank)
    assert sorted(zip(hiding.hider.tolist(), hiding.hidden.tolist(), strict=True)) == [(0, 1), (1, 0)]
    assert hiding.partial.all()
    by_ramp = hiding.region[hiding.hider == 0][0]
    by_sheet = hiding.region[hiding.hider == 1][0]
    assert by_ramp.bounds == pytest.approx((2, 1, 4, 2), abs=1e-9)
    assert by_sheet.bounds == pytest.approx((0, 1, 2, 2), abs=1e-9)
    ends = hiding.crossing[0][np.argsort(hiding.crossing[0][:, 1])]
    assert ends == pytest.approx(np.array([[2, 1], [2, 2]]), abs=1e-9)
    assert sorted(hiding.crossing_faces[0].tolist()) == [0, 1]


def test_a_crossing_of_a_face_with_a_notch_has_several_parts():
    """A comb of two teeth crosses a ramp along one line, in two pieces of one metre."""
    comb = [[0, 0], [5, 0], [5, 3], [4, 3], [4, 1], [1, 1], [1, 3], [0, 3]]
    comb = np.column_stack([comb, np.full(8, 1.0)])
    ramp = [[-1, 1.5, 0.5], [6, 1.5, 0.5], [6, 3.5, 1.5], [-1, 3.5, 1.5]]
    hiding = decide(*sheets(comb, ramp))
    length = np.hypot(*(hiding.crossing[:, 1] - hiding.crossing[:, 0]).T)
    assert np.sort(length) == pytest.approx([1, 1], abs=1e-9)
    assert hiding.crossing[..., 1] == pytest.approx(2.5, abs=1e-9)
    assert shapely.area(hiding.region[hiding.partial]).sum() == pytest.approx(2 * 1.5, abs=1e-9)


def test_planes_that_cross_elsewhere_do_not_count():
    """Within the common box the planes cross, within the overlap they do not."""
    low = [[0, 0, 0], [10, 0, 0], [0, 10, 0]]
    high = [[10, 10, 5], [1, 8, 0.5], [8, 1, 0.5]]
    page, rank = sheets(low, high)
    hiding = decide(page, rank)
    assert not hiding.partial.any()
    assert hiding.hider.tolist() == [1]


def test_planes_that_cross_within_a_notch_only():
    """Corners lie on both sides, the overlap on one: it is found by intersecting the two."""
    ell = np.array([[0, 0], [10, 0], [10, 1], [1, 1], [1, 10], [0, 10]], dtype=float)
    ell = np.column_stack([ell, 0.2 * ell[:, 0] + 0.2 * ell[:, 1]])
    sheet = [[5, 0.5, 2.0], [9, 0.5, 2.0], [9, 9, 2.0], [5, 9, 2.0]]
    page, rank = sheets(ell, [[x, y, 0.9] for x, y, _ in sheet])
    hiding = decide(page, rank)
    assert hiding.hider.tolist() == [0]
    assert not hiding.partial.any()


def test_faces_with_very_many_corners_cross_too():
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    disc = np.column_stack([3 * np.cos(angle), 3 * np.sin(angle), np.cos(angle)])
    page, rank = sheets(disc, level(-5, -5, 10, 10, 0))
    hiding = decide(page, rank)
    assert hiding.partial.all()
    assert shapely.area(hiding.region) == pytest.approx(np.full(2, page.area[0] / 2), abs=1e-9)


def brute_pairs(page):
    """All pairs of faces whose polygons share more than a contact."""
    first, second = np.triu_indices(len(page), 1)
    shared = shapely.area(shapely.intersection(page.polygon[first], page.polygon[second], grid_size=2**-24))
    return first, second, shared


@pytest.mark.parametrize("kind", KINDS)
def test_pairs_by_comparing_each_with_each(kind):
    page = onto_page(KINDS[kind](np.random.default_rng(4)).faces, VIEWS["isometric"], ORIGIN, Tolerance())
    first, second, shared = brute_pairs(page)
    found = set(zip(*(v.tolist() for v in overlapping_pairs(page, pieces_of(page))), strict=True))
    every = dict(zip(zip(first.tolist(), second.tolist(), strict=True), shared, strict=True))
    missed = {pair: area for pair, area in every.items() if area > 1e-5 and pair not in found}
    assert not missed
    assert all(i < j for i, j in found)
    assert sum(every[pair] < 1e-8 for pair in found) <= len(found) // 10


class Losing:
    """Who hides whom, with one of the pairs lost."""

    def __init__(self, lost):
        self.lost = lost

    def __call__(self, *args):
        hiding = who_hides_whom(*args)
        keep = np.delete(np.arange(len(hiding.hider)), self.lost % len(hiding.hider))
        names = ("hider", "hidden", "region", "tie", "partial", "against")
        columns = {name: getattr(hiding, name)[keep] for name in names}
        return Hiding(crossing=hiding.crossing, crossing_faces=hiding.crossing_faces, **columns)


def test_lost_pairs_are_found_by_the_audit(monkeypatch):
    """
    Thirty occluders that matter, lost one at a time, are all missed by the audit's balance.

    An occluder matters when without it some face shows that ought not to; others hide
    only what something else hides as well.
    """
    rng = np.random.default_rng(30)
    found = tried = 0
    while found < 30:
        tried += 1
        kind = list(KINDS)[tried % len(KINDS)]
        scene, view = KINDS[kind](np.random.default_rng(tried)), VIEWS["planometric 60"]
        right = draw(scene, view)
        monkeypatch.setattr(engine, "who_hides_whom", Losing(int(rng.integers(1 << 30))))
        wrong = draw(scene, view)
        monkeypatch.undo()
        assert audit(scene, view, right, origin=ORIGIN).passed
        gap = shapely.area(shapely.symmetric_difference(right.visible.polygon, wrong.visible.polygon))
        if gap.max() > 1e-4:
            assert not audit(scene, view, wrong, origin=ORIGIN).passed, (kind, tried)
            found += 1
    assert tried < 120


def near_sheets(levels, ranks):
    """Equal squares at levels a fraction of a millimetre apart, with ranks."""
    site = Builder()
    for z, rank in zip(levels, ranks, strict=True):
        site.prism(rectangle(0, 0, 4, 4), z, z, rank=rank)
    return site.scene()


@pytest.mark.parametrize("view", [planometric(30), PLAN], ids=str)
def test_two_sheets_a_hair_apart(view):
    drawing = draw(near_sheets([0, 0.0007], [2, 1]), view)
    assert drawing.report["visible_area"] == pytest.approx(16, abs=0.01)


def test_three_sheets_a_hair_apart():
    scene = near_sheets([0, 0.0007, 0.0014], [2, 1, 0])
    drawing = draw(scene, PLAN)
    assert shown(drawing, np.array([[2.0, 2.0]]))[0] >= 0
    assert drawing.report["visible_area"] == pytest.approx(16, abs=1e-6)


def test_the_range_within_a_convex_face_holds_what_both_share():
    """Against the corners of the library's overlaps; bounds may be wider, but not beyond either face."""
    rng = np.random.default_rng(8)
    site = Builder()
    for _ in range(300):
        bearing = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(3, 7)))
        reach = rng.uniform(0.5, 4.0, len(bearing))
        xy = np.column_stack([np.cos(bearing), np.sin(bearing)]) * reach[:, None] + rng.uniform(0, 8, 2)
        if not shapely.Polygon(xy).is_valid:
            continue
        height = rng.uniform(-1, 1, 2) @ xy.T + rng.uniform(0, 3)
        site.faces([np.column_stack([xy, height])], two_sided=True)
    page = onto_page(site.scene().faces, PLAN, ORIGIN, Tolerance())
    first, second = overlapping_pairs(page, pieces_of(page))
    rows, low, high = _range_within(page, first, second)
    assert 0.3 < len(rows) / len(first) < 0.99
    assert len(np.unique(rows)) == len(rows)
    first, second = first[rows], second[rows]
    least, most = _range_over(page, first, second, shapely.intersection(*page.polygon[[first, second]]))
    assert (low <= least + 1e-9).all()
    assert (high >= most - 1e-9).all()
    assert (np.abs(low - least) + np.abs(high - most) < 1e-9).mean() > 0.9
    corners = np.stack([_corner_range(page, first, second, corners_of=which) for which in (first, second)])
    assert (low >= corners[:, 0].min(axis=0) - 1e-9).all()
    assert (high <= corners[:, 1].max(axis=0) + 1e-9).all()


def test_pairs_with_a_convex_face_need_no_overlay(monkeypatch):
    """Walls whose planes cut roofs outside what both share, in a scene where nothing crosses."""
    scene, view = KINDS["angled"](np.random.default_rng(3)), VIEWS["planometric 60"]
    expected, asked = draw(scene, view), []

    def counted(first, second):
        asked.append(len(first))
        return checked_intersection(first, second)

    monkeypatch.setattr(depth, "checked_intersection", counted)
    found = draw(scene, view)
    assert found.report["crossings"] == 0
    assert sum(asked) == 0
    monkeypatch.setattr(depth, "_range_within", lambda *_: (np.zeros(0, dtype=int), *np.zeros((2, 0))))
    plain = draw(scene, view)
    assert sum(asked) > 0
    assert shapely.area(found.visible.polygon) == pytest.approx(shapely.area(plain.visible.polygon), abs=1e-9)
    assert shapely.equals(found.visible.polygon, expected.visible.polygon).all()
