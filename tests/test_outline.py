import numpy as np
import places
import pytest
import shapely

import siteaxo
from siteaxo.diagram import outline
from siteaxo.diagram.outline import bare_stretches, covered, parted
from siteaxo.view.crossings import Outlines
from siteaxo.view.dashes import Dashes
from siteaxo.view.rings import rings_of

SQUARE = np.array([[[0, 0], [4, 0]], [[4, 0], [4, 3]], [[4, 3], [0, 3]], [[0, 3], [0, 0]]], dtype=float)


def stretches(dashes: Dashes) -> list[tuple[int, float, float]]:
    return [
        (int(e), round(float(b), 9), round(float(t), 9))
        for e, b, t in zip(dashes.edge, dashes.begin, dashes.end, strict=True)
    ]


def test_the_sides_of_a_lone_face_stand_against_nothing():
    found = bare_stretches(SQUARE, np.array([shapely.box(0, 0, 4, 3)]))
    assert stretches(found) == [(k, 0.0, 1.0) for k in range(4)]


def test_a_line_between_two_faces_stands_against_something():
    faces = np.array([shapely.box(0, 0, 4, 3), shapely.box(4, -1, 6, 5)])
    assert stretches(bare_stretches(SQUARE, faces)) == [(k, 0.0, 1.0) for k in (0, 2, 3)]


def test_a_line_is_parted_where_its_neighbour_ends():
    faces = np.array([shapely.box(0, 0, 4, 3), shapely.box(1, -2, 3, 0)])
    found = bare_stretches(SQUARE[:1], faces)
    assert stretches(found) == [(0, 0.0, 0.25), (0, 0.75, 1.0)]


def test_gaps_too_small_to_see_do_not_count():
    faces = np.array([shapely.box(0, 0, 4, 3), shapely.box(-1, -2, 2, 0), shapely.box(2.005, -2, 5, 0)])
    assert not stretches(bare_stretches(SQUARE[:1], faces))


def test_lines_through_corners_leave_as_often_as_they_enter():
    rng = np.random.default_rng(5)
    left, bottom = rng.integers(0, 12, (2, 2000)) / 3
    boxes = shapely.box(
        left, bottom, left + rng.integers(1, 9, 2000) / 3, bottom + rng.integers(1, 9, 2000) / 3
    )
    begin = rng.integers(-9, 12, (2000, 2)) / 3
    ends = np.stack([begin, begin + np.array([8.0, 4.0])], axis=1)  # through a corner of a box now and then
    pairs = np.arange(2000)
    found = covered(ends, pairs, pairs, Outlines.of(rings_of(boxes), 2000))
    length = np.bincount(found.edge, found.end - found.begin, minlength=2000) * np.hypot(8.0, 4.0)
    wanted = shapely.length(shapely.intersection(shapely.linestrings(ends), boxes))
    np.testing.assert_allclose(length, wanted, atol=1e-12)
    touching = shapely.touches(shapely.linestrings(ends), boxes)
    assert touching.any()
    assert (wanted > 0).sum() > 500


def test_dashes_are_parted_and_keep_their_order_and_length():
    dashes = Dashes(edge=np.array([0, 0, 2]), begin=np.array([0.0, 0.5, 0.2]), end=np.array([0.4, 1.0, 1.0]))
    inner = Dashes(edge=np.array([0, 1]), begin=np.array([0.5, 0.0]), end=np.array([1.0, 1.0]))
    got, origin, inside = parted(dashes, np.array([1, 2]), inner)
    assert origin.tolist() == [0, 1, 1, 2]
    assert inside.tolist() == [False, False, True, True]
    assert got.begin.tolist() == [0.0, 0.5, 0.75, 0.2]
    assert got.end.tolist() == [0.4, 0.75, 1.0, 1.0]
    assert got.edge.tolist() == [0, 0, 0, 2]


@pytest.fixture(scope="module", params=list(places.PLACES))
def drawn(request):
    return places.PLACES[request.param]().stack().draw(siteaxo.planometric(45))


