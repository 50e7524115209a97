"""
Joints between the parts of one feature: where these meet level, their surfaces run on.

A path whose levels bend is a solid for each stretch and each corner. Where two of them meet
face to face, what lies between them is no side of the feature, and shows no line but a fold.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ..angles import cos_deg
from ..source.features import Features
from .climbing import WINDING
from .edges import CREASE, GRID, Edges
from .faces import PART_CODE, Faces, normals

LEVEL: Final = 1e-3  # tops that differ by less where they meet are at one level [m]


def joined_edges(edges: Edges, faces: Faces, row: np.ndarray, features: Features) -> Edges:
    """
    Let the parts of features run into one another.

    Parameters
    ----------
    edges : Edges
        Edges of all solids.
    faces : Faces
        Their faces.
    row : ndarray of int, shape (s,)
        The feature each solid comes from.
    features : Features
        All features; the parts of one follow one another.

    Returns
    -------
    Edges
        Where the tops of two parts meet, both edges lie between these tops; where their outer
        sides meet, between these sides. They are smooth where tops meet at less than WINDING,
        and sides at less than CREASE.
    """
    first = features.first_part
    whole = first[row]
    rows = np.flatnonzero((np.bincount(first, minlength=len(features)) > 1)[whole][edges.solid])
    if not len(rows):
        return edges
    place, high = _places(edges, rows), np.maximum(edges.start[rows, 2], edges.end[rows, 2])
    upright = (place[:, :2] == place[:, 2:]).all(axis=1)
    group = np.column_stack([whole[edges.solid[rows]], place])
    top, count = _only(edges, faces.part == PART_CODE["top"])
    tops = np.flatnonzero(~upright & (count[rows] == 1))
    one, other = (rows[tops[k]] for k in _twos(group[tops], high[tops]))
    apart = _ahead(edges, top, one) != _ahead(edges, top, other)  # else one lies upon the other
    one, other = one[apart], other[apart]
    inner = np.zeros(len(faces), dtype=bool)
    inner[edges.face[np.isin(edges.member_edge, np.concatenate([one, other]))]] = True
    outer, count = _only(edges, (faces.part == PART_CODE["side"]) & ~inner)
    flanks = np.flatnonzero(upright & (count[rows] == 1) & (np.diff(edges.member_start)[rows] == 2))
    here, there = (rows[flanks[k]] for k in _twos(group[flanks], high[flanks]))
    own, its = np.concatenate([top[one], outer[here]]), np.concatenate([top[other], outer[there]])
    most = np.repeat([cos_deg(WINDING), cos_deg(CREASE)], [len(one), len(here)])
    normal = normals(faces)
    smooth = np.tile((normal[own] * normal[its]).sum(axis=1) > most, 2)
    both = np.concatenate([one, here, other, there])
    return _between(edges, both, smooth, np.concatenate([own, its]), np.concatenate([its, own]))


def _only(edges: Edges, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The one chosen face at each edge, and how many there are, shape (e,)."""
    member = np.flatnonzero(chosen[edges.face])
    found = np.full(len(edges), -1)
    found[edges.member_edge[member]] = edges.face[member]
    return found, np.bincount(edges.member_edge[member], minlength=len(edges))


def _ahead(edges: Edges, face: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """Whether a face of each chosen edge runs along it from the lesser of its ends to the other in plan."""
    own = np.flatnonzero(edges.face == face[edges.member_edge])
    forward = np.zeros(len(edges), dtype=bool)
    forward[edges.member_edge[own]] = edges.forward[own]
    return forward[chosen] != _turned(edges, chosen)


def _between(edges: Edges, chosen: np.ndarray, smooth: np.ndarray, own: np.ndarray, its: np.ndarray) -> Edges:
    """Let edges lie between a face of theirs and one of another solid, to the other side of them."""
    new = edges.smooth.copy()
    new[chosen] = smooth
    forward = np.zeros(len(edges), dtype=bool)
    ahead = edges.forward & np.isin(edges.member_edge, chosen)
    face = np.full(len(edges), -1)
    face[chosen] = own
    forward[edges.member_edge[ahead & (edges.face == face[edges.member_edge])]] = True
    kept = np.isin(edges.member_edge, chosen, invert=True)
    edge = np.concatenate([edges.member_edge[kept], np.repeat(chosen, 2)])
    order = np.argsort(edge, kind="stable")
    both = np.column_stack([own, its]).ravel(), np.column_stack([forward[chosen], ~forward[chosen]]).ravel()
    return replace(
        edges,
        smooth=new,
        member_start=np.searchsorted(edge[order], np.arange(len(edges) + 1)),
        face=np.concatenate([edges.face[kept], both[0]])[order],
        forward=np.concatenate([edges.forward[kept], both[1]])[order],
    )


def _places(edges: Edges, chosen: np.ndarray) -> np.ndarray:
    """Where the two ends of edges lie in plan, on a grid, the lesser end first, shape (n, 4)."""
    start, end = _in_plan(edges, chosen)
    turned = _turned(edges, chosen)[:, None]
    return np.where(turned, np.hstack([end, start]), np.hstack([start, end]))


def _turned(edges: Edges, chosen: np.ndarray) -> np.ndarray:
    """Which edges begin at the greater of their ends in plan, shape (n,)."""
    start, end = _in_plan(edges, chosen)
    return np.asarray((start[:, 0] > end[:, 0]) | ((start[:, 0] == end[:, 0]) & (start[:, 1] > end[:, 1])))


def _in_plan(edges: Edges, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Both ends of edges in plan, in steps of the grid, shape (n, 2)."""
    start, end = (np.rint(ends[chosen, :2] / GRID).astype(np.int64) for ends in (edges.start, edges.end))
    return start, end


def _twos(group: np.ndarray, level: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of rows that are alone in their group and have one level."""
    if not len(group):
        return np.zeros((2, 0), dtype=np.int64)[0], np.zeros(0, dtype=np.int64)
    number = np.unique(group, axis=0, return_inverse=True)[1].ravel()
    order = np.argsort(number, kind="stable")
    two = np.bincount(number)[number[order]] == 2
    pair = order[two].reshape(-1, 2)
    pair = pair[np.abs(level[pair[:, 0]] - level[pair[:, 1]]) <= LEVEL]
    return pair[:, 0], pair[:, 1]
