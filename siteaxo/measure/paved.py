"""
What of paved features is open to the sky, and how many units they are paved with.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from ..craft.counting import feature_units
from ..craft.style import Style
from ..solids.faces import take
from ..solids.stack import Stack
from ..view.projection import planometric
from ..view.study import look_from
from .grouping import united

PAVED: Final = ("paving", "path", "ramp", "steps")
"""Roles whose surface is counted in paving units where their material has any."""
LIFTED: Final = ("canopy", "roof", "tree", "rail")
"""Forms that are lifted off before what is open to the sky is measured."""


def open_areas(stack: Stack) -> tuple[np.ndarray, np.ndarray]:
    """
    What of each feature is open to the sky once what is overhead is lifted off.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    area : ndarray, shape (n,)
        In plan [m²]; all of roofs and canopies, 0 for trees and rails.
    shape : ndarray of Polygon or MultiPolygon, shape (n,)
        The same of paved features in plan; empty for all others.
    """
    features, scene = stack.features, stack.scene
    row = stack.solid_feature[scene.faces.solid]
    faces = np.flatnonzero(~np.isin(features.of_role("form")[row], LIFTED))
    none = np.full(len(features), shapely.Polygon(), dtype=object)
    if not len(faces):
        return np.zeros(len(features)), none
    left = replace(scene, faces=take(scene.faces, faces))
    origin = np.append(np.rint(left.faces.xyz[:, :2].mean(axis=0)), 0.0)
    look = look_from(left, [planometric(0.0, 0.0)], origin=origin, threads=1)[0]
    overhead = np.isin(features.of_role("form"), ("roof", "canopy"))
    found = np.bincount(row[faces], look.visible, len(features))
    own = row[faces][look.face]
    paved = np.isin(features.of_role("name")[own], PAVED)
    shape = united(look.polygon[paved], own[paved], len(features))
    shape = shapely.transform(shape, lambda xy: xy + origin[:2])
    return np.where(overhead, shapely.area(features.geometry), found), shape


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
