"""What is seen of lines that are no edges: as far as no visible face is nearer."""

import geopandas
import numpy as np
import pytest
import shapely
from courtyard import box, layer

import siteaxo
from siteaxo.diagram.sight_lines import seen_of_edges

VIEW = siteaxo.Site(name="a", layers=[layer("a", "terrace", box(0, 9, 0, 9), base=0.0, top=1.0)])
VIEW = VIEW.stack().draw(siteaxo.planometric(turn=0)).view


def faces(*shapes, levels):
    """Level faces on the page, as a drawing has them."""
    count = len(shapes)
    columns = {"normal_x": np.zeros(count), "normal_y": np.zeros(count), "normal_z": np.ones(count)}
    return geopandas.GeoDataFrame({**columns, "offset": np.array(levels, dtype=float)}, geometry=list(shapes))


@pytest.mark.parametrize(
    ("level", "lengths"),
    [(1.0, [4.0, 12.0]), (6.0, [20.0]), (6.01, [20.0]), (9.0, [20.0])],
    ids=["below", "on it", "a hair above", "above"],
)
def test_a_roof_hides_what_lies_lower(level, lengths):
    roof = faces(shapely.box(4, 10, 8, 16), levels=[6.0])
    (seen,) = seen_of_edges(np.array([shapely.LineString([(0, 12, level), (20, 12, level)])]), roof, VIEW)
    assert sorted(shapely.length(shapely.get_parts(seen))) == pytest.approx(lengths)
    assert not seen.has_z


def test_posts_leave_no_gaps_and_what_is_hidden_whole_is_empty():
    posts = [shapely.box(k, 0, k + 0.1, 20) for k in range(3, 9)]
    some = faces(*posts, shapely.box(-30, 0, -10, 20), levels=[5.0] * 7)
    edges = np.array([shapely.LineString([(x, 12, 1), (x + 12, 12, 1)]) for x in (0, -25)])
    seen = seen_of_edges(edges, some, VIEW)
    assert shapely.length(seen).tolist() == pytest.approx([12.0, 0.0])
    assert shapely.is_empty(seen).tolist() == [False, True]


def test_a_line_that_rises_through_a_roof_is_seen_from_there_on():
    roof = faces(shapely.box(0, 0, 30, 30), levels=[6.0])
    line = shapely.LineString([(0, 12, 2), (5, 12, 2), (25, 12, 12)])
    (seen,) = seen_of_edges(np.array([line]), roof, VIEW)
    assert seen.length == pytest.approx(12.0, abs=0.05)
    assert seen.bounds[0] == pytest.approx(13.0, abs=0.05)


def test_the_mark_of_an_edge_stands_where_it_is_seen():
    """A terrace 2.5 m high; of its edge of 24 m a house before it hides some 14."""
    layers = [
        layer("court", "terrace", box(0, 24, 0, 20), base=9.0, top=10.0),
        layer("upper", "terrace", box(0, 24, 20, 30), base=9.0, top=12.5),
        layer("house", "structure", box(5, 24, 14, 18), base="below", height=9.0),
    ]
    site = siteaxo.Site(name="Court", layers=layers, plane_crs="EPSG:25832", base_line=90.0)
    model = site.stack()
    found = model.cautions()
    assert found["code"].tolist() == ["drop"]
    drawing = model.draw(siteaxo.planometric(turn=10), people=False).with_cautions(found)
    marks = drawing.extra["caution_marks"].set_index("kind").geometry
    assert 4.5 < marks["caution edge"].length < 9.0
    assert shapely.distance(marks["caution"], marks["caution edge"]) < 1e-6
    seen = drawing.feature_at(marks["caution"].coords[0])
    assert seen.layer in ("court", "upper")
