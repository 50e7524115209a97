"""Overlays that are balanced before they are believed, against exact rational areas."""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from reference import rational

from siteaxo.errors import GeometryError
from siteaxo.view import overlay
from siteaxo.view.overlay import Redone, careful, checked_difference, checked_intersection, polygonal
from siteaxo.view.tolerance import GRID

FAILURES = json.loads((Path(__file__).parent / "data" / "geos-failures.json").read_text())
FIRST = shapely.from_wkb([pair["A"] for pair in FAILURES])
SECOND = shapely.from_wkb([pair["B"] for pair in FAILURES])


def rings(polygon):
    return [np.array(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]


def exact_areas(first, second):
    """What is left of the first, and what both share, without rounding [m²]."""

    def owner(inside, _x, _y):
        return 1 if all(inside) else (0 if inside[0] else -1)

    return rational.areas([rings(first), rings(second)], owner, 2)


def allowed(first, second):
    """Area by which a snap to the grid may change a result [m²]."""
    return GRID * (shapely.length(first) + shapely.length(second))


@pytest.mark.parametrize("row", range(len(FAILURES)))
def test_stored_truth_is_about_right(row):
    """The stored areas are good to 1e-5; the rational ones are exact."""
    left, shared = exact_areas(FIRST[row], SECOND[row])
    assert left == pytest.approx(FAILURES[row]["true"], abs=1e-5)
    assert left + shared == pytest.approx(FIRST[row].area, abs=1e-12)


def test_stored_failures_are_failures():
    """Plain differences of these pairs are silently wrong; when they no longer are, the guards may go."""
    plain = shapely.area(shapely.difference(FIRST, SECOND))
    truth = np.array([exact_areas(a, b)[0] for a, b in zip(FIRST, SECOND, strict=True)])
    assert (np.abs(plain - truth) > 1e-3).sum() >= len(FAILURES) // 2


@pytest.mark.parametrize("alone", [True, False], ids=["one by one", "all at once"])
def test_stored_failures_come_out_right(alone):
    tally = Redone()
    truth = np.array([exact_areas(a, b) for a, b in zip(FIRST, SECOND, strict=True)])
    if alone:
        results = [checked_difference(FIRST[k : k + 1], SECOND[k : k + 1], tally) for k in range(len(FIRST))]
        rest = np.concatenate([r for r, _ in results])
        taken = np.concatenate([t for _, t in results])
    else:
        rest, taken = checked_difference(FIRST, SECOND, tally)
    common = checked_intersection(FIRST, SECOND)
    margin = allowed(FIRST, SECOND)
    assert (np.abs(shapely.area(rest) - truth[:, 0]) <= margin).all()
    assert (np.abs(taken - truth[:, 1]) <= margin).all()
    assert (np.abs(shapely.area(common) - truth[:, 1]) <= margin).all()
    assert tally.checked == len(FIRST)
    assert tally.redone >= len(FIRST) // 2
    assert tally.worst < 1e-6


def test_a_hole_outside_its_shell_is_not_believed():
    """A plain difference of this pair has the right area, but its hole lies in no shell."""
    pair = json.loads((Path(__file__).parent / "data" / "hole-outside-shell.json").read_text())
    first, second = shapely.from_wkb([pair["first"]]), shapely.from_wkb([pair["second"]])
    assert not shapely.is_valid(shapely.difference(first, second)).all()
    truth = np.sum([exact_areas(part, second[0]) for part in shapely.get_parts(first)], axis=0)
    rest, taken = checked_difference(first, second)
    margin = allowed(first, second)
    assert shapely.is_valid(rest).all()
    assert shapely.area(rest) == pytest.approx(truth[0], abs=float(margin[0]))
    assert taken == pytest.approx(truth[1], abs=float(margin[0]))


def lattice_faces(rng, count, turn, factor):
    """Tops and outlines of boxes on a metre lattice, so that their page edges coincide often."""
    x, y = rng.integers(0, 6, (2, count))
    width, depth, height = rng.integers(1, 7, (3, count))
    base = rng.integers(0, 3, count)
    cosine, sine = np.cos(np.radians(turn)), np.sin(np.radians(turn))

    def page(px, py, pz):
        return np.stack([px * cosine - py * sine, px * sine + py * cosine + factor * pz], axis=-1)

    low = [page(x, y, base), page(x + width, y, base), page(x, y + depth, base)]
    top = base + height
    high = [
        page(x, y, top),
        page(x + width, y, top),
        page(x + width, y + depth, top),
        page(x, y + depth, top),
    ]
    outline = [low[0], low[1], high[1], high[2], high[3], low[2]]
    return np.stack(high, axis=1), np.stack(outline, axis=1)


@pytest.mark.parametrize(("turn", "factor"), [(30, 1), (45, 2 / 3), (60, 0.5), (20, np.sqrt(0.5))])
@pytest.mark.parametrize("rounded", [True, False])
def test_coincident_edges_in_bulk(turn, factor, rounded):
    """Suspects of another kind of overlay, snapped to the grid, are settled by exact areas."""
    rng = np.random.default_rng(int(turn))
    face, _ = lattice_faces(rng, 2500, turn, factor)
    _, outline = lattice_faces(rng, 2500, turn, factor)
    if rounded:
        face, outline = np.rint(face / GRID) * GRID, np.rint(outline / GRID) * GRID
    first, second = shapely.polygons(face), shapely.polygons(outline)
    rest, taken = checked_difference(first, second)
    common = checked_intersection(first, second)
    left = shapely.area(shapely.difference(first, second, grid_size=GRID))
    shared = shapely.area(shapely.intersection(first, second, grid_size=GRID))
    margin = allowed(first, second)
    off = np.abs(shapely.area(rest) - left) > margin
    off |= (np.abs(taken - shared) > margin) | (np.abs(shapely.area(common) - shared) > margin)
    rows = np.union1d(np.flatnonzero(off), rng.integers(0, len(first), 10))
    for row in rows:
        truth = exact_areas(first[row], second[row])
        assert [rest[row].area, taken[row]] == pytest.approx(truth, abs=margin[row])
        assert common[row].area == pytest.approx(truth[1], abs=margin[row])


def test_clean_overlays_are_not_redone():
    """Strips 0.5, 1.5, 2, 2 and 1.5 wide and 3 deep are cut from a square of 4."""
    first = shapely.box(np.zeros(5), 0, 4, 4)
    second = shapely.box(np.arange(5) - 1.5, 1, np.arange(5) + 0.5, 9)
    tally = Redone()
    rest, taken = checked_difference(first, second, tally)
    assert (tally.checked, tally.redone) == (5, 0)
    assert taken == pytest.approx([1.5, 4.5, 6, 6, 4.5])
    assert shapely.area(rest) == pytest.approx([14.5, 11.5, 10, 10, 11.5])
    assert shapely.area(checked_intersection(first, second)) == pytest.approx(taken)


def test_touching_and_covered_polygons():
    first = shapely.box(np.array([0.0, 0, 0]), 0, 4, 4)
    second = np.array([shapely.box(4, 0, 8, 4), shapely.box(-1, -1, 5, 5), shapely.box(9, 9, 10, 10)])
    tally = Redone()
    rest, taken = checked_difference(first, second, tally)
    assert shapely.area(rest).tolist() == [16, 0, 16]
    assert taken.tolist() == [0, 16, 0]
    assert tally.redone == 0
    assert shapely.area(checked_intersection(first, second)).tolist() == [0, 16, 0]


def test_nothing_to_overlay():
    none = np.empty(0, dtype=object)
    assert len(checked_intersection(none, none)) == 0
    rest, taken = checked_difference(none, none)
    assert (len(rest), len(taken)) == (0, 0)


def test_points_and_lines_are_dropped():
    square = shapely.box(0, 0, 2, 2)
    mixed = [
        shapely.GeometryCollection([square, shapely.LineString([(5, 5), (6, 6)]), shapely.Point(9, 9)]),
        shapely.GeometryCollection([shapely.MultiPolygon([square, shapely.box(3, 3, 4, 4)])]),
        shapely.LineString([(0, 0), (1, 1)]),
        shapely.MultiPoint([(0, 0), (1, 1)]),
        shapely.MultiLineString([[(0, 0), (1, 1)]]),
        square,
        shapely.Polygon(),
        shapely.GeometryCollection([shapely.Point(1, 1)]),
    ]
    cleaned = polygonal(np.array(mixed, dtype=object))
    assert shapely.area(cleaned).tolist() == [4, 5, 0, 0, 0, 4, 0, 0]
    assert np.isin(shapely.get_type_id(cleaned), [3, 6]).all()
    assert mixed[2].length > 0


class Fragile:
    """A difference that fails on chosen polygons, on the grid only when told so."""

    def __init__(self, bad, *, on_grid=False):
        self.bad, self.on_grid, self.calls = bad, on_grid, 0

    def __call__(self, first, second, grid_size=None):
        self.calls += 1
        hit = any(polygon.equals(self.bad) for polygon in first)
        if hit and (grid_size is None or self.on_grid):
            raise shapely.errors.GEOSException("TopologyException: side location conflict")
        return shapely.difference(first, second, grid_size=grid_size)


@pytest.mark.parametrize("place", [0, 3, 7])
def test_a_failure_costs_only_its_own_pair(place):
    first = shapely.box(np.arange(8.0), 0, np.arange(8.0) + 2, 2)
    second = shapely.box(np.arange(8.0) + 1, 0, np.arange(8.0) + 3, 2)
    fragile = Fragile(first[place])
    assert shapely.area(careful(fragile, first, second)).tolist() == [2.0] * 8
    assert fragile.calls < 12


def test_a_failure_on_the_grid_too_says_where():
    first, second = shapely.box([0.0, 10], 0, [2.0, 12], 2), shapely.box([1.0, 11], 0, [3.0, 13], 2)
    with pytest.raises(GeometryError, match=r"\(11\.000, 1\.000\).*self-intersections"):
        careful(Fragile(first[1], on_grid=True), first, second)


FOLDED = shapely.from_wkb(
    "0106000000020000000103000000010000000500000030f7539b985ecfbfdf8f3f7fddb11b4041ffffff5efea6bf"
    "0000009c03eb1b40000000c085d5f53f000000c857341c4088892838360ad1bf8b6159d47fdf1b4030f7539b985e"
    "cfbfdf8f3f7fddb11b4001030000000100000004000000a2a12531c238f1bfd4d5f1d65ab51b40000000b06b45f7"
    "bf00000070afa11b40000000b06b45f7bfee0cbe0768491b40a2a12531c238f1bfd4d5f1d65ab51b40"
)
HIDER = shapely.from_wkb(
    "010300000001000000060000003c3699a96b45f7bf8598ccfc93581a4002b3c4d1b22bf3bfb1414e8f04af1b4094"
    "eb0a4d9b2bd1bf755f1daf64df1b400723c9996f32e4bf74bf9b2a87fa19405d6c91f01c1df5bf127f8c14f83519"
    "403c3699a96b45f7bf8598ccfc93581a40"
)


def test_a_fold_no_wider_than_the_last_bit_is_taken_out():
    """Earlier overlays left a triangle that crosses itself by 4e-17 m²; GEOS refuses it on the grid, too."""
    first, second = np.array([FOLDED]), np.array([HIDER])
    with pytest.raises(shapely.errors.GEOSException):
        shapely.difference(first, second, grid_size=GRID)
    rest, taken = checked_difference(first, second)
    assert shapely.area(rest) + taken == pytest.approx(FOLDED.area, abs=1e-8)
    assert not shapely.intersects(shapely.buffer(HIDER, -1e-6), rest).any()


def test_a_silent_failure_is_found(monkeypatch):
    """A difference that comes back unchanged, or empty, does not pass, where the library is asked."""
    first, second = shapely.box([0.0, 0], 0, 4, 4), shapely.box([2.0, 2], 0, 9, 4)  # with sides in common
    real = shapely.difference
    for wrong in (
        lambda a, b, grid_size=None: a.copy(),
        lambda a, b, grid_size=None: np.full(len(a), shapely.Polygon()),
    ):
        monkeypatch.setattr(
            overlay.shapely,
            "difference",
            lambda a, b, grid_size=None, wrong=wrong: (
                wrong(a, b) if grid_size is None else real(a, b, grid_size=grid_size)
            ),
        )
        tally = Redone()
        rest, taken = checked_difference(first, second, tally)
        assert tally.redone == 2
        monkeypatch.undo()
        assert shapely.area(rest) == pytest.approx([8, 8])
        assert taken == pytest.approx([8, 8])


def test_a_suspect_that_cannot_be_redone_is_kept():
    """A polygon with a sliver 2e-8 m wide that another all but touches: exact bits from a drawing."""
    first = shapely.from_wkb(
        "01060000000200000001030000000100000005000000000000806690E23FA2474A9C897D2740EB98E0F0DFB2F0BF"
        "9A4E819C899D254016CBB09D476EF2BFAAAA2A9C89FD2540000000806690E23F0000009C89FD2740000000806690"
        "E23FA2474A9C897D274001030000000100000004000000000000408FDCECBF555555C5D51F2540A9AAAA4A8FDCEC"
        "BFC9EF7CC6D51F2540000000408FDCECBF000000C6D51F2540000000408FDCECBF555555C5D51F2540"
    )
    second = shapely.from_wkb(
        "01030000000100000006000000000000408FDCECBF000000C6D51F2540000000408FDCECBF99812C397047244085"
        "44F17DF0EEEDBF5CE85C9C893D2440A430899C476EF2BF0000409C89FD2440A430899C476EF2BFECD9AE9C897D25"
        "40000000408FDCECBF000000C6D51F2540"
    )
    with pytest.raises(shapely.errors.GEOSException):
        shapely.difference(first, second, grid_size=GRID)
    rest, taken = checked_difference(np.array([first]), np.array([second]))
    assert rest[0].area == pytest.approx(first.area, abs=1e-6)
    assert taken[0] == pytest.approx(0, abs=1e-6)
