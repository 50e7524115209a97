"""
Levels on a grid, read as spot levels: plain ASCII grids, and others through rasterio.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely

from ..errors import Finding, LayerError
from .careful import Table
from .coarse import thinned
from .layers import Layer

ASCII: Final = (".asc",)
IMAGES: Final = (".tif", ".tiff")
MOST: Final = 4_000_000  # more levels than this are refused [-]
MANY: Final = 20_000  # more are thinned [-]
UNITS: Final = {  # how a file may name the unit of its levels
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("ft", "foot", "feet", "international foot"), "ft"),
    **dict.fromkeys(("us-ft", "ft-us", "ftus", "us survey foot", "us survey feet"), "ft-us"),
}
_HEADER: Final = (
    *("ncols", "nrows", "cellsize", "dx", "dy"),
    *("xllcorner", "xllcenter", "yllcorner", "yllcenter"),
)
_NO_DATA: Final = "nodata_value"
_TIFF: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # how its first bytes may read


@dataclass(frozen=True, kw_only=True)
class Grid:
    """
    Levels on a grid with rows from north to south.

    Parameters
    ----------
    level : ndarray, shape (rows, columns)
        NaN where there is none.
    x, y : ndarray, shape (rows, columns)
        Middle of each cell.
    crs : optional
        What the file says; None where it says nothing.
    unit : str
        The unit of its levels as the file says it, "" where it does not.
    """

    level: np.ndarray
    x: np.ndarray
    y: np.ndarray
    crs: Any = None
    unit: str = ""


def is_raster(source: object) -> bool:
    """
    Whether a source is the path of a raster, by its ending.

    Examples
    --------
    >>> is_raster("hill.asc"), is_raster("hill.shp")
    (True, False)
    """
    return isinstance(source, str | os.PathLike) and Path(source).suffix.lower() in (*ASCII, *IMAGES)


def read_raster(layer: Layer) -> tuple[Table, list[Finding]]:
    """
    Read a raster as one point with Z for each cell that has a level.

    Where there are more than MANY, levels are left out that those around them give to within a
    tolerance: the least of 0.01, 0.02, 0.04, ... at which no more than MANY are left.

    Parameters
    ----------
    layer : Layer
        A layer of spot levels whose source is a raster.

    Returns
    -------
    table : Table
        Without fields; record numbers count the cells by rows, from the north.
    findings : list of Finding
        What was left out, and a unit that is not the layer's.

    Raises
    ------
    LayerError
        If the file is missing, cannot be read, is too large, or the role is another; or
        rasterio is needed and not there.
    """
    path = Path(layer.source)
    if layer.role != "spot level":
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} is a raster, which holds levels of the ground. "
            "Give it role = 'spot level'.",
            layer=layer.name,
            field="role",
            value=layer.role,
        )
    if not path.is_file():
        raise LayerError(
            f"Layer {layer.name!r}: there is no file {path}. Check the path and its spelling.",
            code="file-missing",
            layer=layer.name,
            field="source",
            value=path,
        )
    try:
        grid = parse_grid(path.read_text("ascii")) if path.suffix.lower() in ASCII else _image(path, layer)
    except (ValueError, OSError) as problem:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} cannot be read ({problem}).",
            code="file-damaged",
            layer=layer.name,
            field="source",
            value=path.name,
        ) from None
    return _as_table(grid, layer, path)


def parse_grid(text: str) -> Grid:
    """
    Read an ASCII grid: a header of words and numbers, then levels by rows from the north.

    Parameters
    ----------
    text : str
        ncols, nrows, xllcorner or xllcenter, yllcorner or yllcenter, cellsize (or dx and
        dy), perhaps nodata_value (-9999 when not given), and nrows × ncols levels.

    Returns
    -------
    Grid

    Raises
    ------
    ValueError
        If a word is missing or unknown, or the number of levels is not what it says.

    Examples
    --------
    >>> text = "ncols 2\\nnrows 1\\nxllcorner 10\\nyllcorner 20\\ncellsize 4\\n5.5 -9999\\n"
    >>> grid = parse_grid(text)
    >>> grid.level.tolist(), grid.x.tolist(), grid.y.tolist()
    ([[5.5, nan]], [[12.0, 16.0]], [[22.0, 22.0]])
    """
    words = text.split()
    header: dict[str, float] = {}
    while len(words) > 2 * len(header) and not _is_number(words[2 * len(header)]):
        key = words[2 * len(header)].lower()
        if key not in (*_HEADER, _NO_DATA) or key in header:
            raise ValueError(f"{key!r} is no word of an ASCII grid, or is there twice")
        if len(words) < 2 * len(header) + 2:
            raise ValueError(f"it ends at {key!r}")
        header[key] = float(words[2 * len(header) + 1])
    if not all(np.isfinite(value) for value in header.values()):
        raise ValueError("its header holds a number that is not finite")
    columns, rows = (int(_of(header, key)) for key in ("ncols", "nrows"))
    step = [_of(header, "cellsize" if "cellsize" in header else key) for key in ("dx", "dy")]
    corner = [
        header[f"{axis}llcenter"] if f"{axis}llcenter" in header else _of(header, f"{axis}llcorner") + by / 2
        for axis, by in zip("xy", step, strict=True)
    ]
    found = words[2 * len(header) :]
    odd = next((word for word in found if "_" in word or word.lower().lstrip("+-").startswith("inf")), None)
    if odd is not None:
        raise ValueError(f"{odd!r} is no level")
    level = np.array(found, dtype=float)
    if columns < 1 or rows < 1 or min(step) <= 0 or len(level) != columns * rows:
        raise ValueError(f"{rows} rows of {columns} levels are announced, {len(level)} are there")
    level[level == header.get(_NO_DATA, -9999.0)] = np.nan
    x, y = np.meshgrid(
        corner[0] + step[0] * np.arange(columns), corner[1] + step[1] * np.arange(rows - 1, -1, -1)
    )
    return Grid(level=level.reshape(rows, columns), x=x, y=y)


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return word.lower() not in ("nan", "inf", "-inf")


def _of(header: dict[str, float], key: str) -> float:
    if key not in header:
        raise ValueError(f"its header has no {key}")
    return header[key]


def _image(path: Path, layer: Layer) -> Grid:
    try:
        import rasterio  # here, because it is an extra
    except ImportError:
        raise LayerError(
            f"Layer {layer.name!r}: reading {path.name} needs rasterio. Install siteaxo[dem], or export it "
            "as an ASCII grid (.asc).",
            code="file-kind",
            layer=layer.name,
            field="source",
            value=path.name,
        ) from None
    with path.open("rb") as file:
        if file.read(4) not in _TIFF:
            raise ValueError("its first bytes are not those of a TIFF")
    try:
        with _quiet(), rasterio.open(path, driver="GTiff") as image:
            if image.count > 1:
                raise ValueError(f"it has {image.count} bands, and levels are one")
            band = image.read(1, masked=True).astype(float) * image.scales[0] + image.offsets[0]
            column, row = np.meshgrid(np.arange(image.width) + 0.5, np.arange(image.height) + 0.5)
            a, b, c, d, e, f = tuple(image.transform)[:6]
            x, y = a * column + b * row + c, d * column + e * row + f
            crs = image.crs.to_wkt() if image.crs else None
            return Grid(level=band.filled(np.nan), x=x, y=y, crs=crs, unit=image.units[0] or "")
    except rasterio.errors.RasterioError as problem:
        raise ValueError(str(problem)) from None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep to itself what rasterio warns of in its own use of affine."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", PendingDeprecationWarning)
        yield


def _as_table(grid: Grid, layer: Layer, path: Path) -> tuple[Table, list[Finding]]:
    count = int(np.isfinite(grid.level).sum())
    if count > MOST:
        raise LayerError(
            f"Layer {layer.name!r}: {path.name} has {count} levels; {MOST} are the most. Cut it to the "
            "site, or make it coarser.",
            layer=layer.name,
            field="source",
            value=count,
        )
    kept, tolerance = thinned(grid.level, MANY)
    there = np.flatnonzero(kept.ravel())
    findings = [*_told_unit(grid, layer, path)]
    if len(there) < count:
        findings.append(
            Finding(
                severity="info",
                code="raster-thinned",
                layer=layer.name,
                value=f"{len(there)} of {count}",
                message=(
                    f"Of the {count} levels of {path.name}, {len(there)} are used; they give the others to "
                    f"within {tolerance:g} in the unit of the levels. Cut it to the site to use more."
                ),
            )
        )
    beside = path.with_suffix(".prj")
    crs = grid.crs or (beside.read_text("utf-8") if beside.is_file() else None)
    xyz = np.column_stack([grid.x.ravel(), grid.y.ravel(), grid.level.ravel()])[there]
    table = Table(fid=there, geometry=shapely.points(xyz), columns={}, fields=(), crs=crs, broken={})
    return table, findings


def _told_unit(grid: Grid, layer: Layer, path: Path) -> list[Finding]:
    """Say so where the file names a unit that is not the layer's."""
    named = UNITS.get(grid.unit.strip().lower())
    if named is None or named == layer.unit or (layer.unit is None and named == "m"):
        return []
    taken = "the site's unit is taken" if layer.unit is None else f"the layer's unit, {layer.unit}, is kept"
    return [
        Finding(
            severity="warning",
            code="unit-disagrees",
            layer=layer.name,
            field="unit",
            value=grid.unit,
            message=f"{path.name} says that its levels are in {grid.unit}; {taken}. Say unit = {named!r}.",
        )
    ]
