import ctypes
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from handmade import terraces, view_record, without_rows

from siteaxo.errors import SheetError
from siteaxo.sheet.canvas import render
from siteaxo.sheet.compound import area_path, line_path
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.groups import Group
from siteaxo.sheet.page import Sheet
from siteaxo.sheet.paths import id_from
from siteaxo.sheet.wants import Wants

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_POINT = 25.4 / 72


def groups_of(figure) -> dict[str, ElementTree.Element]:
    root = ElementTree.fromstring(render(figure, "svg"))
    found = [(group.get("id"), group) for group in root.iter(f"{SVG}g") if group.get("id")]
    names = [name for name, _ in found]
    assert len(names) == len(set(names))
    return dict(found)


def points_mm(group) -> np.ndarray:
    """Points of a group's path, from the lower left corner of an A3 sheet lying landscape [mm]."""
    numbers = re.findall(r"-?\d+\.?\d*", group.find(f"{SVG}path").get("d"))
    points = np.array(numbers, dtype=float).reshape(-1, 2) * MM_PER_POINT
    return np.column_stack([points[:, 0], 297 - points[:, 1]])


def style_of(group) -> dict[str, str]:
    pairs = group.find(f"{SVG}path").get("style").split(";")
    return {name.strip(): value.strip() for name, value in (pair.split(":") for pair in pairs)}


@pytest.mark.parametrize(("scale", "millimetres"), [(200, 50.0), (100, 100.0), (250, 40.0)])
def test_ten_metres_on_paper_in_svg(scale, millimetres):
    groups = groups_of(make_figure(terraces(scale=scale), scale=scale))
    (name,) = [one for one in groups if one.startswith("edges_terraces_terrace_profile")]
    ends = points_mm(groups[name]).reshape(-1, 2, 2)
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    assert lengths == pytest.approx([millimetres, 0.9 * millimetres, 0.9 * millimetres], abs=0.001)


