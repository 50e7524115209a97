import geopandas
import pytest
import shapely

from siteaxo.sheet.behind import without_words


def patterned(kind, lines, *, turn=0.0):
    """One pattern about words 8 mm long and 2.5 mm high at 1:100, as it is drawn."""
    words = shapely.affinity.rotate(shapely.LineString([(1.0, 1.0), (1.8, 1.0)]), turn, origin=(0, 0))
    labels = geopandas.GeoDataFrame({"line_mm": [0.0], "height_mm": [2.5]}, geometry=[words])
    lines = shapely.affinity.rotate(shapely.MultiLineString(lines), turn, origin=(0, 0))
    table = geopandas.GeoDataFrame({"kind": [kind]}, geometry=[lines])
    return without_words(table, labels, scale=100).geometry[0]


@pytest.mark.parametrize("turn", [0.0, 33.0, 180.0])
def test_joints_are_cut_where_words_are(turn):
    """The ground of words is 0.4 mm larger than they are: from 0.96 to 1.84 m and from 0.96 to 1.29 m."""
    courses = [[(0, y), (3, y)] for y in (0.9, 1.1, 1.2, 1.4)]
    left = patterned("running bond", courses, turn=turn)
    assert left.length == pytest.approx(4 * 3 - 2 * 0.88)
    upright = patterned("stack bond", [[(1.5, 0), (1.5, 2)]], turn=turn)
    assert upright.length == pytest.approx(2 - 0.33)


def test_marks_of_textures_go_whole():
    marks = [[(x, 1.1), (x + 0.02, 1.1)] for x in (0.5, 0.95, 1.5, 2.0)]
    left = patterned("gravel", marks)
    assert [one.bounds[0] for one in left.geoms] == [0.5, 2.0]


def test_tufts_go_with_all_their_strokes():
    """Of three strokes 60 mm apart the last of the first tuft is 0.4 mm of paper from the words."""
    tufts = [[(x + step, 1.1), (x + step, 1.12)] for x in (0.8, 0.7) for step in (0.0, 0.06, 0.12)]
    left = patterned("grass", tufts)
    assert [round(one.bounds[0], 2) for one in left.geoms] == [0.7, 0.76, 0.82]


def test_where_there_are_no_words_nothing_changes():
    far = patterned("running bond", [[(0, 5), (3, 5)]])
    assert far.equals(shapely.MultiLineString([[(0, 5), (3, 5)]]))
