"""
Straight edges of solids and the faces that meet there.

An edge is a pair of vertices of one solid; the faces that run along it are its
members. Vertices are equal when their rounded coordinates are equal, so a maker of
solids must give shared corners the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from ..angles import cos_deg
from .faces import PART_CODE, Faces, normals, take

GRID: Final = 2.0**-24  # coordinates are compared on this grid [m]
CREASE: Final = 15.5  # facets of sides that meet at less are one curve, so circles of 24 chords [degrees]
BATCH: Final = 500_000  # corners of faces whose edges are found at once
LEVEL: Final = 1e-4  # planes whose slopes differ by less are coplanar [-]


@dataclass(frozen=True, kw_only=True)
class Edges:
    """
    Edges with their member faces, in compressed rows.

    Parameters
    ----------
    start, end : ndarray, shape (e, 3)
        End points [m].
    solid : ndarray of int, shape (e,)
        The solid of each edge.
    member_start : ndarray of int, shape (e + 1,)
        Where the members of each edge start.
    face : ndarray of int, shape (m,)
        Member faces.
    forward : ndarray of bool, shape (m,)
        Whether the face's ring runs from start to end, so that the face lies to the
        left of the edge as seen from outside.
    smooth : ndarray of bool, shape (e,)
        Whether its two faces are one plane, or facets of one curve, so that no line
        shows where both are seen.
    """

    start: np.ndarray
    end: np.ndarray
    solid: np.ndarray
    member_start: np.ndarray
    face: np.ndarray
    forward: np.ndarray
    smooth: np.ndarray

    def __len__(self) -> int:
        return len(self.solid)

    @property
    def member_edge(self) -> np.ndarray:
        """Edge of each member, shape (m,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.member_start))


def edges_of(faces: Faces) -> Edges:
    """
    Find the edges of all solids.

    Parameters
    ----------
    faces : Faces
        The faces; their rings may be of any length.

    Returns
    -------
    Edges
        Each edge once per solid, with every face that runs along it; by solid, those of each in an
        order that follows from its own shape alone. Segments of no length are left out.
    """
    return _joined(faces) if len(faces.xyz) > BATCH else _edges_of(faces)


def _joined(faces: Faces) -> Edges:
    """Edges of some solids at a time, so that what is needed in between does not grow with them."""
    order = np.argsort(faces.solid, kind="stable")
    corners = np.cumsum(np.diff(faces.vertex_start)[order])
    new = np.flatnonzero(np.diff(faces.solid[order])) + 1
    place = np.searchsorted(corners[new - 1], np.arange(BATCH, len(faces.xyz), BATCH))
    cuts = np.unique([0, *new[place[place < len(new)]], len(faces)])
    rows = [order[a:b] for a, b in pairwise(cuts)]
    parts = [_edges_of(take(faces, some)) for some in rows]
    members = np.cumsum([0] + [len(part.face) for part in parts])
    return Edges(
        start=np.concatenate([part.start for part in parts]),
        end=np.concatenate([part.end for part in parts]),
        solid=np.concatenate([part.solid for part in parts]),
        member_start=np.concatenate(
            [*(part.member_start[:-1] + by for part, by in zip(parts, members, strict=False)), members[-1:]]
        ),
        face=np.concatenate([some[part.face] for some, part in zip(rows, parts, strict=True)]),
        forward=np.concatenate([part.forward for part in parts]),
        smooth=np.concatenate([part.smooth for part in parts]),
    )


