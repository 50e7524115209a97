"""
Kinds of things that siteaxo holds in memory: each is made of the path of a file, or is what it is.

Whatever can be made of a lesser thing is: a model of a site, a drawing of a model.
"""

from __future__ import annotations

import functools
import io
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import geopandas
import pandas as pd

from ..checks import regular_bytes
from ..errors import InputError, SiteaxoError
from ..limits import MB, USUAL
from ..source.layers import Layer, known_keys
from ..source.wholes import read_whole
from ..verbs.drawings import Diagram
from ..verbs.models import Model
from ..verbs.sites import Site, read_site
from ..view.projection import View
from .kinds import Kind, brief

_TOML: Final = {"type": "string", "format": "uri-reference", "contentMediaType": "application/toml"}
_GPKG: Final = "application/geopackage+sqlite3"


@functools.cache
def things() -> Mapping[type, Kind]:
    """Return the kinds of classes, the more special before the more general."""
    features = {
        "oneOf": [
            {"type": "object", "format": "geojson-feature-collection"},
            {"type": "string", "format": "uri-reference", "contentMediaType": _GPKG},
        ]
    }
    rows = {"type": "string", "format": "uri-reference", "contentMediaType": "text/csv"}
    drawing = {"type": "string", "format": "uri-reference", "contentMediaType": _GPKG}
    return {
        geopandas.GeoDataFrame: Kind(name="features", schema=features, convert=as_features),
        pd.DataFrame: Kind(name="rows", schema=rows, convert=as_rows),
        Site: Kind(name="site", schema=_TOML, convert=as_site),
        Model: Kind(name="model", schema=_TOML, convert=as_model),
        Diagram: Kind(name="drawing", schema=drawing, convert=as_diagram),
        Layer: Kind(name="layer", schema={"type": "object"}, convert=as_layer),
        View: Kind(name="view", schema={"type": "object"}, convert=_same(View, "view")),
    }


def as_features(value: Any) -> geopandas.GeoDataFrame:
    """A GeoDataFrame: given, or in GeoJSON, or in a file."""
    if isinstance(value, geopandas.GeoDataFrame):
        return value
    if isinstance(value, Mapping) and "features" in value:
        return geopandas.GeoDataFrame.from_features(value, crs="OGC:CRS84")
    if hasattr(value, "__geo_interface__"):
        return geopandas.GeoDataFrame.from_features(value)
    if isinstance(value, str | os.PathLike):
        with _as_input():
            return read_whole(value)
    raise InputError(
        f"must be features (a GeoDataFrame, GeoJSON, or the path of a file), not {brief(value)}", value=value
    )


def as_rows(value: Any) -> pd.DataFrame:
    """A table: given, or in a CSV file."""
    if isinstance(value, pd.DataFrame):
        return value
    if isinstance(value, str | os.PathLike):
        with _as_input():
            content = regular_bytes(value, InputError, what="table", most=int(USUAL.file_mb * MB))
        try:
            return pd.read_csv(io.BytesIO(content))
        except (ValueError, pd.errors.ParserError) as problem:
            raise InputError(
                f"is no table of comma-separated values: {problem}".rstrip(".\n"), value=value
            ) from None
    raise InputError(
        f"must be rows (a DataFrame, or the path of a CSV file), not {brief(value)}", value=value
    )


def as_site(value: Any) -> Site:
    """A site: given, or in a site file."""
    if isinstance(value, Site):
        return value
    if isinstance(value, str | os.PathLike):
        with _as_input():
            return read_site(value)
    raise InputError(f"must be a site (a Site, or the path of a site file), not {brief(value)}", value=value)


def as_model(value: Any) -> Model:
    """A model: given, or stacked of a site."""
    return value if isinstance(value, Model) else as_site(value).stack()


def as_diagram(value: Any) -> Diagram:
    """A drawing: given, or drawn of a model or a site as the site asks for."""
    return value if isinstance(value, Diagram) else as_model(value).draw()


def as_layer(value: Any) -> Layer:
    """A layer: given, or a table with the keys of a layer in a site file."""
    if isinstance(value, Layer):
        return value
    if not isinstance(value, Mapping):
        raise InputError(
            f"must be a layer (a Layer, or a table with its keys), not {brief(value)}", value=value
        )
    unknown = [key for key in value if key not in known_keys()]
    if unknown:
        raise InputError(f"has the unknown key {unknown[0]!r}", field=unknown[0])
    try:
        return Layer(**value)
    except SiteaxoError as problem:
        raise problem.saying(f"is no layer: {problem}".rstrip("."), kind=InputError) from None
    except TypeError as problem:
        raise InputError(f"is no layer: {problem}".rstrip("."), value=value) from None


@contextmanager
def _as_input() -> Iterator[None]:
    """Tell what is wrong with a file as what is wrong with the input that names it."""
    try:
        yield
    except SiteaxoError as problem:
        raise problem.saying(str(problem).rstrip("."), kind=InputError) from None


def _same(cls: type, name: str) -> Any:
    def convert(value: Any) -> Any:
        if not isinstance(value, cls):
            raise InputError(f"must be a {name}, not {brief(value)}", value=value)
        return value

    return convert
