"""Polygons less polygons in numpy, against exact rational areas and against the library's overlays."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from reference import rational

from siteaxo.view import clipping, crossings
from siteaxo.view.overlay import checked_difference
from siteaxo.view.rings import polygons_of, rings_of
from siteaxo.view.shapes import Shapes


def stars(rng, count, corners, reach):
    """Polygons that are star-shaped about a middle of their own [m]."""
    bearing = np.sort(rng.uniform(0, 2 * np.pi, (count, corners)), axis=1)
    radius = rng.uniform(0.3, 1.0, (count, corners)) * reach
    points = np.stack([np.cos(bearing) * radius, np.sin(bearing) * radius], axis=-1)
    shapes = shapely.polygons(points + rng.uniform(-5, 5, (count, 1, 2)))
    return np.where(shapely.is_valid(shapes), shapes, shapely.convex_hull(shapes))


def polygonal(shapes):
    return np.isin(shapely.get_type_id(shapes), [3, 6]) & ~shapely.is_empty(shapes)


def pairs(seed, *, holes):
    """Pairs of polygons, some of many parts and with holes."""
    rng = np.random.default_rng(seed)
    first, second = stars(rng, 1500, 6, 8), stars(rng, 1500, 9, 6)
    if holes:
        first = shapely.difference(first, stars(rng, 1500, 5, 3))
        second = shapely.difference(second, stars(rng, 1500, 4, 2))
    good = polygonal(first) & polygonal(second)
    return first[good], second[good]


def difference(first, second):
    """Differences with what is left as polygons."""
    found = clipping.difference(Shapes.of(first), Shapes.of(second))
    return SimpleNamespace(
        rest=found.rest.polygons(), left=found.rest.area, taken=found.taken, sure=found.sure
    )


def rings(polygon):
    parts = shapely.get_parts(polygon)
    return [np.array(ring.coords)[:-1] for part in parts for ring in (part.exterior, *part.interiors)]


def exact_areas(first, second):
    """What is left of the first, and what both share, without rounding [m²]."""

    def owner(inside, _x, _y):
        return 1 if all(inside) else (0 if inside[0] else -1)

    return rational.areas([rings(first), rings(second)], owner, 2)


@pytest.mark.parametrize("holes", [False, True])
def test_what_is_left_and_taken_in_exact_arithmetic(holes):
    first, second = pairs(1, holes=holes)
    found = difference(first, second)
    for row in np.flatnonzero(found.sure)[:60]:
        left, shared = exact_areas(first[row], second[row])
        assert found.left[row] == pytest.approx(left, abs=1e-11)
        assert found.taken[row] == pytest.approx(shared, abs=1e-11)


@pytest.mark.parametrize("holes", [False, True])
def test_the_same_region_as_another_overlay(holes):
    """The library's difference is an algorithm of its own."""
    first, second = pairs(2, holes=holes)
    found, other = difference(first, second), shapely.difference(first, second)
    sure = found.sure
    assert sure.mean() > 0.98
    assert shapely.is_valid(found.rest[sure]).all()
    assert shapely.get_num_geometries(found.rest[sure]).tolist() == (
        shapely.get_num_geometries(other[sure]).tolist()
    )
    off = shapely.area(shapely.symmetric_difference(found.rest[sure], other[sure], grid_size=1e-9))
    assert off.max() < 1e-6
    assert found.left[sure] == pytest.approx(shapely.area(other[sure]), abs=1e-11)
    assert found.taken[sure] == pytest.approx(
        shapely.area(shapely.intersection(first, second))[sure], abs=1e-11
    )


