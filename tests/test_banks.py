"""Banks around level footprints, against areas and volumes worked out by hand."""

import math

import numpy as np
import places
import pytest
import shapely

import siteaxo
from siteaxo.errors import GeometryError
from siteaxo.measure.earthwork import between_surfaces
from siteaxo.solids import banks
from siteaxo.solids.banks import with_banks
from siteaxo.solids.survey import Survey, surface_of
from siteaxo.solids.tin import Tin

# A quarter turn is drawn with 8 chords: 32 around a whole circle.
CIRCLE = 0.5 * 32 * math.sin(2 * math.pi / 32)


def level_ground(level=1.0, size=60.0):
    corners = [(-size, -size), (size, -size), (size, size), (-size, size)]
    return surface_of(Survey(spots=np.array([[*c, level] for c in corners]))).tin


@pytest.mark.parametrize("level", [0.0, 2.0])
def test_a_bank_around_a_rectangle(level):
    ground = level_ground()
    court = shapely.box(0, 0, 10, 8)
    graded = with_banks(ground, np.array([court]), np.array([level]), np.array([2.0])).tin
    bank = graded.slope > 1e-3
    # 1 m of height at 1 in 2 is 2 m wide: along 36 m of sides, and around four corners
    assert graded.plan_area[bank].sum() == pytest.approx(36 * 2 + 4 * CIRCLE, abs=1e-3)
    assert graded.plan_area.sum() == pytest.approx(ground.plan_area.sum(), abs=1e-6)
    moved = between_surfaces(ground, graded)
    # 80 m² by 1 m, prisms of ½·2·1 m² along 36 m, and a cone of radius 2 in four quarters
    expected = 80 + 36 + 4 * CIRCLE / 3
    assert max(moved.cut, moved.fill) == pytest.approx(expected, abs=1e-3)
    assert min(moved.cut, moved.fill) == pytest.approx(0.0, abs=1e-4)
    assert moved.net == pytest.approx(expected if level < 1 else -expected, abs=1e-3)


def test_one_bank_between_two_courts():
    courts = np.array([shapely.box(0, 0, 10, 8), shapely.box(14, 0, 24, 8)])
    graded = with_banks(level_ground(), courts, np.array([0.0, 2.0]), np.array([2.0, 2.0])).tin
    x = np.linspace(10, 14, 9)
    assert graded.level_at(np.column_stack([x, np.full(9, 4.0)])) == pytest.approx((x - 10) / 2, abs=1e-6)


def test_a_bank_meets_a_slope_where_both_are_level_with_each_other():
    # ground rises 1 in 10 to the north; a court at 0 with banks of 1 in 2 upward:
    # beyond its north side at y = 10 the bank y/2 − 5 meets y/10 at y = 12.5
    spots = np.array([[x, y, y / 10] for x in (-30.0, 40.0) for y in (-40.0, 40.0)])
    ground = surface_of(Survey(spots=spots)).tin
    graded = with_banks(ground, np.array([shapely.box(0, 0, 10, 10)]), np.zeros(1), np.array([2.0])).tin
    y = np.array([5.0, 10.0, 11.0, 12.5, 14.0])
    expected = [0.0, 0.0, 0.5, 1.25, 1.4]
    assert graded.level_at(np.column_stack([np.full(5, 5.0), y])) == pytest.approx(expected, abs=1e-6)


