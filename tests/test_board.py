"""Boards: parts composed by rows and columns or by boxes in millimetres."""

import re

import numpy as np
import pytest
from courtyard import court

import siteaxo
from siteaxo.errors import SheetError
from siteaxo.sheet.arranged import closed_up, usual_layout
from siteaxo.sheet.layout import Layout
from siteaxo.sheet.page import Sheet

VIEW = siteaxo.planometric(turn=60)


@pytest.fixture(scope="module")
def parts():
    model = court().stack()
    return {
        "plan": model.draw(siteaxo.planometric(turn=0, height_factor=0), people=False),
        "main": model.draw(VIEW, people=True),
        "exploded": model.exploded_view(VIEW, people=False),
    }


def axes_of(figure, gid):
    return next(ax for ax in figure.axes if ax.get_gid() == gid)


def box_mm(figure, axes):
    """Box of axes on the sheet: left, bottom, width, height [mm]."""
    size = figure.get_size_inches() * 25.4
    place = axes.get_position()
    return place.x0 * size[0], place.y0 * size[1], place.width * size[0], place.height * size[1]


@pytest.mark.parametrize("sheet", ["A3", "A0"])
@pytest.mark.parametrize("orientation", ["landscape", "portrait"])
def test_usual_boards_from_a3_to_a0(parts, sheet, orientation):
    figure = siteaxo.board(parts, sheet=sheet, orientation=orientation)
    where = {name: box_mm(figure, axes_of(figure, f"drawing_{name}")) for name in parts}
    assert where["plan"][0] <= where["main"][0]
    assert where["plan"][1] > where["main"][1]  # the plan lies at the upper left
    assert where["exploded"][0] > where["main"][0]
    assert where["main"][2] * where["main"][3] > 1.25 * where["plan"][2] * where["plan"][3]


def test_every_part_is_at_its_true_scale(parts):
    """One millimetre of paper is 1/scale of page metres, in both directions (identity)."""
    figure = siteaxo.board(parts, sheet="A1", scales={"plan": 500, "main": (10, 100, 125)})
    for name, drawing in figure.drawing.items():
        axes = axes_of(figure, f"drawing_{name}")
        _, _, width, height = box_mm(figure, axes)
        assert np.ptp(axes.get_xlim()) * 1000 / width == pytest.approx(drawing.scale, rel=1e-9)
        assert np.ptp(axes.get_ylim()) * 1000 / height == pytest.approx(drawing.scale, rel=1e-9)
    assert figure.drawing["plan"].scale == 500
    assert figure.drawing["main"].scale == 100


def test_boxes_in_millimetres_are_kept(parts):
    layout = Layout(
        boxes_mm={"main": (30, 60, 250, 200), "plan": (290, 150, 100, 120), "title": (30, 15, 360, 30)}
    )
    figure = siteaxo.board(
        {name: parts[name] for name in ("plan", "main")}, layout=layout, sheet="A3", title="Court"
    )
    left, bottom, width, height = box_mm(figure, axes_of(figure, "drawing_plan"))
    assert (left, width) == pytest.approx((290, 100))
    assert bottom + height == pytest.approx(270)
    assert bottom > 150  # its caption lies below


def test_rows_and_columns_share_what_millimetres_leave():
    """A3 landscape: frame 390 × 277 mm (ISO 5457, from memory), three gaps of 5 mm across."""
    layout = Layout(
        rows=("plan main", "plan words"), columns_mm=(100, None), heights=(3, 1), gap_mm=5, heights_mm=None
    )
    boxes = layout.boxes_on(Sheet(name="A3"))
    assert boxes["main"].width == pytest.approx(390 - 15 - 100)
    assert boxes["plan"].height == pytest.approx(277 - 10)
    assert boxes["main"].height == pytest.approx((277 - 15) * 0.75)
    assert boxes["words"].top == pytest.approx(boxes["main"].bottom - 5)
    assert boxes["plan"].left == pytest.approx(20 + 5)


def test_parts_of_the_usual_layouts_do_not_overlap():
    for name in ("A3", "A1", "A0"):
        for orientation in ("landscape", "portrait"):
            sheet = Sheet(name=name, orientation=orientation)
            boxes = list(usual_layout(sheet).boxes_on(sheet).values())
            for number, one in enumerate(boxes):
                assert one.left >= sheet.frame.left
                assert one.top <= sheet.frame.top + 1e-9
                for other in boxes[number + 1 :]:
                    apart = (
                        one.right <= other.left + 1e-9
                        or other.right <= one.left + 1e-9
                        or one.top <= other.bottom + 1e-9
                        or other.top <= one.bottom + 1e-9
                    )
                    assert apart


