"""Captions of several drawings on one sheet: whole, in their strip, however narrow the drawings are."""

import re

import numpy as np
import pytest
from courtyard import court

import siteaxo
from siteaxo.errors import SheetError
from siteaxo.sheet.captions import captions_mm, view_and_truth
from siteaxo.sheet.page import Sheet
from siteaxo.sheet.placement import CAPTION_MM, place_all

TITLES = [
    "The court as it was surveyed, before any of the walls were taken down",
    "Walls",
    "What is left of the garden once the boundary is moved by four metres",
    "Steps",
    "Ramps",
    "Planting",
    "All of it",
]


@pytest.fixture(scope="module")
def drawing():
    return court().stack().draw(siteaxo.planometric(turn=60), people=False)


def furniture(figure):
    """Axes in millimetres over all of the sheet."""
    return next(axes for axes in figure.axes if axes.get_gid() == "furniture")


@pytest.mark.parametrize(("sheet", "count"), [("A4", 7), ("A3", 5), ("A1", 7)])
def test_captions_are_told_whole(drawing, sheet, count):
    figure = siteaxo.side_by_side(
        [drawing] * count, captions=TITLES[:count], sheet=sheet, columns=count, levels=False
    )
    texts = furniture(figure).texts
    assert not [one for one in texts if "…" in one.get_text()]
    whole = " ".join(one.get_text() for one in texts)
    size = Sheet(name=sheet).lettering_mm / 1.8
    for number, title in enumerate(TITLES[:count], start=1):
        assert f"{number} {title} {view_and_truth(drawing.view)}" in whole
    words = re.findall(r"\S+", view_and_truth(drawing.view))
    lines = [one for one in texts if one.get_text().split()[-2:] == words[-2:]]
    assert len(lines) == count
    lowest = min(one.get_position()[1] for one in lines)
    assert lowest >= Sheet(name=sheet).drawing_space.bottom + 0.6 * size  # a descender above the strip below


def test_narrow_drawings_keep_their_keys_on_the_sheet(drawing):
    figure = siteaxo.side_by_side([drawing] * 7, captions=TITLES, sheet="A4", columns=7, levels=False)
    axes = furniture(figure)
    drawn = [line for line in axes.lines if re.match(r"axis_|north", str(line.get_gid()))]
    drawn += [text for text in axes.texts if text.get_text() in ("x", "y", "z")]
    for one in drawn:
        x = np.atleast_1d(one.get_xdata() if hasattr(one, "get_xdata") else one.get_position()[0])
        assert min(x) >= 20.0  # the frame on A4: 20 mm at the left, 10 mm at the right (ISO 5457)
        assert max(x) <= 287.0


def test_usual_captions_take_no_more_room_than_they_did(drawing):
    assert captions_mm(["Walls"], [drawing.view], 250.0, 1.8) == CAPTION_MM
    assert captions_mm(TITLES, [drawing.view] * 7, 60.0, 1.8) > CAPTION_MM


def test_a_scale_that_does_not_fit_is_told_with_the_room_of_each():
    """Three side by side on A3: (420 − 30) / 3 mm less a little at each side; one alone has 390 mm."""
    with pytest.raises(SheetError, match=r"largest of 3 drawings is 200 × 20 mm.*3 side by side") as told:
        place_all([(0, 0, 40, 4)] * 3, sheet="A3", columns=3, scale=200)
    assert 100 < float(re.search(r"has (\d+) ×", str(told.value))[1]) < 130
