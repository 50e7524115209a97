"""GeoDataFrames handed over."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from siteaxo.errors import CrsError, FieldError, LayerError
from siteaxo.source.frames import column_values
from siteaxo.source.layers import Layer
from siteaxo.source.reading import read_layer


@pytest.fixture
def frame():
    return gpd.GeoDataFrame(
        {"lvl": [1.0, 2.0], "nr": ["a", "b"]},
        geometry=[shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)],
        crs="EPSG:27700",
        index=[7, "north"],
    )


def layer(frame, **options):
    return Layer(**{"name": "beds", "role": "lawn", "source": frame, "top": "lvl", **options})


def test_the_index_is_the_id(frame):
    raw = read_layer(layer(frame))
    assert raw.source_id.tolist() == ["7", "north"]
    assert raw.columns["top"].tolist() == [1.0, 2.0]
    assert raw.crs.to_epsg() == 27700


def test_an_id_field_goes_before_the_index(frame):
    assert read_layer(layer(frame, id="nr")).source_id.tolist() == ["a", "b"]


def test_an_active_geometry_of_another_name(frame):
    raw = read_layer(layer(frame.rename_geometry("outline")))
    assert shapely.area(raw.geometry).tolist() == [1, 1]


def test_the_frame_is_not_changed(frame):
    before = frame.copy(deep=True)
    raw = read_layer(layer(frame))
    raw.geometry[0] = None
    raw.columns["top"] = raw.columns["top"] * 2
    assert frame.equals(before)


def test_what_frames_are_refused_for(frame):
    with pytest.raises(LayerError, match="'beds' is empty"):
        read_layer(layer(frame.iloc[:0]))
    with pytest.raises(CrsError, match="has no coordinate reference system"):
        read_layer(layer(frame.set_crs(None, allow_override=True)))
    with pytest.raises(FieldError, match="It has: lvl, nr"):
        read_layer(layer(frame, top="top"))
    with pytest.raises(LayerError, match="no geometry column set"):
        read_layer(layer(gpd.GeoDataFrame({"lvl": [1.0]})))


@pytest.mark.parametrize(
    ("series", "kind", "values"),
    [
        (pd.Series([1, 2]), "i", [1, 2]),
        (pd.Series([1.5, np.nan]), "f", [1.5, None]),
        (pd.Series([1, None], dtype="Int64"), "f", [1.0, None]),
        (pd.Series([1, 2], dtype="UInt8"), "i", [1, 2]),
        (pd.Series(["a", None]), "O", ["a", None]),
        (pd.Series(["a", pd.NA], dtype="string"), "O", ["a", None]),
        (pd.Series(["a", None], dtype="category"), "O", ["a", None]),
        (pd.Series([True, False]), "b", [True, False]),
        (pd.Series([True, None], dtype="boolean"), "O", [True, None]),
        (pd.Series(pd.to_datetime(["2024-05-01"])), "M", None),
    ],
)
def test_columns_of_every_dtype(series, kind, values):
    found = column_values(series)
    assert isinstance(found, np.ndarray)
    assert found.dtype.kind == kind
    if values is not None:
        assert [None if pd.isna(v) else v for v in found] == values
