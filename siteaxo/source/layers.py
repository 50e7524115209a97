"""
What a layer is: one table of site features with one role, and where its levels are.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .admitted import check_layer
from .keys import LEVELS, SIZES, STOREYS, TEXTS, WORDS
from .roles import Role, role_named
from .shown import layer_features, layer_text

if TYPE_CHECKING:
    import geopandas


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
        *base* may be "below": the features stand on what is under them; hedges and walls
        rise and fall with what slopes, as high all along. *top* of ground
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
    neighbours : {"joined", "apart"}, optional
        Whether a line shows where two features of one role and material meet in one plane, as
        equal roofs of neighbours do: none where they are joined, as when not given.
    storeys, storey_height : float or str, optional
        Number of storeys and height of one, which make a height where no field gives it:
        a number, or the name of a field.
    bank : float or str, optional
        Run of the banks around a feature for one of rise, where it stands in sloping
        ground: 2 is a bank of 1 in 2. They meet the top of surfaces, and the floor of what
        is built, and end upright at the edge of another terrace. Without it, or where the
        field is empty, the ground is cut upright.
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
        "gable", "hip". Trees: "round", "conical", "columnar", "spreading", "palm", "shrub", or the
        plan symbol of a plug-in. Rails: "bars", "panel".
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
    >>> trees = Layer(name="trees", role="tree", source="trees.shp", height="h", diameter=4)
    >>> list(trees.field_uses()), trees.role_row.theme
    ([('height', 'h')], 'planting')
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
    neighbours: str | None = None
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
        check_layer(self)

    def __repr__(self) -> str:
        return layer_text(self)

    @property
    def __geo_interface__(self) -> dict[str, Any]:
        """The features that the layer was given, as GeoJSON, in longitude and latitude."""
        return layer_features(self)

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
        if self.shape is not None and self.shape not in self.role_row.words:
            yield "shape", self.shape


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
