"""Where the parts of one feature meet: clean joints, drawn without a line but a fold."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import LineString, box

import siteaxo
from siteaxo.sheet.facets import surfaces_of
from siteaxo.solids.faces import PART_CODE
from siteaxo.view.tiles import cut_out, index_of, tile_of
from siteaxo.view.tolerance import Tolerance

CRS = "EPSG:25832"
ORIGIN = np.array([420000.0, 5310000.0, 0.0])
BEND = [(0, 0, 1.0), (10, 0, 1.5), (10, 10, 2.0)]


def frame(shape):
    def moved(xyz):
        return xyz + ORIGIN[: xyz.shape[1]]

    return gpd.GeoDataFrame(
        geometry=[shapely.transform(shape, moved, include_z=bool(shapely.has_z(shape)))], crs=CRS
    )


def bending(line, **keys):
    """A path two metres wide over a yard at level 0.5."""
    yard = siteaxo.Layer(name="yard", role="terrace", source=frame(box(-5, -5, 25, 15)), base=0, top=0.5)
    path = siteaxo.Layer(
        name="path", role="path", source=frame(LineString(line)), base=0.5, top_z="each", width=2.0, **keys
    )
    return siteaxo.Site(name="Bend", layers=[yard, path], plane_crs=CRS).stack()


def drawn(line, view=None, **keys):
    """The same, seen from above unless said otherwise."""
    return bending(line, **keys).draw(view or siteaxo.planometric(turn=0, height_factor=0), people=False)


def lengths(diagram, kinds):
    edges = diagram.edges[(diagram.edges["layer"] == "path") & diagram.edges["kind"].isin(kinds)]
    return edges.geometry.length.sum()


EVERY = ["profile", "edge", "foot", "fold"]


def test_only_the_outline_of_a_bending_path_is_drawn():
    """Its outer side is 11 + 11 m long, its inner one 9 + 9, its ends 2 each; nothing crosses it."""
    diagram = drawn(BEND)
    assert lengths(diagram, EVERY) == pytest.approx(22 + 18 + 4, abs=1e-6)
    faces = diagram.faces[diagram.faces["layer"] == "path"]
    # stretches of 9 by 2 m and a corner of 2 by 2, side by side
    assert np.sort(faces.geometry.area) == pytest.approx([4, 18, 18], abs=1e-6)
    assert faces.geometry.union_all().area == pytest.approx(40, abs=1e-6)


def test_sides_run_on_past_a_joint():
    """
    Seen from the south, the outer side is one face to look at.

    Its upper edge is 11 m long in plan and lies 0.5 above its foot at one end, 1 m at the other;
    upright lines stand at its two ends alone, of 0.5 and 1 m. The foot of the path, 2 m across,
    is upright on the page as well.
    """
    diagram = drawn(BEND, siteaxo.planometric(turn=0))
    edges = diagram.edges[diagram.edges["layer"] == "path"].geometry.to_numpy()
    part = shapely.get_parts(edges)
    ends = np.array([shapely.get_coordinates(one)[[0, -1]] for one in part])
    upright = np.abs(ends[:, 0, 0] - ends[:, 1, 0]) < 1e-6
    south = ends[:, :, 1].min(axis=1) < ends[:, :, 1].min() + 1.0 - 1e-6
    assert np.sort(shapely.length(part[upright & south])) == pytest.approx([0.5, 1.0, 2.0], abs=1e-6)


def test_a_fold_shows_where_a_path_is_steep():
    """It climbs one in three, 18 degrees, up to a level corner: two folds, each as long as it is wide."""
    steep = [(0, 0, 1.0), (10, 0, 4.0), (10, 10, 7.0)]
    assert lengths(drawn(steep), EVERY) == pytest.approx(22 + 18 + 4 + 2 * 2, abs=1e-6)


def test_a_path_that_is_sunk_to_the_ground_has_no_joints_either():
    """Flush with a slope that it follows, its parts are as thin as sheets at their lower ends."""
    level = [(-5, -5, 0.5), (25, -5, 0.5), (-5, 15, 0.5), (25, 15, 0.5)]
    spots = gpd.GeoDataFrame(geometry=[shapely.Point(*(np.array(p) + ORIGIN)) for p in level], crs=CRS)
    layers = [
        siteaxo.Layer(name="spots", role="spot level", source=spots),
        siteaxo.Layer(
            name="path", role="path", source=frame(LineString(BEND)), top_z="each", width=2.0, bank=1.5
        ),
    ]
    model = siteaxo.Site(name="Bend", layers=layers, plane_crs=CRS).stack()
    diagram = model.draw(siteaxo.planometric(turn=0, height_factor=0), people=False)
    assert lengths(diagram, EVERY) == pytest.approx(22 + 18 + 4, abs=1e-3)


def test_cautions_know_which_way_a_bending_path_runs():
    """
    Its last stretch, 2 m wide, is 0.6 m long beyond the corner: 0.05 on that is one in twelve, along.

    The stretch before rises by 0.4 on 9 m; the corner is level because it is one.
    """
    found = bending([(0, 0, 1.0), (10, 0, 1.4), (10, 1.6, 1.45)]).cautions()
    own = found[(found["layer"] == "path") & found["code"].isin(["walk-steep", "cross-slope", "little-fall"])]
    assert own["code"].tolist() == ["walk-steep"]
    assert own["value"].iloc[0] == pytest.approx(0.05 / 0.6, abs=1e-6)


def test_paths_that_lie_level_between_their_bends_hold_water():
    found = bending([(0, 0, 1.0), (10, 0, 1.0), (10, 10, 1.4)]).cautions()
    own = found[(found["layer"] == "path") & (found["code"] == "little-fall")]
    assert own["message"].str.contains("One feature of its layer, 18 m²").all()
    assert len(own) == 1


def test_small_pictures_show_no_joint_either():
    """All that looks upward of the path is one surface to a view study."""
    stack = bending(BEND).stack
    faces = stack.scene.faces
    path = stack.features.of_role("name")[stack.solid_feature[faces.solid]] == "path"
    tops = np.flatnonzero(path & (faces.part == PART_CODE["top"]))
    assert len(np.unique(faces.solid[tops])) > 2
    assert len(np.unique(surfaces_of(stack)[tops])) == 1


def test_a_feature_given_twice_under_one_id_keeps_its_lines():
    """The second lies upon the first; it is no neighbour that its top runs on to."""
    top = gpd.GeoDataFrame({"ref": ["low"]}, geometry=[box(0, 0, 40, 10)], crs=CRS)
    drawn = []
    for many in (1, 2):
        rows = top.iloc[[0] * many].reset_index(drop=True)
        layer = siteaxo.Layer(name="t", role="terrace", source=rows, base=0.0, top=3.1, id="ref")
        lines = siteaxo.Site(layers=[layer]).stack().draw(siteaxo.planometric(30), scale=500).edges
        drawn.append(sorted(lines.geometry.length.round(6)))
    assert drawn[0] == drawn[1]
    assert len(drawn[0]) == 9  # of the twelve of a box three are behind it


def test_a_part_cut_out_knows_the_faces_of_its_neighbours():
    """The first stretch of a path that comes back to where it began meets the last one, not the second."""
    ring = [(0, 0, 1.0), (40, 0, 1.5), (40, 40, 2.0), (0, 40, 1.2), (0, 0, 1.0)]
    scene = bending(ring).stack.scene
    index, view = index_of(scene), siteaxo.planometric(turn=30)
    foreign = 0
    for number in range(len(scene.rank)):
        core, halo = tile_of(scene, index, view, ORIGIN, Tolerance(), np.array([number]))
        piece = cut_out(scene, index, core, halo)
        members = np.isin(scene.edges.member_edge, piece.edge)
        whole = scene.edges.face[members][np.argsort(scene.edges.member_edge[members], kind="stable")]
        part = piece.face[piece.scene.edges.face]
        by_edge = np.argsort(piece.edge[piece.scene.edges.member_edge], kind="stable")
        assert (part[by_edge] == whole).all()
        foreign += (scene.faces.solid[whole] != number).sum()
    assert foreign > 10
