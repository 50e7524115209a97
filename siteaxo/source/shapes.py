"""
Words for the shapes that features of one role come in: roofs, trees.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..errors import Finding
from .layers import Layer
from .reading import RawLayer


def shapes_of(raw: RawLayer) -> tuple[RawLayer, np.ndarray]:
    """
    Read the shape of a layer's features.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.

    Returns
    -------
    raw : RawLayer
        The same features; each word that the role does not know is a finding.
    shape : ndarray of object, shape (n,)
        One of the role's words; "" where not given or not known.
    """
    words = raw.layer.role_row.words
    shape = np.full(len(raw), "", dtype=object)
    if raw.layer.shape in words:
        shape[:] = raw.layer.shape
    if "shape" not in raw.columns:
        return raw, shape
    values = raw.columns["shape"]
    filled = np.flatnonzero(~np.asarray(pd.isna(values)))
    shape[filled] = [str(value).strip().lower() for value in values[filled]]
    odd = np.flatnonzero(~np.isin(shape.astype(str), ["", *words]))
    findings = [_odd_shape(raw.layer, str(raw.source_id[row]), str(shape[row])) for row in odd]
    shape[odd] = ""
    return raw.take(np.arange(len(raw)), *findings), shape


def _odd_shape(layer: Layer, source_id: str, value: str) -> Finding:
    words = layer.role_row.words
    return Finding(
        severity="warning",
        code="shape-unknown",
        layer=layer.name,
        source_id=source_id,
        field=str(layer.shape),
        value=value,
        message=f"{value!r} is none of {', '.join(words)}; it is taken as {words[0]}.",
    )
