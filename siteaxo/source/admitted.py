"""
What the keys of a layer may be.
"""

from __future__ import annotations

import codecs
import math
import os
from numbers import Real
from typing import Any, Final

import pyproj

from ..checks import one_of
from ..errors import CrsError, LayerError, LevelError
from ..plugins import PlugInError
from ..units import METRES_PER
from .keys import (
    ACROSS,
    COUNTS,
    EACH,
    FALLS,
    FINISHED,
    LEVELS,
    MOST_PITCH,
    NEIGHBOURS,
    OPTIONAL,
    SIZES,
    STOREYS,
    SURVEY,
    TEXTS,
    Z_WORDS,
)
from .roles import role_named, sloping_roles

_LEAST: Final = {"height": 0.0, **dict.fromkeys((*OPTIONAL, *COUNTS), 0.0)}
_ABOVE: Final = dict.fromkeys(("width", "diameter", "riser", "pitch", "bank", *STOREYS), 0.0)


def check_layer(layer: Any) -> None:
    """
    Refuse a layer with a key that is not what it should be.

    Raises
    ------
    LayerError, LevelError, CrsError
        Naming the layer, the key, its value and the remedy.
    """
    if not isinstance(layer.name, str) or not layer.name.strip():
        raise LayerError(
            f"A layer's name must be a text that is not empty, not {layer.name!r}.",
            field="name",
            value=layer.name,
        )
    _check_role(layer)
    _check_source(layer)
    for key in (*TEXTS, "table", "encoding"):
        _check_text(layer, key)
    _check_encoding(layer)
    for key in (*LEVELS, *STOREYS, *SIZES):
        _check_number_or_field(layer, key)
    _check_sources(layer)
    _check_shape(layer)
    if "below" in (layer.top, layer.height):
        raise LevelError(
            f"Layer {layer.name!r}: only the base can be 'below'.",
            layer=layer.name,
            field="top" if layer.top == "below" else "height",
            value="below",
        )
    if SURVEY in (layer.base, layer.height) or (layer.top == SURVEY and layer.role != "ground"):
        raise LevelError(
            f"Layer {layer.name!r}: only the top of ground can be 'survey'.", layer=layer.name, value=SURVEY
        )
    _check_falls(layer)
    if layer.across is not None:
        one_of(layer.across, ACROSS, f"across of layer {layer.name!r}", LayerError)
    if layer.neighbours is not None:
        one_of(layer.neighbours, NEIGHBOURS, f"neighbours of layer {layer.name!r}", LayerError)
    _check_order(layer)
    if layer.unit is not None and layer.unit not in METRES_PER:
        raise LevelError(
            f"Layer {layer.name!r}: unknown unit {layer.unit!r}; use one of {', '.join(METRES_PER)}. "
            "Convert others first, cm by dividing by 100.",
            layer=layer.name,
            field="unit",
            value=layer.unit,
        )
    if layer.crs is not None:
        declared_crs(layer)


def declared_crs(layer: Any) -> pyproj.CRS:
    """
    Return the coordinate reference system that the layer declares.

    Raises
    ------
    CrsError
        If pyproj cannot make one of it.
    """
    try:
        return pyproj.CRS.from_user_input(layer.crs)
    except (pyproj.exceptions.CRSError, RecursionError) as problem:
        raise CrsError(
            f"Layer {layer.name!r}: crs = {str(layer.crs)[:200]!r} is no known coordinate reference system "
            f"({problem}). Give a code such as 'EPSG:25832', or WKT.",
            layer=layer.name,
            field="crs",
            value=str(layer.crs)[:200],
        ) from None


def _check_role(layer: Any) -> None:
    try:
        role_named(layer.role)
    except (LayerError, PlugInError) as problem:
        raise problem.within(f"Layer {layer.name!r}", layer=layer.name) from None


def _check_source(layer: Any) -> None:
    source = layer.source
    if isinstance(source, os.PathLike) or (isinstance(source, str) and source.strip()):
        return
    if hasattr(source, "active_geometry_name"):
        return
    raise LayerError(
        f"Layer {layer.name!r}: source must be the path of a file or a GeoDataFrame, "
        f"not {type(source).__name__}.",
        layer=layer.name,
        field="source",
        value=type(source).__name__,
    )


