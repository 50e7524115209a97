"""Rasters of levels: plain ASCII grids, and images through an extra."""

import importlib.util

import geopandas as gpd
import numpy as np
import pytest
import shapely

from siteaxo.errors import LayerError
from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.raster import MOST, parse_grid
from siteaxo.source.reading import read_layer
from siteaxo.source.site import SiteData

GRID = """ncols 4
nrows 3
xllcorner 400000
yllcorner 300000
cellsize 2.5
NODATA_value -9999
1.0 2.0 3.0 4.0
5.0 -9999 7.0 8.0
9.0 10 11 1.2e1
"""


def layer(path, **options):
    return Layer(**{"name": "dem", "role": "spot level", "source": path, "crs": "EPSG:27700", **options})


def test_the_first_row_is_the_north():
    grid = parse_grid(GRID)
    assert grid.level.shape == (3, 4)
    assert (grid.level[0, 0], grid.x[0, 0], grid.y[0, 0]) == (1.0, 400001.25, 300006.25)
    assert (grid.level[2, 3], grid.x[2, 3], grid.y[2, 3]) == (12.0, 400008.75, 300001.25)
    assert np.isnan(grid.level[1, 1])


def test_centres_uneven_cells_and_other_marks_of_no_data():
    text = "nrows 1\nNCOLS 2\nXLLCENTER 10\nyllcenter 20\ndx 4\ndy 3\nnodata_value 0\n0 5\n"
    grid = parse_grid(text)
    assert grid.x.tolist() == [[10.0, 14.0]]
    assert grid.y.tolist() == [[20.0, 20.0]]
    assert np.isnan(grid.level[0, 0])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("ncols 4\n", ""), "no ncols"),
        (("ncols 4", "ncols 5"), "15 levels|3 rows of 5"),
        (("cellsize", "cellsizes"), "no word"),
        (("nrows 3", "ncols 3"), "twice"),
        (("9.0", "nine"), "nine"),
        (("cellsize 2.5", "cellsize -1"), "announced"),
    ],
)
def test_grids_that_are_refused(change, said):
    with pytest.raises(ValueError, match=said):
        parse_grid(GRID.replace(*change))


def test_a_grid_is_read_as_spot_levels(tmp_path):
    path = tmp_path / "hill.ASC"
    path.write_text(GRID)
    raw = read_layer(layer(path))
    assert len(raw) == 11
    assert raw.source_id[0] == "0"
    assert shapely.get_z(raw.geometry).tolist() == [1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12]
    features = gather(SiteData(layers=[layer(path, unit="ft")], plane_crs="EPSG:27700")).features
    z = shapely.get_coordinates(features.geometry_z, include_z=True)[:, 2]
    assert z[0] == pytest.approx(0.3048)
    assert features.top_from[0] == "its own Z"


def test_the_crs_stands_beside_it(tmp_path):
    path = tmp_path / "hill.asc"
    path.write_text(GRID)
    frame = gpd.GeoDataFrame(geometry=[shapely.Point(0, 0)], crs="EPSG:25832")
    (tmp_path / "hill.prj").write_text(frame.crs.to_wkt("WKT1_ESRI"))
    assert read_layer(layer(path, crs=None)).crs.name.replace("_", " ").startswith("ETRS")


def test_what_cannot_be_read(tmp_path):
    path = tmp_path / "hill.asc"
    path.write_text(GRID.replace("9.0", "x"))
    with pytest.raises(LayerError, match=r"'dem': hill\.asc cannot be read"):
        read_layer(layer(path))
    with pytest.raises(LayerError, match="there is no file"):
        read_layer(layer(tmp_path / "gone.asc"))
    with pytest.raises(LayerError, match="role = 'spot level'"):
        read_layer(layer(path, role="terrace", top=1))
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(LayerError, match="cannot be read"):
        read_layer(layer(path))
    path.write_text("ncols 2\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 1\n-9999 -9999\n")
    with pytest.raises(LayerError, match="is empty"):
        read_layer(layer(path))


def test_too_many_levels(tmp_path):
    n = int(np.sqrt(MOST)) + 2
    path = tmp_path / "wide.asc"
    head = f"ncols {n}\nnrows {n}\nxllcorner 0\nyllcorner 0\ncellsize 1\n"
    path.write_text(head + "1 " * (n * n))
    with pytest.raises(LayerError, match="Cut it to the site"):
        read_layer(layer(path))


def test_images_need_the_extra_or_are_read(tmp_path):
    path = tmp_path / "hill.tif"
    if importlib.util.find_spec("rasterio") is None:
        path.write_bytes(b"II*\0" + bytes(60))
        with pytest.raises(LayerError, match=r"Install siteaxo\[dem\]"):
            read_layer(layer(path))
        return
    import rasterio

    levels = np.arange(6, dtype=np.float32).reshape(2, 3)
    place = rasterio.transform.from_origin(400000, 300010, 5, 5)
    profile = {"driver": "GTiff", "width": 3, "height": 2, "count": 1, "dtype": "float32", "nodata": 5.0}
    with rasterio.open(path, "w", crs="EPSG:27700", transform=place, **profile) as image:
        image.write(levels, 1)
    raw = read_layer(layer(path, crs=None))
    assert shapely.get_coordinates(raw.geometry, include_z=True).tolist() == [
        [400002.5 + 5 * column, 300007.5 - 5 * row, 3 * row + column]
        for row, column in ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1))
    ]
    path.write_bytes(b"<VRTDataset/>")
    with pytest.raises(LayerError, match="first bytes"):
        read_layer(layer(path))
