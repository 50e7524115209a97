"""Layers, language and structure of PDF files, read with pypdfium2 and by their plain objects."""

import ctypes
import re
import zlib

import numpy as np
import places
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from fontTools import subset
from handmade import terraces

import siteaxo
from siteaxo.sheet.canvas import render
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.wants import Wants

MM_PER_POINT = 25.4 / 72


@pytest.fixture(scope="module")
def content() -> bytes:
    return render(
        make_figure(terraces(material="timber"), wants=Wants(hidden=True), scale=100, sheet="A2"), "pdf"
    )


def only(content: bytes, *labels: str) -> bytes:
    """The same file with only some of its layers on, its length unchanged."""
    numbers = {
        match.group(2).decode(): match.group(1)
        for match in re.finditer(rb"(\d+) 0 obj\n<< /Type /OCG /Name \((.*?)\) >>", content)
    }
    on = b" ".join(numbers[label] + b" 0 R" for label in labels)
    (listed,) = re.findall(rb"/ON \[(.*?)\]", content, re.DOTALL)
    assert len(on) <= len(listed)
    changed = content.replace(b"/ON [" + listed + b"]", b"/ON [" + on.ljust(len(listed)) + b"]")
    return changed.replace(b"/BaseState /ON >>", b"/BaseState /OFF>>")


def picture(content: bytes, scale: float = 1.0) -> np.ndarray:
    with pypdfium2.PdfDocument(content) as pdf:
        return pdf[0].render(scale=scale).to_numpy().astype(int)


def test_every_table_and_every_layer_can_be_switched_off(content):
    labels = [one.decode() for one in re.findall(rb"/Type /OCG /Name \((.*?)\)", content)]
    assert set(labels) == {
        "Tones",
        "Patterns",
        "Hidden lines",
        "Lines",
        "Labels",
        "Sheet",
        "Lawns",
        "Terraces",
    }
    assert len(labels) == len(set(labels))
    assert (picture(only(content)) == 255).all(), "with all layers off nothing is left"
    shown = {}
    for label in ("Lines", "Tones", "Labels", "Sheet"):
        extra = ("Lawns", "Terraces") if label in ("Lines", "Tones") else ()
        shown[label] = (picture(only(content, label, *extra)) < 250).any(axis=2)
        assert shown[label].sum() > 30
    assert not (shown["Sheet"] & shown["Labels"]).any()
    whole = (picture(content) < 250).any(axis=2)
    assert whole.sum() > max(one.sum() for one in shown.values())


def test_a_site_layer_takes_its_tones_along(content):
    both = (picture(only(content, "Tones", "Lawns", "Terraces")) < 250).any(axis=2).sum()
    assert both > 0
    tones = {}
    for label in ("Lawns", "Terraces"):
        pixels = picture(only(content, "Tones", label)).reshape(-1, 3)
        tones[label] = {tuple(one) for one in np.unique(pixels, axis=0)}
    assert tones["Lawns"] != tones["Terraces"]


def test_layers_are_listed_with_those_of_the_site_under_a_heading(content):
    (order,) = re.findall(rb"/Order \[ (.*?\]) \]", content, re.DOTALL)
    assert re.fullmatch(rb"(\d+ 0 R\s+)+\[ \(Site layers\) (\d+ 0 R\s+)+\]", order)


def test_language_version_and_title_bar(content):
    (catalogue,) = re.findall(rb"<< /Type /Catalog.*?\nendobj", content, re.DOTALL)
    assert b"/Lang (en)" in catalogue
    assert b"/Version /1.7" in catalogue
    assert b"/DisplayDocTitle true" in catalogue
    assert b"/Marked true" in catalogue


def test_the_page_is_one_figure_with_an_alternative_text():
    """ISO 32000-1:2008, 14.7: read by pdfium's structure tree."""
    figure = make_figure(terraces())
    with pypdfium2.PdfDocument(render(figure, "pdf")) as pdf:
        page = pdf[0]
        tree = pdfium.FPDF_StructTree_GetForPage(page.raw)
        assert pdfium.FPDF_StructTree_CountChildren(tree) == 1
        element = pdfium.FPDF_StructTree_GetChildAtIndex(tree, 0)
        assert _text(pdfium.FPDF_StructElement_GetType, element) == "Figure"
        assert _text(pdfium.FPDF_StructElement_GetAltText, element) == figure.description
        pdfium.FPDF_StructTree_Close(tree)


def _text(getter, element) -> str:
    size = getter(element, None, 0)
    buffer = ctypes.create_string_buffer(size)
    getter(element, buffer, size)
    return buffer.raw.decode("utf-16-le").rstrip("\0")


@pytest.mark.parametrize("name", ["Ö & (yard)", "植栽", "a) /Evil << >>"])
def test_any_name_of_a_layer_is_only_a_name(name):
    diagram = terraces()
    diagram.faces["layer"] = name
    with pypdfium2.PdfDocument(render(make_figure(diagram), "pdf")) as pdf:
        assert len(pdf) == 1
        assert (pdf[0].render(scale=0.5).to_numpy() < 200).any()


def test_no_marked_content_is_left_open(content):
    import zlib

    streams = [
        zlib.decompress(one) for one in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL)
    ]
    page = max(streams, key=lambda one: one.count(b"BDC"))
    assert page.count(b"BDC") == page.count(b"EMC") > 10


@pytest.mark.parametrize("name", places.PLACES)
@pytest.mark.parametrize("scale", [200, 500])
def test_widths_in_the_file_are_those_of_the_tables(name, scale):
    """Stroke widths of all path objects, read by pdfium, against the column line_mm."""
    diagram = places.PLACES[name]().stack().draw(siteaxo.planometric(30), scale=scale)
    figure = diagram.figure(sheet="A0", scale=scale, orientation="auto")
    widths = set()
    with pypdfium2.PdfDocument(render(figure, "pdf")) as pdf:
        for item in pdf[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=3):
            width, mode, stroke = ctypes.c_float(), ctypes.c_int(), ctypes.c_int()
            pdfium.FPDFPath_GetDrawMode(item.raw, mode, stroke)
            pdfium.FPDFPageObj_GetStrokeWidth(item.raw, width)
            if stroke.value:
                widths.add(round(width.value * MM_PER_POINT, 2))
    shown = figure.drawing
    drawn = set(shown.edges.loc[shown.edges["drawn"] == 1, "line_mm"].round(2))
    assert drawn <= widths
    assert widths - drawn <= {0.13, 0.18, 0.25, 0.35, 0.5}  # patterns, labels and furniture


def test_fonts_are_embedded_without_tables_for_shaping_words(content):
    """The table directory of a TrueType font names its tables (OpenType specification, "Font file")."""
    begins = [match.end() for match in re.finditer(rb"/Length1 \d+.*?stream\r?\n", content, re.DOTALL)]
    fonts = [zlib.decompressobj().decompress(content[begin:]) for begin in begins]
    tables = [font[12 + 16 * k :][:4] for font in fonts for k in range(int.from_bytes(font[4:6], "big"))]
    assert {b"glyf", b"cmap"} <= set(tables)
    assert not {b"GSUB", b"GPOS", b"GDEF"} & set(tables)


def test_fonts_are_subset_as_ever_afterwards(content):
    assert not {"GSUB", "GPOS"} & set(subset.Options().drop_tables)
