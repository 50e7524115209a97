"""
Drawings of the review sites at three scales: their data, as tables and as SVG and PDF on paper.

Files are opened with an XML parser and with pypdfium2, which know nothing of this library.
"""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import shapely
from sites_review import SITES

import siteaxo

# ISO 128-2: widths of lines, in steps of √2 [mm]
SERIES = {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0}
SHEETS = {100: "A1", 200: "A2", 500: "A3"}
SIZES = {"A1": (594.0, 841.0), "A2": (420.0, 594.0), "A3": (297.0, 420.0)}  # upright: ISO 216 [mm]
LEFT, OTHERS = 20.0, 10.0  # of the frame from the edges of the sheet: ISO 5457 (from memory) [mm]
POINT = 25.4 / 72  # [mm]
SVG = "{http://www.w3.org/2000/svg}"
TURN = 60.0
NUMBER = re.compile(r"[MLCQ]?\s*(-?[\d.]+(?:e-?\d+)?)[\s,]+(-?[\d.]+(?:e-?\d+)?)")


@pytest.fixture(scope="module", params=list(SITES))
def drawn(request):
    """Model and drawing of one site."""
    model = SITES[request.param]().stack()
    view = siteaxo.planometric(turn=TURN)
    return model, model.draw(view, people=True, shadows="conventional", planting="texture")


@pytest.fixture(scope="module", params=list(SHEETS))
def paper(request, drawn, tmp_path_factory):
    """Scale, figure, and the roots of its SVG file."""
    scale, folder = request.param, tmp_path_factory.mktemp("paper")
    figure = drawn[1].figure(sheet=SHEETS[scale], scale=scale, orientation="portrait")
    figure.savefig(folder / "sheet.svg")
    figure.savefig(folder / "sheet.pdf")
    return scale, figure, folder


def group(root, name):
    found = [g for g in root.iter(f"{SVG}g") if g.get("id") == name]
    assert len(found) == 1, name
    return found[0]


def strokes(element):
    """Runs of points of all paths below an element, in millimetres from the upper left."""
    runs = []
    for path in element.iter(f"{SVG}path"):
        for run in re.split("(?=M)", path.get("d", "")):
            points = np.array(NUMBER.findall(run), dtype=float)
            if len(points):
                runs.append(points * POINT)
    return runs


def test_widths_are_of_the_series_and_fall_from_profile_to_pattern(paper):
    scale, figure, _ = paper
    edges, patterns = figure.drawing.edges, figure.drawing.extra["patterns"]
    assert set(np.unique(edges["line_mm"])) <= SERIES
    assert set(np.unique(patterns["line_mm"])) <= SERIES
    inner = edges[edges["outline"] == ""] if "outline" in edges else edges
    width = inner.groupby(["role", "kind"])["line_mm"].max()
    for role in ("structure", "roof", "wall", "tree"):
        present = [width[role, kind] for kind in ("profile", "edge", "foot") if (role, kind) in width.index]
        assert len(present) > 1
        assert sorted(present, reverse=True) == present, role
    # profile : edge : pattern = 4 : 2 : 1 with 0.5 mm up to 1:200; 0.35, 0.18 and 0.13 mm at 1:500
    expected = (0.5, 0.25, 0.13) if scale <= 200 else (0.35, 0.18, 0.13)
    found = (width["roof", "profile"], width["roof", "edge"], patterns["line_mm"].max())
    assert found == expected
    # what shapes the space is heavier than the ground it stands on: common practice
    heavy, light = width["structure", "profile"], inner[inner["role"] == "paving"]["line_mm"]
    assert np.median(light) < heavy


