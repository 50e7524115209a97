"""
What of paved features is open to the sky, and how many units they are paved with.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..craft.counting import feature_units
from ..craft.style import Style
from ..solids.faces import take
from ..solids.stack import Stack
from ..view.overlay import careful
from ..view.projection import planometric
from ..view.study import look_from
from .grouping import united

PAVED: Final = ("paving", "path", "ramp", "steps")
"""Roles whose surface is counted in paving units where their material has any."""
LIFTED: Final = ("canopy", "roof", "tree", "rail")
"""Forms that are lifted off before what is open to the sky is measured."""


@dataclass(frozen=True, kw_only=True)
class Open:
    """
    What is open to the sky once what is overhead is lifted off.

    Parameters
    ----------
    area : ndarray, shape (n,)
        Of each feature in plan [m²]; all of roofs and canopies, 0 for trees and rails.
    paved : ndarray of Polygon or MultiPolygon, shape (n,)
        The same of paved features in plan; empty for all others.
    row : ndarray of int, shape (k,)
        The feature of each piece.
    piece : ndarray of Polygon or MultiPolygon, shape (k,)
        Pieces in plan [m].
    """

    area: np.ndarray
    paved: np.ndarray
    row: np.ndarray
    piece: np.ndarray

    def within(self, footprint: np.ndarray, home: np.ndarray) -> np.ndarray:
        """
        Areas of features that lie within the footprint of the feature each belongs to.

        Parameters
        ----------
        footprint : ndarray of object, shape (n,)
            Footprints [m].
        home : ndarray of int, shape (n,)
            Rows; -1 for none, which lies within nothing.

        Returns
        -------
        ndarray, shape (n,)
            [m²].
        """
        at = np.flatnonzero(home[self.row] >= 0)
        row = self.row[at]
        common = careful(shapely.intersection, self.piece[at], footprint[home[row]])
        return np.bincount(row, shapely.area(common), len(footprint))


def open_areas(stack: Stack) -> Open:
    """
    What of each feature is open to the sky once what is overhead is lifted off.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    Open
    """
    features, scene = stack.features, stack.scene
    row = stack.solid_feature[scene.faces.solid]
    faces = np.flatnonzero(~np.isin(features.of_role("form")[row], LIFTED))
    none = np.full(len(features), shapely.Polygon(), dtype=object)
    if not len(faces):
        nothing = np.zeros(0, dtype=np.int64)
        return Open(area=np.zeros(len(features)), paved=none, row=nothing, piece=none[:0])
    left = replace(scene, faces=take(scene.faces, faces))
    origin = np.append(np.rint(left.faces.xyz[:, :2].mean(axis=0)), 0.0)
    look = look_from(left, [planometric(0.0, 0.0)], origin=origin, threads=1)[0]
    overhead = np.isin(features.of_role("form"), ("roof", "canopy"))
    found = np.bincount(row[faces], look.visible, len(features))
    own = row[faces][look.face]
    piece = shapely.transform(look.polygon, lambda xy: xy + origin[:2])
    paved = np.isin(features.of_role("name")[own], PAVED)
    return Open(
        area=np.where(overhead, shapely.area(features.geometry), found),
        paved=united(piece[paved], own[paved], len(features)),
        row=own,
        piece=piece,
    )


def laid_units(
    stack: Stack, style: Style, area: np.ndarray, shape: np.ndarray, base_line: float
) -> dict[str, np.ndarray]:
    """
    Count the paving units of each feature.

    Parameters
    ----------
    stack : Stack
        The solids.
    style : Style
        Pattern and sizes of units by material.
    area, shape : ndarray, shape (n,)
        What :func:`open_areas` found.
    base_line : float
        Direction of the base line [degrees anticlockwise].

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``paving_units`` by the square metre; ``whole_units`` and ``cut_units`` as they are laid.
    """
    features = stack.features
    role = features.of_role("name")
    per = np.zeros(len(features))
    for row in np.flatnonzero(np.isin(role, PAVED)):  # surfaces of a site are few
        flat = style.finish(str(role[row]), str(features.material[row])).flat
        per[row] = flat.units_per_m2 if flat is not None else 0.0
    _, laid = feature_units(
        features.geometry, role, features.material, style, base_line=base_line, within=shape
    )
    return {"paving_units": area * per, "whole_units": laid.whole, "cut_units": laid.cut}
