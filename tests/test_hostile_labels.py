"""Text from data is text: on sheets, in tables, and whatever it says."""

import csv
import io
import os
import xml.etree.ElementTree as ET

import geopandas as gpd
import handmade
import pypdfium2
import pytest

from siteaxo.export.gpkg import write_gpkg
from siteaxo.export.images import save_figure
from siteaxo.export.tables import write_csv
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.words import plain_text

PICTURES = ("$x^2$", "bell\x07", "null\x00byte", "</text><script>alert(1)</script>")
"""Labels that are also drawn as pictures, which takes longer; all of them where EVERY_LABEL is set."""
LABELS = [
    "$x^2$",
    r"\frac{1}{2}",
    "100 % & more",
    "<b>bold</b>",
    "</text><script>alert(1)</script>",
    "<![CDATA[ x ]]>",
    "<!-- x -->",
    "&lt; &#60; &x;",
    "javascript:alert(1)",
    "a\"b'c",
    "=1+1",
    "+cmd|' /C calc'!A0",
    "-1",
    "@SUM(A1)",
    "two\nlines",
    "tab\there",
    "null\x00byte",
    "bell\x07",
    "esc\x1b[31mred",
    "\ufffe\uffff",
    "\ud800 alone",
    "right \u202eto left",
    "zero\u200bwidth",
    "{0} %s {name}",
    "${HOME} `id`",
    "../../etc/passwd",
    "é",
    "e\u0301",
    "€ § ° ²",
    "x" * 500,
    " " * 20 + "spaces" + " " * 20,
    "]]>",
]


@pytest.fixture(scope="module", params=range(len(LABELS)), ids=lambda k: ascii(LABELS[k])[:30])
def drawn(request):
    """A label, a drawing whose site, layers and materials are called so, and its sheet."""
    text = LABELS[request.param]
    made = handmade.terraces(name=text, material=text)
    made.faces["layer"] = made.plan["layer"] = made.edges["layer"] = text
    return text, made, make_figure(made, sheet="A4", scale=100, title=text)


def shown(text, words):
    """Whether a text, or as much of it as there is room for, is among words."""
    wanted = plain_text(text)
    return any(one == wanted or (one.endswith("…") and wanted.startswith(one[:-1].rstrip())) for one in words)


def test_svg(drawn, tmp_path):
    text, _, figure = drawn
    save_figure(figure, tmp_path / "a.svg")
    root = ET.fromstring((tmp_path / "a.svg").read_bytes())
    words = ["".join(node.itertext()).strip() for node in root.iter() if node.tag.endswith("}text")]
    assert shown(text, words), words
    tags = {node.tag.rpartition("}")[2] for node in root.iter()}
    assert not tags & {"script", "a", "foreignObject", "iframe", "b"}
    for node in root.iter():
        for name, value in node.attrib.items():
            assert not name.rpartition("}")[2].lower().startswith("on")
            assert "javascript:" not in value.lower() or name.rpartition("}")[2] != "href"
            if name.rpartition("}")[2] == "href":
                assert value.startswith(("#", "data:image/png"))


def test_pdf(drawn, tmp_path):
    text, _, figure = drawn
    save_figure(figure, tmp_path / "a.pdf")
    page = pypdfium2.PdfDocument(tmp_path / "a.pdf")[0]
    words = page.get_textpage().get_text_bounded()
    wanted = "".join(plain_text(text)[:40].split())
    assert wanted in "".join(words.split()) or not wanted.isascii()
    assert b"/JavaScript" not in (tmp_path / "a.pdf").read_bytes()
    assert b"/URI" not in (tmp_path / "a.pdf").read_bytes()


def test_png(drawn, tmp_path):
    text, _, figure = drawn
    if text not in PICTURES and not os.environ.get("EVERY_LABEL"):
        return
    save_figure(figure, tmp_path / "a.png", dpi=20)
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")


def test_geopackage_and_csv(drawn, tmp_path):
    text, made, _ = drawn
    write_gpkg(made, tmp_path / "a.gpkg")
    layers = set(gpd.read_file(tmp_path / "a.gpkg", layer="faces")["layer"])
    stored = text.encode("utf-8", "replace").decode().split("\x00")[0]
    assert layers == {stored}
    write_csv(made.faces.drop(columns="geometry"), tmp_path / "a.csv")
    content = (tmp_path / "a.csv").read_bytes().decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(content.replace("\x00", ""), newline="")))
    assert not any(row["layer"].startswith(("=", "+", "-", "@", "\t", "\r")) for row in rows)
