"""
Columns made into tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from operator import attrgetter
from typing import Any, Final, TypeVar

import geopandas
import numpy as np
import pandas as pd

from ..errors import Finding
from .layers import EXTRA_COLUMNS, FINDING_COLUMNS, DiagramLayers

D = TypeVar("D", bound=DiagramLayers)
MOST_LINES: Final = 60  # of findings that are shown in words


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
    return FindingRows(pd.DataFrame(rows, columns=list(FINDING_COLUMNS), dtype=object))


def more_findings(table: pd.DataFrame, findings: Sequence[Finding]) -> pd.DataFrame:
    """
    Return a table of findings with more of them at its end, or the table itself where there are none.

    Examples
    --------
    >>> one = Finding(severity="info", code="split", message="")
    >>> len(more_findings(findings_table([one]), [one]))
    2
    """
    if not findings:
        return table
    return FindingRows(pd.concat([pd.DataFrame(table), findings_table(findings)], ignore_index=True))


class _Read:
    """Tables of findings in words: one line for each, the whole message in notebooks."""

    columns: Any

    def __repr__(self) -> str:
        if not {*FINDING_COLUMNS} <= {*self.columns}:
            return super().__repr__()
        lines = finding_lines(self)
        more = [f"and {len(lines) - MOST_LINES} more"] if len(lines) > MOST_LINES else []
        return "\n".join([*lines[:MOST_LINES], *more]) or "no findings"

    def _repr_html_(self) -> str:
        if not {*FINDING_COLUMNS} <= {*self.columns}:
            return str(super()._repr_html_())  # type: ignore[misc]
        shown = pd.DataFrame({name: self[name] for name in FINDING_COLUMNS})  # type: ignore[index]
        with pd.option_context("display.max_colwidth", None):
            return str(shown.to_html(index=False))


class FindingRows(_Read, pd.DataFrame):
    """A table of findings."""


class PlacedFindings(_Read, geopandas.GeoDataFrame):
    """A table of findings with their places."""


def finding_lines(findings: Any) -> list[str]:
    """
    Put each row of a table of findings into a line.

    Examples
    --------
    >>> found = Finding(severity="info", code="split", layer="lawns", source_id="7", message="It is split.")
    >>> finding_lines(findings_table([found]))
    ['info [split] lawns, 7: It is split.']
    """
    columns = (findings[name] for name in ("severity", "code", "layer", "source_id", "field", "message"))
    lines = []
    for severity, code, *place, message in zip(*columns, strict=True):
        where = ", ".join(str(part) for part in place if part)
        lines.append(f"{severity} [{code}] {where}{': ' if where else ''}{message}")
    return lines
