"""Earth goes on below what is let into it on its outline: the cut face of the site is whole."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import box
from solidity import open_edges, solid_of, stacked, volume

from siteaxo.view.kinds import KINDS
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

VIEW = planometric(turn=35)
YARD = {"role": "terrace", "id": "Y", "geometry": box(0, 0, 20, 12), "base": 0.0, "top": 2.0}
ON_EDGE, CORNER, WITHIN = box(6, 0, 14, 5), box(14, 0, 20, 5), box(6, 3, 14, 8)


@pytest.mark.parametrize("place", [ON_EDGE, CORNER])
@pytest.mark.parametrize(
    ("what", "below"),
    [
        ({"role": "water", "drop": 0.3}, 1.7),  # a sheet
        ({"role": "water", "drop": 0.3, "height": 0.8}, 0.9),  # with a bed
        ({"role": "water", "base": 1.2, "top": 1.6}, 1.2),
        ({"role": "paving", "drop": 0.6}, 1.4),
        ({"role": "terrace", "base": 0.5, "top": 1.0}, 0.5),  # a court with a base of its own
        ({"role": "steps", "base": 1.0, "top": 2.0}, 1.0),
    ],
)
def test_the_earth_goes_up_to_what_is_let_into_its_edge(place, what, below):
    stack = stacked(YARD, {"geometry": place, **what})
    earth = solid_of(stack, 0)
    assert open_edges(earth) == 0
    assert volume(earth) == pytest.approx((20 * 12 - place.area) * 2.0 + place.area * below)


def test_within_a_terrace_nothing_is_added():
    stack = stacked(YARD, {"role": "water", "geometry": WITHIN, "drop": 0.3})
    assert stack.solid_feature.tolist() == [0, 1]
    assert volume(solid_of(stack, 0)) == pytest.approx((20 * 12 - WITHIN.area) * 2.0)


def test_of_a_pond_that_reaches_beyond_the_edge_the_part_on_it_is_filled():
    stack = stacked(YARD, {"role": "water", "geometry": box(6, -1, 14, 5), "drop": 0.5})
    assert volume(solid_of(stack, 0)) == pytest.approx(200 * 2.0 + 40 * 1.5)


def test_a_pond_in_a_court_is_filled_once():
    court = {"role": "terrace", "id": "C", "geometry": box(4, 0, 16, 8), "base": 0.0, "top": 1.5}
    stack = stacked(YARD, court, {"role": "water", "geometry": ON_EDGE, "drop": 0.25})
    assert volume(solid_of(stack, 0)) == pytest.approx((240 - 96) * 2.0)
    assert volume(solid_of(stack, 1)) == pytest.approx((96 - 40) * 1.5 + 40 * 1.25)


def drawn(*rows):
    return resolve(stacked(*rows).scene, VIEW, origin=np.zeros(3), threads=1)


def covered(*rows):
    """What a drawing covers on the page."""
    return shapely.union_all(drawn(*rows).visible.polygon, grid_size=2.0**-24)


def lines_near(drawing, point, reach):
    """Length of the lines that are drawn within reach of a place [m]."""
    seen = drawing.kind != KINDS.index("seam")
    dashes, xy = drawing.dashes, drawing.edges.xy[drawing.dashes.edge[seen]]
    share = np.stack([dashes.begin[seen], dashes.end[seen]], axis=1)
    along = xy[:, :1] + (xy[:, 1:] - xy[:, :1]) * share[:, :, None]
    place = shapely.Point((np.array(point) @ VIEW.matrix.T)[:2]).buffer(reach)
    return shapely.length(shapely.intersection(shapely.linestrings(along), place)).sum()


def surveyed(*rows, rise=0.2):
    """Ground that rises eastward from 2 m, with what lies on it."""
    spots = [(x, y, 2 + x * rise) for x in np.arange(21.0) for y in np.arange(13.0)]
    levels = [{"role": "spot level", "geometry": shapely.Point(x, y), "top": z} for x, y, z in spots]
    return [{"role": "ground", "geometry": YARD["geometry"]}, *levels, *rows]


@pytest.mark.parametrize(
    ("bare", "what"),
    [
        ([YARD], {"role": "water", "drop": 0.3}),
        ([YARD], {"role": "water", "drop": 0.3, "height": 0.8}),
        (surveyed(), {"role": "water", "drop": 0.3}),
        (surveyed(), {"role": "water", "drop": 0.3, "height": 0.4}),
        (surveyed(), {"role": "structure", "height": 3.0}),
        (surveyed(), {"role": "terrace", "base": 2.5, "top": 3.0}),
    ],
)
def test_the_edge_of_the_site_reads_whole(bare, what):
    """It covers the page as it does with nothing on it: what is let in begins at the near edge."""
    left = shapely.difference(
        covered(*bare), covered(*bare, {"geometry": ON_EDGE, **what}), grid_size=2.0**-24
    )
    assert left.area < 1e-4


COURT = {"role": "terrace", "id": "C", "geometry": box(4, 0, 16, 8), "base": 2.5, "top": 3.0}


@pytest.mark.parametrize(
    ("what", "up_to"),
    [
        ({"role": "water", "drop": 0.1}, 2.5),  # from there on the court's own earth goes up to 2.9
        ({"role": "paving", "drop": 0.4}, 2.5),
        ({"role": "water", "drop": 0.3, "height": 0.6}, 2.1),  # deeper than the court
        ({"role": "water", "base": 2.2, "top": 2.6}, 2.2),
    ],
)
def test_the_ground_goes_on_below_what_is_let_into_a_court_with_a_base_of_its_own(what, up_to):
    """Its bed is the court's as far as this goes down, and the ground's below."""
    bare, pool = surveyed(COURT), {"geometry": ON_EDGE, **what}
    left = shapely.difference(covered(*bare), covered(*bare, pool), grid_size=2.0**-24)
    assert left.area < 1e-4
    stack = stacked(*bare, pool)
    earth = solid_of(stack, int(np.flatnonzero(stack.features.of_role("name") == "ground")[0]))
    assert open_edges(earth) == 0
    beside = (240 - 96) * 0.2 * 10  # it rises by 0.2 x, and x is 10 in the middle of site and court
    below = (96 - ON_EDGE.area) * (2.5 - 2.0) + ON_EDGE.area * (up_to - 2.0)
    assert volume(earth) == pytest.approx(beside + below, abs=1e-4)


def test_no_line_parts_the_cut_face():
    """At x = 6 the wall of the pond comes down to its bed; below, the side of the terrace goes on."""
    for pond, bed in (({"drop": 0.3}, 1.7), ({"drop": 0.3, "height": 0.8}, 0.9)):
        drawing = drawn(YARD, {"role": "water", "geometry": ON_EDGE, **pond})
        assert lines_near(drawing, (6.0, 0.0, bed + 0.1), 0.05) == pytest.approx(0.1, abs=1e-6)
        assert lines_near(drawing, (6.0, 0.0, bed / 2), bed / 3) == 0.0


def test_ground_beside_what_stands_away_from_its_edge_is_as_it_was():
    house = {"role": "structure", "geometry": WITHIN, "height": 3.0}
    deck = {"role": "deck", "geometry": ON_EDGE, "base": 7.0, "top": 7.2}  # overhead
    stack = stacked(*surveyed(house, deck))
    ground = np.flatnonzero(stack.features.of_role("name") == "ground")
    assert (stack.solid_feature == ground).sum() == 1
