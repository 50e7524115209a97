"""
Crowns and hedges of a drawing: which solids they are, what kind of plant, what is seen of them.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import shapely

from ..ragged import spread
from ..solids.edges import Edges
from ..solids.faces import PART_CODE, take
from ..solids.scene import Scene
from ..solids.stack import Stack
from ..view.resolve import Drawing
from ..view.unions import united

KINDS: Final = ("deciduous", "conifer", "columnar", "palm", "shrub", "hedge")
KIND_OF_SHAPE: Final = {"conical": "conifer", "columnar": "columnar", "palm": "palm", "shrub": "shrub"}
SHRUB: Final = 2.2  # trees no higher than this, with a low crown, are shrubs [m]
LOW: Final = 0.35  # a crown that begins below this share of the height is low [-]


@dataclass(frozen=True, kw_only=True)
class Plants:
    """
    Crowns and hedges, one row for each solid.

    Parameters
    ----------
    solid : ndarray of int, shape (p,)
        Their solids, ascending.
    feature : ndarray of int, shape (p,)
        The features they come from.
    kind : ndarray of object, shape (p,)
        One of ``KINDS``.
    name : ndarray of object, shape (p,)
        Layer and id, which chance numbers are drawn from.
    """

    solid: np.ndarray
    feature: np.ndarray
    kind: np.ndarray
    name: np.ndarray

    def __len__(self) -> int:
        return len(self.solid)

    def take(self, rows: np.ndarray) -> Plants:
        """Some of the plants."""
        return Plants(**{name: column[rows] for name, column in vars(self).items()})


def plants_of(stack: Stack) -> Plants:
    """
    Find the crowns and hedges of a site.

    A tree's kind follows from its shape; one that is low and branched from the ground is
    a shrub.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    Plants
    """
    faces, features = stack.scene.faces, stack.features
    layers = np.array([key.name for key in features.layers], dtype=object)
    roles = np.array([key.role.name for key in features.layers], dtype=object)
    crown = np.unique(faces.solid[faces.part == PART_CODE["crown"]])
    hedge = np.unique(faces.solid[roles[features.layer[stack.solid_feature[faces.solid]]] == "hedge"])
    solid = np.union1d(crown, hedge)
    row = stack.solid_feature[solid]
    kind = np.array(
        [KIND_OF_SHAPE.get(str(shape), "deciduous") for shape in features.shape[row]], dtype=object
    )
    low = (features.height[row] <= SHRUB) & ~(features.clear_stem[row] > LOW * features.height[row])
    kind[low] = "shrub"
    kind[np.isin(solid, hedge)] = "hedge"
    pairs = zip(layers[features.layer[row]], features.source_id[row], strict=True)
    name = np.array([f"{layer}\x1e{source}" for layer, source in pairs], dtype=object)
    return Plants(solid=solid, feature=row, kind=kind, name=name)


def seen_of(plants: Plants, scene: Scene, drawing: Drawing) -> np.ndarray:
    """
    What is seen of each plant.

    Parameters
    ----------
    plants : Plants
        The plants.
    scene : Scene
        The scene that was drawn.
    drawing : Drawing
        The drawing.

    Returns
    -------
    ndarray of Polygon or MultiPolygon, shape (p,)
        Page polygons, empty where a plant is hidden [m].
    """
    solid = scene.faces.solid[drawing.face]
    place = np.searchsorted(plants.solid, solid)
    mine = place < len(plants)
    mine[mine] = plants.solid[place[mine]] == solid[mine]
    rows = np.flatnonzero(mine & ~shapely.is_empty(drawing.visible.polygon))
    rows = rows[np.argsort(place[rows], kind="stable")]
    seen = np.full(len(plants), shapely.Polygon(), dtype=object)
    if len(rows):
        owner, run = np.unique(place[rows], return_inverse=True)
        seen[owner] = united(drawing.visible.polygon[rows], run, len(owner))
    return seen


def without_crowns(scene: Scene) -> tuple[Scene, np.ndarray, np.ndarray]:
    """
    The scene as it is in winter.

    Returns
    -------
    scene : Scene
        The same solids; those of crowns have no faces.
    face, edge : ndarray of int
        Where its faces and edges stand in the whole scene.
    """
    crown = np.zeros(len(scene.rank), dtype=bool)
    crown[scene.faces.solid[scene.faces.part == PART_CODE["crown"]]] = True
    face = np.flatnonzero(~crown[scene.faces.solid])
    edge = np.flatnonzero(~crown[scene.edges.solid])
    bare = replace(scene, faces=take(scene.faces, face), edges=_some_edges(scene.edges, edge, face))
    return bare, face, edge


def _some_edges(edges: Edges, rows: np.ndarray, faces: np.ndarray) -> Edges:
    """Some edges; their members are numbered as they stand in *faces*, ascending."""
    count = np.diff(edges.member_start)[rows]
    members = spread(edges.member_start[rows], count)
    own = [field.name for field in fields(edges) if field.name not in ("member_start", "face", "forward")]
    per_edge = {name: getattr(edges, name)[rows] for name in own}
    return replace(
        edges,
        **per_edge,
        member_start=np.concatenate([[0], np.cumsum(count)]),
        face=np.searchsorted(faces, edges.face[members]),
        forward=edges.forward[members],
    )
