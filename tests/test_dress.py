from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade import terraces

from siteaxo.craft.dress import SMALLEST_SHARE, dress
from siteaxo.craft.lines import LINE_SERIES_MM, LineWeights
from siteaxo.craft.style import STYLES, Style
from siteaxo.diagram.layers import PLANE_COLUMNS, DiagramLayers
from siteaxo.diagram.tables import extra_table
from siteaxo.errors import SheetError


@pytest.mark.parametrize("scale", [20, 100, 200, 500, 1000])
def test_widths_are_those_of_the_scale_and_of_the_series(scale):
    diagram = terraces(scale=scale)
    assert diagram.scale == scale
    for kind in ("profile", "edge", "foot"):
        widths = diagram.edges.loc[diagram.edges["kind"] == kind, "line_mm"]
        assert set(widths) <= set(LINE_SERIES_MM)
        (role_width,) = Style().weights.widths([kind], roles=["terrace"], scale=scale)
        assert set(widths) == {min(role_width, _limit(diagram, scale))}


def _limit(diagram: DiagramLayers, scale: float) -> float:
    """Widest of the series within a twelfth of the side of a square as large as what is seen of feature 8."""
    own = diagram.faces[(diagram.faces["layer"] == "Terraces") & (diagram.faces["source_id"] == "8")]
    most = SMALLEST_SHARE * np.sqrt(own.geometry.area.sum()) * 1000 / scale
    return max([width for width in LINE_SERIES_MM if width <= most], default=LINE_SERIES_MM[0])


def test_steps_do_not_turn_black_at_a_small_scale():
    """Lines 1 m and 2 m apart: all stay at 1:1000 (1 mm), risers close up at 1:2000 (0.5 mm)."""
    assert terraces(scale=1000).edges["drawn"].all()
    small = terraces(scale=2000).edges
    level = small[small["kind"] != "profile"]
    assert 0 < level["drawn"].sum() < len(level)
    kept = shapely.get_coordinates(level.geometry[level["drawn"] == 1].array).reshape(-1, 2, 2)[:, 0, 1]
    assert np.diff(np.sort(kept)).min() >= 0.7 * 2000 / 1000


def test_the_outline_is_never_thinned_before_what_lies_inside():
    diagram = terraces(scale=5000)
    profiles = diagram.edges[diagram.edges["kind"] == "profile"]
    assert profiles["drawn"].iloc[0] == 1


@pytest.mark.parametrize("name", STYLES)
def test_a_style_fills_every_column(name):
    diagram = terraces(style=Style.named(name))
    for table, columns in (("faces", ["fill"]), ("edges", ["colour"]), ("hidden_edges", ["colour"])):
        for column in columns:
            assert getattr(diagram, table)[column].str.fullmatch(r"#[0-9a-f]{6}").all()
    assert (diagram.edges["line_mm"] > 0).all()


def test_sides_are_darker_than_tops():
    fills = terraces().faces.set_index(["source_id", "part"])["fill"]
    for one in ("7", "8", "9"):
        assert int(fills[(one, "side")][1:3], 16) < int(fills[(one, "top")][1:3], 16)


def test_gentle_ground_has_one_tone_and_banks_another():
    diagram = terraces()
    faces = diagram.faces.iloc[:4].assign(role="ground", part="slope", material="")
    slope = np.array(
        [0.0, 0.25, 0.4, 0.5]
    )  # level, 1:4, 1:2.5 and a bank of 1:2, all turned away from the light
    normal = np.column_stack([slope, np.zeros(4), np.ones(4)]) / np.hypot(slope, 1.0)[:, None]
    faces[list(PLANE_COLUMNS[:3])] = normal
    fill = dress(replace(diagram, faces=faces), Style(), scale=200).faces["fill"].tolist()
    assert fill[0] == fill[1] == fill[2] != fill[3]
    roofs = dress(replace(diagram, faces=faces.assign(role="roof")), Style(), scale=200).faces["fill"]
    assert roofs.nunique() > 1


def test_dressing_again_gives_the_same_and_changes_nothing_else():
    diagram = terraces(scale=500)
    again = dress(dress(diagram, Style(), scale=50), Style(), scale=500)
    for table in ("faces", "edges", "hidden_edges", "plan"):
        assert getattr(again, table).equals(getattr(diagram, table))
    assert diagram.scale == again.scale == 500


def test_other_tables_stay_and_labels_go():
    diagram = terraces()
    tree = extra_table(np.array([shapely.Point(1, 1).buffer(1)], dtype=object), kind="crown", fill="#88aa77")
    full = DiagramLayers(**{**vars(diagram), "extra": {"planting": tree, "labels": tree}})
    dressed = dress(full, Style(), scale=100)
    assert list(dressed.extra) == ["patterns", "planting"]
    assert dressed.extra["planting"].drop(columns="drawn").equals(tree)


def test_faces_without_planes_keep_their_fills():
    diagram = terraces()
    bare = diagram.faces.drop(columns=["normal_x", "normal_y", "normal_z", "offset"]).assign(fill="#abcdef")
    kept = dress(DiagramLayers(**{**vars(diagram), "faces": bare}), Style(), scale=200)
    assert set(kept.faces["fill"]) == {"#abcdef"}


def test_weights_of_the_style_are_used():
    style = Style(weights=LineWeights(profile_mm=1.0, roles={"terrace": 0}))
    edges = terraces(style=style, scale=20).edges
    assert set(edges.loc[edges["kind"] == "profile", "line_mm"]) == {1.0}


@pytest.mark.parametrize("scale", [0, -5, float("nan"), "fit"])
def test_a_scale_is_a_number_above_zero(scale):
    with pytest.raises(SheetError):
        dress(terraces(), Style(), scale=scale)


def test_an_unknown_table_is_refused():
    with pytest.raises(SheetError, match=r"'patern'.*'patterns'"):
        DiagramLayers(**{**vars(terraces()), "extra": {"patern": None}})
