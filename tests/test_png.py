"""PNG files drawn band by band are those drawn at once."""

import io

import numpy as np
import pytest
from handmade import terraces
from matplotlib.figure import Figure
from PIL import Image

from siteaxo.errors import SheetError
from siteaxo.sheet import png
from siteaxo.sheet.canvas import drawing_defaults, render
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.png import png_bytes

DPI = 80.0


@pytest.fixture(scope="module")
def sheet():
    return make_figure(terraces(), sheet="A4", scale=100)


def pixels(content):
    return np.asarray(Image.open(io.BytesIO(content)).convert("RGB")).astype(int)


def banded(figure, most, dpi=DPI):
    with drawing_defaults():
        return pixels(png_bytes(figure, dpi=dpi, metadata={}, most=most))


def test_every_pixel_is_that_of_the_general_writer(sheet):
    """Matplotlib's own PNG of the same figure, packed by Pillow."""
    stream = io.BytesIO()
    with drawing_defaults():
        Figure.savefig(sheet, stream, format="png", dpi=DPI, facecolor=sheet.get_facecolor())
    assert np.array_equal(pixels(render(sheet, "png", dpi=DPI)), pixels(stream.getvalue()))


@pytest.mark.parametrize("most", [60_000, 200_000])
def test_bands_meet(sheet, most):
    """Rounding of places moves a hair here and there, by a shade or two."""
    differ = np.abs(banded(sheet, most) - banded(sheet, 10**9)).max(axis=2)
    assert differ.shape == (int(210 / 25.4 * DPI), int(297 / 25.4 * DPI))
    assert (differ > 3).mean() < 1e-4


def test_wide_lines_are_whole_where_bands_meet():
    figure = Figure(figsize=(3, 6))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.axis("off")
    axes.plot([0, 1, 0.2], [0, 0.5, 1], linewidth=24.0, color="#224466")
    differ = np.abs(banded(figure, 18_000, dpi=100) - banded(figure, 10**9, dpi=100))
    assert differ.max() <= 3


def test_no_more_is_drawn_at_once_than_asked(sheet, monkeypatch):
    sizes = []
    drawn = png._drawn

    def counted(figure, dpi, foot, rows, width):
        sizes.append(rows * width)
        return drawn(figure, dpi, foot, rows, width)

    monkeypatch.setattr(png, "_drawn", counted)
    image = banded(sheet, 120_000)
    assert max(sizes) <= 120_000 < image.shape[0] * image.shape[1]
    assert len(set(sizes)) == 1, "the same pixels serve all bands"


def test_the_figure_keeps_its_canvas_and_no_pixels():
    sheet = make_figure(terraces(), sheet="A4", scale=100)
    before = sheet.canvas
    first = render(sheet, "png", dpi=DPI)
    assert sheet.canvas is before
    assert not hasattr(before, "renderer")
    assert render(sheet, "png", dpi=DPI) == first


def test_texts_of_any_letters():
    figure = Figure(figsize=(1, 1))
    written = png_bytes(figure, dpi=50, metadata={"Title": "Žižkov ☃", "Description": "a\0b", "Author": None})
    assert Image.open(io.BytesIO(written)).info["Title"] == "Žižkov ☃"
    assert Image.open(io.BytesIO(written)).info["Description"] == "a\ufffdb"


@pytest.mark.parametrize("dpi", [0, -1, float("nan"), "many", 1e6])
def test_bad_dots_per_inch_are_refused(sheet, dpi):
    with pytest.raises(SheetError, match="dpi"):
        render(sheet, "png", dpi=dpi)
