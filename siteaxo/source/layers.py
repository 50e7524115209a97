"""
What a layer is: one table of site features with one role, and where its levels are.
"""

from __future__ import annotations

import codecs
import math
import os
from collections.abc import Iterator
from dataclasses import dataclass
from numbers import Real
from typing import TYPE_CHECKING, Any, Final

import pyproj

from ..checks import one_of
from ..errors import CrsError, LayerError, LevelError
from ..units import METRES_PER
from .roles import Role, role_named, sloping_roles
from .shown import layer_text

if TYPE_CHECKING:
    import geopandas

LEVELS: Final = ("base", "top", "height")
ANGLES: Final = ("pitch",)  # in degrees, whatever the unit
COUNTS: Final = ("density", "flow")  # of people, whatever the unit
OPTIONAL: Final = ("clear_stem", "cheek", "landing", "posts", "beams", "rim", "drop", "parapet")  # 0: none
MOST_PITCH: Final = 85.0  # a steeper roof is a wall [degrees]
RATIOS: Final = ("bank", *COUNTS)  # run for one of rise, and counts, whatever the unit
FALLS: Final = ("low", "fall_bearing")  # of any sign: the level of the low side, and the way down to it
SIZES: Final = ("width", "diameter", "riser", *OPTIONAL, *ANGLES, *RATIOS, *FALLS)
STOREYS: Final = ("storeys", "storey_height")
EACH: Final = "each"
SURVEY: Final = "survey"
FINISHED: Final = "finished levels"
WORDS: Final = {"base": ("below",), "top": (SURVEY, FINISHED)}  # beside a number or the name of a field
ACROSS: Final = ("split", "whole")
Z_WORDS: Final = ("min", "mean", "max", EACH)
TEXTS: Final = ("id", "material")
_LEAST: Final = {"height": 0.0, **dict.fromkeys((*OPTIONAL, *COUNTS), 0.0)}
_ABOVE: Final = dict.fromkeys(("width", "diameter", "riser", "pitch", "bank", *STOREYS), 0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Layer:
    """
    One vector table of site features with one role.

    Every number here, and every number in the fields named here, is in the layer's
    *unit*; a text with a unit of its own ("12.5 ft") keeps that.

    Parameters
    ----------
    name : str
        Name of the layer in findings, drawings and tables.
    role : str
        What its features are: "terrace", "deck", "tree", ...
    source : path or geopandas.GeoDataFrame
        A file on disk (.shp, .gpkg, .geojson, .fgb, .gml, or a .zip of shapefiles), or
        the features themselves.
    table : str, optional
        Table inside the file; needed where it has several.
    encoding : str, optional
        What the texts of a shapefile are written in, where it does not rightly say so itself.
    crs : optional
        Coordinate reference system, where the source has none: anything pyproj takes.
    id : str, optional
        Field with the feature's own id; the FID or the index when not given.
    base, top, height : float or str, optional
        Absolute levels, and height above the base: a number, or the name of a field.
        *base* may be "below": the features stand on what is under them. *top* of ground
        may be "survey": the surface of contours, breaklines and spot levels. *top* of
        terraces, lawns, paving, paths and decks may be "finished levels": the plane
        through the features of that role which lie on them.
    low, fall_bearing : float or str, optional
        Terraces, lawns, paving, paths and decks that slope: the level of their low side,
        where *top* is that of the high one, and the way they fall [degrees clockwise from
        grid north of the layer's CRS]; a number, or a field.
    base_z, top_z : {"min", "mean", "max", "each"}, optional
        Which of a feature's own Z a level is where no field gives it. "each" is for the
        top of what is given as a surface: every vertex of ground, and of roof planes, keeps
        its own; terraces, lawns, paving, paths and decks are the plane through theirs.
    across : {"split", "whole"}, optional
        What becomes of features with base = "below" that reach across terraces: split along
        the terraces' edges, each piece on its own, or whole on the highest. When not given,
        lawns, paving and paths are split, and the rest stands on what carries most of it.
    storeys, storey_height : float or str, optional
        Number of storeys and height of one, which make a height where no field gives it:
        a number, or the name of a field.
    bank : float or str, optional
        Run of the banks around a feature for one of rise, where it stands in sloping
        ground: 2 is a bank of 1 in 2. Without it the ground is cut upright.
    unit : {"m", "ft", "ft-us"}, optional
        Unit of the levels and sizes; the site's when not given.
    width, diameter, clear_stem : float or str, optional
        Width of centre lines, diameter of crowns, height of clear stems: a number, or
        the name of a field.
    riser, cheek, landing : float or str, optional
        Steps and ramps: the riser to aim for (0.15 m when not given), the width of cheek
        walls inside the footprint, and the length of landings; a number, or a field.
    posts, beams : float or str, optional
        Greatest spacing of the posts of rails (1.5 m when not given) and of canopies,
        and of the beams that make a canopy a pergola; a number, or a field.
    rim, drop, parapet : float or str, optional
        Width of a planter's rim, and how far its soil lies below it (0.1 m and 0.05 m
        where only the other is given; a planter with neither is a block) or water below
        what it is let into, and height of a flat roof's parapet; a number, or a field.
    pitch : float or str, optional
        Pitch of a roof, where its ridge has no level [degrees]; a number, or a field.
    density, flow : float or str, optional
        People shown: how many for a square metre of an area of role "people", and how
        many pass along a path in an hour; what the drawing asks for when not given; a
        number, or a field. 0 shows none.
    shape : str, optional
        One of the role's words, or the field that holds them. Roofs: "flat", "shed",
        "gable", "hip". Trees: "round", "conical", "columnar", "spreading". Rails: "bars", "panel".
    material : str, optional
        Field with the name of the material.

    Raises
    ------
    LayerError, LevelError, CrsError
        If any of these is not what it should be.

    Examples
    --------
    >>> layer = Layer(name="decks", role="deck", source="decks.shp", base="below", height=0.45)
    >>> layer.fields
    ()
    """

    name: str
    role: str
    source: str | os.PathLike[str] | geopandas.GeoDataFrame
    table: str | None = None
    encoding: str | None = None
    crs: Any = None
    id: str | None = None
    base: float | str | None = None
    top: float | str | None = None
    height: float | str | None = None
    base_z: str | None = None
    top_z: str | None = None
    low: float | str | None = None
    fall_bearing: float | str | None = None
    across: str | None = None
    storeys: float | str | None = None
    storey_height: float | str | None = None
    unit: str | None = None
    width: float | str | None = None
    diameter: float | str | None = None
    clear_stem: float | str | None = None
    riser: float | str | None = None
    cheek: float | str | None = None
    landing: float | str | None = None
    posts: float | str | None = None
    beams: float | str | None = None
    rim: float | str | None = None
    drop: float | str | None = None
    parapet: float | str | None = None
    pitch: float | str | None = None
    bank: float | str | None = None
    density: float | str | None = None
    flow: float | str | None = None
    shape: str | None = None
    material: str | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise LayerError(f"A layer's name must be a text that is not empty, not {self.name!r}.")
        _check_role(self)
        _check_source(self)
        for key in (*TEXTS, "table", "encoding"):
            _check_text(self, key)
        _check_encoding(self)
        for key in (*LEVELS, *STOREYS, *SIZES):
            _check_number_or_field(self, key)
        _check_sources(self)
        _check_shape(self)
        if "below" in (self.top, self.height):
            raise LevelError(f"Layer {self.name!r}: only the base can be 'below'.")
        if SURVEY in (self.base, self.height) or (self.top == SURVEY and self.role != "ground"):
            raise LevelError(f"Layer {self.name!r}: only the top of ground can be 'survey'.")
        _check_falls(self)
        if self.across is not None:
            one_of(self.across, ACROSS, f"across of layer {self.name!r}", LayerError)
        _check_order(self)
        if self.unit is not None and self.unit not in METRES_PER:
            raise LevelError(
                f"Layer {self.name!r}: unknown unit {self.unit!r}; use one of {', '.join(METRES_PER)}."
            )
        if self.crs is not None:
            declared_crs(self)

    def __repr__(self) -> str:
        return layer_text(self)

    @property
    def role_row(self) -> Role:
        """The layer's row of the role table."""
        return role_named(self.role)

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields that the layer takes something from, each once."""
        return tuple(dict.fromkeys(name for _, name in self.field_uses()))

    def field_uses(self) -> Iterator[tuple[str, str]]:
        """What is taken from which field, as pairs such as ``("base", "foot_lvl")``."""
        for key in (*TEXTS, *LEVELS, *STOREYS, *SIZES):
            value = getattr(self, key)
            if isinstance(value, str) and value not in WORDS.get(key, ()):
                yield key, value
        if self.shape is not None and self.shape not in self.role_row.shapes:
            yield "shape", self.shape


def declared_crs(layer: Layer) -> pyproj.CRS:
    """
    Return the coordinate reference system that the layer declares.

    Raises
    ------
    CrsError
        If pyproj cannot make one of it.
    """
    try:
        return pyproj.CRS.from_user_input(layer.crs)
    except pyproj.exceptions.CRSError as problem:
        raise CrsError(
            f"Layer {layer.name!r}: crs = {layer.crs!r} is no known coordinate reference system "
            f"({problem}). Give a code such as 'EPSG:25832', or WKT."
        ) from None


def _check_role(layer: Layer) -> None:
    try:
        role_named(layer.role)
    except LayerError as problem:
        raise LayerError(f"Layer {layer.name!r}: {problem}") from None


def _check_source(layer: Layer) -> None:
    source = layer.source
    if isinstance(source, os.PathLike) or (isinstance(source, str) and source.strip()):
        return
    if hasattr(source, "active_geometry_name"):
        return
    raise LayerError(
        f"Layer {layer.name!r}: source must be the path of a file or a GeoDataFrame, "
        f"not {type(source).__name__}."
    )


def _check_encoding(layer: Layer) -> None:
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


def _check_text(layer: Layer, key: str) -> None:
    value = getattr(layer, key)
    if value is not None and (not isinstance(value, str) or not value):
        what = {"table": "the name of a table", "encoding": "the name of an encoding"}.get(
            key, "the name of a field"
        )
        raise LayerError(f"Layer {layer.name!r}: {key} must be {what}, not {value!r}.")


def _check_number_or_field(layer: Layer, key: str) -> None:
    value = getattr(layer, key)
    if value is None or (isinstance(value, str) and value):
        return
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise LevelError(
            f"Layer {layer.name!r}: {key} must be a finite number or the name of a field, not {value!r}."
        )
    if value < _LEAST.get(key, -math.inf) or value <= _ABOVE.get(key, -math.inf):
        raise LevelError(f"Layer {layer.name!r}: {key} must not be {value:g}; give a size above zero.")


def _check_sources(layer: Layer) -> None:
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
                "and levels. Use 'min', 'mean' or 'max'."
            )
    if (layer.storeys is None) != (layer.storey_height is None):
        missing = "storey_height" if layer.storey_height is None else "storeys"
        raise LevelError(
            f"Layer {layer.name!r}: storeys and storey_height make a height together. Give {missing} too."
        )


def _check_falls(layer: Layer) -> None:
    """Refuse a fall that is half given, and roles that lie level."""
    said = [key for key in FALLS if getattr(layer, key) is not None]
    finished = FINISHED in (layer.top, layer.base, layer.height)
    if (finished or said) and (not layer.role_row.slopes or FINISHED in (layer.base, layer.height)):
        what = "top = 'finished levels'" if finished else said[0]
        raise LevelError(f"Layer {layer.name!r}: {what} is for the top of {', '.join(sloping_roles())}.")
    missing = [key for key in (*FALLS, "top") if getattr(layer, key) is None]
    if said and missing:
        raise LevelError(
            f"Layer {layer.name!r}: a slope needs top (the level of its high side), low and fall_bearing "
            f"together. Give {' and '.join(missing)} too."
        )


def _check_shape(layer: Layer) -> None:
    _check_text(layer, "shape")
    role = layer.role_row
    if layer.shape is not None and not role.shapes:
        raise LayerError(
            f"Layer {layer.name!r}: role {role.name!r} comes in one shape only. "
            f"Leave out shape = {layer.shape!r}."
        )
    if isinstance(layer.pitch, Real) and layer.pitch >= MOST_PITCH:
        raise LevelError(
            f"Layer {layer.name!r}: pitch must be less than {MOST_PITCH:g} degrees, not {layer.pitch!r}."
        )


def _check_order(layer: Layer) -> None:
    numbers = [v for v in (layer.base, layer.top) if v is not None and not isinstance(v, str)]
    if len(numbers) == 2 and numbers[1] < numbers[0]:
        raise LevelError(
            f"Layer {layer.name!r}: top {numbers[1]:g} lies below base {numbers[0]:g}. Swap them."
        )


def in_words(layer: Layer, key: str) -> str:
    """
    Say where a value of the layer comes from: "field foot_lvl", "number", or "".

    Examples
    --------
    >>> layer = Layer(name="lawns", role="lawn", source="lawns.shp", top="lvl", height=0.1)
    >>> in_words(layer, "top"), in_words(layer, "height"), in_words(layer, "base")
    ('field lvl', 'number', '')
    """
    value = getattr(layer, key)
    if value is None or value in WORDS.get(key, ()):
        return ""
    return f"field {value}" if isinstance(value, str) else "number"


def known_keys() -> tuple[str, ...]:
    """Keys a layer has in a site file, in their order."""
    return tuple(Layer.__dataclass_fields__)
