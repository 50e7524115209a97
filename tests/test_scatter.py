"""Points strewn over polygons and along lines: spacing, holes, counts, repeatability."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.scatter import first_come, scatter, strew_along
from siteaxo.errors import GeometryError

RING = shapely.Polygon(
    [(0, 0), (40, 0), (40, 10), (12, 14), (10, 40), (0, 40)], [[(2, 2), (8, 2), (8, 8), (2, 8)]]
)
SQUARE = shapely.box(41, 0, 60, 20)


def nearest(xy):
    """Distance from each point to the nearest other one."""
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return apart.min(axis=1)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("spacing", [0.7, 1.9])
def test_spacing_is_kept_within_and_between_polygons(seed, spacing):
    found = scatter([RING, SQUARE], spacing=spacing, key=("test", seed))
    assert nearest(found.xy).min() > spacing
    areas = np.array([RING, SQUARE])
    assert shapely.distance(areas[found.owner], shapely.points(found.xy)).max() < 1e-9


def test_as_many_as_fit():
    # Discs dropped at random until none fits cover 0.547 of the plane (random sequential
    # adsorption; Hinrichsen, Feder & Jøssang 1986, from memory). Points near the rim have
    # more room, so the share of a bounded polygon is taken with a rim of half the spacing.
    spacing = 0.5
    found = scatter([RING], spacing=spacing, key=("full",))
    covered = len(found) * np.pi * (spacing / 2) ** 2 / shapely.buffer(RING, spacing / 2).area
    assert 0.47 < covered < 0.56
    gaps = shapely.difference(RING, shapely.union_all(shapely.buffer(shapely.points(found.xy), spacing)))
    assert gaps.area < 0.04 * RING.area


def test_wanted_counts():
    found = scatter([RING, SQUARE], spacing=1.0, wanted=[17, 0], key=("count",))
    assert np.bincount(found.owner, minlength=2).tolist() == [17, 0]
    crowded = scatter([SQUARE], spacing=8.0, wanted=[400], key=("count",))
    assert 3 <= len(crowded) <= 12
    assert nearest(crowded.xy).min() > 8.0


def test_points_spread_evenly():
    found = scatter([SQUARE], spacing=0.3, wanted=[600], key=("even",))
    middle = np.array([50.5, 10.0])
    # The mean of n even points strays by size / √(12 n); four times that is allowed.
    assert np.abs(found.xy.mean(axis=0) - middle).max() < 4 * 20 / np.sqrt(12 * 600)
    quarters = np.bincount((found.xy[:, 0] > 50.5) * 2 + (found.xy[:, 1] > 10))
    assert quarters.min() > 100


def test_keep_off():
    posts = np.array([[50.0, 10.0], [45.0, 5.0]])
    found = scatter([SQUARE], spacing=2.0, keep_off=posts, key=("off",))
    apart = np.hypot(*(found.xy[:, None] - posts[None]).transpose(2, 0, 1))
    assert apart.min() > 2.0


def test_repeatable_by_key():
    once, again, other = (scatter([RING], spacing=1.0, key=("seed", k)) for k in (1, 1, 2))
    assert once.xy.tolist() == again.xy.tolist()
    assert once.xy.tolist() != other.xy.tolist()


def test_named_polygons_keep_their_points():
    names = np.array(["ring", "square"], dtype=object)
    both = scatter([RING, shapely.box(90, 0, 99, 9)], spacing=1.0, wanted=[30, 9], key=("n",), names=names)
    alone = scatter([RING], spacing=1.0, wanted=[30], key=("n",), names=names[:1])
    assert sorted(both.xy[both.owner == 0].tolist()) == sorted(alone.xy.tolist())


@pytest.mark.parametrize("areas", [[], [shapely.Polygon()], [shapely.MultiPolygon()]])
def test_nothing_to_strew_over(areas):
    assert len(scatter(areas, spacing=1.0, key=("none",))) == 0


@pytest.mark.parametrize("spacing", [0, -1, float("nan")])
def test_spacing_must_be_positive(spacing):
    with pytest.raises(GeometryError, match="spacing"):
        scatter([SQUARE], spacing=spacing, key=("bad",))


def test_first_come_is_throwing_one_by_one():
    rng = np.random.default_rng(4)
    xy = rng.uniform(0, 10, (400, 2))
    kept = []
    for k, point in enumerate(xy):
        if all(np.hypot(*(point - xy[j])) > 0.8 for j in kept):
            kept.append(k)
    assert first_come(xy, 0.8).tolist() == kept


def test_along_lines():
    lines = np.array([shapely.LineString([(0, 0), (30, 0), (30, 20)]), shapely.LineString([(0, 9), (3, 9)])])
    found = strew_along(lines, spacing=1.5, wanted=[12, 40], reach=[0.6, 0.0], key=("path",))
    assert np.bincount(found.owner).tolist() == [12, 2]  # no more than fit
    assert shapely.distance(lines[found.owner], shapely.points(found.xy)).max() <= 0.6 + 1e-9
    for k in (0, 1):
        along = shapely.line_locate_point(lines[k], shapely.points(found.xy[found.owner == k]))
        assert np.diff(along).min() > 1.5 - 0.6
    straight = strew_along(lines[:1], spacing=1.5, wanted=[20], reach=[0.0], key=("path",))
    along = shapely.line_locate_point(lines[0], shapely.points(straight.xy))
    assert np.diff(along).min() >= 1.5 - 1e-9
