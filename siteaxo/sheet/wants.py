"""
What a sheet shows, and where on it drawings lie.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from .beside import beside_mm
from .callouts import Label
from .cautioned import cautioned_mm
from .dimensions import ROOM_MM, overall_dimensions
from .noticed import noticed_mm
from .page import Bounds, Placement
from .placement import place


@dataclass(frozen=True, kw_only=True)
class Wants:
    """
    What a sheet shows beside the drawing itself.

    Parameters
    ----------
    hidden : bool
        Hidden lines, dashed.
    levels : bool
        Marks of levels and slopes.
    dimensions : bool
        Overall dimensions along the base line, across it and in height.
    labels : tuple of Label
        Call-outs.

    Examples
    --------
    >>> Wants(dimensions=True).room_mm > Wants().room_mm
    True
    """

    hidden: bool = False
    levels: bool = True
    dimensions: bool = False
    labels: tuple[Label, ...] = ()

    @property
    def room_mm(self) -> float:
        """Room needed around the drawing [mm]."""
        return ROOM_MM if self.dimensions else 0.0


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One of several drawings on a sheet, its style and what is written under it."""

    diagram: DiagramLayers
    style: Style
    caption: str


def speaking(diagram: DiagramLayers, unit: str) -> DiagramLayers:
    """Return a drawing such that sheets of it speak a unit; its captions keep theirs, and say it."""
    return diagram if diagram.unit == unit else replace(diagram, unit=unit)


def set_out(
    diagram: DiagramLayers, wants: Wants, *, sheet: str, scale: float | str, orientation: str
) -> Placement:
    """
    Find where on its sheet a drawing lies, and at which scale.

    Parameters and errors are those of :func:`siteaxo.sheet.figure.make_figure`.
    """
    return place(
        extent_of(diagram, wants),
        sheet=sheet,
        scale=scale,
        orientation=orientation,
        room_mm=wants.room_mm,
        beside_mm=beside_mm(diagram, sheet) + noticed_mm(diagram, sheet) + cautioned_mm(diagram, sheet),
        unit=diagram.unit,
    )


def extent_of(diagram: DiagramLayers, wants: Wants) -> Bounds:
    """Page box of a drawing with what is measured on it: left, bottom, right, top [m]."""
    left, bottom, right, top = diagram.bounds
    if not wants.dimensions:
        return (left, bottom, right, top)
    ends = [one.ends for one in overall_dimensions(diagram)]
    low = np.min([(left, bottom), *(one.min(axis=0) for one in ends)], axis=0)
    high = np.max([(right, top), *(one.max(axis=0) for one in ends)], axis=0)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
