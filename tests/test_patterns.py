import geopandas
import numpy as np
import pytest
import shapely
from handmade import terraces, view_record

from siteaxo.craft.bonds import joint_length
from siteaxo.craft.finishes import Finish, Laying
from siteaxo.craft.patterns import TEXTURE_MM, laid, patterns_of
from siteaxo.craft.style import Style
from siteaxo.craft.surfaces import Surfaces, surfaces_of
from siteaxo.errors import SheetError

PAVERS = Laying(pattern="herringbone", length=0.2, width=0.1)
SETTS = Laying(pattern="stack bond", length=0.5, width=0.25)


def plane(count: int = 1, *, along=(1.0, 0.0), up=(0.0, 1.0)) -> Surfaces:
    return Surfaces(origin=np.zeros((count, 2)), along=np.tile(along, (count, 1)), up=np.tile(up, (count, 1)))


def faces(normals, offsets, shapes, *, material="slabs", role="paving", view=None):
    """Faces in given planes, with the plan of one square feature."""
    n = np.array(normals, dtype=float)
    n /= np.linalg.norm(n, axis=1)[:, None]
    table = geopandas.GeoDataFrame(
        {
            "layer": "L",
            "source_id": [str(k) for k in range(len(n))],
            "role": role,
            "part": "top",
            "material": material,
            "level_min": 12.0,
            "fill": "#dddddd",
            **{f"normal_{axis}": n[:, k] for k, axis in enumerate("xyz")},
            "offset": np.array(offsets, dtype=float),
        },
        geometry=shapes,
    )
    return table, geopandas.GeoDataFrame(table[["layer", "source_id"]], geometry=shapes)


def test_joints_have_the_length_of_true_paving():
    """(w + l)/(w·l) per area: 15.0 m/m² at 0.1 × 0.2 m (derived), on 12 × 9 m seen in true shape."""
    row, lines = laid(PAVERS, plane(), np.array([shapely.box(0.03, 0.03, 12.03, 9.03)]), scale=50)
    assert row.tolist() == [0]
    assert lines[0].length == pytest.approx(joint_length(0.2, 0.1) * 108, rel=5e-3)


def test_joints_are_cut_to_what_is_seen():
    """Along level lines 0.25 m apart and upright ones 0.5 m apart, each chord measured by itself."""
    seen = shapely.box(0.03, 0.04, 8.03, 6.04).difference(shapely.Point(4, 3).buffer(1.5))
    _, lines = laid(SETTS, plane(), np.array([seen]), scale=100)
    assert seen.buffer(1e-9).covers(lines[0])
    level = [shapely.LineString([(-1, y), (9, y)]) for y in np.arange(0.25, 6.04, 0.25)]
    upright = [shapely.LineString([(x, -1), (x, 9)]) for x in np.arange(0.5, 8.03, 0.5)]
    assert lines[0].length == pytest.approx(sum(seen.intersection(one).length for one in level + upright))


@pytest.mark.parametrize(("scale", "apart"), [(100, 0.1), (142, 0.1), (143, 0.2), (285, 0.2), (286, None)])
def test_courses_nearer_than_seven_tenths_of_a_millimetre_are_every_second_one(scale, apart):
    """0.1 m is 0.7 mm at 1:142.86, 0.2 m at 1:285.71."""
    laying = Laying(pattern="running bond", length=0.2, width=0.1)
    row, lines = laid(laying, plane(), np.array([shapely.box(0, 0, 5, 5)]), scale=scale)
    assert bool(len(row)) is (apart is not None)
    if apart:
        ends = shapely.get_coordinates(shapely.get_parts(lines[0])).reshape(-1, 2, 2)
        level = np.isclose(ends[:, 0, 1], ends[:, 1, 1])
        assert np.diff(np.unique(ends[level, 0, 1].round(6))) == pytest.approx(apart)
        across = np.abs(ends[~level, 1, 1] - ends[~level, 0, 1])
        assert across == pytest.approx(0.1)  # each joint that is left is as long as a unit is wide
        assert len(across) == pytest.approx(1250 if apart == 0.1 else 1250 / 4, rel=0.05)  # 50 units to 1 m²


def test_every_second_joint_of_a_herringbone_is_one_of_its_joints():
    floor = np.array([shapely.box(0.01, 0.01, 4.99, 4.99)])
    _, whole = laid(PAVERS, plane(), floor, scale=100)
    row, sparse = laid(PAVERS, plane(), floor, scale=200)
    assert row.tolist() == [0]
    assert whole[0].buffer(1e-6).covers(sparse[0])
    assert sparse[0].length == pytest.approx(whole[0].length / 2, rel=0.05)