def test_the_outline_of_a_place_closes_around_all_that_is_seen(drawn):
    """Against the boundary of the union of all faces, made by GEOS on a grid, slits of nothing closed."""
    whole = shapely.union_all(np.asarray(drawn.faces.geometry.array), grid_size=2.0**-24)
    whole = shapely.buffer(shapely.buffer(whole, 1e-4, join_style="mitre"), -1e-4, join_style="mitre")
    around = shapely.boundary(whole)
    outer = drawn.edges[drawn.edges["outline"] != ""]
    lines = shapely.union_all(np.asarray(outer.geometry.array))
    assert lines.difference(around.buffer(0.004)).length < 0.05
    assert around.difference(lines.buffer(0.004)).length < 0.002 * around.length + 0.2


def test_the_ground_line_lies_at_the_foot_of_the_site(drawn):
    foot = drawn.edges[drawn.edges["outline"] == "ground"]
    assert set(foot["role"]) <= {"ground", "terrace"}
    assert foot.geometry.length.sum() > 60
    assert set(foot["line_mm"]) == {drawn.edges["line_mm"].max()}


def test_lines_say_how_near_they_are(drawn):
    near = drawn.edges["nearness"].to_numpy()
    assert near.min() >= 0
    assert near.max() <= 1
    middle = drawn.edges.geometry.centroid.y.to_numpy()
    ground = (drawn.edges["role"] == drawn.edges["role"].iloc[0]).to_numpy()
    assert np.corrcoef(near[ground], middle[ground])[0, 1] < 0


def test_hidden_lines_have_no_seams_of_round_things():
    """A drum hides the back of its rim and two lines of its side at most, not one line for every facet."""
    import geopandas

    drum = geopandas.GeoDataFrame(
        {"ref": ["D"]}, geometry=[shapely.Point(0, 0).buffer(3, quad_segs=16)], crs=places.CRS
    )
    site = siteaxo.Site(
        name="Drum",
        layers=[siteaxo.Layer(name="drum", role="structure", source=drum, id="ref", base=0, top=4)],
        base_line=90.0,
    )
    hidden = site.stack().draw(siteaxo.planometric(30)).hidden_edges
    ends = shapely.get_coordinates(hidden.geometry.array).reshape(-1, 2, 2)
    upright = np.abs(ends[:, 0, 0] - ends[:, 1, 0]) < 1e-9
    assert (np.abs(ends[upright, 0, 1] - ends[upright, 1, 1]) > 3.9).sum() <= 2


def test_faces_carry_the_planes_they_lie_in(drawn):
    """Corners of visible faces, sent back through their planes, lie within their levels."""
    faces, view = drawn.faces, drawn.view
    normal = faces[["normal_x", "normal_y", "normal_z"]].to_numpy()
    assert np.linalg.norm(normal, axis=1) == pytest.approx(np.ones(len(faces)))
    assert (normal @ view.toward_viewer > 0).all()
    for row in range(0, len(faces), 7):
        matrix = np.array([*view.matrix[:2], normal[row]])
        page = shapely.get_coordinates(faces.geometry.iloc[row])
        right = np.column_stack([page, np.full(len(page), faces["offset"].iloc[row])])
        level = np.linalg.solve(matrix, right.T).T[:, 2] + view.drawn_in_place
        assert level.min() >= faces["level_min"].iloc[row] - 2e-3
        assert level.max() <= faces["level_max"].iloc[row] + 2e-3


def test_polygons_of_many_sides_cover_the_same(monkeypatch):
    """Held against lines side by side in numpy, or overlaid by the library: the same stretches."""
    rng = np.random.default_rng(5)
    corner = rng.uniform(0, 30, (120, 2))
    boxes = shapely.box(*corner.T, *(corner + rng.uniform(1, 8, (120, 2))).T)
    lines = rng.uniform(0, 35, (200, 2, 2))
    few = bare_stretches(lines, boxes)
    monkeypatch.setattr(outline, "MOST", 0)
    many = bare_stretches(lines, boxes)
    assert 50 < len(few) == len(many)
    assert (few.edge == many.edge).all()
    assert few.begin == pytest.approx(many.begin, abs=1e-9)
    assert few.end == pytest.approx(many.end, abs=1e-9)
