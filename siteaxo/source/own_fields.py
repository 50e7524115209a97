"""
Values of a field that no layer is told to use, such as a stage or a date.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd
import shapely

from ..errors import FieldError
from .features import Features
from .layers import Layer
from .reading import read_layer


def field_values(layers: Iterable[Layer], features: Features, field: str) -> np.ndarray:
    """
    Read a field of every feature.

    Parameters
    ----------
    layers : iterable of Layer
        The layers of the site, in their order.
    features : Features
        Its features.
    field : str
        Name of the field; not every layer needs to have it.

    Returns
    -------
    ndarray of object, shape (n,)
        Its values as texts, "" where there is none.

    Raises
    ------
    FieldError
        If no layer has such a field.
    """
    found: dict[tuple[int, str], str] = {}
    known = False
    for number, layer in enumerate(layers):
        values = _field_of(layer, field)
        known |= values is not None
        found.update({(number, name): word for name, word in (values or {}).items()})
    if not known:
        raise FieldError(
            f"No layer has a field {field!r}. Name a field that at least one layer has.", field=field
        )
    keys = zip(features.layer.tolist(), features.source_id, strict=True)
    return np.array([found.get((number, str(name)), "") for number, name in keys], dtype=object)


def spoken_of(features: Features) -> np.ndarray:
    """
    Which feature each one speaks of: a note of the smallest footprint it lies in.

    Parameters
    ----------
    features : Features
        Features as read.

    Returns
    -------
    ndarray of int, shape (n,)
        Row of that feature; its own row where it is no note, or lies in no footprint.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> hut, spot = shapely.box(0, 0, 4, 3), shapely.Point(1, 1)
    >>> frames = [geopandas.GeoDataFrame(geometry=[one], crs="EPSG:25832") for one in (hut, spot)]
    >>> hut = siteaxo.Layer(name="hut", role="structure", source=frames[0], base=0, height=2)
    >>> note = siteaxo.Layer(name="note", role="note", source=frames[1])
    >>> spoken_of(siteaxo.Site(name="Hut", layers=[hut, note]).stack().gathered.features).tolist()
    [0, 0]
    """
    row = np.arange(len(features))
    note = features.of_role("name") == "note"
    area = np.where(note, 0.0, shapely.area(features.geometry))
    notes, hosts = np.flatnonzero(note), np.flatnonzero(area > 0)
    tree = shapely.STRtree(features.geometry[hosts])
    a, b = tree.query(features.geometry[notes], predicate="covered_by")
    largest_first = np.lexsort((hosts[b], -area[hosts[b]]))
    row[notes[a[largest_first]]] = hosts[b[largest_first]]  # the last one written stays
    return row


def _field_of(layer: Layer, field: str) -> dict[str, str] | None:
    """Value of a field by feature id; None where a layer has no such field."""
    try:
        raw = read_layer(replace(layer, material=field))
    except FieldError:
        return None
    values = raw.columns["material"]
    words = ["" if pd.isna(value) else str(value).strip() for value in values]
    return dict(zip(raw.source_id.astype(str), words, strict=True))