def _check_encoding(layer: Any) -> None:
    try:
        codecs.lookup(layer.encoding or "utf-8")
    except (LookupError, ValueError):
        raise LayerError(
            f"Layer {layer.name!r}: encoding = {layer.encoding!r} is not known.",
            code="file-encoding",
            layer=layer.name,
            field="encoding",
            value=layer.encoding,
            remedy="Name one such as 'utf-8', 'cp1252' or 'iso-8859-2'.",
        ) from None


def _check_text(layer: Any, key: str) -> None:
    value = getattr(layer, key)
    if value is not None and (not isinstance(value, str) or not value):
        what = {"table": "the name of a table", "encoding": "the name of an encoding"}.get(
            key, "the name of a field"
        )
        raise LayerError(
            f"Layer {layer.name!r}: {key} must be {what}, not {value!r}.",
            layer=layer.name,
            field=key,
            value=value,
        )


def _check_number_or_field(layer: Any, key: str) -> None:
    value = getattr(layer, key)
    if value is None or (isinstance(value, str) and value):
        return
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise LevelError(
            f"Layer {layer.name!r}: {key} must be a finite number or the name of a field, not {value!r}.",
            layer=layer.name,
            field=key,
            value=value,
        )
    if value < _LEAST.get(key, -math.inf) or value <= _ABOVE.get(key, -math.inf):
        raise LevelError(
            f"Layer {layer.name!r}: {key} must not be {value:g}; give a size above zero.",
            layer=layer.name,
            field=key,
            value=value,
        )


def _check_sources(layer: Any) -> None:
    """Refuse words for Z that are unknown or out of place, and half of storeys × storey height."""
    for key in ("base_z", "top_z"):
        word = getattr(layer, key)
        if word is None:
            continue
        one_of(word, Z_WORDS, f"{key} of layer {layer.name!r}", LevelError)
        row = layer.role_row
        surface = row.slopes or row.form in ("levels", "roof")
        if word == EACH and (key == "base_z" or not surface):
            raise LevelError(
                f"Layer {layer.name!r}: {key} = 'each' is for the top of ground, terraces, surfaces, roofs "
                "and levels. Use 'min', 'mean' or 'max'.",
                layer=layer.name,
                field=key,
                value=word,
            )
    if (layer.storeys is None) != (layer.storey_height is None):
        missing = "storey_height" if layer.storey_height is None else "storeys"
        raise LevelError(
            f"Layer {layer.name!r}: storeys and storey_height make a height together. Give {missing} too.",
            layer=layer.name,
            field=missing,
        )


def _check_falls(layer: Any) -> None:
    """Refuse a fall that is half given, and roles that lie level."""
    said = [key for key in FALLS if getattr(layer, key) is not None]
    finished = FINISHED in (layer.top, layer.base, layer.height)
    if (finished or said) and (not layer.role_row.slopes or FINISHED in (layer.base, layer.height)):
        what = "top = 'finished levels'" if finished else said[0]
        raise LevelError(
            f"Layer {layer.name!r}: {what} is for the top of {', '.join(sloping_roles())}.",
            layer=layer.name,
            field="top" if finished else said[0],
        )
    missing = [key for key in (*FALLS, "top") if getattr(layer, key) is None]
    if said and missing:
        raise LevelError(
            f"Layer {layer.name!r}: a slope needs top (the level of its high side), low and fall_bearing "
            f"together. Give {' and '.join(missing)} too.",
            layer=layer.name,
            field=missing[0],
        )


def _check_shape(layer: Any) -> None:
    _check_text(layer, "shape")
    role = layer.role_row
    if layer.shape is not None and not role.words:
        raise LayerError(
            f"Layer {layer.name!r}: role {role.name!r} comes in one shape only. "
            f"Leave out shape = {layer.shape!r}.",
            layer=layer.name,
            field="shape",
            value=layer.shape,
        )
    pitch: Any = layer.pitch
    if isinstance(pitch, Real) and float(pitch) >= MOST_PITCH:
        raise LevelError(
            f"Layer {layer.name!r}: pitch must be less than {MOST_PITCH:g} degrees, not {layer.pitch!r}.",
            layer=layer.name,
            field="pitch",
            value=layer.pitch,
        )


def _check_order(layer: Any) -> None:
    numbers = [v for v in (layer.base, layer.top) if v is not None and not isinstance(v, str)]
    if len(numbers) == 2 and numbers[1] < numbers[0]:
        raise LevelError(
            f"Layer {layer.name!r}: top {numbers[1]:g} lies below base {numbers[0]:g}. Swap them.",
            layer=layer.name,
            field="top",
            value=numbers[1],
        )
