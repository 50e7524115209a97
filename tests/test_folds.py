import geopandas
import numpy as np
import pytest
import shapely

from siteaxo.craft.dress import dress
from siteaxo.craft.folds import folds, long_enough
from siteaxo.craft.style import Style


def table(rows):
    names = ("layer", "source_id", "role", "part", "kind", "geometry")
    return geopandas.GeoDataFrame([dict(zip(names, row, strict=True)) for row in rows])


LAWN = ("a", "1", "lawn", "slope", "")
FACES = table(
    [
        (*LAWN, shapely.box(0, 0, 4, 4)),
        (*LAWN, shapely.box(4, 0, 8, 4)),
        ("a", "2", "lawn", "slope", "", shapely.box(0, 4, 8, 8)),
        ("a", "1", "lawn", "side", "", shapely.box(0, -1, 8, 0)),
        ("b", "1", "ramp", "slope", "", shapely.box(8, 0, 9, 8)),
        ("b", "1", "ramp", "slope", "", shapely.box(9, 0, 10, 8)),
    ]
)


@pytest.mark.parametrize(
    ("name", "role", "kind", "line", "fold"),
    [
        ("a", "lawn", "edge", [(4, 0), (4, 4)], True),  # between two slopes of the lawn
        ("a", "lawn", "profile", [(4, 0), (4, 4)], True),  # the lawn hides a part of itself
        ("a", "lawn", "foot", [(4, 0), (4, 4)], True),  # a valley within the lawn
        ("a", "lawn", "contour", [(4, 0), (4, 4)], False),
        ("a", "lawn", "edge", [(0, 4), (8, 4)], False),  # against another lawn
        ("a", "lawn", "edge", [(0, 0), (8, 0)], False),  # against its own side
        ("a", "lawn", "edge", [(0, 0), (0, 4)], False),  # against nothing
        ("b", "ramp", "edge", [(9, 0), (9, 8)], False),  # built, not lying on the ground
    ],
)
def test_a_fold_has_a_slope_of_its_own_on_either_side(name, role, kind, line, fold):
    lines = table([(name, "1", role, "", kind, shapely.LineString(line))])
    assert folds(lines, FACES).tolist() == [fold]


def test_nothing_is_no_trouble():
    lines = table([("a", "1", "lawn", "", "edge", shapely.LineString([(4, 0), (4, 4)]))])
    assert folds(lines, FACES.iloc[:0]).tolist() == [False]
    assert folds(lines.iloc[:0], FACES).shape == (0,)
    assert long_enough(np.zeros((0, 2, 2)), 1.0).shape == (0,)


def test_a_star_is_followed_through_its_middle():
    turn = np.radians(np.arange(7) * 360 / 7)
    star = np.stack([np.zeros((7, 2)), np.column_stack([np.cos(turn), np.sin(turn)])], axis=1)
    assert long_enough(star, 7.0).all()
    assert not long_enough(star, 7.1).any()


def test_a_long_chain_in_any_order():
    chain = np.array([[[k, 0.0], [k + 1.0, 0.0]] for k in range(50)])
    mixed = chain[np.random.default_rng(3).permutation(50)]
    mixed[::2] = mixed[::2, ::-1]
    assert long_enough(mixed, 50.0).all()
    assert not long_enough(np.delete(chain, 25, axis=0), 25.5).any()


def test_a_mound_is_paler_than_what_is_built(mound):
    """Folds of a mound are unbroken lines in the ink of hidden ones; 1 m of fold is 5 mm at 1:200."""
    lines = mound.edges[mound.edges["kind"] == "edge"]
    profiles = mound.edges[mound.edges["kind"] == "profile"]
    assert set(profiles["colour"]) == {Style().ink}
    fold = lines[lines["colour"] == Style().hidden_ink]
    assert len(fold) >= 5
    assert set(fold["role"]) == {"ground"}
    assert fold["drawn"].all()
    small = dress(mound, Style(), scale=10_000).edges  # 45 m of folds are 4.5 mm
    assert not small.loc[fold.index, "drawn"].any()


def test_where_a_mound_hides_its_own_back_the_fold_is_wider():
    lines = mound_of(5.0).edges
    profiles = lines[(lines["kind"] == "profile") & (lines["outline"] == "")]
    assert len(profiles)
    assert set(profiles["colour"]) == {Style().hidden_ink}
    assert set(profiles["line_mm"]) == set(Style().weights.widths(["profile"], roles=["ground"], scale=200))
    assert set(lines.loc[lines["outline"] != "", "colour"]) == {Style().ink}


@pytest.fixture(scope="module")
def mound():
    return mound_of(2.5)


def mound_of(height):
    from sites_review import CORNER, CRS

    import siteaxo

    turn = np.radians(np.arange(7) * 360 / 7)
    foot = np.column_stack([10 + 3 * np.cos(turn), 10 + 3 * np.sin(turn), np.zeros(7)])
    corners = [[x, y, 0] for x in (0, 20) for y in (0, 20)]
    spots = shapely.points(np.array([*foot, *corners, [10, 10, height]]) + np.array([*CORNER, 0.0]))
    flat = shapely.box(*CORNER, CORNER[0] + 20, CORNER[1] + 20)
    land, levels = (geopandas.GeoDataFrame(geometry=shapes, crs=CRS) for shapes in ([flat], spots))
    layers = [
        siteaxo.Layer(name="land", role="ground", source=land, base=-1.0, top="survey"),
        siteaxo.Layer(name="spots", role="spot level", source=levels),
    ]
    site = siteaxo.Site(name="Mound", layers=layers, plane_crs=CRS, base_line=90.0)
    return site.stack().draw(siteaxo.planometric(turn=30), scale=200)