def _edges_of(faces: Faces) -> Edges:
    here = np.arange(len(faces.xyz))
    there = faces.next_vertex
    face = faces.vertex_face
    solid = faces.solid[face]
    cells = [np.rint(column / GRID).astype(np.int64) for column in faces.xyz.T]
    real = np.flatnonzero(_unlike([column[here] for column in cells], [column[there] for column in cells]))
    here, there, face, solid = here[real], there[real], face[real], solid[real]
    name = hashed(cells)
    forward = name[here] < name[there]
    low, high = np.where(forward, here, there), np.where(forward, there, here)
    key = _within(solid, _mixed(name[low] + np.uint64(0x9E3779B97F4A7C15) * name[high]))
    order = _by_key(key, face)
    ends = [column[end[order]] for end in (low, high) for column in cells]
    first = _firsts(key[order], [*ends, solid[order]])
    heads = order[first]
    member_start = np.concatenate([first, [len(order)]]).astype(np.int64)
    return Edges(
        start=faces.xyz.take(low[heads], axis=0),
        end=faces.xyz.take(high[heads], axis=0),
        solid=solid[heads],
        member_start=member_start,
        face=face[order],
        forward=forward[order],
        smooth=_smooth(faces, member_start, face[order]),
    )


def _smooth(faces: Faces, member_start: np.ndarray, face: np.ndarray) -> np.ndarray:
    """Whether edges lie between two faces of one plane or of one curve."""
    smooth = np.zeros(len(member_start) - 1, dtype=bool)
    pair = np.flatnonzero(np.diff(member_start) == 2)
    one, other = face[member_start[pair]], face[member_start[pair] + 1]
    normal = normals(faces)
    cosine = (normal.take(one, axis=0) * normal.take(other, axis=0)).sum(axis=1)
    part = faces.part[one]
    same = part == faces.part[other]
    crown = same & (part == PART_CODE["crown"])
    curved = same & (part == PART_CODE["side"]) & (cosine > cos_deg(CREASE))
    smooth[pair] = crown | curved | (cosine > 1 - LEVEL**2 / 2)
    return smooth


def _firsts(key: np.ndarray, columns: Sequence[np.ndarray]) -> np.ndarray:
    """First member of each run of equal segments; a chance collision of keys splits a run."""
    if not len(key):
        return np.zeros(0, dtype=np.int64)
    first = np.ones(len(key), dtype=bool)
    first[1:] = _unlike(
        [column[1:] for column in (key, *columns)], [column[:-1] for column in (key, *columns)]
    )
    return np.flatnonzero(first)


def _unlike(one: Sequence[np.ndarray], other: Sequence[np.ndarray]) -> np.ndarray:
    """Whether rows differ, column by column."""
    unlike = one[0] != other[0]
    for here, there in zip(one[1:], other[1:], strict=True):
        unlike |= here != there
    return unlike


def _by_key(key: np.ndarray, face: np.ndarray) -> np.ndarray:
    """Order by key, then by face, for keys that few share."""
    order = np.argsort(key)
    while True:
        late, early = order[1:], order[:-1]
        wrong = np.flatnonzero((key[late] == key[early]) & (face[late] < face[early]))
        wrong = wrong[np.diff(wrong, prepend=-2) > 1]
        if not len(wrong):
            return order
        order[wrong], order[wrong + 1] = order[wrong + 1], order[wrong]


def _within(solid: np.ndarray, name: np.ndarray) -> np.ndarray:
    """Names that sort by solid first; so many of their last bits are left out as the solids take."""
    number = (solid - solid.min(initial=0)).astype(np.uint64)
    bits = int(number.max(initial=0)).bit_length()
    return (number << np.uint64(64 - bits)) | (name >> np.uint64(bits)) if bits else name


def hashed(cells: Sequence[np.ndarray]) -> np.ndarray:
    """One 64-bit name for each row of whole numbers, such as those of a grid point, given by columns."""
    name = np.zeros(len(cells[0]), dtype=np.uint64)
    for column in cells:
        name = _mixed(name * np.uint64(0xBF58476D1CE4E5B9) + column.view(np.uint64))
    return name


def _mixed(value: np.ndarray) -> np.ndarray:
    """Spread the bits of 64-bit numbers (the finaliser of the splitmix generator)."""
    value = (value ^ (value >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    value = (value ^ (value >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return value ^ (value >> np.uint64(31))
