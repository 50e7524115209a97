"""Counts of paving units, whole and cut, against arithmetic."""

from collections import Counter

import numpy as np
import pytest
import shapely

from siteaxo.craft.cells import CELLS
from siteaxo.craft.counting import feature_units, units_of
from siteaxo.craft.finishes import Laying
from siteaxo.craft.style import Style
from siteaxo.errors import SheetError

PAVER = {"length": 0.2, "width": 0.1}


def test_nominal_pavers_to_the_square_metre():
    # Nominal 4 x 8 in pavers are 4.5 to the square foot, 48.44 to the square metre
    # (Masonry, April 1995, Table 1, and arithmetic).
    inch = 0.0254
    laying = Laying(pattern="running bond", length=8 * inch, width=4 * inch)
    side = 8 * inch * 100
    found = units_of(laying, [shapely.box(0, 0, side, side)])
    assert (found.whole + found.cut * 0.5)[0] / side**2 == pytest.approx(48.44, abs=0.005)
    assert found.cut[0] == 200  # half a paver at both ends of every second of 200 courses


def test_joints_to_the_square_metre():
    # 15.0 m/m² at 0.1 x 0.2 m, derived: (w + l)/(w·l)
    found = units_of(Laying(pattern="herringbone", **PAVER), [shapely.box(0, 0, 5, 4)])
    assert found.joint_length[0] == pytest.approx(15.0 * 20)


@pytest.mark.parametrize("pattern", sorted(CELLS))
def test_whole_and_cut_units_make_up_the_area(pattern):
    laying = Laying(pattern=pattern, **PAVER)
    shape = shapely.Point(1.3, 2.1).buffer(1.7).difference(shapely.box(0.5, 1.5, 1.2, 2.4))
    found = units_of(laying, [shape], angle=17.0)
    assert found.area[0] == pytest.approx(shape.area)
    if pattern != "random courses":  # all others have units of one size
        assert found.whole[0] * 0.02 + found.cut_area[0] == pytest.approx(shape.area, abs=1e-4)


def unit_at(pattern, x, y, k):
    """
    Which unit covers a square of one width, told by how a layer lays them: k squares to a unit.

    Herringbone: the squares of one diagonal x − y are alike. Units [0, k] × [0, 1] and [0, 1] × [1, k + 1]
    repeat by (1, 1) and (k, −k), so that x − y tells, by 2 k, which square of which unit it is
    (derived for this library).
    """
    if pattern == "stack bond":
        return x // k, y
    if pattern == "running bond":  # every second course is shifted by half a unit
        return (2 * x - k * (y % 2)) // (2 * k), y
    if pattern == "basket weave":  # blocks of k units, level and upright by turns like a chessboard
        level = (x // k + y // k) % 2 == 0
        return (x // k, y, "level") if level else (x, y // k, "upright")
    along = (x - y) % (2 * k)
    return (x - along, y, "level") if along < k else (x, y - (2 * k - 1 - along), "upright")


@pytest.mark.parametrize("turn", [0.0, 23.0])
@pytest.mark.parametrize("k", [2, 3, 4])
@pytest.mark.parametrize(
    "pattern", ["stack bond", "running bond", "basket weave", "herringbone", "herringbone 45"]
)
def test_units_of_areas_of_squares_are_counted_by_hand(pattern, k, turn):
    """Areas of squares as wide as a unit, with holes: whole units have all their squares in them."""
    k = 2 * (k // 2) if pattern == "running bond" else k  # half a unit is whole squares
    there = np.random.default_rng(k).random((14, 17)) < 0.8
    squares = [(int(x) - 5, int(y) - 6) for x, y in np.argwhere(there)]
    inside = Counter(unit_at(pattern, x, y, k) for x, y in squares)
    whole = sum(count == k for count in inside.values())
    w = 0.1
    flat = shapely.union_all([shapely.box(x, y, x + 1, y + 1) for x, y in squares])
    own = turn + (45.0 if pattern == "herringbone 45" else 0.0)
    area = shapely.affinity.rotate(shapely.affinity.scale(flat, w, w, origin=(0, 0)), own, origin=(0, 0))
    area = shapely.affinity.translate(area, 3.0, -2.0)
    laying = Laying(pattern=pattern, length=k * w, width=w)
    found = units_of(laying, [area], angle=turn, anchor=[(3.0, -2.0)])
    assert max(inside.values()) == k  # the count by hand takes no square twice
    assert found.whole.tolist() == [whole]
    assert found.cut.tolist() == [len(inside) - whole]
    assert found.cut_area[0] == pytest.approx((len(squares) - k * whole) * w * w)


def test_turned_areas_count_as_they_do_unturned():
    laying = Laying(pattern="stack bond", **PAVER)
    area = shapely.box(0, 0, 3.0, 1.25)
    turned = shapely.affinity.rotate(area, 30, origin=(0, 0))
    level, leaning = (units_of(laying, [one], angle=a) for one, a in ((area, 0.0), (turned, 30.0)))
    assert level.whole.tolist() == leaning.whole.tolist() == [15 * 12]
    assert level.cut.tolist() == leaning.cut.tolist() == [15]
    moved = units_of(laying, [area], anchor=[(0.1, 0.05)])
    assert moved.cut.tolist() == [16 * 13 - 14 * 12]  # half a unit left, right and at the foot
    assert moved.whole.tolist() == [14 * 12]


def test_textures_have_no_units():
    with pytest.raises(SheetError, match="texture"):
        units_of(Laying(pattern="gravel"), [shapely.box(0, 0, 1, 1)])


def test_features_by_role_and_material():
    patio, lawn = shapely.box(0, 0, 4.0, 2.0), shapely.box(10, 0, 20, 10)
    turned = shapely.affinity.rotate(patio, 25, origin=(0, 0))
    areas = [patio, lawn, turned]
    roles, materials = ["paving", "lawn", "paving"], ["Granite setts", "", "Granite setts"]
    pattern, units = feature_units(areas, roles, materials, Style())
    assert pattern.tolist() == ["running bond", "", "running bond"]
    assert units.area == pytest.approx([8, 100, 8])
    # 20 courses of 0.1 m, every second one with half a unit of 0.2 m at both ends
    assert (units.whole[0], units.cut[0]) == (20 * 20 - 10, 20)
    assert (units.whole[1], units.cut[1]) == (0, 0)
    assert units.cut[2] > units.cut[0]
    _, along = feature_units(areas, roles, materials, Style(), base_line=25.0)
    assert (along.whole[2], along.cut[2]) == (units.whole[0], units.cut[0])