def test_apart_covered_within_and_empty():
    square = shapely.box(0, 0, 10, 10)
    frame = shapely.difference(square, shapely.box(3, 3, 7, 7))
    second = [
        shapely.box(20, 20, 30, 30),
        shapely.box(-1, -1, 11, 11),
        shapely.box(4, 4, 6, 6),
        shapely.box(4, 4, 6, 6),
        shapely.Polygon(),
    ]
    first = np.array([square, square, square, frame, square], dtype=object)
    found = difference(first, np.array(second, dtype=object))
    assert found.sure.all()
    assert found.left.tolist() == [100, 0, 96, 84, 100]
    assert found.taken.tolist() == [0, 100, 4, 0, 0]
    assert shapely.get_num_interior_rings(found.rest).tolist() == [0, 0, 1, 1, 0]
    assert shapely.is_empty(found.rest).tolist() == [False, True, False, False, False]


@pytest.mark.parametrize(
    "second",
    [
        shapely.box(10, 0, 20, 10),
        shapely.box(5, 0, 20, 10),
        shapely.box(10, 10, 20, 20),
        shapely.box(0, 0, 10, 10),
        shapely.Polygon([(5, 5), (15, 0), (15, 10)]),
        shapely.box(10 - 1e-7, 2, 20, 8),
    ],
    ids=["side by side", "sides in common", "corner to corner", "the same", "plain", "a hair"],
)
def test_corners_on_sides_are_not_answered(second):
    square = np.array([shapely.box(0, 0, 10, 10)])
    plain = second.bounds == (5, 0, 15, 10)
    assert difference(square, np.array([second])).sure.tolist() == [plain]
    rest, taken = checked_difference(square, np.array([second]))
    common = shapely.box(0, 0, 10, 10).intersection(second).area
    assert taken[0] == pytest.approx(common, abs=1e-6)
    assert rest[0].area == pytest.approx(100 - common, abs=1e-6)


def test_a_first_polygon_that_touches_itself_comes_out_valid():
    """A hole with a corner on its outer ring; cutting both leaves two parts that meet in a point."""
    touching = shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], holes=[[(5, 0), (7, 5), (5, 8), (3, 5)]])
    cut = shapely.box(4.3, 6.1, 5.6, 12)
    rest, taken = checked_difference(np.array([touching]), np.array([cut]))
    assert rest[0].is_valid
    assert rest[0].area == pytest.approx(touching.difference(cut).area, abs=1e-11)
    assert rest[0].area + taken[0] == pytest.approx(touching.area, abs=1e-11)


def test_lost_crossings_lost_rings_and_wrong_rays_are_found(monkeypatch):
    """Whatever goes wrong inside, the result is right, because the library is asked instead."""
    first, second = pairs(3, holes=True)
    first, second = first[:200], second[:200]
    right = difference(first, second)
    some = right.sure & (right.taken > 0.5) & (right.left > 0.5)
    real = {"_linked": clipping._linked, "_odd": crossings._odd, "_loose": clipping._loose}

    def fewer_rings(*args):
        table = real["_linked"](*args)
        return table.take(np.arange(1, len(table)))

    def wrong_rays(item, count):
        odd = real["_odd"](item, count)
        odd[::7] ^= True
        return odd

    def no_loose(*args):
        return tuple(table.take(np.arange(0)) for table in real["_loose"](*args))

    for module, name, wrong in (
        (clipping, "_linked", fewer_rings),
        (crossings, "_odd", wrong_rays),
        (clipping, "_loose", no_loose),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(module, name, wrong)
            broken = difference(first, second)
            rest, taken = checked_difference(first, second)
        changed = broken.sure & (np.abs(broken.left - right.left) > 1e-9)
        assert changed.any() or (~broken.sure & right.sure).any()
        assert shapely.area(rest)[some] == pytest.approx(right.left[some], abs=1e-9)
        assert taken[some] == pytest.approx(right.taken[some], abs=1e-9)


def test_rings_there_and_back():
    first, _ = pairs(4, holes=True)
    table = rings_of(first)
    back, area, sure = polygons_of(table, len(first))
    assert area == pytest.approx(shapely.area(first), rel=1e-12)
    assert sure.mean() > 0.9
    assert shapely.equals(back[sure], first[sure]).all()


def test_nothing():
    none = np.empty(0, dtype=object)
    found = difference(none, none)
    assert len(found.rest) == len(found.taken) == len(found.sure) == 0
