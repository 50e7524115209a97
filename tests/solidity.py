"""Measures of solids made of faces, worked out from their vertices alone."""

from __future__ import annotations

from typing import Any

import numpy as np

from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, Faces, take
from siteaxo.solids.stack import Stack, stack_features
from siteaxo.source.features import Features, LayerKey
from siteaxo.source.roles import role_named


def vector_areas(faces: Faces) -> np.ndarray:
    """Area times outward normal of each face, holes taken off, shape (f, 3) [m²]."""
    first = faces.vertex_start[:-1]
    local = faces.xyz - faces.xyz[first][faces.vertex_face]
    cross = np.cross(local, local[faces.next_vertex]) / 2
    return np.stack([np.bincount(faces.vertex_face, c, len(faces)) for c in cross.T], axis=1)


def areas(faces: Faces, part: str | None = None) -> np.ndarray:
    """Area of each face, or of those of one part [m²]."""
    size = np.sqrt((vector_areas(faces) ** 2).sum(axis=1))
    return size if part is None else size[faces.part == PART_CODE[part]]


def volume(faces: Faces) -> float:
    """Volume enclosed: positive when all faces look outward (divergence theorem) [m³]."""
    at = faces.xyz[faces.vertex_start[:-1]] - faces.xyz.mean(axis=0)
    return float((at * vector_areas(faces)).sum() / 3)


def open_edges(faces: Faces) -> int:
    """Edges that do not have exactly two faces, one on either side."""
    edges = edges_of(faces)
    count = np.diff(edges.member_start)
    ways = np.bincount(edges.member_edge, np.where(edges.forward, 1, -1), len(edges))
    return int(((count != 2) | (ways != 0)).sum())


def warps(faces: Faces) -> float:
    """Greatest distance of a vertex from the plane of its face [m]."""
    normal = vector_areas(faces)
    normal /= np.sqrt((normal**2).sum(axis=1))[:, None]
    local = faces.xyz - faces.xyz[faces.vertex_start[:-1]][faces.vertex_face]
    return float(np.abs((local * normal[faces.vertex_face]).sum(axis=1)).max(initial=0.0))


def features(*rows: dict[str, Any]) -> Features:
    """A features table from rows with ``role`` and ``geometry``; every role is a layer of that name."""
    names = list(dict.fromkeys(row.get("layer", row["role"]) for row in rows))
    role = {row.get("layer", row["role"]): role_named(row["role"]) for row in rows}
    across = {row.get("layer", row["role"]): row.get("across", "") for row in rows}
    base = _numbers(rows, "base")
    top = _numbers(rows, "top")
    height = np.where(np.isnan(base + top), _numbers(rows, "height"), top - base)
    flat = np.array([role_named(row["role"]).flat for row in rows])
    height = np.where(np.isnan(height) & np.isnan(top) & flat, 0.0, height)
    stands = np.array([role_named(row["role"]).base == "below" for row in rows])
    top = np.where(np.isnan(top), base + height, top)
    return Features(
        layers=tuple(LayerKey(name, role[name], across[name]) for name in names),
        layer=np.array([names.index(row.get("layer", row["role"])) for row in rows]),
        source_id=np.array([str(row.get("id", number)) for number, row in enumerate(rows)], dtype=object),
        geometry=np.array([row["geometry"] for row in rows], dtype=object),
        base=base,
        top=top,
        height=height,
        below=np.isnan(base) & stands,
        base_from=np.where(np.isnan(base), "", "number").astype(object),
        top_from=np.where(np.isnan(top), "", "number").astype(object),
        shape=np.array([row.get("shape", "") for row in rows], dtype=object),
        material=np.array([row.get("material", "") for row in rows], dtype=object),
        **{key: _numbers(rows, key) for key in SIZES},
    )


SIZES = (
    *("width", "diameter", "clear_stem", "riser", "cheek", "landing", "posts", "beams"),
    *("rim", "drop", "parapet", "pitch", "low", "fall_bearing", "bank"),
)


def _numbers(rows: tuple[dict[str, Any], ...], key: str) -> np.ndarray:
    return np.array([float(row.get(key, np.nan)) for row in rows])


def stacked(*rows: dict[str, Any]) -> Stack:
    """A site of such rows as solids."""
    return stack_features(features(*rows))


def solid_of(stack: Stack, row: int) -> Faces:
    """All faces of one feature."""
    faces = stack.scene.faces
    return take(faces, np.flatnonzero(stack.solid_feature[faces.solid] == row))


def codes(stack: Stack) -> list[str]:
    """Codes of what was noticed, in order."""
    return [finding.code for finding in stack.findings]


def heights(faces: Faces, part: str) -> np.ndarray:
    """Extent of each face of a part in level, shape (f,) [m]."""
    start = faces.vertex_start
    level = faces.xyz[:, 2]
    span = np.maximum.reduceat(level, start[:-1]) - np.minimum.reduceat(level, start[:-1])
    return span[faces.part == PART_CODE[part]]


def levels(faces: Faces, part: str) -> np.ndarray:
    """Highest level of each face of a part, shape (f,) [m]."""
    top = np.maximum.reduceat(faces.xyz[:, 2], faces.vertex_start[:-1])
    return top[faces.part == PART_CODE[part]]
