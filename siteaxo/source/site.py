"""
A site: its layers, its plane, and how it is to be drawn.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from numbers import Real
from types import MappingProxyType
from typing import Any, Final, Self

from ..checks import finite, one_of
from ..errors import LayerError, LevelError, SheetError, SiteaxoError, SiteFileError, ViewError
from ..limits import USUAL, Limits
from ..units import METRES_PER, metres_per
from .layers import Layer

VIEW_OPTIONS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "planometric": ("turn", "height_factor"),
        "isometric": ("turn", "unit_axes"),
        "dimetric": ("unit_axes",),
        "trimetric": ("turn", "tilt"),
        "cavalier": ("turn", "receding_angle"),
        "cabinet": ("turn", "receding_angle"),
    }
)
ORIENTATIONS: Final = ("landscape", "portrait", "auto")


@dataclass(frozen=True, kw_only=True)
class ViewSettings:
    """
    Which view a site is drawn in.

    Parameters
    ----------
    kind : str
        "planometric", "isometric", "dimetric", "trimetric", "cavalier" or "cabinet".
    options : mapping of str to float or bool
        What the view of that name takes, e.g. ``{"turn": 30}``; the view's own defaults
        where not given.

    Raises
    ------
    ViewError
        If the kind or an option is unknown, or a number is not finite.

    Examples
    --------
    >>> ViewSettings(kind="planometric", options={"turn": 30}).options["turn"]
    30
    """

    kind: str = "planometric"
    options: Mapping[str, float | bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        one_of(self.kind, VIEW_OPTIONS, "view", ViewError)
        for name, value in self.options.items():
            one_of(name, VIEW_OPTIONS[self.kind], f"option of the {self.kind} view", ViewError)
            if not isinstance(value, bool):
                finite(value, name, ViewError)
        object.__setattr__(self, "options", MappingProxyType(dict(self.options)))

    def __getstate__(self) -> dict[str, Any]:
        """What is copied to another process, which takes no read-only views."""
        return {**vars(self), "options": dict(self.options)}


@dataclass(frozen=True, kw_only=True)
class SheetSettings:
    """
    The sheet a site is drawn on.

    Parameters
    ----------
    size : str
        "A4" to "A0", or another size that the sheets know.
    scale : float or "fit"
        The x of 1:x; "fit" takes the largest usual scale at which the drawing fits.
    title : str, optional
        Title on the sheet; the site's name when not given.
    orientation : {"landscape", "portrait", "auto"}, optional
        How the sheet lies.
    unit : {"m", "ft", "ft-us"}, optional
        What sheets speak: levels, dimensions, scales, quantities and cautions in metres or in decimal
        feet; the unit of the site's levels when not given.

    Raises
    ------
    SheetError
        If one of these is not what it should be.

    Examples
    --------
    >>> SheetSettings(size="A2", scale="fit").scale
    'fit'
    """

    size: str = "A3"
    scale: float | str = 200
    title: str | None = None
    orientation: str | None = None
    unit: str | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.size, str) or not self.size:
            raise SheetError(
                f"sheet size must be a name such as 'A3', not {self.size!r}.", field="size", value=self.size
            )
        if self.scale != "fit":
            scale = _number(self.scale, "scale (the x of 1:x, or 'fit')", SheetError)
            if scale <= 0:
                raise SheetError(
                    f"scale must be above zero, not {self.scale!r}.", field="scale", value=self.scale
                )
        if self.title is not None and not isinstance(self.title, str):
            raise SheetError(f"title must be a text, not {self.title!r}.", field="title", value=self.title)
        if self.orientation is not None:
            one_of(self.orientation, ORIENTATIONS, "orientation", SheetError)
        if self.unit is not None:
            one_of(self.unit, METRES_PER, "unit of the sheet", SheetError)


@dataclass(frozen=True, kw_only=True, eq=False)
class SiteData:
    """
    A site as described by its author.

    Parameters
    ----------
    layers : iterable of Layer
        At least one; their names differ.
    name : str
        Name of the site.
    plane_crs : optional
        "auto", or the projected CRS in metres to draw on: anything pyproj takes.
    base_line : float or "auto"
        Direction of the plan that lies horizontal before it is turned [degrees
        clockwise from the north of the local plane, which is true north at the middle of the
        site where *plane_crs* is "auto", and else grid north]; "auto" is the longest straight
        side of the site.
    unit : {"m", "ft", "ft-us"}
        Unit of levels and sizes in layers that name none, and of sheets that name none.
    drawn_in_place : float or "lowest"
        The level that is not shifted up the sheet, in *unit*.
    contour_interval : float, optional
        Step of the contours that are drawn on sloping ground, in *unit*; none when not given.
    view : ViewSettings
        The view.
    sheet : SheetSettings
        The sheet.
    style, people, shadows, planting : optional
        What it is drawn with where a drawing does not say: as for ``Model.draw``, or tables
        with the same.
    limits : Limits
        Bounds of what is read.
    site_file : str
        Path of the site file, "" where there is none; nothing is written onto it.

    Raises
    ------
    SiteaxoError
        Of the kind that fits, if one of these is not what it should be.

    Examples
    --------
    >>> site = SiteData(layers=[Layer(name="ground", role="ground", source="g.gpkg", top=2)])
    >>> site.layer("ground").top
    2
    """

    layers: Iterable[Layer]
    name: str = "site"
    plane_crs: Any = "auto"
    base_line: float | str = "auto"
    unit: str = "m"
    drawn_in_place: float | str = "lowest"
    contour_interval: float | None = None
    view: ViewSettings = field(default_factory=ViewSettings)
    sheet: SheetSettings = field(default_factory=SheetSettings)
    style: Any = None
    people: Any = None
    shadows: Any = None
    planting: Any = None
    limits: Limits = USUAL
    site_file: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.layers, Iterable):
            kind = type(self.layers).__name__
            raise LayerError(
                f"layers must be a list of Layer objects, not {kind}.", field="layers", value=kind
            )
        object.__setattr__(self, "layers", tuple(self.layers))
        _check_layers(self.layers)
        if not isinstance(self.name, str) or not self.name.strip():
            raise SiteFileError(
                f"A site's name must be a text that is not empty, not {self.name!r}.",
                field="name",
                value=self.name,
            )
        one_of(self.unit, METRES_PER, "unit", LevelError)
        if self.base_line != "auto":
            _number(self.base_line, "base_line (degrees clockwise from grid north, or 'auto')", SiteFileError)
        if self.drawn_in_place != "lowest":
            _number(self.drawn_in_place, "drawn_in_place (a level, or 'lowest')", LevelError)
        step = self.contour_interval
        if step is not None and _number(step, "contour_interval", LevelError) <= 0:
            raise LevelError(
                f"contour_interval must be above zero, not {step!r}.", field="contour_interval", value=step
            )

    @property
    def inputs(self) -> tuple[str, ...]:
        """Paths of the files that the site is read from: onto these nothing is written."""
        sources = [layer.source for layer in self.layers if isinstance(layer.source, str | os.PathLike)]
        style = [self.style] if isinstance(self.style, os.PathLike) else []
        named = [os.fsdecode(path) for path in (*sources, *style)]
        return (*([self.site_file] if self.site_file else []), *named)

    @property
    def drawn_in_place_m(self) -> float | None:
        """The level drawn in place [m]; None for the lowest of the site."""
        if isinstance(self.drawn_in_place, str):
            return None
        return float(self.drawn_in_place) * metres_per(self.unit)

    @property
    def sheet_unit(self) -> str:
        """What sheets of the site speak: what they are asked to, or else the unit of its levels."""
        return self.sheet.unit or self.unit

    def speaking(self, unit: str) -> Self:
        """
        Return the site such that its sheets speak a unit.

        Parameters
        ----------
        unit : {"m", "ft", "ft-us"}
            As in the settings of its sheets.

        Raises
        ------
        SheetError
            If the unit is none that sheets speak.
        """
        return self if unit == self.sheet_unit else replace(self, sheet=replace(self.sheet, unit=unit))

    @property
    def contour_interval_m(self) -> float | None:
        """Step of the contours that are drawn [m]."""
        step = self.contour_interval
        return None if step is None else float(step) * metres_per(self.unit)

    def layer(self, name: str) -> Layer:
        """
        Return the layer called *name*.

        Raises
        ------
        LayerError
            If there is none; the message names the nearest.
        """
        named = {layer.name: layer for layer in self.layers}
        return named[one_of(name, named, "layer", LayerError)]


def _check_layers(layers: Iterable[Layer]) -> None:
    names: set[str] = set()
    for layer in layers:
        if not isinstance(layer, Layer):
            raise LayerError(
                f"layers must be Layer objects, not {type(layer).__name__}.",
                field="layers",
                value=type(layer).__name__,
            )
        if layer.name in names:
            raise LayerError(
                f"Two layers are called {layer.name!r}. Give each a name of its own.",
                layer=layer.name,
                field="name",
                value=layer.name,
            )
        names.add(layer.name)
    if not names:
        raise LayerError("A site needs at least one layer.", field="layers")


def _number(value: object, name: str, error: type[SiteaxoError]) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise error(f"{name} must be a finite number, not {value!r}.", field=name.split(" (")[0], value=value)
    return float(value)
