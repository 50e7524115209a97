"""
Ids of features, as texts.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from ..errors import Finding, some_ids
from .careful import Table
from .layers import Layer

_WHOLE: Final = 2.0**53  # up to here every whole number is a float of its own


def ids_of(table: Table, field: str | None, layer: Layer) -> tuple[np.ndarray, list[Finding]]:
    """
    Feature ids as texts, from the id field where there is one and it is filled.

    Parameters
    ----------
    table : Table
        Records of a layer.
    field : str or None
        The id field; the number of the record is the id where it is left out.
    layer : Layer
        The layer.

    Returns
    -------
    ids : ndarray of object, shape (n,)
    findings : list of Finding
        Ids that are missing, inexact, or those of several features.
    """
    own = table.fid.astype(str).astype(object)
    if field is None:
        return own, _repeated(own, "", layer)
    values = table.columns[field]
    missing = np.asarray(pd.isna(values)) | (values == "")
    ids = own.copy()
    ids[~missing] = values[~missing].astype(str)
    if values.dtype.kind == "f":
        whole = np.isfinite(values) & (np.abs(values) < _WHOLE) & (np.floor(values) == values)
        ids[whole] = values[whole].astype(np.int64).astype(str)
    findings = [
        Finding(
            severity="warning",
            code="missing-id",
            layer=layer.name,
            source_id=str(own[row]),
            field=field,
            message=f"The id field {field} is empty; the record number {own[row]} stands in for it.",
        )
        for row in np.flatnonzero(missing)
    ]
    return ids, [*findings, *_inexact(own, values, field, layer), *_repeated(ids, field, layer)]


def _repeated(ids: np.ndarray, field: str, layer: Layer) -> list[Finding]:
    """Ids that several features have, told once."""
    alike, count = np.unique(ids.astype(str), return_counts=True)
    twice = alike[count > 1]
    if not len(twice):
        return []
    return [
        Finding(
            severity="warning",
            code="repeated-id",
            layer=layer.name,
            source_id=str(twice[0]),
            field=field,
            value=f"{len(twice)} id{'s' if len(twice) > 1 else ''}",
            message=f"Several features have one id ({some_ids(twice)}); they are named alike and counted as "
            "one. Give each an id of its own.",
        )
    ]


def _inexact(own: np.ndarray, values: np.ndarray, field: str, layer: Layer) -> list[Finding]:
    """Ids that are larger than what holds them: the last of 64 bits, or fractions without a unit."""
    ends = np.iinfo(np.int64)
    fraction = values.dtype.kind == "f"
    large = np.abs(values) >= _WHOLE if fraction else (values == ends.min) | (values == ends.max)
    return [
        Finding(
            severity="warning",
            code="inexact-id",
            layer=layer.name,
            source_id=str(own[row]),
            field=field,
            value=str(values[row]),
            message=f"The id field {field} of record {own[row]} holds a number too large to be read "
            f"to the last digit; {values[row]} stands in for it. Write such ids as texts.",
        )
        for row in np.flatnonzero(large)
    ]
