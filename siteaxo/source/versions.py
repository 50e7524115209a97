"""
Versions of the spatial libraries in this process, and where PROJ keeps its data.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pyogrio
import pyproj


def spatial_versions() -> dict[str, str]:
    """
    Return versions of the libraries that read and transform, by name.

    Examples
    --------
    >>> sorted(spatial_versions())[:3]
    ['GDAL of pyogrio', 'PROJ', 'PROJ data']
    """
    return {
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
        "PROJ data": pyproj.datadir.get_data_dir(),
        "PROJ network": "on" if pyproj.network.is_network_enabled() else "off",
        "pyogrio": pyogrio.__version__,
        "GDAL of pyogrio": pyogrio.__gdal_version_string__,
    }


def fiona_versions() -> dict[str, str]:
    """Return fiona's version and its GDAL's; empty where it is not installed."""
    if importlib.util.find_spec("fiona") is None:
        return {}
    import fiona

    return {"fiona": fiona.__version__, "GDAL of fiona": fiona.__gdal_version__}


def rasterio_versions() -> dict[str, str]:
    """Return rasterio's version and its GDAL's; empty where it is not installed."""
    if importlib.util.find_spec("rasterio") is None:
        return {}
    import rasterio

    return {"rasterio": rasterio.__version__, "GDAL of rasterio": rasterio.__gdal_version__}


def proj_grids() -> tuple[list[Path], list[str]]:
    """Return the folders where PROJ looks for data, and the names of the datum grids that lie there."""
    folders = [Path(one) for one in pyproj.datadir.get_data_dir().split(";")]
    folders.append(Path(pyproj.datadir.get_user_data_dir()))
    found = sorted(
        {grid.name for folder in folders if folder.is_dir() for grid in folder.glob("*.tif")}
        | {grid.name for folder in folders if folder.is_dir() for grid in folder.glob("*.gsb")}
    )
    return folders, found
