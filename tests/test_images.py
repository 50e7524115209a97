import io
import xml.etree.ElementTree as ElementTree

import matplotlib
import pypdfium2
import pytest
from handmade import terraces
from PIL import Image

from siteaxo.errors import OutputError, SheetError
from siteaxo.export.images import save_figure
from siteaxo.sheet.canvas import IMAGE_KINDS, render
from siteaxo.sheet.figure import make_figure

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def figure():
    return make_figure(terraces())


@pytest.mark.parametrize("kind", IMAGE_KINDS)
def test_the_same_input_gives_the_same_bytes(figure, kind):
    once = render(figure, kind, dpi=100)
    assert render(figure, kind, dpi=100) == once
    assert render(make_figure(terraces()), kind, dpi=100) == once


@pytest.mark.parametrize("kind", IMAGE_KINDS)
def test_bytes_do_not_depend_on_the_users_settings(figure, kind):
    once = render(figure, kind, dpi=100)
    settings = {
        "savefig.bbox": "tight",
        "font.size": 20,
        "lines.linewidth": 9,
        "svg.fonttype": "path",
        "path.simplify": True,
    }
    with matplotlib.rc_context(settings):
        assert render(make_figure(terraces()), kind, dpi=100) == once


def test_the_users_settings_are_put_back(figure):
    with matplotlib.rc_context({"savefig.bbox": "tight", "font.size": 20}):
        before = dict(matplotlib.rcParams)
        render(figure, "svg")
        assert dict(matplotlib.rcParams) == before


@pytest.mark.parametrize("name", ["a.pdf", "a.svg", "a.png", "a.PDF"])
def test_saving_by_suffix(figure, tmp_path, name):
    save_figure(figure, tmp_path / name, dpi=50)
    assert (tmp_path / name).read_bytes() == render(figure, name[2:].lower(), dpi=50)
    assert [one.name for one in tmp_path.iterdir()] == [name]


def test_savefig_gives_the_same_file(figure, tmp_path):
    figure.savefig(tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == render(figure, "pdf")
    stream = io.BytesIO()
    figure.savefig(stream, format="svg")
    assert stream.getvalue() == render(figure, "svg")


def test_savefig_hands_its_bytes_to_whoever_keeps_them(tmp_path):
    kept = []
    made = make_figure(terraces(), keep=lambda path, content: kept.append((path, content)))
    made.savefig(tmp_path / "a.svg")
    assert kept == [(tmp_path / "a.svg", render(made, "svg"))]
    assert not list(tmp_path.iterdir())


def test_what_would_break_the_scale_is_refused(figure, tmp_path):
    with pytest.raises(SheetError, match="bbox_inches"):
        figure.savefig(tmp_path / "a.pdf", bbox_inches="tight")
    assert not list(tmp_path.iterdir())


def test_an_unknown_kind_of_image_is_refused(figure, tmp_path):
    with pytest.raises(OutputError, match="'png'"):
        save_figure(figure, tmp_path / "a.pmg")
    with pytest.raises(OutputError, match="Known: pdf, png, svg"):
        save_figure(figure, tmp_path / "a")
    with pytest.raises(OutputError):
        render(figure, "tiff")
    assert not list(tmp_path.iterdir())


def test_a_failure_while_drawing_leaves_the_old_file(tmp_path, monkeypatch):
    (tmp_path / "a.svg").write_bytes(b"old")
    made = make_figure(terraces())

    def fail(renderer):
        raise RuntimeError("stop")

    monkeypatch.setattr(made, "draw", fail)
    with pytest.raises(RuntimeError, match="stop"):
        save_figure(made, tmp_path / "a.svg")
    assert (tmp_path / "a.svg").read_bytes() == b"old"


@pytest.mark.parametrize(
    ("sheet", "orientation", "size"), [("A3", "landscape", (420, 297)), ("A4", "portrait", (210, 297))]
)
def test_page_size(sheet, orientation, size):
    """ISO 216; 1 mm is 72/25.4 points."""
    made = make_figure(terraces(), sheet=sheet, orientation=orientation)
    points = [side * 72 / 25.4 for side in size]
    with pypdfium2.PdfDocument(render(made, "pdf")) as pdf:
        assert len(pdf) == 1
        assert pdf[0].get_size() == pytest.approx(points, abs=1e-3)
    root = ElementTree.fromstring(render(made, "svg"))
    assert [float(root.get(side).removesuffix("pt")) for side in ("width", "height")] == pytest.approx(
        points, abs=1e-5
    )
    image = Image.open(io.BytesIO(render(made, "png", dpi=254)))
    assert image.size == pytest.approx([side * 10 for side in size], abs=1)
    assert image.info["dpi"] == pytest.approx((254, 254), abs=0.1)


def test_svg_is_one_described_image_with_text_as_text(figure):
    root = ElementTree.fromstring(render(figure, "svg"))
    assert root.get("role") == "img"
    assert root.get("{http://www.w3.org/XML/1998/namespace}lang") == "en"
    assert root.find(f"{SVG}title").text == "Dyers' Yard"
    description = root.find(f"{SVG}desc").text
    assert "1:200 at A3" in description
    assert "between 12.00 m and 15.00 m" in description
    assert "3 features" in description
    assert "Dyers' Yard" in [one.text for one in root.iter(f"{SVG}text")]


def test_files_carry_a_title_and_no_date(figure):
    with pypdfium2.PdfDocument(render(figure, "pdf")) as pdf:
        facts = pdf.get_metadata_dict()
    assert facts["Title"] == "Dyers' Yard"
    assert facts["Creator"] == "siteaxo"
    assert facts["CreationDate"] == facts["ModDate"] == ""
    assert b"dc:date" not in render(figure, "svg")
    assert Image.open(io.BytesIO(render(figure, "png", dpi=50))).info["Title"] == "Dyers' Yard"


@pytest.mark.parametrize("name", ["$x^2$ & <b>", 'a "b" ]]> c', "tab\there\x07", "\ud800 lone"])
def test_names_are_text_and_nothing_else(name):
    made = make_figure(terraces(name=name))
    root = ElementTree.fromstring(render(made, "svg"))
    shown = name.replace("\t", " ").replace("\x07", "\ufffd").replace("\ud800", "\ufffd")
    assert root.find(f"{SVG}title").text == shown
    assert shown in [one.text for one in root.iter(f"{SVG}text")]
    with pypdfium2.PdfDocument(render(made, "pdf")) as pdf:
        text = pdf[0].get_textpage().get_text_range()
    assert shown.replace("\ufffd", "").split()[0] in text
    assert render(made, "png", dpi=50).startswith(b"\x89PNG")