def test_lines_and_fills_in_svg_are_those_of_the_tables(paper):
    _, figure, folder = paper
    root = ET.parse(folder / "sheet.svg").getroot()
    assert root.get("role") == "img"
    names = [g.get("id") for g in group(root, "drawing").iter(f"{SVG}g") if g.get("id")]
    assert len(names) == len(set(names))
    for table in ("faces", "edges", "patterns", "shadows", "people", "planting"):
        assert table in names
    faces = figure.drawing.faces
    pairs = {(str(a).replace("_", "-"), b) for a, b in zip(faces["layer"], faces["role"], strict=True)}
    for layer, role in pairs:
        mine = [name for name in names if name.startswith(f"faces_{layer}_{role}_")]
        tones = set(faces["fill"][(faces["layer"].str.replace("_", "-") == layer) & (faces["role"] == role)])
        assert {name.rsplit("_", 1)[1] for name in mine} == {tone.removeprefix("#") for tone in tones}, layer
    styled = re.findall(r"stroke-width: ([\d.]+)", ET.tostring(group(root, "edges"), encoding="unicode"))
    widths = {float(width) * POINT for width in styled}
    drawn = np.unique(figure.drawing.edges["line_mm"])
    assert all(np.abs(np.array(sorted(widths))[:, None] - drawn).min(axis=1) < 1e-3)


def test_a_wall_of_ten_metres_measures_to_scale(paper):
    scale, _, folder = paper
    root = ET.parse(folder / "sheet.svg").getroot()
    lines = [g for g in group(root, "edges").iter(f"{SVG}g") if (g.get("id") or "").startswith("edges_wall_")]
    runs = [run for g in lines for run in strokes(g)]
    steps = np.vstack([np.diff(run, axis=0) for run in runs if len(run) > 1])
    along = np.abs(np.degrees(np.arctan2(-steps[:, 1], steps[:, 0])) % 180 - TURN) < 0.01
    assert np.hypot(*steps[along].T).max() == pytest.approx(10_000 / scale, abs=0.05)


def test_nothing_lies_outside_the_frame(paper):
    scale, _, folder = paper
    wide, high = SIZES[SHEETS[scale]]
    root = ET.parse(folder / "sheet.svg").getroot()
    assert float(root.get("width").removesuffix("pt")) * POINT == pytest.approx(wide, abs=0.01)
    assert float(root.get("height").removesuffix("pt")) * POINT == pytest.approx(high, abs=0.01)
    points = np.vstack(strokes(group(root, "drawing")))
    assert points[:, 0].min() > LEFT
    assert points[:, 0].max() < wide - OTHERS
    assert points[:, 1].min() > OTHERS
    assert points[:, 1].max() < high - OTHERS


def test_pdf_says_its_scale_and_has_its_size(paper):
    pdfium = pytest.importorskip("pypdfium2")
    scale, figure, folder = paper
    document = pdfium.PdfDocument(folder / "sheet.pdf")
    page = document[0]
    wide, high = SIZES[SHEETS[scale]]
    assert np.array(page.get_size()) * POINT == pytest.approx([wide, high], abs=0.1)
    text = page.get_textpage().get_text_range()
    assert f"1:{scale}" in text
    assert figure.drawing.name in text
    assert "Not for construction" in text
    document.close()


def test_patterns_are_left_out_where_joints_would_run_together(drawn):
    counts = {scale: len(drawn[1].at_scale(scale).extra["patterns"]) for scale in SHEETS}
    assert counts[100] >= counts[200] >= counts[500] > 0
    assert counts[100] > counts[500]


def test_steps_do_not_turn_black_at_small_scales(drawn):
    scale, faces = 500, drawn[1].faces
    edges = drawn[1].at_scale(scale).edges
    lines = edges[(edges["role"] == "steps") & (edges["kind"] == "edge")]
    ink = (lines.geometry.length * lines["line_mm"]).sum() * 1000 / scale
    paper = faces[faces["role"] == "steps"].area.sum() * (1000 / scale) ** 2
    assert 0 < ink < paper / 2  # lines closer than twice their width would cover more than half


def test_people_are_to_scale_and_nowhere_in_water(drawn):
    _, diagram = drawn
    people = diagram.extra["people"]
    filled = people[shapely.get_dimensions(people.geometry.to_numpy()) == 2]
    apart = shapely.get_parts(shapely.union_all(shapely.buffer(filled.geometry.to_numpy(), 0.01)))
    left, bottom, right, top = shapely.bounds(apart).T
    single = right - left < 0.9
    height = (top - bottom)[single]
    assert single.sum() >= 5
    assert height.max() < 1.95  # 1.2 to 1.9 m tall
    assert np.median(height) > 1.1
    assert not set(people["role"]) - {"people"}
    water = diagram.faces[diagram.faces["role"] == "water"]
    assert not people["layer"].isin(water["layer"]).any()