@pytest.mark.parametrize("orientation", ["landscape", "portrait"])
@pytest.mark.parametrize("missing", [{"plan"}, {"exploded"}, {"plan", "exploded"}, {"main"}])
def test_a_board_closes_up_where_parts_are_missing(orientation, missing):
    sheet = Sheet(name="A1", orientation=orientation)
    whole = usual_layout(sheet)
    before, after = whole.boxes_on(sheet), closed_up(whole, missing).boxes_on(sheet)
    assert set(after) == set(before) - missing
    areas = [{name: box.width * box.height for name, box in boxes.items()} for boxes in (before, after)]
    assert any(areas[1][name] > areas[0][name] for name in after)
    if "exploded" in missing:  # nothing stays empty on the right
        right = after["main" if "main" in after else "plan"].right
        assert right == pytest.approx(sheet.frame.right - whole.gap_mm)


def test_words_of_a_board(parts):
    figure = siteaxo.board(
        parts,
        sheet="A2",
        title="A court for play",
        subtitle="Option 2",
        captions={"main": "Seen from the south"},
        cautions=["The roof over the deck is lower than it looks."],
    )
    texts = " ".join(text.get_text() for ax in figure.axes for text in ax.texts)
    for words in (
        "A court for play",
        "Option 2",
        "Seen from the south",
        "Legend",
        "General cautions",
        "lower than it looks",
    ):
        assert words in texts
    assert "Not for construction or setting out." in texts
    assert "Pulled apart by theme" in texts
    assert figure.description.count("Court, drawn 1:") == 3


def test_text_parts_and_empty_cells(parts):
    layout = Layout(rows=("main notes", "main ."), heights=(2, 1))
    figure = siteaxo.board(
        {"main": parts["main"], "notes": "Play for all ages. " * 40}, layout=layout, sheet="A3"
    )
    texts = [text.get_text() for ax in figure.axes for text in ax.texts]
    assert "Notes" in texts
    assert sum("Play for all" in text for text in texts) > 3


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"rows": ("a b", "a")}, "as many names"),
        ({"rows": ("a b", "b a")}, "no rectangle"),
        ({"rows": ("a b",), "columns": (1, 2, 3)}, "3 numbers for 2"),
        ({"rows": ("a b",), "columns_mm": (0, None)}, "above zero"),
        ({}, "one of the two"),
        ({"boxes_mm": {"a": (0, 0, 10, 0)}}, "above zero"),
        ({"boxes_mm": {"a": (0, 0, 10)}}, "left, bottom, width, height"),
    ],
)
def test_layouts_that_cannot_be_say_why(options, words):
    with pytest.raises(SheetError, match=words):
        Layout(**options)


def test_layouts_that_do_not_fit_the_sheet_say_so():
    with pytest.raises(SheetError, match="larger sheet"):
        Layout(rows=("a b",), columns_mm=(300, 300)).boxes_on(Sheet(name="A3"))
    with pytest.raises(SheetError, match="larger sheet"):
        Layout(boxes_mm={"a": (0, 0, 500, 100)}).boxes_on(Sheet(name="A3"))


def test_parts_without_a_place_and_drawings_that_do_not_fit(parts):
    for refused in (lambda: siteaxo.board({"main": 3}), lambda: siteaxo.side_by_side([3])):
        with pytest.raises(SheetError, match=r"is no drawing \(int\)\. Give what model\.draw\(\) returns"):
            refused()
    with pytest.raises(SheetError, match="Did you mean 'plan'"):
        siteaxo.board({"plann": parts["plan"]})
    with pytest.raises(SheetError, match="Nothing is given for 'plan'"):
        siteaxo.board({"main": parts["main"]}, layout=Layout(rows=("plan main",)))
    with pytest.raises(SheetError, match=r"does not fit its box .* Use scale \d+"):
        siteaxo.board(parts, sheet="A3", scales={"main": 10})
    with pytest.raises(SheetError, match="part of the board"):
        siteaxo.board(parts, scales={"maim": 10})
    with pytest.raises(SheetError, match="no drawing"):
        siteaxo.board({})


def test_saved_boards_have_their_true_size(parts, tmp_path):
    import pypdfium2

    path = tmp_path / "board.pdf"
    siteaxo.board(parts, sheet="A2", orientation="portrait").savefig(path)
    (page,) = pypdfium2.PdfDocument(path)
    assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx([420, 594], abs=0.01)


def test_words_without_room_are_counted(parts):
    """Every line of the paragraph is on the board or counted."""
    caution = " ".join(f"Edge{k} drops without a guard." for k in range(400))
    figure = siteaxo.board(parts, sheet="A1", cautions=[caution])
    texts = [one.get_text() for axes in figure.axes for one in axes.texts]
    shown = [one for one in texts if re.search(r"Edge\d+|without a guard", one)]
    (more,) = (one for one in texts if one.startswith("(lines without room: "))
    assert not [one for one in texts if "…" in one]
    said = " ".join(shown)
    assert caution.startswith(said)
    mean = len(said) / len(shown)
    assert int(more[:-1].split()[-1]) == pytest.approx((len(caution) - len(said)) / mean, rel=0.1)
