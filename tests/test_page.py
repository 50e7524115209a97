import itertools

import pytest

from siteaxo.errors import SheetError
from siteaxo.sheet.page import CLEAR_MM, SHEETS_MM, Sheet
from siteaxo.sheet.placement import place
from siteaxo.sheet.scales import SCALES


@pytest.mark.parametrize(
    ("name", "short", "long"),
    [("A0", 841, 1189), ("A1", 594, 841), ("A2", 420, 594), ("A3", 297, 420), ("A4", 210, 297)],
)
def test_a_sizes(name, short, long):
    """ISO 216."""
    assert SHEETS_MM[name] == (short, long)


@pytest.mark.parametrize(
    ("name", "short", "long"),
    [("ANSI A", 8.5, 11), ("ANSI B", 11, 17), ("ANSI C", 17, 22), ("ANSI D", 22, 34), ("ANSI E", 34, 44)],
)
def test_ansi_sizes(name, short, long):
    """ASME Y14.1, in inches of 25.4 mm."""
    assert SHEETS_MM[name] == pytest.approx((short * 25.4, long * 25.4))


@pytest.mark.parametrize(
    ("name", "orientation", "space"),
    [
        ("A4", "portrait", (180, 277)),
        ("A3", "landscape", (390, 277)),
        ("A2", "landscape", (564, 400)),
        ("A1", "landscape", (811, 574)),
        ("A0", "landscape", (1159, 821)),
    ],
)
def test_frame(name, orientation, space):
    """ISO 5457:1999, Table 1 (from memory): 20 mm on the left, 10 mm elsewhere."""
    sheet = Sheet(name=name, orientation=orientation)
    assert (sheet.frame.width, sheet.frame.height) == space
    assert (sheet.frame.left, sheet.frame.bottom) == (20, 10)
    assert sheet.width_mm - sheet.frame.right == sheet.height_mm - sheet.frame.top == 10


@pytest.mark.parametrize(
    ("name", "orientation"), list(itertools.product(SHEETS_MM, ("landscape", "portrait")))
)
def test_the_boxes_fill_the_frame_without_overlap(name, orientation):
    sheet = Sheet(name=name, orientation=orientation)
    boxes = (sheet.title_block, sheet.key, sheet.drawing_space)
    assert sum(box.width * box.height for box in boxes) == pytest.approx(
        sheet.frame.width * sheet.frame.height
    )
    for box in boxes:
        assert box.left >= sheet.frame.left
        assert box.right <= sheet.frame.right + 1e-9
        assert box.bottom >= sheet.frame.bottom
        assert box.top <= sheet.frame.top + 1e-9
    assert sheet.drawing_space.bottom >= max(sheet.title_block.top, sheet.key.top) - 1e-9
    assert sheet.key.right <= sheet.title_block.left or sheet.key.bottom >= sheet.title_block.top


def test_title_block_is_at_most_180_wide_where_there_is_room_beside_it():
    """ISO 5457:1999 / ISO 7200 (from memory): 180 mm, in the lower right corner."""
    sheet = Sheet(name="A3")
    assert sheet.title_block.width == 180
    assert sheet.title_block.right == sheet.frame.right
    assert sheet.title_block.bottom == sheet.frame.bottom


def test_listed_scales():
    """ISO 5455:1979, 5.1: 1, 2, 5 and their tenfolds; those of site plans (common practice)."""
    listed = (1, 2, 5, 10, 20, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000, 25000, 50000)
    assert SCALES[:18] == listed
    assert not {25, 125, 1250, 250000} & set(SCALES)


def test_fit_takes_the_largest_listed_scale():
    space = Sheet(name="A3").drawing_space
    width = (space.width - 2 * CLEAR_MM) * 200 / 1000
    assert place((0, 0, width, 1), scale="fit").scale == 200
    assert place((0, 0, width * 1.0001, 1), scale="fit").scale == 250
    assert place((0, 0, width * 1.2501, 1), scale="fit").scale == 500
    assert place((0, 0, width, 1), scale="fit").fitted


def test_any_scale_is_accepted():
    """1:125 is in no list."""
    placement = place((0, 0, 10, 10), scale=125)
    assert placement.words == "1:125 at A3"
    assert not placement.fitted


def test_the_window_is_paper_times_scale_with_the_drawing_in_its_middle():
    placement = place((-10, 5, 30, 25), scale=200)
    left, bottom, right, top = placement.window
    space = placement.sheet.drawing_space
    assert right - left == pytest.approx(space.width * 0.2)
    assert top - bottom == pytest.approx(space.height * 0.2)
    assert (left + right) / 2 == pytest.approx(10)
    assert (bottom + top) / 2 == pytest.approx(15)


def test_what_does_not_fit_says_what_would():
    with pytest.raises(SheetError) as caught:
        place((0, 0, 100, 40), sheet="A3", scale=200)
    message = str(caught.value)
    assert "500 × 200 mm at 1:200" in message
    assert "A3 landscape" in message
    assert place((0, 0, 100, 40), sheet="A3", scale=500).scale == 500
    assert "scale 500" in message
    assert "sheet A2 landscape" in message
    assert place((0, 0, 100, 40), sheet="A2", scale=200).sheet.name == "A2"


def test_no_sheet_is_large_enough():
    with pytest.raises(SheetError, match="no sheet is large enough"):
        place((0, 0, 1000, 40), scale=200)


def test_auto_takes_the_orientation_in_which_the_drawing_can_be_larger():
    assert place((0, 0, 20, 50), orientation="auto", scale=200).sheet.orientation == "portrait"
    assert place((0, 0, 50, 20), orientation="auto", scale=200).sheet.orientation == "landscape"


@pytest.mark.parametrize(
    "change",
    [
        {"sheet": "A5"},
        {"orientation": "sideways"},
        {"scale": 0},
        {"scale": -200},
        {"scale": float("nan")},
        {"scale": "1:200"},
    ],
)
def test_bad_values_are_refused(change):
    with pytest.raises(SheetError):
        place((0, 0, 10, 10), **change)


@pytest.mark.parametrize("bounds", [(0, 0, 0, 0), (0, 0, float("inf"), 1), (5, 0, 4, 1)])
def test_nothing_to_draw_is_said(bounds):
    with pytest.raises(SheetError):
        place(bounds)
