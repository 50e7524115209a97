"""
From files to features with levels: read, bring onto the local plane, give levels.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final, Literal

import geopandas
import numpy as np

from ..errors import CrsError
from ..process.describing import operation
from ..process.marks import FieldOf, Reads
from ..source.admitted import declared_crs
from ..source.extent import Extent, choose_plane
from ..source.layers import Layer
from ..source.levels import levels_of
from ..source.reading import read_layer
from ..source.wholes import read_whole
from ..verbs.sites import Site, read_site

LEVELS: Final = ("base", "top", "height")
Level = Annotated[float | str, FieldOf("level")]
Height = Annotated[float | str, FieldOf("height")]


@operation("read", version="1.0")
def read(
    source: Annotated[Path, Reads], *, table: str | None = None, crs: str | None = None
) -> geopandas.GeoDataFrame:
    """
    Read the features of a file with all their fields.

    Parameters
    ----------
    source : path
        A file on disk: .shp, .gpkg, .geojson, .fgb or .gml.
    table : str, optional
        Table inside the file, where it has several.
    crs : str, optional
        Coordinate reference system, where the file has none.

    Returns
    -------
    geopandas.GeoDataFrame
        The features in the CRS of the file.

    Raises
    ------
    CrsError
        If neither the file nor *crs* says what the coordinates are, *crs* is not known, or it is
        another than that of the file.
    LayerError
        If it is no such file on disk, or a record of it is damaged or lost.

    Examples
    --------
    >>> import siteaxo
    >>> siteaxo.describe("read")["inputs"]["source"]["schema"]["type"]
    'string'
    """
    frame = read_whole(source, table=table)
    if crs is not None:
        declared = declared_crs(Layer(name=Path(source).stem, role="note", source=source, crs=crs))
        if frame.crs is not None and not declared.equals(frame.crs, ignore_axis_order=True):
            raise CrsError(
                f"{source} says that it is in {frame.crs.name}, and crs in {declared.name}. Leave crs out; "
                "if the file is wrong, make a layer of it with crs, which says so in its findings.",
                field="crs",
                value=crs,
            )
        frame = frame.set_crs(declared, allow_override=True)
    if frame.crs is None:
        raise CrsError(
            f"{source} does not say in which CRS it is. Give crs, for example 'EPSG:25832'.",
            field="crs",
            value=source,
        )
    return frame


@operation("read_site", version="1.0", title="Read a site file")
def read_site_file(
    path: Annotated[Path, Reads], *, sheet_unit: Literal["m", "ft", "ft-us"] | None = None
) -> Site:
    """
    Read a site file.

    Parameters
    ----------
    path : path
        The site file (TOML); the files it names are relative to it.
    sheet_unit : {"m", "ft", "ft-us"}, optional
        What sheets of the site say lengths in; what the file says when left out.

    Returns
    -------
    Site
        The site as described; its layers are read when it is stacked.
    """
    site = read_site(path)
    return site.speaking(sheet_unit) if sheet_unit else site


@operation("local_plane", version="1.0", title="Bring onto the local plane")
def local_plane(features: geopandas.GeoDataFrame, *, plane: str = "auto") -> geopandas.GeoDataFrame:
    """
    Bring features onto a local plane in metres.

    Parameters
    ----------
    features : geopandas.GeoDataFrame
        Features with a CRS; they are not changed.
    plane : str
        "auto": transverse Mercator centred on the features, with scale 1 at the centre; or
        the code or WKT of a projected CRS in metres.

    Returns
    -------
    geopandas.GeoDataFrame
        The same features with coordinates on the plane, and its CRS.

    Raises
    ------
    CrsError
        If the features have no CRS, or the plane is unsuitable.

    Examples
    --------
    >>> import geopandas, shapely
    >>> town = geopandas.GeoDataFrame(geometry=[shapely.Point(11.5, 48.1)], crs="EPSG:4326")
    >>> local_plane(town).geometry[0].distance(shapely.Point(0, 0)) < 0.2
    True
    """
    if features.crs is None:
        raise CrsError(
            "The features have no CRS. Say what their coordinates are with set_crs().", field="features"
        )
    left, bottom, right, top = (float(value) for value in features.total_bounds)
    chosen = choose_plane(
        [Extent(layer="features", crs=features.crs, bounds=(left, bottom, right, top))], plane
    )
    moved = chosen.to_plane(np.asarray(features.geometry.array, dtype=object), features.crs)
    return features.set_geometry(geopandas.GeoSeries(moved, index=features.index, crs=chosen.crs))


@operation("levels", version="1.0", title="Give levels")
def levels(
    features: geopandas.GeoDataFrame,
    *,
    role: str,
    base: Level | None = None,
    top: Level | None = None,
    height: Height | None = None,
    unit: Literal["m", "ft", "ft-us"] = "m",
) -> geopandas.GeoDataFrame:
    """
    Settle base, top and height of features, in metres.

    Parameters
    ----------
    features : geopandas.GeoDataFrame
        Features; they are not changed.
    role : str
        What they are: "terrace", "structure", "wall".
    base, top : float or str, optional
        Absolute levels: a number, or the name of a field; the base may be "below".
    height : float or str, optional
        Height above the base: a number, or the name of a field.
    unit : {"m", "ft", "ft-us"}
        Unit of these.

    Returns
    -------
    geopandas.GeoDataFrame
        The features that can be settled, with the columns base, top and height [m]; empty
        where a level follows from what the feature stands on.

    Raises
    ------
    LevelError
        If a level is no number, infinite or upside down.

    Examples
    --------
    >>> import geopandas, shapely
    >>> sheds = geopandas.GeoDataFrame(
    ...     {"floor": [2.0], "rise": [10.0]}, geometry=[shapely.box(0, 0, 4, 3)], crs="EPSG:25832"
    ... )
    >>> levels(sheds, role="structure", base="floor", height="rise", unit="ft")["top"].round(4).tolist()
    [3.6576]
    """
    asked = Layer(
        name="features",
        role=role,
        source=features.reset_index(drop=True),
        base=base,
        top=top,
        height=height,
        unit=unit,
    )
    raw = read_layer(asked)
    raw.columns["row"] = raw.source_id.astype(int)
    kept, settled = levels_of(raw)
    rows = features.iloc[kept.columns["row"]]
    return rows.assign(**{name: getattr(settled, name) for name in LEVELS})