def filled_boxes(content: bytes) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right and top of every filled, unstroked path of a PDF [mm]."""
    boxes = []
    with pypdfium2.PdfDocument(content) as pdf:
        for item in pdf[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
            mode, stroke = ctypes.c_int(), ctypes.c_int()
            pdfium.FPDFPath_GetDrawMode(item.raw, mode, stroke)
            if mode.value and not stroke.value:
                boxes.append(tuple(side * MM_PER_POINT for side in item.get_bounds()))
    return boxes


def stroke_widths(content: bytes) -> set[float]:
    """Widths of all stroked paths of a PDF, rounded [mm]."""
    widths = set()
    with pypdfium2.PdfDocument(content) as pdf:
        for item in pdf[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
            width, mode, stroke = ctypes.c_float(), ctypes.c_int(), ctypes.c_int()
            pdfium.FPDFPath_GetDrawMode(item.raw, mode, stroke)
            pdfium.FPDFPageObj_GetStrokeWidth(item.raw, width)
            if stroke.value:
                widths.add(round(width.value * MM_PER_POINT, 3))
    return widths


def test_ten_metres_on_paper_in_pdf():
    boxes = filled_boxes(render(make_figure(terraces(), scale=200), "pdf"))
    wide = np.array([box for box in boxes if round(box[2] - box[0], 2) == 50.0])
    assert np.ptp(wide[:, [1, 3]]) == pytest.approx(45.0, abs=0.01)


def test_the_drawing_lies_in_the_middle_of_its_space():
    space = Sheet(name="A3").drawing_space
    groups = groups_of(make_figure(terraces()))
    points = np.concatenate([points_mm(groups[name]) for name in groups if name.startswith("faces_under_")])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    assert middle == pytest.approx(
        [(space.left + space.right) / 2, (space.bottom + space.top) / 2], abs=0.001
    )


@pytest.mark.parametrize("sheet", ["A4", "A3", "ANSI B"])
@pytest.mark.parametrize("orientation", ["landscape", "portrait"])
def test_nothing_is_cropped_and_nothing_lies_on_the_furniture(sheet, orientation):
    figure = make_figure(
        terraces(), sheet=sheet, scale="fit", orientation=orientation, wants=Wants(hidden=True)
    )
    paper = Sheet(name=sheet, orientation=orientation)
    space = paper.drawing_space
    drawing = next(axes for axes in figure.axes if axes.get_gid() == "drawing")
    to_mm = 25.4 / figure.dpi
    patches = [
        patch for group in drawing.get_children() if isinstance(group, Group) for patch in group.members
    ]
    for patch in patches:
        box = patch.get_window_extent()
        assert box.x0 * to_mm > space.left
        assert box.x1 * to_mm < space.right
        assert box.y0 * to_mm > space.bottom
        assert box.y1 * to_mm < space.top
    assert len(patches) > 5


@pytest.mark.parametrize("scale", [50, 200, 500])
def test_line_widths_and_colours_are_those_of_the_tables(scale):
    diagram = terraces(scale=scale)
    figure = make_figure(diagram, scale=scale, sheet="A0")
    groups = groups_of(figure)
    assert b"*{stroke-linejoin: round; stroke-linecap: butt}" in render(figure, "svg")
    drawn = diagram.edges[diagram.edges["drawn"] == 1]
    for (kind, width, colour), rows in drawn.groupby(["kind", "line_mm", "colour"]):
        (name,) = [one for one in groups if one.startswith(f"edges_terraces_terrace_{kind}")]
        look = style_of(groups[name])
        assert float(look["stroke-width"]) * MM_PER_POINT == pytest.approx(width, abs=1e-5)
        assert look["stroke"] == colour
        assert look.get("stroke-linejoin", "round") == look["stroke-linecap"] == "round"
        assert look["fill"] == "none"
        assert groups[name].find(f"{SVG}path").get("d").count("M") == len(rows)
    assert set(drawn["line_mm"].round(3)) <= stroke_widths(render(figure, "pdf"))


def test_lines_that_give_way_are_not_drawn():
    diagram = terraces()
    diagram.edges["drawn"] = 0
    assert not [name for name in groups_of(make_figure(diagram)) if name.startswith("edges_")]


def test_one_path_for_every_layer_and_tone():
    diagram = terraces()
    groups = groups_of(make_figure(diagram))
    drawn = {name for name in groups if name.startswith("faces_") and "_under_" not in name}
    wanted = {
        f"faces_{layer.lower()}_{role}_{fill[1:]}"
        for layer, role, fill in diagram.faces[["layer", "role", "fill"]].itertuples(index=False)
    }
    assert drawn == wanted
    assert len(drawn) == 4
    for name in drawn:
        assert style_of(groups[name])["fill"] == f"#{name.rsplit('_', 1)[1]}"
        assert "stroke" not in style_of(groups[name])


def test_profiles_are_drawn_over_edges_and_edges_over_faces():
    names = list(groups_of(make_figure(terraces(), wants=Wants(hidden=True))))
    firsts = [
        next(place for place, name in enumerate(names) if name.startswith(start))
        for start in (
            "faces_under",
            "faces_lawns",
            "patterns_lawns",
            "hidden_edges_terraces",
            "edges_terraces_terrace_foot",
            "edges_terraces_terrace_edge",
            "edges_terraces_terrace_profile",
        )
    ]
    assert firsts == sorted(firsts)


def test_hidden_lines_are_off_unless_wanted_and_dashed():
    """ISO 128-2: dashes of 12 d and gaps of 3 d."""
    assert not [name for name in groups_of(make_figure(terraces())) if name.startswith("hidden")]
    groups = groups_of(make_figure(terraces(), wants=Wants(hidden=True)))
    (name,) = [one for one in groups if one.startswith("hidden_edges_")]
    look = style_of(groups[name])
    width = float(look["stroke-width"])
    dashes = [float(one) for one in look["stroke-dasharray"].split(",")]
    assert dashes == pytest.approx([12 * width, 3 * width], rel=1e-5)
    assert look.get("stroke-linecap", "butt") == "butt"


def test_layers_whose_names_read_alike_keep_groups_of_their_own():
    diagram = terraces()
    diagram.faces["layer"] = ["Öst", "ost", "ost!", "Öst", "ost", "ost!"]
    diagram.faces["role"] = "terrace"
    diagram.faces["fill"] = "#dddddd"
    names = [name for name in groups_of(make_figure(diagram)) if name.startswith("faces_ost")]
    stem = "faces_ost_terrace_dddddd"
    assert names == [stem, f"{stem}_2", f"{stem}_3"]


def test_no_paper_shows_between_neighbouring_tones():
    """Faces that meet along slanting lines, drawn without any line over them."""
    turned = terraces()
    cells = shapely.box(
        *np.meshgrid(np.arange(20.0), np.arange(20.0)), *np.meshgrid(np.arange(1, 21.0), np.arange(1, 21.0))
    )
    c, s = np.cos(0.3), np.sin(0.3)
    cells = shapely.transform(cells.ravel(), lambda points: points @ [[c, s], [-s, c]])
    faces = turned.faces.iloc[np.zeros(400, dtype=int)].reset_index(drop=True)
    faces = faces.assign(fill=np.resize(["#c9c3b8", "#b9c4a9", "#bfae9c"], 400)).set_geometry(cells)
    turned = type(turned)(**{**vars(turned), "faces": faces, "edges": turned.edges.iloc[:0], "extra": {}})
    with pypdfium2.PdfDocument(render(make_figure(turned, wants=Wants(levels=False)), "pdf")) as pdf:
        picture = pdf[0].render(scale=300 / 72).to_numpy().min(axis=2)
    middle = np.array([(20 + 410) / 2, 297 - (44 + 287) / 2]) * 300 / 25.4
    column, row = middle.astype(int)
    patch = picture[row - 400 : row + 400, column - 400 : column + 400]
    assert patch.min() < 170
    assert patch.max() <= 0xB8 + 1


def test_holes_stay_open():
    ring = shapely.box(0, 0, 3, 3).difference(shapely.box(1, 1, 2, 2))
    backwards = shapely.Polygon(ring.exterior.coords[::-1], [ring.interiors[0].coords])
    for polygon in (ring, backwards):
        path = area_path([polygon])
        closed = [np.array(one) for one in path.to_polygons()]
        signs = [np.sign(shapely.Polygon(one).exterior.is_ccw - 0.5) for one in closed]
        assert signs == [1, -1]


def test_parts_and_empties_make_one_path():
    lines = [
        shapely.MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]]),
        shapely.LineString(),
        shapely.LineString([(0, 1), (1, 1), (2, 2)]),
    ]
    path = line_path(lines)
    assert path.codes.tolist() == [1, 2, 1, 2, 1, 2, 2]
    assert area_path([]) is None
    assert line_path([shapely.LineString()]) is None


@pytest.mark.parametrize(
    ("text", "name"), [("Été 1", "ete-1"), ("__", "unnamed"), ("植栽", "unnamed"), ("a/b <c>", "a-b-c")]
)
def test_names_that_can_be_ids(text, name):
    assert id_from(text) == name


def test_no_edges_are_no_trouble():
    diagram = terraces()
    bare = type(diagram)(**{**vars(diagram), "edges": diagram.edges.iloc[:0]})
    groups = groups_of(make_figure(bare, wants=Wants(hidden=True)))
    assert [name for name in groups if name.startswith("faces_under_")]


def test_an_empty_drawing_is_refused():
    with pytest.raises(SheetError, match="nothing to draw"):
        make_figure(without_rows(terraces()))


def test_what_does_not_fit_is_refused():
    with pytest.raises(SheetError, match=r"500 × 450 mm at 1:20, .*Use scale 50, or sheet A1 landscape"):
        make_figure(terraces(), scale=20)


def test_drawing_leaves_the_tables_alone():
    diagram = terraces()
    before = diagram.faces.copy(), diagram.edges.copy()
    make_figure(diagram, wants=Wants(hidden=True))
    assert diagram.faces.equals(before[0])
    assert diagram.edges.equals(before[1])


def test_a_foreshortened_view_says_so():
    view = view_record(kind="isometric", turn=45.0, matrix=np.diag([1.0, 0.5, 1.0]), height_factor=0.8164966)
    assert (
        "plan foreshortened; heights at 0.816 of full scale" in make_figure(terraces(view=view)).description
    )
