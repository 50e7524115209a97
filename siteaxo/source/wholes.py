"""
All features of a file with all their fields, through the same gates as a layer's.
"""

from __future__ import annotations

import os
from pathlib import Path

import geopandas
import numpy as np
import pyogrio
import shapely

from ..errors import GeometryError, LayerError, SiteaxoError, some_ids
from ..limits import USUAL, Limits
from ..saying import having
from .amounts import check_count, checked_info
from .damage import look_for_damage
from .files import find_table, ready
from .layers import Layer
from .tablefile import TableFile


def read_whole(
    path: str | os.PathLike[str], *, table: str | None = None, limits: Limits = USUAL
) -> geopandas.GeoDataFrame:
    """
    Read a file's features with all their fields.

    Parameters
    ----------
    path : path
        A regular file on disk, of a kind that layers are read from.
    table : str, optional
        Table inside the file, where it has several.
    limits : Limits
        Bounds of size.

    Returns
    -------
    geopandas.GeoDataFrame
        In the CRS of the file; None where it has none.

    Raises
    ------
    LayerError
        If there is no such file, it is not what its name says, or a record of it is lost.
    GeometryError
        If a coordinate is not finite.
    LimitError
        If it is too large.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "sheds.gpkg"
    ...     shed = {"no": [7], "geometry": [shapely.box(0, 0, 4, 3)]}
    ...     geopandas.GeoDataFrame(shed, crs="EPSG:25832").to_file(path)
    ...     read_whole(path)["no"].tolist()
    [7]
    """
    layer = Layer(
        name=Path(os.fsdecode(path)).stem, role="ground", source=Path(os.fsdecode(path)), table=table
    )
    with ready(find_table(layer, limits=limits), layer, limits) as file:
        frame = _frame(file, layer, limits)
        _check_records(file, frame, layer)
    _check_geometry(frame, layer, limits)
    return frame.reset_index(drop=True)


def _frame(file: TableFile, layer: Layer, limits: Limits) -> geopandas.GeoDataFrame:
    options = {"WRITE_GFS": "NO"} if file.kind == "GML" else {}
    try:
        info = pyogrio.read_info(file.address, layer=file.table, **options)
        announced = checked_info(info, file, layer, limits)
        frame = pyogrio.read_dataframe(file.address, layer=file.table, fid_as_index=True, **options)
    except SiteaxoError:
        raise
    except (RuntimeError, LookupError, ValueError, TypeError, shapely.errors.ShapelyError) as problem:
        raise LayerError(
            f"Layer {layer.name!r}: {file.name} cannot be read ({problem}).",
            code="file-damaged",
            layer=layer.name,
            value=file.name,
            remedy="Mend it or export it anew.",
        ) from None
    if not isinstance(frame, geopandas.GeoDataFrame):
        raise LayerError(
            f"Layer {layer.name!r}: the table has no geometry.",
            code="table-missing",
            layer=layer.name,
            remedy="Name another with table.",
        )
    if file.kind != "shapefile":  # whose records are counted from its bytes
        check_count(len(frame), announced, file, layer)
    return frame


def _check_records(file: TableFile, frame: geopandas.GeoDataFrame, layer: Layer) -> None:
    """Refuse a file of which a record is damaged: there is nothing here to tell of it but an error."""
    missing = frame.geometry.isna().to_numpy()
    damage = look_for_damage(file, (), (int(i) for i in frame.index[missing]))
    emptied = missing & np.array(file.filled, dtype=bool) if len(file.filled) == len(frame) else missing[:0]
    broken = {int(frame.index[row]): "its geometry cannot be decoded" for row in np.flatnonzero(emptied)}
    broken.update(damage.broken)
    if broken:
        first = min(broken)
        raise LayerError(
            f"Layer {layer.name!r}: {len(broken)} records of {file.name} cannot be read "
            f"(ids {some_ids(sorted(broken))}; {first}: {broken[first]}).",
            code="file-damaged",
            layer=layer.name,
            source_ids=sorted(broken),
            remedy="Mend it or export it anew; as a layer of a site it is read without them.",
        )
    if damage.count is not None:
        check_count(len(frame), damage.count, file, layer)


def _check_geometry(frame: geopandas.GeoDataFrame, layer: Layer, limits: Limits) -> None:
    shapes = np.asarray(frame.geometry.array, dtype=object)
    vertices = shapely.get_num_coordinates(shapes)
    limits.check("vertices", int(vertices.sum()), what="it has too many vertices", layer=layer.name)
    limits.check(
        "ring_vertices",
        int(vertices.max(initial=0)),
        what="a feature has too many vertices",
        layer=layer.name,
    )
    corners, rows = shapely.get_coordinates(shapes, return_index=True)
    odd = np.unique(rows[~np.isfinite(corners).all(axis=1)])
    if len(odd):
        ids = [str(i) for i in frame.index[odd]]
        raise GeometryError(
            f"Layer {layer.name!r}: {having(len(ids), 'feature')} coordinates that are not finite numbers "
            f"(ids {some_ids(ids)}).",
            code="not-finite",
            layer=layer.name,
            source_ids=ids,
            remedy="Mend or drop these features.",
        )