def test_a_bank_ends_at_a_lower_terrace_that_it_would_bury():
    """Strips across the whole ground: a terrace at 2, and 2 m beside it one at 0.5 and 1 m wide."""
    strips = np.array([shapely.box(0, -60, 10, 60), shapely.box(12, -60, 13, 60)])
    ground = level_ground(0.0)
    order = [1, 0]  # the lower first
    banks = with_banks(ground, strips[order], np.array([0.5, 2.0]), np.array([2.0, 2.0]))
    x = [-2.0, 5.0, 11.0, 12.5, 13.5, 14.5]
    found = banks.tin.level_at(np.column_stack([x, np.zeros(6)]))
    assert found == pytest.approx([1.0, 2.0, 1.5, 0.5, 0.25, 0.0], abs=1e-6)
    # west bank, terrace, bank down to 1 at the edge of the lower one, this, and its own east bank
    fill = 120 * (4 * 2 / 2 + 10 * 2 + 2 * (2 + 1) / 2 + 0.5 + 0.5 * 1 / 2)
    assert between_surfaces(ground, banks.tin).fill == pytest.approx(fill, abs=0.1)
    assert banks.bank.tolist() == [1]
    end = shapely.get_coordinates(banks.end, include_z=True)
    assert end[:, [0, 2]] == pytest.approx(np.tile([12.0, 1.0], (len(end), 1)), abs=1e-6)
    assert shapely.length(banks.end).sum() == pytest.approx(120)


def test_a_bank_spreads_onto_no_other_terrace():
    """A court one metre down in level ground at 1, and beside it a terrace that is not graded itself."""
    court, other = shapely.box(0, -60, 10, 60), shapely.box(11, -60, 20, 60)
    banks = with_banks(
        level_ground(1.0), np.array([court]), np.zeros(1), np.array([4.0]), others=np.array([other])
    )
    x = [10.5, 12.0, 15.0, -2.0]
    found = banks.tin.level_at(np.column_stack([x, np.zeros(4)]))
    assert found == pytest.approx([0.125, 1.0, 1.0, 0.5], abs=1e-6)


def test_one_bank_around_parts_that_meet():
    """A way 10 m wide, at 2 as far as y = 0 and falling to 1 at y = 20 from there, over ground at 0."""
    parts = np.array([shapely.box(0, -20, 10, 0), shapely.box(0, 0, 10, 20)])
    banks = with_banks(
        level_ground(0.0),
        parts,
        np.array([2.0, 2.0]),
        np.array([2.0, 2.0]),
        slope=np.array([[0, 0], [0, -0.05]]),
        high=np.zeros((2, 2)),
        group=np.array([7, 7]),
    )
    assert not len(banks.bank)  # neither part ends at the other
    places = [[5, -10], [5, 10], [12, -10], [12, 10], [11, 20], [-1, -20], [5, 22]]
    expected = [2.0, 1.5, 2 - 1, 1.5 - 1, 1 - 0.5, 2 - 0.5, 1 - 1]
    assert banks.tin.level_at(np.array(places, dtype=float)) == pytest.approx(expected, abs=5e-3)


def test_a_bank_of_a_terrace_within_another_has_no_room():
    inner, outer = shapely.box(4, 4, 6, 6), shapely.box(0, 0, 10, 10)
    banks = with_banks(
        level_ground(1.0), np.array([inner]), np.array([2.0]), np.ones(1), others=np.array([outer])
    )
    assert banks.tin.level_at([[5.0, 5.0], [7.0, 5.0]]) == pytest.approx([2.0, 1.0], abs=1e-6)
    assert not len(banks.bank)


def test_an_inner_corner_is_a_valley():
    angle = shapely.Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
    graded = with_banks(level_ground(), np.array([angle]), np.array([2.0]), np.array([2.0])).tin
    # distances to the two sides of the inner corner are equal on its bisector
    found = graded.level_at([[11.0, 11.0], [11.5, 11.5], [11.0, 14.0], [12.0, 12.0]])
    assert found == pytest.approx([1.5, 1.25, 1.5, 1.0], abs=1e-6)


def test_a_bank_ends_where_it_first_meets_the_ground():
    # a dam: level 0 but for a ridge; a court at 2 on the near side leaves a hollow beyond the
    # ridge alone although its slope prolonged would fill it
    spots = [(x, y, 4.0 if x == 20 else 0.0) for x in (-30, 18, 20, 22, 60) for y in (-30, 30)]
    ground = surface_of(Survey(spots=np.array(spots, dtype=float))).tin
    graded = with_banks(ground, np.array([shapely.box(0, -5, 10, 5)]), np.array([2.0]), np.array([20.0])).tin
    assert graded.level_at([[12.0, 0.0]])[0] == pytest.approx(1.9, abs=1e-6)
    assert graded.level_at([[24.0, 0.0]])[0] == pytest.approx(0.0, abs=1e-6)


