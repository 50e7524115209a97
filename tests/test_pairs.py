"""Pairs of shapes that are alike are worked on once."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.solids import across, overlaps, terraces
from siteaxo.solids.pairs import on_pairs


def test_each_two_shapes_are_worked_on_once():
    shapes = np.array([shapely.box(0, 0, 2, 2)] * 40 + [shapely.box(1, 0, 4, 2)] * 30, dtype=object)
    one, other = (rows.ravel() for rows in np.meshgrid(np.arange(70), np.arange(70)))
    given = []

    def work(first, second):
        given.append(len(first))
        return shapely.intersection(first, second)

    common = on_pairs(work, shapes, one, other)
    assert given == [4]
    assert np.array_equal(
        shapely.to_wkb(common), shapely.to_wkb(shapely.intersection(shapes[one], shapes[other]))
    )


def test_shapes_that_differ_in_the_last_bit_are_two():
    shapes = np.array([shapely.box(0, 0, 1, 1), shapely.box(0, 0, np.nextafter(1, 2), 1)])
    alike = on_pairs(shapely.equals_identical, shapes, np.array([0, 0, 1]), np.array([0, 1, 1]))
    assert alike.tolist() == [True, False, True]


def test_no_pairs():
    none = np.empty(0, dtype=int)
    assert len(on_pairs(shapely.intersection, np.array([shapely.box(0, 0, 1, 1)]), none, none)) == 0


@pytest.mark.parametrize("rise", [0.0, 0.5])
def test_many_layers_on_one_spot_are_one_pair_of_shapes(rise, monkeypatch):
    """Sixty terraces with one footprint: thousands of pairs, none overlaid more than once."""
    most = []

    def counted(work, shapes, one, other):
        def watched(first, second):
            most.append((len(one), len(first)))
            return work(first, second)

        return on_pairs(watched, shapes, one, other)

    for module in (across, overlaps, terraces):
        monkeypatch.setattr(module, "on_pairs", counted)
    box = gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 20, 12)], crs="EPSG:25832")
    layers = [
        siteaxo.Layer(name=f"stage {k}", role="terrace", source=box, base=0.0, top=1.0 + k * rise)
        for k in range(60)
    ]
    siteaxo.Site(name="Stages", layers=layers).stack()
    assert max(pairs for pairs, _ in most) > 1000
    assert max(shapes for _, shapes in most) == 1
