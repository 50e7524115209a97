"""Where heights come from: storeys, and the order of sources."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import LevelError
from siteaxo.source.layers import Layer
from siteaxo.source.levels import levels_of
from siteaxo.source.reading import read_layer


def settle(columns, *, unit="m", z=None, **options):
    n = len(next(iter(columns.values())))
    box = shapely.box(0, 0, 5, 5) if z is None else shapely.force_3d(shapely.box(0, 0, 5, 5), z)
    frame = gpd.GeoDataFrame(columns, geometry=[box] * n, crs="EPSG:27700")
    return levels_of(read_layer(Layer(name="blocks", role="structure", source=frame, **options)), unit=unit)


def test_storeys_by_their_height():
    _, levels = settle({"floors": [3, 2]}, storeys="floors", storey_height=3.2)
    assert levels.height == pytest.approx([9.6, 6.4])
    assert levels.below.all()
    _, levels = settle({"floors": [3]}, base=10.0, storeys="floors", storey_height=3.2)
    assert levels.top[0] == pytest.approx(19.6)
    assert levels.top_from[0] == "base plus height (storeys (field floors) × storey_height (number))"


def test_storeys_that_are_not_known_are_a_level_that_is_missing():
    """What is set aside for it is not told to take a usual size."""
    kept, levels = settle({"floors": [3, None]}, storeys="floors", storey_height=3.2)
    assert [note.code for note in kept.findings] == ["missing-level", "no-level"]
    assert not any("usual size" in note.message for note in kept.findings)
    assert len(levels.height) == 1


def test_only_the_height_of_storeys_has_a_unit():
    _, levels = settle({"floors": [3], "each": ["10 ft"]}, storeys="floors", storey_height="each")
    assert levels.height[0] == pytest.approx(3 * 3.048)
    _, levels = settle({"floors": [2]}, unit="ft", storeys="floors", storey_height=10)
    assert levels.height[0] == pytest.approx(6.096)


def test_the_order_of_sources():
    # its own fields, its own Z, storeys
    columns = {"top": [8.0, np.nan, np.nan], "floors": [1, 1, 2], "high": [np.nan, np.nan, 7.0]}
    options = {"base": 1.0, "storeys": "floors", "storey_height": 3.0}
    _, levels = settle(columns, top="top", top_z="max", z=6.0, **options)
    assert levels.top.tolist() == [8.0, 6.0, 6.0]
    assert levels.top_from.tolist() == ["field top", "greatest of its own Z", "greatest of its own Z"]
    kept, levels = settle(columns, height="high", **options)
    assert levels.height.tolist() == [3.0, 3.0, 7.0]
    assert levels.top_from[2] == "base plus height (field high)"
    assert not [f for f in kept.findings if f.code == "levels-disagree"]


def test_storeys_that_are_missing():
    kept, levels = settle({"floors": [2, np.nan]}, storeys="floors", storey_height=3.0)
    assert len(levels.height) == 1
    assert ("no-level", "1") in [(f.code, f.source_id) for f in kept.findings]


@pytest.mark.parametrize("key", ["storeys", "storey_height"])
def test_half_of_it_is_refused(key):
    with pytest.raises(LevelError, match=r"make a height together\. Give"):
        settle({"floors": [2]}, **{key: "floors"})


def test_storeys_of_no_height_are_refused():
    with pytest.raises(LevelError, match="storey_height must not be 0"):
        settle({"floors": [2]}, storeys="floors", storey_height=0)


def test_the_message_names_what_may_be_given():
    with pytest.raises(LevelError, match="or say `top_z`"):
        settle({"floors": [2]})