def test_no_bank_where_none_is_asked_for():
    ground = level_ground()
    none = np.zeros(0)
    assert with_banks(ground, np.zeros(0, dtype=object), none, none).tin is ground


def test_ground_beyond_the_banks_keeps_its_triangles():
    # On ground that rises by 1 in 10, a level square of 10 m is at most 0.5 m above and below it;
    # banks of 1 in 2 reach d where d / 2 = 0.1 (5 + d): 1.25 m.
    corners = np.array([[0.0, 0, 0], [100, 0, 10], [100, 100, 10], [0, 100, 0]])
    plain = Tin(xyz=corners, triangle=np.array([[0, 1, 2], [0, 2, 3]]))
    square = shapely.box(45, 45, 55, 55)
    graded = with_banks(plain, np.array([square]), np.array([5.0]), np.array([2.0])).tin
    away = shapely.distance(square, shapely.points(graded.xyz[:, :2]))
    new = ~(graded.xyz[:, None] == corners).all(axis=2).any(axis=1)
    on_diagonal = np.abs(graded.xyz[:, 0] - graded.xyz[:, 1]) < 1e-9
    assert away[new & ~on_diagonal].max() <= 1.25 + 1e-6
    assert graded.plan_area.sum() == pytest.approx(10_000, rel=1e-12)
    np.testing.assert_allclose(graded.level_at([[20, 70], [80, 30], [50, 50]]), [2.0, 8.0, 5.0], atol=1e-9)


def test_banks_around_a_court_that_slopes():
    """It falls from 3 at its north side to 1 at its south side, on ground at 0, with banks of 1 in 2."""
    court = np.array([shapely.box(0, 0, 10, 10)])
    slope, high = np.array([[0.0, 0.2]]), np.array([[0.0, 10.0]])
    graded = with_banks(
        level_ground(0.0), court, np.array([3.0]), np.array([2.0]), slope=slope, high=high
    ).tin
    places = [[5.0, 0.0], [5.0, 10.0], [5.0, -1.0], [5.0, 12.0], [12.0, 5.0], [5.0, 16.5], [5.0, -2.5]]
    # 2.0 at its middle, less the way from the east side at 1 in 2
    assert graded.level_at(places) == pytest.approx([1.0, 3.0, 0.5, 2.0, 1.0, 0.0, 0.0], abs=0.02)


def wavy(y, *, deep=12.0):
    """A strip along x with bent sides, whose banks have corners that stick out and corners that do not."""
    x = np.linspace(0, 120, 25)
    low = np.column_stack([x, y + 2 * np.sin(x / 5)])
    high = np.column_stack([x, y + deep + 2 * np.sin(x / 4 + y)])
    return shapely.Polygon(np.concatenate([low, high[::-1]]))


