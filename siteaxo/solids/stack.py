"""
Features stacked into solids, terrace by terrace.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .crown import trees
from .edges import edges_of
from .faces import PART_CODE, Faces, join
from .prism import prisms
from .scene import Scene
from .standing import settle

CLEAR_STEM: Final = 0.3  # share of a tree's height below its crown, where not given [-]
CROWN_SHARE: Final = 0.6  # crown diameter as a share of height, where not given [-]


@dataclass(frozen=True, kw_only=True)
class Stack:
    """
    A site as solids.

    Parameters
    ----------
    features : Features
        All levels settled, footprints as polygons or points [m].
    support : ndarray of int, shape (n,)
        What each feature stands on, -1 where its base was stated.
    scene : Scene
        Faces and edges of the solids.
    solid_feature : ndarray of int, shape (s,)
        The feature each solid comes from.
    findings : tuple of Finding
        What was noticed on the way.
    """

    features: Features
    support: np.ndarray
    scene: Scene
    solid_feature: np.ndarray
    findings: tuple[Finding, ...]

    @property
    def lowest(self) -> float:
        """The lowest level [m]."""
        return float(self.features.base.min(initial=np.inf))


def stack_features(features: Features) -> Stack:
    """
    Give every feature its levels and build its solids.

    Parameters
    ----------
    features : Features
        As read, in the local plane.

    Returns
    -------
    Stack

    Raises
    ------
    LevelError
        If levels cannot be settled.
    """
    settled = settle(with_widths(features))
    ready = _with_crowns(settled.features)
    form = ready.of_role("form")
    solids, owner = [], []
    count = 0
    area = np.flatnonzero((form == "prism") & (shapely.get_dimensions(ready.geometry) == 2))
    parts, part_of = shapely.get_parts(ready.geometry[area], return_index=True)
    row = area[part_of]
    if len(row):
        solids.append(
            prisms(
                parts,
                ready.base[row],
                ready.top[row],
                solid=np.arange(len(row)),
                top_part=_top_parts(ready, settled.sunken)[row],
            )
        )
        owner.append(row)
        count += len(row)
    tree = np.flatnonzero(form == "tree")
    if len(tree):
        solids.append(_trees(ready, tree, count))
        owner.append(np.repeat(tree, 2))
    faces = join(solids)
    solid_feature = np.concatenate(owner) if owner else np.zeros(0, dtype=np.int64)
    scene = Scene(
        faces=faces,
        edges=edges_of(faces),
        rank=_ranks(ready)[solid_feature],
        group=_groups(ready)[solid_feature],
    )
    return Stack(
        features=ready,
        support=settled.support,
        scene=scene,
        solid_feature=solid_feature,
        findings=settled.findings,
    )


def with_widths(features: Features) -> Features:
    """Turn centre lines into footprints, cut square at their ends and mitred at corners."""
    geometry = features.geometry.copy()
    line = np.flatnonzero(shapely.get_dimensions(geometry) == 1)
    line = line[features.of_role("form")[line] == "prism"]
    if not len(line):
        return features
    fallback = features.of_role("width")[line].astype(float)
    width = np.where(np.isnan(features.width[line]), fallback, features.width[line])
    closed = shapely.is_closed(geometry[line]) & (shapely.get_num_coordinates(geometry[line]) > 3)
    centre = geometry[line].copy()
    centre[closed] = shapely.linearrings(
        shapely.get_coordinates(centre[closed]),
        indices=np.repeat(np.arange(int(closed.sum())), shapely.get_num_coordinates(centre[closed])),
    )
    geometry[line] = shapely.buffer(centre, width / 2, cap_style="flat", join_style="mitre", mitre_limit=4.0)
    return features.with_columns(geometry=geometry)


def _with_crowns(features: Features) -> Features:
    """Fill in the crown diameter and clear stem of trees that give none."""
    tree = features.of_role("form") == "tree"
    diameter, stem, height = features.diameter.copy(), features.clear_stem.copy(), features.height
    wide, high = tree & np.isnan(diameter), tree & np.isnan(stem)
    diameter[wide] = CROWN_SHARE * height[wide]
    stem[high] = CLEAR_STEM * height[high]
    stem[tree] = np.clip(stem[tree], 0.0, 0.9 * height[tree])
    return features.with_columns(diameter=diameter, clear_stem=stem)


def _top_parts(features: Features, sunken: np.ndarray) -> np.ndarray:
    part = np.where(sunken, PART_CODE["floor"], PART_CODE["top"])
    names = np.array([key.role.name for key in features.layers])[features.layer]
    return np.where(names == "roof", PART_CODE["roof"], part)


def _trees(features: Features, rows: np.ndarray, first_solid: int) -> Faces:
    crown = first_solid + 2 * np.arange(len(rows))
    return trees(
        shapely.get_coordinates(shapely.centroid(features.geometry[rows])),
        features.base[rows],
        features.top[rows],
        diameter=features.diameter[rows],
        clear_stem=features.clear_stem[rows],
        crown_solid=crown,
        trunk_solid=crown + 1,
    )


def _ranks(features: Features) -> np.ndarray:
    """Rank of each feature: by role, then by layer, then by row."""
    order = np.lexsort((np.arange(len(features)), features.layer, features.order))
    return order.argsort()


def _groups(features: Features) -> np.ndarray:
    """Features of one role and material share a group."""
    role = np.unique(features.order, return_inverse=True)[1]
    material = np.unique(features.material.astype(str), return_inverse=True)[1]
    return role * (int(material.max(initial=0)) + 1) + material
