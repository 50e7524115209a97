"""
Columns made into tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from operator import attrgetter
from typing import TypeVar

import geopandas
import numpy as np
import pandas as pd

from ..errors import Finding
from .layers import EXTRA_COLUMNS, FINDING_COLUMNS, DiagramLayers

D = TypeVar("D", bound=DiagramLayers)


def table(
    columns: Mapping[str, object], order: Iterable[str], geometry: np.ndarray
) -> geopandas.GeoDataFrame:
    """
    Put columns in their order beside geometries.

    Parameters
    ----------
    columns : mapping of str to array_like, shape (n,)
        At least those named in *order*; further ones follow in their own order.
    order : iterable of str
        Names of the first columns.
    geometry : ndarray of object, shape (n,)
        Geometries.

    Returns
    -------
    geopandas.GeoDataFrame
    """
    first = list(order)
    names = [*first, *(name for name in columns if name not in first)]
    frame = pd.DataFrame({name: columns[name] for name in names})
    return geopandas.GeoDataFrame(frame, geometry=geometry)


def extra_table(geometry: np.ndarray, **columns: object) -> geopandas.GeoDataFrame:
    """
    Make a further table of a drawing.

    Parameters
    ----------
    geometry : ndarray of object, shape (n,)
        Geometries in page metres.
    **columns : array_like, shape (n,), or one value for all
        Any of EXTRA_COLUMNS, and further ones. Texts left out are "", numbers 0.

    Returns
    -------
    geopandas.GeoDataFrame

    Examples
    --------
    >>> extra_table(np.array([], dtype=object)).columns.tolist()[:2]
    ['layer', 'source_id']
    """
    shapes = np.asarray(geometry, dtype=object)
    filled: dict[str, object] = {}
    for name in (*EXTRA_COLUMNS, *columns):
        missing: object = 0.0 if name == "line_mm" else 0 if name == "draw_order" else ""
        value = columns.get(name, missing)
        single = isinstance(value, str) or np.ndim(value) == 0  # type: ignore[arg-type]
        kind = object if isinstance(missing, str) and name in EXTRA_COLUMNS else None
        filled[name] = np.full(len(shapes), value, dtype=kind) if single else value
    return table(filled, EXTRA_COLUMNS, shapes)


def without_notes(diagram: D) -> D:
    """The same drawing without the notes of the site, which would be written on it."""
    return replace(diagram, plan=diagram.plan[diagram.plan["role"] != "note"])


def findings_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """
    Put findings into a table, one row each.

    Examples
    --------
    >>> findings_table([Finding(severity="info", code="split", message="")])["code"].tolist()
    ['split']
    """
    rows = [*map(attrgetter(*FINDING_COLUMNS), findings)]
    return pd.DataFrame(rows, columns=list(FINDING_COLUMNS), dtype=object)
