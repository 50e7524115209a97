"""Letters that the typeface of sheets lacks: one warning of ours, and the text stays text."""

import io
import warnings
import xml.etree.ElementTree as ET

import handmade
import pypdfium2
import pytest

from siteaxo.sheet.canvas import LetteringWarning, render
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.fonts import missing_signs

POND = "Pond 池 🫠"


@pytest.fixture(scope="module")
def figure():
    drawn = handmade.terraces(name=POND, material=POND)
    drawn.faces["layer"] = drawn.plan["layer"] = drawn.edges["layer"] = POND
    return make_figure(drawn, sheet="A4", scale=100, title=POND)


def test_what_the_typeface_lacks():
    """DejaVu Sans has Latin, Greek and Cyrillic letters, and no Han characters (from memory)."""
    assert missing_signs("Größe Δ Дом 5 m²") == ""
    assert missing_signs("池 and 水, 池") == "池水"


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_one_warning_of_ours(figure, kind):
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        content = render(figure, kind, dpi=30)
    assert [one.category for one in said] == [LetteringWarning]
    assert "U+6C60" in str(said[0].message)
    if kind == "svg":
        root = ET.fromstring(content)
        assert any(POND in "".join(node.itertext()) for node in root.iter() if node.tag.endswith("}text"))
    if kind == "pdf":
        page = pypdfium2.PdfDocument(io.BytesIO(content))[0]
        assert "Pond" in page.get_textpage().get_text_bounded()


def test_no_warning_where_nothing_lacks():
    """Warnings are errors here."""
    assert render(make_figure(handmade.terraces(), sheet="A4", scale=100), "png", dpi=20)
