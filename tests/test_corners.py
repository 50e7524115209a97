"""North arrows and axis keys of several drawings on one sheet: in corners that are free."""

import numpy as np
import pytest
import shapely
from courtyard import CRS, box, court, layer

import siteaxo
from siteaxo.sheet.corners import REACH_MM, signs_of
from siteaxo.sheet.page import Box, Placement, Sheet

PLAN = siteaxo.planometric(turn=0, height_factor=0)


def drawn(*shapes):
    """A plan of pavings that fill these boxes (left, right, bottom, top) [m]."""
    paving = layer("paving", "paving", *[box(*one) for one in shapes], base=9.0, top=10.0)
    return siteaxo.Site(name="Lane", layers=[paving], plane_crs=CRS, base_line=90.0).stack().draw(PLAN)


def placed(drawing, *, wide, high, scale=1000):
    """A drawing in the middle of a room of so many millimetres that begins at (20, 30)."""
    left, bottom, right, top = drawing.bounds
    x, y, mm = (left + right) / 2, (bottom + top) / 2, scale / 1000
    window = (x - wide * mm / 2, y - high * mm / 2, x + wide * mm / 2, y + high * mm / 2)
    space = Box(left=20.0, bottom=30.0, width=wide, height=high)
    return Placement(sheet=Sheet(name="A3"), scale=scale, fitted=False, window=window, space=space)


def corner(place):
    """Which corner of a room of 100 × 100 mm a sign lies in."""
    return ("lower" if place[1] < 80 else "upper") + (" left" if place[0] < 70 else " right")


BARS = {"upper": (0, 80, 60, 80), "left": (0, 20, 0, 80), "right": (60, 80, 0, 80), "lower": (0, 80, 0, 20)}


@pytest.mark.parametrize(
    ("bars", "taken"),
    [
        (["left", "lower"], "upper right"),
        (["upper", "left"], "lower right"),
        (["right", "lower"], "upper left"),
        (["upper", "right"], "lower left"),
    ],
)
def test_the_arrow_takes_the_corner_in_which_nothing_is_drawn(bars, taken):
    drawing = drawn(*[BARS[one] for one in bars])
    signs = signs_of(drawing, placed(drawing, wide=100, high=100), keyed=True)
    assert corner(signs.arrow) == taken
    assert not signs.covers


def test_where_none_is_free_the_arrow_covers_least_and_stands_out():
    """A paving that covers three corners, and of the fourth but a strip."""
    drawing = drawn((0, 90, 0, 74), (16, 90, 74, 90))
    placement = placed(drawing, wide=100, high=100)
    signs = signs_of(drawing, placement, keyed=True)
    assert corner(signs.arrow) == "upper left"
    assert signs.covers
    assert signs.axes is None


def test_the_axis_key_lies_beside_the_arrow_or_below_it_or_elsewhere():
    """Its middle is 24 mm from that of the arrow, or in a corner of its own."""
    wide = drawn((0, 100, 0, 20))
    beside = signs_of(wide, placed(wide, wide=120, high=100), keyed=True)
    assert beside.arrow - beside.axes == pytest.approx([24.0, 0.0])
    narrow = drawn((0, 20, 0, 20))
    below = signs_of(narrow, placed(narrow, wide=45, high=150), keyed=True)
    assert below.arrow - below.axes == pytest.approx([0.0, 24.0])
    low = signs_of(narrow, placed(narrow, wide=45, high=90), keyed=True)
    assert low.arrow - low.axes == pytest.approx([0.0, 90.0 - 2 * 14.0])
    assert signs_of(wide, placed(wide, wide=120, high=100), keyed=False).axes is None


def test_no_sign_lies_on_what_is_drawn_or_written():
    """Whatever is seen within 12 mm of the middle of a sign: faces, trees, words, lists of cautions."""
    model = court(extra=[layer("tower", "structure", box(16, 23, 9, 19), base="below", height=9.0)]).stack()
    drawing = model.draw(siteaxo.planometric(turn=0), people=False)
    drawing = drawing.with_cautions(model.cautions())
    figure = siteaxo.side_by_side([drawing] * 2, sheet="A3")
    axes = next(one for one in figure.axes if one.get_gid() == "drawing_1")
    rings = [one for one in figure.axes[-1].patches if str(one.get_gid()).startswith("north_ring")]
    assert len(rings) == 2
    inches = figure.get_size_inches() * 25.4
    place = axes.get_position()
    scale = figure.drawing[0].scale / 1000
    middle = (np.array(rings[0].center) - np.array([place.x0, place.y0]) * inches) * scale
    spot = shapely.Point(middle + np.array([axes.get_xlim()[0], axes.get_ylim()[0]]))
    shown = figure.drawing[0]
    for table in (shown.faces, shown.edges, shown.extra["labels"]):
        assert shapely.distance(table.geometry.to_numpy(), spot).min() >= REACH_MM * scale
    heading = next(
        one
        for group in axes.get_children()
        for one in group.get_children()
        if getattr(one, "get_text", str)().startswith("Cautions")
    )
    assert spot.x < heading.get_position()[0] - REACH_MM * scale


def test_a_halo_lies_under_an_arrow_that_covers_something():
    def halos(*shapes, scale):
        figure = siteaxo.side_by_side([drawn(*shapes)] * 2, sheet="A3", scale=scale, columns=2)
        artists = figure.axes[-1].patches
        return [one.get_facecolor() for one in artists if str(one.get_gid()).startswith("north_halo_ring")]

    full = halos((0, 88, 0, 104), scale=500)
    assert len(full) == 2
    assert set(full) == {(1.0, 1.0, 1.0, 1.0)}
    assert halos((0, 40, 0, 40), scale=500) == []