def rising_ground():
    """Ground that rises northward by 8 m, so that banks could reach 16 m and mostly end after a few."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(-20, 140, 17), np.linspace(-20, 100, 13)))
    return surface_of(Survey(spots=np.column_stack([x, y, y / 15 + np.sin(x / 20)]))).tin


STRIPS = np.array([wavy(0.0), wavy(24.0), wavy(48.0)])
LEVELS, RUNS = np.array([0.5, 2.5, 4.0]), np.full(3, 2.0)


def test_ground_that_no_bank_can_move_is_not_cut_again(monkeypatch):
    """The same ground to the last bit as when all within the widest reach is cut, and with less of it cut."""
    cut, cut_by = [], Tin._cut_by
    monkeypatch.setattr(
        Tin, "_cut_by", lambda tin, lines: cut.append(len(tin) * len(lines)) or cut_by(tin, lines)
    )
    found = with_banks(rising_ground(), STRIPS, LEVELS, RUNS).tin
    work = sum(cut)
    cut.clear()
    monkeypatch.setattr(banks, "_within_reach", lambda tin, *rest: np.arange(len(tin)))
    whole = with_banks(rising_ground(), STRIPS, LEVELS, RUNS).tin
    assert sorted_corners(found).tolist() == sorted_corners(whole).tolist()
    assert work < 0.7 * sum(cut)


def sorted_corners(tin):
    """Triangles by their corners, whatever order they stand in, shape (t, 9)."""
    corner = tin.xyz[tin.triangle]
    first = np.lexsort((corner[:, :, 1], corner[:, :, 0]), axis=1)[:, 0]
    turned = corner[np.arange(len(corner))[:, None], (first[:, None] + np.arange(3)) % 3].reshape(-1, 9)
    return turned[np.lexsort(turned.T)]


@pytest.mark.parametrize("seed", [1, 5, 8])
def test_the_foot_of_a_bank_is_drawn_all_round(seed):
    """Courts below and above ground that was surveyed to 6 cm, where contours and banks leave slivers."""
    rng = np.random.default_rng(seed)
    spots = np.stack(np.meshgrid(np.arange(0, 61, 6.0), np.arange(0, 41, 5.0)), axis=2).reshape(-1, 2)
    levels = np.round(10 + 0.04 * spots[:, 1] + rng.normal(0, 0.06, len(spots)), 2).tolist()
    courts = [shapely.box(8, 8, 28, 24), shapely.box(36, 10, 52, 26)]
    layers = [
        places.layer("ground", "ground", [shapely.box(0, 0, 60, 40)], base=7.0, top="survey"),
        places.layer("spots", "spot level", list(shapely.points(spots)), top=levels),
        places.layer("courts", "terrace", courts, base=8.0, top=[11.6, 9.4], bank=2.0),
    ]
    site = siteaxo.Site(name="Courts", layers=layers, base_line=90.0)
    drawing = site.stack().draw(siteaxo.planometric(30), scale=200)
    lines = drawing.edges[(drawing.edges["role"] == "ground") & (drawing.edges["outline"] == "")]
    strips = shapely.get_parts(shapely.union_all(shapely.buffer(lines.geometry.array, 0.02)))
    rings = shapely.polygons(shapely.get_rings(strips))
    tops = drawing.faces[(drawing.faces["layer"] == "courts") & (drawing.faces["part"] == "top")]
    assert len(tops) == 2
    for top in tops.geometry:  # within the hole of a ring: the outlines of its strip are one about the other
        assert (shapely.contains(rings, top)).sum() >= 2


@pytest.mark.parametrize("failure", [GeometryError("Lines cross."), shapely.GEOSException("No.")])
def test_a_bank_that_cannot_be_made_is_told_and_all_else_is_drawn(monkeypatch, failure):
    """Two courts a metre below level ground at 10; the ground about the first of them is as it was."""
    make = banks._with_bank

    def failing(tin, top, *rest):
        if top.footprint.area < 200:
            raise failure
        return make(tin, top, *rest)

    monkeypatch.setattr(banks, "_with_bank", failing)
    corners = [shapely.Point(x, y) for x in (0, 60) for y in (0, 40)]
    courts = [shapely.box(8, 10, 20, 24), shapely.box(36, 10, 52, 26)]
    layers = [
        places.layer("spots", "spot level", corners, top=10.0),
        places.layer("courts", "terrace", courts, base=8.0, top=9.0, bank=2.0),
    ]
    model = siteaxo.Site(name="Courts", layers=layers, base_line=90.0).stack()
    told = model.findings[model.findings["code"] == "bank-left-out"]
    assert told[["layer", "source_id"]].values.tolist() == [["courts", "CO00"]]
    found = with_banks(level_ground(10.0), np.array(courts), np.full(2, 9.0), np.full(2, 2.0))
    assert found.left_out.tolist() == [0]
    assert found.tin.level_at([[21.0, 15.0], [53.0, 15.0]]) == pytest.approx([10.0, 9.5], abs=1e-6)
    faces = model.draw(siteaxo.planometric(30), scale=200).faces
    assert set(faces["source_id"]) >= {"CO00", "CO01"}
