"""
How much a file holds, by what its reader says and by what came of it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import shapely

from ..errors import FieldError, GeometryError, LayerError, LimitError, some_ids
from ..limits import Limits
from ..saying import having
from .careful import Table
from .decode import NOT_FINITE
from .files import DRIVERS
from .layers import Layer
from .tablefile import TableFile

_CUT: Final = re.compile(r"Value '(.*)' of field (?:.*\.)?(\S+) parsed incompletely")


def checked_info(info: dict[str, Any], file: TableFile, layer: Layer, limits: Limits) -> int:
    """Check what the reader says of a file before its records are read; how many it has to bring."""
    if info["driver"] != DRIVERS[file.kind]:
        raise LayerError(
            f"Layer {layer.name!r}: {file.name} is called a {file.kind} and read as {info['driver']}.",
            code="file-kind",
            layer=layer.name,
            value=file.name,
            remedy="Export it anew.",
        )
    announced = max(int(info["features"] if file.count is None else file.count), 0)
    limits.check("records", announced, what="it has too many records", layer=layer.name)
    twice = {name for name, count in Counter(info["fields"]).items() if count > 1} & set(layer.fields)
    if twice:
        raise FieldError(
            f"Layer {layer.name!r}: {file.name} has the field {min(twice)!r} more than once.",
            code="field-twice",
            layer=layer.name,
            field=min(twice),
            remedy="Rename one of them.",
        )
    return announced


def check_count(found: int, announced: int, file: TableFile, layer: Layer) -> None:
    """
    Refuse a reading that brought fewer records than the file holds.

    Raises
    ------
    LayerError
        If records are lost.
    """
    if found < announced:
        raise LayerError(
            f"Layer {layer.name!r}: {announced - found} of the {announced} records of {file.name} are lost.",
            code="records-lost",
            layer=layer.name,
            value=announced - found,
            remedy="Mend it or export it anew.",
        )


def check_cut(notes: Iterable[str], wanted: set[str], file: TableFile, layer: Layer) -> None:
    """
    Refuse numbers of which the reader took a part.

    What describes a GML file beside it may say that a field holds whole numbers, where it holds
    others. In a shapefile such texts are found, and read as texts.

    Raises
    ------
    FieldError
        If it did so in a wanted field.
    """
    if file.kind != "GML":
        return
    for value, field in (found.groups() for found in map(_CUT.search, notes) if found):
        if field in wanted:
            raise FieldError(
                f"Layer {layer.name!r}: field {field!r} of {file.name} holds {value!r}; a part is read.",
                code="number-cut",
                layer=layer.name,
                field=field,
                value=value,
                remedy="Take away the .xsd or .gfs beside it that says otherwise, or export it anew.",
            )


def check_amounts(table: Table, layer: Layer, limits: Limits) -> None:
    """Refuse more records and vertices than the limits allow."""
    limits.check("records", len(table.fid), what="it has too many records", layer=layer.name)
    vertices = shapely.get_num_coordinates(table.geometry)
    limits.check("vertices", int(vertices.sum()), what="it has too many vertices", layer=layer.name)
    row = int(vertices.argmax()) if len(vertices) else 0
    if len(vertices) and vertices[row] > limits.ring_vertices:
        try:
            what = f"feature {table.fid[row]} has too many vertices"
            limits.check("ring_vertices", int(vertices[row]), what=what, layer=layer.name)
        except LimitError as problem:
            problem.source_ids = (str(table.fid[row]),)
            raise


def check_decoded(layer: Layer, fid: np.ndarray, reasons: dict[int, str]) -> None:
    ids = [fid[row] for row, reason in reasons.items() if reason == NOT_FINITE]
    if ids:
        raise GeometryError(
            f"Layer {layer.name!r}: {having(len(ids), 'feature')} coordinates that are not finite numbers "
            f"(ids {some_ids(ids)}).",
            code="not-finite",
            layer=layer.name,
            source_ids=ids,
            remedy="Mend or drop these features.",
        )
