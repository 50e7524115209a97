"""One line where several fall on one another on the page, and the nearest one's."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from reference.lines import doubled
from scenes import KINDS as SCENES
from scenes import VIEWS
from shapes import Builder, draw, kind_length, rectangle

from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, from_quads
from siteaxo.solids.scene import Scene
from siteaxo.view.audit import audit
from siteaxo.view.coincident import without_doubles
from siteaxo.view.dashes import Dashes, PageEdges, complement
from siteaxo.view.page import onto_page
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.tolerance import GRID, Tolerance

PLAN = planometric(0, 0)


def reduced(lines, depths=None, priority=None, shift=(0.0, 0.0)):
    """What is left of whole lines, as (line, begin, end) in metres along each."""
    xy = np.array(lines, dtype=float) + np.array(shift)
    count = len(xy)
    depth = (
        np.zeros((count, 2)) if depths is None else np.repeat(np.array(depths, dtype=float)[:, None], 2, 1)
    )
    none = np.zeros(0, dtype=np.int64)
    edges = PageEdges(
        xy=xy,
        depth=depth,
        source=np.arange(count),
        solid=np.zeros(count, dtype=np.int64),
        smooth=np.zeros(count, dtype=bool),
        member_edge=none,
        member_face=none,
        left=none.astype(bool),
    )
    dashes = Dashes(edge=np.arange(count), begin=np.zeros(count), end=np.ones(count))
    order = np.arange(count) if priority is None else np.array(priority)
    left, origin = without_doubles(dashes, edges, order, Tolerance())
    assert np.array_equal(left.edge, origin)
    length = edges.length[left.edge]
    rows = sorted(zip(left.edge.tolist(), left.begin * length, left.end * length, strict=True))
    return [(row, pytest.approx(float(b), abs=1e-6), pytest.approx(float(e), abs=1e-6)) for row, b, e in rows]


def test_equal_lines_are_drawn_once():
    line = [[0, 0], [4, 3]]
    assert reduced([line, line]) == [(1, 0, 5)]
    assert reduced([line, line[::-1]], priority=[1, 0]) == [(0, 0, 5)]


@pytest.mark.parametrize("nearer", [0, 1])
def test_the_nearer_is_kept(nearer):
    depths = [2.0, 1.0] if nearer == 0 else [1.0, 2.0]
    assert reduced([[[0, 0], [5, 0]]] * 2, depths, priority=[1, 0]) == [(nearer, 0, 5)]


def test_what_overhangs_is_kept():
    assert reduced([[[0, 0], [10, 0]], [[3, 0], [7, 0]]], [0, 1]) == [(0, 0, 3), (0, 7, 10), (1, 0, 4)]
    assert reduced([[[0, 0], [10, 0]], [[7, 0], [12, 0]]], [0, 1]) == [(0, 0, 7), (1, 0, 5)]
    assert reduced([[[0, 0], [10, 0]], [[3, 0], [7, 0]]], [1, 0]) == [(0, 0, 10)]


def test_lines_end_to_end_stay():
    assert reduced([[[0, 0], [4, 0]], [[4, 0], [9, 0]]]) == [(0, 0, 4), (1, 0, 5)]


@pytest.mark.parametrize("aside", [0.9e-4, -0.9e-4])
def test_lines_within_the_tolerance_are_one(aside):
    assert reduced([[[0, 0], [9, 0]], [[1, aside], [8, aside]]], [0, 1]) == [(0, 0, 1), (0, 8, 9), (1, 0, 7)]


@pytest.mark.parametrize("aside", [1.1e-4, -0.01])
def test_lines_farther_apart_are_two(aside):
    assert len(reduced([[[0, 0], [9, 0]], [[1, aside], [8, aside]]], [0, 1])) == 2


def test_lines_that_cross_stay():
    assert len(reduced([[[0, 0], [4, 4]], [[0, 4], [4, 0]], [[0, 0], [4, 4.1]]])) == 3


@pytest.mark.parametrize("turn", np.arange(0, 360, 7.5))
def test_every_direction(turn):
    """Lines drawn to and fro, at all angles and away from the origin, with slants within the tolerance."""
    spin = rectangle(0, 0, 1, 1, turn)[[1, 3]]
    first = np.array([[0, 0], [6, 0]]) @ spin
    second = np.array([[5, 0.8e-4], [1, -0.8e-4]]) @ spin
    for shift in ((0, 0), (3, -2), (-17, 11)):
        assert reduced([first, second], [0, 1], shift=shift) == [(0, 0, 1), (0, 5, 6), (1, 0, 4)]


def test_three_deep():
    lines = [[[0, 0], [10, 0]], [[2, 0], [6, 0]], [[4, 0], [8, 0]]]
    assert reduced(lines, [0, 1, 2]) == [(0, 0, 2), (0, 8, 10), (1, 0, 2), (2, 0, 4)]


def test_nothing():
    assert reduced(np.zeros((0, 2, 2))) == []


def test_lines_that_part_slowly_are_one_where_they_run_together():
    """Over the 2 m they share they are 0.9e-4 apart at the most; farther on one leans away."""
    left = reduced([[[0, 0], [5, 0]], [[3, -0.5e-4], [7, 1.5e-4]]], [0, 1])
    assert left == [(0, 0, 3), (1, 0, 4)]


def test_slightly_slanted_lines_far_from_the_origin():
    """A line 0.5 m long, slanted by 1.6e-4 m in all, on a long one, at 2 km from the origin."""
    for place in np.arange(0, 1, 0.01):
        left = reduced([[[0, 0], [9, 0]], [[1, -0.8e-4], [1.5, 0.8e-4]]], [0, 1], shift=(2000, place))
        assert left == [(0, 0, 1), (0, 1.5, 9), (1, 0, 0.5)]


def test_complement_of_intervals():
    """Overlapping, touching, contained and short gaps, on edges of 1 and 10 metres."""
    covered = Dashes(
        edge=np.array([1, 1, 1, 0, 3, 3, 3]),
        begin=np.array([0.5, 0.1, 0.2, 0.0, 0.0, 0.4, 0.4004]),
        end=np.array([0.7, 0.3, 0.25, 1.0, 0.4, 0.4002, 1.0]),
    )
    bare, rest = complement(covered, np.array([1.0, 10, 10, 10]), 0.005)
    got = list(zip(bare.edge.tolist(), bare.begin.tolist(), bare.end.tolist(), strict=True))
    assert got == [(1, 0.0, 0.1), (1, 0.3, 0.5), (1, 0.7, 1.0), (2, 0.0, 1.0)]
    length = np.bincount(bare.edge, bare.end - bare.begin, 4) + np.bincount(
        rest.edge, rest.end - rest.begin, 4
    )
    assert length == pytest.approx(np.ones(4), abs=1e-15)


def test_duplicated_walls_are_drawn_once():
    """A wall standing twice is drawn like one; of a row of equal neighbours each joint is one line."""
    once, twice = Builder(), Builder()
    for site, times in ((once, 1), (twice, 3)):
        for _ in range(times):
            site.prism(rectangle(0, 0, 8, 0.3, 20), 0, 1.8)
    view = planometric(60)
    assert kind_length(draw(twice.scene(), view)) == pytest.approx(
        kind_length(draw(once.scene(), view)), abs=1e-6
    )


def test_a_roof_edge_shared_by_two_neighbours_is_one_line():
    site = Builder()
    for x in (0, 4):
        site.prism(rectangle(x, 0, 4, 3), 0, 2)
    report = draw(site.scene(), planometric(0)).report
    outline_and_ridge = 2 * (8 + 3) + 8 + 2 * 2 + 3 + 2
    assert report["drawn_length"] == pytest.approx(outline_and_ridge, abs=1e-6)
    assert report["visible_length"] == pytest.approx(outline_and_ridge + 3 + 2, abs=1e-6)


@pytest.mark.parametrize("view", [planometric(60), planometric(0), isometric(), PLAN], ids=str)
def test_an_edge_shorter_than_the_grid_of_the_page_is_not_seen(view):
    """Ground that is divided along lines a hair apart has such edges."""
    site = Builder()
    for x in (0, 2):
        site.prism(rectangle(x, 0, 2, 1), 0, 1)
    scene = site.scene()
    end = scene.edges.end.copy()
    end[0] = scene.edges.start[0] + GRID / 32
    scene = replace(scene, edges=replace(scene.edges, end=end))
    drawing = draw(scene, view)
    length = drawing.edges.length
    assert length[0] == 0
    assert 0 not in drawing.dashes.edge
    ends = drawing.dashes.xy(drawing.edges)
    assert (np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) >= Tolerance().dash - 1e-9).all()


def noisy(scene, rng, amplitude):
    """The scene with every upright corner of every solid moved a little in plan."""
    faces = scene.faces
    place = np.column_stack([faces.solid[faces.vertex_face], np.rint(faces.xyz[:, :2] * 1e6)])
    corner = np.unique(place, axis=0, return_inverse=True)[1].ravel()
    xyz = faces.xyz.copy()
    xyz[:, :2] += rng.uniform(-amplitude, amplitude, (corner.max() + 1, 2))[corner]
    moved = replace(faces, xyz=xyz)
    return replace(scene, faces=moved, edges=edges_of(moved))


@pytest.mark.parametrize("kind", ["terraces", "decks", "sunken", "duplicated", "sheets", "angled"])
@pytest.mark.parametrize("amplitude", [0.0, 1e-6, 3.5e-5])
def test_no_doubles_in_noisy_surveys(kind, amplitude):
    """Corners that ought to meet are up to the page tolerance apart; still no line is drawn twice."""
    for number, view in enumerate([*VIEWS.values()]):
        rng = np.random.default_rng(50 + number)
        drawing = draw(noisy(SCENES[kind](rng), rng, amplitude), view)
        lines = drawing.dashes.xy(drawing.edges)
        pairs = doubled(lines, aside=1e-4, length=5e-3)
        assert not len(pairs), f"{view}: {lines[pairs[0]].tolist()}"


@pytest.mark.parametrize("view", [planometric(60), planometric(0), isometric(), PLAN], ids=str)
def test_no_stubs(view):
    """No part of an edge shorter than the shortest dash is drawn by itself."""
    rng = np.random.default_rng(9)
    for kind in ("terraces", "gridded", "interlocking"):
        drawing = draw(noisy(SCENES[kind](rng), rng, 3e-5) if kind == "terraces" else SCENES[kind](rng), view)
        length = (drawing.dashes.end - drawing.dashes.begin) * drawing.edges.length[drawing.dashes.edge]
        assert length.min() >= Tolerance().dash - 1e-9


@pytest.mark.parametrize(
    ("kind", "seed", "amplitude"),
    [("duplicated", 0, 5e-4), ("gridded", 4, 3e-4), ("gridded", 13, 3e-5), ("gridded", 18, 3e-5)],
)
def test_walls_a_hair_apart_leave_no_gap(kind, seed, amplitude):
    """They cross at shallow angles, where ties and depth go in a circle: slivers a metre and more long."""
    rng = np.random.default_rng(seed)
    scene, view = noisy(SCENES[kind](rng), rng, amplitude), planometric(60)
    assert audit(scene, view, draw(scene, view), origin=np.zeros(3)).passed


def hole_in(scene, view):
    """What faces cover of the page, less what is seen of any of them."""
    page = onto_page(scene.faces, view, np.zeros(3), Tolerance())
    parts = page.polygon, draw(scene, view).visible.polygon
    whole, seen = (shapely.union_all(part, grid_size=GRID) for part in parts)
    return shapely.difference(whole, seen, grid_size=GRID).area


def test_three_outlines_of_one_house_hide_one_another_in_no_circle():
    """Surveyed three times, millimetres and hundredths of a degree apart: the front is there all over."""
    site = Builder()
    corners = [
        [(7, 4.5), (7, 9), (1.5, 9), (1.5, 4.5)],
        [
            (7.002609362, 4.50196843466),
            (6.9993892298, 9.0019672825),
            (1.49938963797, 8.99803156534),
            (1.50261077017, 4.4980327175),
        ],
        [
            (6.99738922983, 4.49703271757),
            (7.00060936203, 8.99703156546),
            (1.5006107702, 9.00096728257),
            (1.497390638, 4.5009684347),
        ],
    ]
    for ring in corners:
        site.prism(shapely.Polygon(ring), 0.0, 4.0)
    assert hole_in(site.scene(), planometric(60)) < 1e-6


@pytest.mark.parametrize("seed", range(12))
def test_tops_that_cross_within_some_millimetres_leave_no_hole(seed):
    """Three sheets of 6 by 4 m whose corners lie within 2 mm of one level, each in a plane of its own."""
    rng = np.random.default_rng(seed)
    quads = np.array(
        [
            [(0, 0, a), (6, 0, a + b), (6, 4, a + b + c), (0, 4, a + c)]
            for a, b, c in rng.uniform(-0.002, 0.002, (3, 3))
        ]
    )
    faces = from_quads(quads, solid=np.arange(3), part=0)
    scene = Scene(faces=faces, edges=edges_of(faces), rank=np.arange(3.0), group=np.zeros(3, dtype=int))
    assert hole_in(scene, planometric(30)) < 1e-6


HOUSE = shapely.box(1.5, 4.5, 7, 9)


def surveyed(count, seed):
    """One house surveyed several times, up to 4 mm and 0.06 degrees apart."""
    rng = np.random.default_rng(seed)
    site = Builder()
    for number in range(count):
        shift, turn = rng.uniform(-0.004, 0.004, 2) * (number > 0), rng.uniform(-0.06, 0.06) * (number > 0)
        outline = shapely.affinity.rotate(shapely.affinity.translate(HOUSE, *shift), turn)
        site.prism(outline, 0.0, 4.0, group=0)
    return site.scene()


def lines_of(drawing):
    return shapely.union_all(shapely.linestrings(drawing.dashes.xy(drawing.edges)))


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("turn", [30, 45, 60])
def test_a_house_surveyed_several_times_is_drawn_as_one(count, turn):
    """No part of it shows nothing, no line of it is lost, and walls that cross at a graze show no line."""
    view = planometric(turn)
    once = lines_of(draw(surveyed(1, 0), view))
    for seed in range(12):
        scene = surveyed(count, seed)
        several = lines_of(draw(scene, view))
        assert hole_in(scene, view) < 1e-5
        assert shapely.difference(once, several.buffer(0.03)).length < 0.2
        assert shapely.difference(several, once.buffer(0.03)).length == 0


def test_circles_are_opened_in_tiles_as_in_one_piece():
    """Three surveys of every house of a row, drawn in one piece and house by house."""
    scenes = [surveyed(3, seed) for seed in range(16)]
    site = Builder()
    for number, scene in enumerate(scenes):
        faces = scene.faces
        for solid in range(3):
            rows = np.flatnonzero((faces.solid == solid) & (faces.part == PART_CODE["top"]))
            start = faces.vertex_start[rows[0]]
            ring = faces.xyz[start : start + 4, :2] + np.array([6.0 * (number % 4), 5.0 * (number // 4)])
            site.prism(shapely.Polygon(ring), 0.0, 4.0, group=0)
    whole, tiled = (draw(site.scene(), planometric(60), tile=tile) for tile in (None, 2))
    assert tiled.report["tiles"] > 4
    one, other = (shapely.area(d.visible.polygon)[np.argsort(d.face)] for d in (whole, tiled))
    assert other == pytest.approx(one, abs=1e-6)  # the grid, along lines of some metres
    assert other.sum() == pytest.approx(one.sum(), rel=1e-9)
    assert hole_in(site.scene(), planometric(60)) < 1e-4