def test_foreshortening_counts_toward_the_least_distance():
    for up, drawn in ((0.5, True), (0.3, False)):  # every second course of 0.1 m: 1 mm and 0.6 mm
        row, _ = laid(PAVERS, plane(up=(0.0, up)), np.array([shapely.box(0, 0, 5, 5)]), scale=100)
        assert bool(len(row)) is drawn


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 60.0])
@pytest.mark.parametrize("height_factor", [1.0, 2 / 3])
def test_a_pattern_on_a_slope_lies_along_its_contour_in_true_size(turn, height_factor):
    """Courses of 0.25 m up a slope of 1:2: points of the joints are brought back to the site and measured."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    matrix = np.array([[c, -s, 0], [s, c, height_factor], [0, 0, 1]])
    view = view_record(turn, matrix=matrix, height_factor=height_factor)
    normal = np.array([-0.6, -1.0, 3.0])
    normal /= np.linalg.norm(normal)
    corners = np.array([[0, 0], [6, 0], [6, 5], [0, 5]], dtype=float)
    height = (2.0 - corners @ normal[:2]) / normal[2]
    page = np.column_stack([corners, height]) @ matrix[:2].T
    table, plan = faces([normal], [2.0], [shapely.Polygon(page)], view=view)
    surfaces = surfaces_of(table, plan, view)
    _, lines = laid(SETTS, surfaces, np.asarray(table.geometry.array), scale=50)
    inverse = np.linalg.inv(np.array([matrix[0], matrix[1], normal]))
    parts = shapely.get_coordinates(shapely.get_parts(lines[0])).reshape(-1, 2, 2)
    site = np.concatenate([parts, np.full((*parts.shape[:2], 1), 2.0)], axis=2) @ inverse.T
    step = site[:, 1] - site[:, 0]
    level = np.abs(step[:, 2]) < 1e-7
    upslope = site[level, 0] @ np.cross(normal, [-normal[1], normal[0], 0] / np.hypot(*normal[:2]))
    rows = np.unique(np.round(upslope, 6))
    assert np.diff(rows) == pytest.approx(0.25, abs=1e-5)
    across = step[~level] / np.linalg.norm(step[~level], axis=1)[:, None]
    contour = np.array([-normal[1], normal[0], 0]) / np.hypot(*normal[:2])
    assert np.abs(across @ contour).max() < 1e-6


def test_courses_on_a_wall_are_level_and_start_at_its_foot():
    view = view_record(30.0)
    style = Style(finishes={"brick": Finish(upright=Laying(pattern="running bond", length=0.4, width=0.2))})
    wall = np.array([[0, 0, 0], [3, 0, 0], [3, 0, 2], [0, 0, 2]], dtype=float) @ view.matrix[:2].T
    table, plan = faces([(0, -1, 0)], [0.0], [shapely.Polygon(wall)], material="red brick", role="wall")
    table["level_min"] = view.drawn_in_place
    found = patterns_of(table, plan, view, style, scale=50)
    assert found["kind"].tolist() == ["running bond"]
    ends = shapely.get_coordinates(shapely.get_parts(found.geometry[0])).reshape(-1, 2, 2)
    basis = np.column_stack([view.matrix[:2, 0], view.matrix[:2, 2]])  # along the wall and up it
    site = ends @ np.linalg.inv(basis).T
    level = np.abs(site[:, 0, 1] - site[:, 1, 1]) < 1e-7
    heights = np.unique(np.round(site[level, 0, 1], 6))
    assert heights.tolist() == pytest.approx([0.2 * k for k in range(len(heights))], abs=1e-5)
    assert np.abs(site[~level, 0, 0] - site[~level, 1, 0]).max() < 1e-7
    assert level.sum() >= 10
    assert (~level).sum() > 50


@pytest.mark.parametrize(
    ("along", "bearing"), [("base line", 30.0), ("longest edge", 50.0), (15.0, 45.0), (-30.0, 0.0)]
)
def test_what_lies_level_is_aligned_as_asked(along, bearing):
    """The base line lies at 30° on the page, the longest edge at 50°."""
    view = view_record(30.0)
    turn = np.radians(50.0)
    shape = shapely.transform(
        shapely.box(0, 0, 6, 3), lambda xy: xy @ [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    table, plan = faces([(0, 0, 1)], [0.0], [shape])
    surfaces = surfaces_of(table, plan, view, along)
    assert np.degrees(np.arctan2(*surfaces.along[0][::-1])) == pytest.approx(bearing)
    assert np.hypot(*surfaces.along[0]) == pytest.approx(1)
    assert surfaces.along[0] @ surfaces.up[0] == pytest.approx(0, abs=1e-12)


def test_units_are_whole_in_the_corner_of_their_feature():
    view = view_record(0.0)
    table, plan = faces([(0, 0, 1)], [0.0], [shapely.box(3.07, 1.13, 9, 7)])
    surfaces = surfaces_of(table, plan, view)
    assert surfaces.origin[0] == pytest.approx([3.07, 1.13])


def test_a_base_line_that_runs_off_east_is_followed():
    """The plan is turned by 30° − 20° against the plane when the base line lies at 20° there."""
    c, s = np.cos(np.radians(10.0)), np.sin(np.radians(10.0))
    view = view_record(30.0, matrix=np.array([[c, -s, 0], [s, c, 1], [0, 0, 1]]), base_line=20.0)
    table, plan = faces([(0, 0, 1)], [0.0], [shapely.box(0, 0, 5, 5)])
    along = surfaces_of(table, plan, view).along[0]
    assert np.degrees(np.arctan2(along[1], along[0])) == pytest.approx(30.0)


@pytest.mark.parametrize(("wide", "joints"), [(0.12, 0), (0.15, 0), (0.16, 1)])
def test_a_post_that_is_no_wider_than_a_board_has_no_joints(wide, joints):
    """Boards of 0.15 m, level on a post 1 m high at 1:100: nothing, or joints at least every 0.15 m."""
    boards = Laying(pattern="boards", length=3.6, width=0.15)
    row, lines = laid(boards, plane(), np.array([shapely.box(0, 0, wide, 1.0)]), scale=100)
    assert len(row) == joints
    assert all(shapely.length(one) >= 6 * wide for one in lines)


@pytest.mark.parametrize("texture", TEXTURE_MM)
def test_marks_of_a_texture_lie_whole_in_what_is_seen(texture):
    seen = shapely.box(0, 0, 9, 6).difference(shapely.Point(4, 3).buffer(1.7))
    _, lines = laid(Laying(pattern=texture), plane(), np.array([seen]), scale=200)
    marks = shapely.get_parts(lines[0])
    assert len(marks) > 10
    assert shapely.contains_properly(seen, marks).all()


@pytest.mark.parametrize("scale", [100, 200, 500])
def test_textures_are_as_dense_on_paper_at_every_scale(scale):
    size = 0.1 * scale
    _, lines = laid(Laying(pattern="gravel"), plane(), np.array([shapely.box(0, 0, size, size)]), scale=scale)
    spacing = TEXTURE_MM["gravel"][0]
    expected = 100**2 / spacing**2
    assert len(shapely.get_parts(lines[0])) == pytest.approx(expected, rel=0.06)


def test_nothing_is_drawn_where_the_material_is_unknown():
    table, plan = faces([(0, 0, 1)] * 3, [0.0] * 3, [shapely.box(k, 0, k + 1, 1) for k in range(3)])
    table["material"] = ["", "moonrock", "slabs"]
    found = patterns_of(table, plan, view_record(), Style(), scale=50)
    assert found["source_id"].tolist() == ["2"]


def test_rows_carry_what_is_drawn():
    style = Style()
    diagram = terraces(material="stone slabs", scale=50, style=style)
    rows = diagram.extra["patterns"]
    stone = rows[rows["layer"] == "Terraces"]
    assert set(stone["kind"]) == {"random courses", "stack bond", "running bond"} & set(stone["kind"])
    assert set(rows["line_mm"]) == {style.weights.of("pattern", 50)}
    fills = diagram.faces.set_index(["layer", "source_id", "part"])["fill"]
    lawn = rows[rows["role"] == "lawn"].iloc[0]
    assert lawn["colour"] == style.pattern_ink(fills[("Lawns", "7", "top")])
    assert lawn["kind"] == "grass"
    assert lawn["units_per_m2"] == 0
    stone = terraces(material="slabs", scale=50, style=style).extra["patterns"]
    assert set(stone.loc[stone["layer"] == "Terraces", "units_per_m2"]) == {round(1 / 0.36, 9)}


def test_walls_have_no_pattern_on_their_tops():
    table, plan = faces([(0, 0, 1), (0, -1, 0)], [0, 0], [shapely.box(0, 0, 4, 1), shapely.box(0, -2, 4, 0)])
    table["role"], table["material"] = "wall", "stone"
    found = patterns_of(table, plan, view_record(), Style(), scale=50)
    assert found["source_id"].tolist() == ["1"]


def test_faces_without_planes_have_no_patterns():
    diagram = terraces(material="stone")
    bare = diagram.faces.drop(columns=["normal_x", "offset"])
    assert not len(patterns_of(bare, diagram.plan, diagram.view, Style(), scale=50))


def test_the_same_face_gets_the_same_pattern_twice():
    box = np.array([shapely.box(0, 0, 7, 5)])
    for laying in (Laying(pattern="random courses", length=0.75, width=0.5), Laying(pattern="grass")):
        one, two = (laid(laying, plane(), box, scale=100)[1][0] for _ in range(2))
        assert one.equals_exact(two)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"pattern": "hering"}, "'herringbone'"),
        ({"pattern": "stack bond"}, "length and width"),
        ({"pattern": "stack bond", "length": 0.1, "width": 0.2}, "only 0.1 m long"),
        ({"pattern": "grass", "length": 1.0, "width": 1.0}, "no units"),
        ({"pattern": "herringbone", "length": 0.25, "width": 0.1}, "whole widths"),
        ({"pattern": "basket weave", "length": 0.1, "width": 0.1}, "whole widths"),
        ({"pattern": "grass", "along": "edge"}, "longest edge"),
        ({"pattern": "stack bond", "length": float("nan"), "width": 1}, "finite"),
    ],
)
def test_layings_are_checked(options, message):
    with pytest.raises(SheetError, match=message):
        Laying(**options)
