"""
A GeoDataFrame handed over by the caller, as a table.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from ..errors import LayerError
from .careful import Table
from .layers import Layer
from .texts import match_fields


def table_of(layer: Layer) -> Table:
    """
    Take from a layer's GeoDataFrame what the layer names.

    Parameters
    ----------
    layer : Layer
        A layer whose source is a GeoDataFrame; it is not changed.

    Returns
    -------
    Table
        Its ``fid`` is the frame's index as text.

    Raises
    ------
    LayerError
        If the frame has no geometry column set.
    FieldError
        If a column does not exist.
    """
    frame: Any = layer.source
    own = frame.active_geometry_name
    if own is None:
        raise LayerError(
            f"Layer {layer.name!r}: the GeoDataFrame has no geometry column set. Use set_geometry().",
            layer=layer.name,
            field="source",
        )
    fields = tuple(str(name) for name in frame.columns if name != own)
    names, _ = match_fields(layer, fields)
    return Table(
        fid=np.array([str(i) for i in frame.index], dtype=object),
        geometry=np.array(frame.geometry.array, dtype=object),
        columns={name: column_values(frame[name]) for name in names.values()},
        fields=fields,
        crs=frame.crs,
        broken={},
    )


def column_values(series: pd.Series) -> np.ndarray:
    """
    A column as a plain array: bool, integer, float, datetime, or object.

    Parameters
    ----------
    series : pandas.Series, shape (n,)
        Any dtype, nullable ones and categories included.

    Returns
    -------
    ndarray, shape (n,)
        Empty values are NaN in floats and None in objects.

    Examples
    --------
    >>> column_values(pd.Series([1, None], dtype="Int64")).tolist()
    [1.0, nan]
    """
    kind = series.dtype
    empty = bool(series.isna().any())
    if pd.api.types.is_datetime64_any_dtype(kind) or (pd.api.types.is_bool_dtype(kind) and not empty):
        return np.asarray(series)
    if pd.api.types.is_integer_dtype(kind) and not empty:
        return series.to_numpy(dtype=np.int64)
    if pd.api.types.is_numeric_dtype(kind) and not pd.api.types.is_bool_dtype(kind):
        return series.to_numpy(dtype=np.float64, na_value=np.nan)
    return plain(series.astype(object).where(series.notna(), None).to_numpy(dtype=object))


def plain(values: np.ndarray) -> np.ndarray:
    """
    Write lists, arrays and tables in the cells of a column as texts.

    Parameters
    ----------
    values : ndarray, shape (n,)
        A column.

    Returns
    -------
    ndarray, shape (n,)
        The same where every cell is a single value.

    Examples
    --------
    >>> plain(np.array([1, [2, 3], None], dtype=object)).tolist()
    [1, '[2, 3]', None]
    """
    if values.dtype != object:
        return values
    many = (list, tuple, dict, set, np.ndarray)
    several = [row for row, cell in enumerate(values) if isinstance(cell, many)]
    if not several:
        return values
    texts = values.copy()
    for row in several:
        cell = values[row]
        texts[row] = str(cell.tolist() if isinstance(cell, np.ndarray) else cell)
    return texts
