"""Rasters of levels: plain ASCII grids, and images through an extra."""

import sys

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator

from siteaxo import Site
from siteaxo.errors import LayerError
from siteaxo.source import raster
from siteaxo.source.coarse import thinned
from siteaxo.source.gather import gather
from siteaxo.source.layers import Layer
from siteaxo.source.raster import MANY, parse_grid
from siteaxo.source.reading import read_layer
from siteaxo.source.site import SiteData

AFFINE = "ignore:Use `@` matmul:PendingDeprecationWarning"  # between rasterio and affine, on writing
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


def test_too_many_levels(tmp_path, monkeypatch):
    monkeypatch.setattr(raster, "MOST", 10)
    path = tmp_path / "wide.asc"
    path.write_text(GRID)
    with pytest.raises(LayerError, match="11 levels; 10 are the most"):
        read_layer(layer(path))


def hill(n):
    """A plane with a round hill on it, 5 m high."""
    x, y = np.meshgrid(np.arange(n) * 1.0, np.arange(n) * 1.0)
    return 0.02 * x + 5 * np.exp(-((x - n / 2) ** 2 + (y - n / 2) ** 2) / (2 * (n / 8) ** 2))


def as_text(levels):
    head = f"ncols {levels.shape[1]}\nnrows {levels.shape[0]}\nxllcorner 0\nyllcorner 0\ncellsize 1\n"
    return head + "\n".join(" ".join(f"{one:.6f}" for one in row) for row in levels)


def test_a_large_grid_is_thinned_where_it_is_smooth(tmp_path):
    """Of 40 000 levels half at most stay; no level lies farther than told from the surface of those."""
    levels = hill(200)
    path = tmp_path / "wide.asc"
    path.write_text(as_text(levels))
    raw = read_layer(layer(path))
    (found,) = [one for one in raw.findings if one.code == "raster-thinned"]
    assert (found.severity, found.layer) == ("info", "dem")
    assert found.value == f"{len(raw)} of 40000"
    assert 100 < len(raw) <= MANY
    spots = shapely.get_coordinates(raw.geometry, include_z=True)
    x, y = np.meshgrid(np.arange(200) + 0.5, 199.5 - np.arange(200))
    surface = LinearNDInterpolator(spots[:, :2], spots[:, 2])(x, y)
    assert "to within 0.01 in" in found.message
    assert np.nanmax(np.abs(surface - levels)) <= 0.01 + 1e-6
    assert not np.isnan(surface).any()


def test_a_plane_needs_few_levels_and_a_hole_in_it_keeps_its_edge():
    plane = np.add.outer(np.arange(65) * 0.5, np.arange(65) * 0.25)
    kept, tolerance = thinned(plane, 100)
    assert (kept.sum(), tolerance) == (4, 0.01)
    plane[20:23, 20:23] = np.nan
    kept, _ = thinned(plane, 1000)
    around = np.zeros_like(kept)
    around[19:24, 19:24] = True
    assert kept[around & np.isfinite(plane)].all()
    assert not kept[np.isnan(plane)].any()


def test_the_tolerance_doubles_until_few_enough_are_left():
    rough = np.random.default_rng(5).uniform(-0.04, 0.04, (33, 33))
    kept, tolerance = thinned(rough, 500)
    assert kept.sum() <= 500
    assert tolerance in (0.04, 0.08)  # noise of 0.08 from crest to trough
    assert thinned(rough, 2000)[1] == 0.0
    assert thinned(np.array([[1.0, np.nan, 2.0]]), 5)[0].tolist() == [[True, False, True]]


def test_images_need_the_extra(tmp_path, monkeypatch):
    path = tmp_path / "hill.tif"
    path.write_bytes(b"II*\0" + bytes(60))
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(LayerError, match=r"Install siteaxo\[dem\]"):
        read_layer(layer(path))


def written(path, bands, **profile):
    """A GeoTIFF of float levels, five metres to a cell, with its north-west corner at 400000, 300010."""
    rasterio = pytest.importorskip("rasterio")
    place = rasterio.transform.from_origin(400000, 300010, 5, 5)
    count, height, width = bands.shape
    size = {"width": width, "height": height, "count": count}
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", transform=place, **size, **profile
    ) as image:
        image.write(bands.astype(np.float32))
    return path


@pytest.mark.filterwarnings(AFFINE)
def test_images_are_read(tmp_path):
    levels = np.arange(6).reshape(1, 2, 3)
    path = written(tmp_path / "hill.tif", levels, crs="EPSG:27700", nodata=5.0)
    raw = read_layer(layer(path, crs=None))
    assert raw.crs == "EPSG:27700"
    assert shapely.get_coordinates(raw.geometry, include_z=True).tolist() == [
        [400002.5 + 5 * column, 300007.5 - 5 * row, 3 * row + column]
        for row, column in ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1))
    ]


@pytest.mark.filterwarnings(AFFINE)
def test_an_image_in_feet_whose_crs_says_so(tmp_path):
    """A compound CRS with heights in US survey feet: 1200/3937 m (85 FR 62698)."""
    path = written(tmp_path / "hill.tif", np.full((1, 2, 2), 10.0), crs="EPSG:27700")
    compound = "EPSG:27700+6360"  # NAVD88 height (ftUS)
    features = gather(SiteData(layers=[layer(path, crs=compound)], plane_crs="EPSG:27700")).features
    assert features.top == pytest.approx(10 * 1200 / 3937)


@pytest.mark.filterwarnings(AFFINE)
def test_the_unit_that_an_image_says_is_told_but_not_taken(tmp_path):
    rasterio = pytest.importorskip("rasterio")
    path = written(tmp_path / "hill.tif", np.full((1, 2, 2), 10.0), crs="EPSG:27700")
    with rasterio.open(path, "r+") as image:
        image.units = ("feet",)
        image.scales = (0.5,)
    raw = read_layer(layer(path, crs=None))
    (found,) = raw.findings
    assert (found.severity, found.code, found.value) == ("warning", "unit-disagrees", "feet")
    assert "Say unit = 'ft'" in found.message
    assert shapely.get_z(raw.geometry).tolist() == [5.0] * 4  # the scale of the band is applied
    assert read_layer(layer(path, crs=None, unit="ft")).findings == ()


@pytest.mark.filterwarnings(AFFINE)
def test_images_that_are_no_levels(tmp_path):
    path = written(tmp_path / "photo.tif", np.zeros((3, 2, 2)), crs="EPSG:27700")
    with pytest.raises(LayerError, match="3 bands"):
        read_layer(layer(path, crs=None))
    path.write_bytes(b"<VRTDataset/>")
    with pytest.raises(LayerError, match="first bytes"):
        read_layer(layer(path, crs=None))


@pytest.mark.filterwarnings(AFFINE)
def test_a_hill_from_an_image_becomes_ground(tmp_path):
    """The surface passes through the middle of every cell."""
    levels = hill(12)
    path = written(tmp_path / "hill.tif", levels[None], crs="EPSG:27700")
    terrain = Site(name="Hill", layers=[layer(path, crs=None)], plane_crs="EPSG:27700").stack().stack.terrain
    x, y = np.meshgrid(400002.5 + 5 * np.arange(12), 300007.5 - 5 * np.arange(12))
    found = terrain.tin.level_at(np.column_stack([x.ravel(), y.ravel()]))
    assert found == pytest.approx(levels.astype(np.float32).ravel(), abs=1e-5)
