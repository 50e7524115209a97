"""
The Features table: what the reading of a site hands to the making of solids.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from .roles import Role

_PLANE: Final = ("slope_x", "slope_y", "high_x", "high_y")  # all 0 where a top lies level


@dataclass(frozen=True)
class LayerKey:
    """
    What features know of their layer, in the order of the site.

    Parameters
    ----------
    name : str
        Its name.
    role : Role
        Its role.
    across : str
        What becomes of features across terraces, "" where that is not said.
    apart : bool
        Whether a line shows between neighbours in one plane.
    """

    name: str
    role: Role
    across: str = ""
    apart: bool = False


@dataclass(frozen=True, kw_only=True)
class Features:
    """
    Every feature of a site, one row per single-part geometry, as arrays of length n.

    Parameters
    ----------
    layers : tuple of LayerKey
        The site's layers.
    layer : ndarray of int, shape (n,)
        Index into *layers*.
    source_id : ndarray of object, shape (n,)
        The feature's id in its own file, as text; parts of one feature share it.
    geometry : ndarray of object, shape (n,)
        Point, LineString or Polygon, 2D, finite and valid, in the local plane [m].
    base, top, height : ndarray of float, shape (n,)
        Levels and height [m]; NaN where not given. Height is filled where base and
        top are known.
    below : ndarray of bool, shape (n,)
        The base is to be taken from what the feature stands on.
    base_from, top_from : ndarray of object, shape (n,)
        Where each level came from: "field foot_lvl", "number", "" where still open.
    width, diameter, clear_stem : ndarray of float, shape (n,)
        Width of a centre line, crown diameter, height of the clear stem [m]; NaN
        where not given.
    riser, cheek, landing : ndarray of float, shape (n,)
        Steps and ramps: preferred riser, width of the cheek walls, length of landings
        [m]; NaN where not given.
    posts, beams : ndarray of float, shape (n,)
        Greatest spacing of the posts of rails and canopies, and of the beams of canopies
        [m]; NaN where not given.
    rim, drop, parapet : ndarray of float, shape (n,)
        Width of a planter's rim, how far soil lies below its rim or water below what it
        lies in, height of a flat roof's parapet [m]; NaN where not given.
    pitch : ndarray of float, shape (n,)
        Pitch of a roof [degrees]; NaN where not given.
    shape : ndarray of object, shape (n,)
        Word for the shape, one of the role's ``shapes``; "" where not given.
    material : ndarray of object, shape (n,)
        Name of the material, "" where not given.
    bank : ndarray of float, shape (n,)
        Run of the banks around it for one of rise [-]; NaN where the ground is cut upright.
    density, flow : ndarray of float, shape (n,)
        People in an area of theirs [1/m²], and who pass along a path [1/h]; NaN where not
        given.
    geometry_z : ndarray of object, shape (n,)
        The geometry with its own Z [m], where that is its level; None elsewhere.
    low : ndarray of float, shape (n,)
        Level of the low side of what slopes [m]; NaN where not given.
    fall_bearing : ndarray of float, shape (n,)
        The way it falls [degrees clockwise from grid north]; NaN where not given.
    slope_x, slope_y : ndarray of float, shape (n,)
        Rise of its top per metre east and north [-]; 0 where it lies level.
    high_x, high_y : ndarray of float, shape (n,)
        Where a sloping top reaches the level *top* [m].
    """

    layers: tuple[LayerKey, ...]
    layer: np.ndarray
    source_id: np.ndarray
    geometry: np.ndarray
    base: np.ndarray
    top: np.ndarray
    height: np.ndarray
    below: np.ndarray
    base_from: np.ndarray
    top_from: np.ndarray
    width: np.ndarray
    diameter: np.ndarray
    clear_stem: np.ndarray
    riser: np.ndarray
    cheek: np.ndarray
    landing: np.ndarray
    posts: np.ndarray
    beams: np.ndarray
    rim: np.ndarray
    drop: np.ndarray
    parapet: np.ndarray
    pitch: np.ndarray
    shape: np.ndarray
    material: np.ndarray
    bank: np.ndarray = None  # type: ignore[assignment]
    density: np.ndarray = None  # type: ignore[assignment]
    flow: np.ndarray = None  # type: ignore[assignment]
    geometry_z: np.ndarray = None  # type: ignore[assignment]
    low: np.ndarray = None  # type: ignore[assignment]
    fall_bearing: np.ndarray = None  # type: ignore[assignment]
    slope_x: np.ndarray = None  # type: ignore[assignment]
    slope_y: np.ndarray = None  # type: ignore[assignment]
    high_x: np.ndarray = None  # type: ignore[assignment]
    high_y: np.ndarray = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        for name in ("bank", "density", "flow", "low", "fall_bearing", *_PLANE):
            if getattr(self, name) is None:
                nothing = 0.0 if name in _PLANE else np.nan
                object.__setattr__(self, name, np.full(len(self.layer), nothing))
        if self.geometry_z is None:
            object.__setattr__(self, "geometry_z", np.full(len(self.layer), None, dtype=object))

    def __len__(self) -> int:
        return len(self.layer)

    @property
    def order(self) -> np.ndarray:
        """Stacking order of each feature's role, shape (n,)."""
        per_layer = np.array([key.role.order for key in self.layers], dtype=np.int64)
        return per_layer[self.layer]

    @property
    def first_part(self) -> np.ndarray:
        """Row of the first part of each feature, whose parts follow one another, shape (n,)."""
        again = np.zeros(len(self), dtype=bool)
        again[1:] = (self.layer[1:] == self.layer[:-1]) & (self.source_id[1:] == self.source_id[:-1])
        return np.flatnonzero(~again)[np.cumsum(~again) - 1]

    def of_role(self, attribute: str) -> np.ndarray:
        """One attribute of each feature's role, e.g. ``"supports"``, shape (n,)."""
        per_layer = np.array([getattr(key.role, attribute) for key in self.layers])
        return per_layer[self.layer]

    def name_of(self, row: int) -> str:
        """Say which feature row *row* is, for messages."""
        return f"layer {self.layers[self.layer[row]].name!r}, feature {self.source_id[row]}"

    def take(self, rows: np.ndarray) -> Features:
        """Return some of the features, in the order given."""
        names = [name for name in self.__dataclass_fields__ if name != "layers"]
        return replace(self, **{name: getattr(self, name)[rows] for name in names})

    def with_columns(self, **columns: np.ndarray | tuple[LayerKey, ...]) -> Features:
        """Return a copy with some columns, or the layers, replaced."""
        return replace(self, **columns)  # type: ignore[arg-type]
