"""
Parts of a drawing as arrays that can be kept, and the key of a tile.

A tile is numbered by its own solids, faces and edges, so that its key is the same wherever it
stands in the scene.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from ..keeping import Arrays, digest, pack, unpack
from ..solids.edges import Edges
from ..solids.faces import spread
from ..solids.scene import Scene
from .dashes import Dashes, PageEdges
from .hidden import VisibleFaces
from .overlay import Redone
from .projection import View
from .tiles import Piece
from .tolerance import Tolerance


@dataclass(frozen=True, kw_only=True)
class Own:
    """A piece of a scene numbered by itself; the solids it has, and its edges as rows of the whole."""

    scene: Scene
    solids: np.ndarray
    edge: np.ndarray


def own_numbers(piece: Piece) -> Own:
    """
    Number the solids of a piece by themselves, and put its edges in an order of their own.

    Ranks and groups only compare; how edges are ordered and turned says nothing.
    """
    scene = piece.scene
    solids, local = np.unique(scene.faces.solid, return_inverse=True)
    rank = np.unique(scene.rank[solids], return_inverse=True)[1]
    group = np.unique(scene.group[solids], return_inverse=True)[1]
    edges, order = _in_order(scene.edges, np.searchsorted(solids, scene.edges.solid))
    faces = replace(scene.faces, solid=local.astype(scene.faces.solid.dtype))
    return Own(
        scene=replace(scene, faces=faces, edges=edges, rank=rank, group=group),
        solids=solids,
        edge=piece.edge[order],
    )


def _in_order(edges: Edges, solid: np.ndarray) -> tuple[Edges, np.ndarray]:
    """Edges from their lesser end to their greater, by solid and place; and where each was."""
    differs = edges.start != edges.end
    axis = np.argmax(differs, axis=1)
    rows = np.arange(len(edges))
    turned = differs.any(axis=1) & (edges.start[rows, axis] > edges.end[rows, axis])
    start = np.where(turned[:, None], edges.end, edges.start)
    end = np.where(turned[:, None], edges.start, edges.end)
    order = np.lexsort((*end.T[::-1], *start.T[::-1], solid))
    count = np.diff(edges.member_start)[order]
    member = spread(edges.member_start[order], count)
    face, forward = edges.face[member], (edges.forward ^ turned[edges.member_edge])[member]
    owner = np.repeat(np.arange(len(order)), count)
    within = np.lexsort((forward, face, owner))
    return Edges(
        start=start[order],
        end=end[order],
        solid=solid[order].astype(edges.solid.dtype),
        member_start=np.concatenate([[0], np.cumsum(count)]),
        face=face[within],
        forward=forward[within],
        smooth=edges.smooth[order],
    ), order


def tile_key(own: Own, core: np.ndarray, view: View, origin: np.ndarray, limits: Tolerance) -> str:
    """Hash all that the drawing of a tile follows from."""
    return digest("tile", own.scene, core, np.asarray(view.matrix), np.asarray(origin), limits.length)


def flat(part: Any) -> Arrays:
    """
    Write a part of a drawing as arrays.

    Parameters
    ----------
    part : dataclass
        Of arrays, numbers, geometries, and tables of these.
    """
    visible, redone = part.visible, part.visible.redone
    arrays: Arrays = {
        **pack(visible.polygon, "visible"),
        "visible_hidden_area": visible.hidden_area,
        "visible_redone": np.array([redone.checked, redone.redone, redone.worst], dtype=float),
    }
    for name in ("edges", "dashes", "hidden"):
        table = getattr(part, name)
        arrays |= {f"{name}_{field.name}": getattr(table, field.name) for field in fields(table)}
    for name in ("face", "area", "kind", "hidden_seam"):
        arrays[name] = getattr(part, name)
    return arrays | {"pairs": np.array(part.pairs), "warp": np.array(part.warp)}


def raised(arrays: Arrays) -> dict[str, Any]:
    """Read what :func:`flat` wrote: the arguments that make the part."""
    checked, redone, worst = arrays["visible_redone"].tolist()
    tables = {
        name: cls(**{field.name: arrays[f"{name}_{field.name}"] for field in fields(cls)})
        for name, cls in (("edges", PageEdges), ("dashes", Dashes), ("hidden", Dashes))
    }
    return {
        **tables,
        "visible": VisibleFaces(
            polygon=unpack(arrays, "visible"),
            hidden_area=arrays["visible_hidden_area"],
            redone=Redone(checked=int(checked), redone=int(redone), worst=float(worst)),
        ),
        **{name: arrays[name] for name in ("face", "area", "kind", "hidden_seam")},
        "pairs": int(arrays["pairs"]),
        "warp": float(arrays["warp"]),
    }
