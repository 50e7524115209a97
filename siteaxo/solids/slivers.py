"""
Slivers among the facets of the ground: their neighbours decide which way they face.

Where lines are laid into a surface, some of its triangles come out so narrow that the rounding
of their corners turns them. Such a sliver has no face of its own to speak of, unless it lies in
one plane with a wide facet beside it or beyond other slivers, as at the foot of a bank; one that is
too narrow to be seen has none at all, and the facets to either side of it meet.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..angles import cos_deg
from .linked import linked

LEVEL: Final = 1.0  # facets that meet at less lie in one plane [degrees]
SLIM: Final = 0.03  # a facet narrower than this is a sliver [m]
SLIT: Final = 6e-4  # one narrower than this shows nothing of itself beside its lines [m]
PASSES: Final = 3  # so many slivers may lie side by side


def lent_normals(
    normal: np.ndarray, area: np.ndarray, length: np.ndarray, one: np.ndarray, other: np.ndarray
) -> np.ndarray:
    """
    Lend slivers the normal of the widest facet beside them.

    Parameters
    ----------
    normal : ndarray, shape (f, 3)
        Unit normals of facets.
    area : ndarray, shape (f,)
        Their areas [m²].
    length : ndarray, shape (e,)
        Lengths of the edges between two facets [m].
    one, other : ndarray of int, shape (e,)
        The two facets of each edge.

    Returns
    -------
    ndarray, shape (f, 3)
        The same, but for slivers.

    Examples
    --------
    A sliver of 1 m by 1 cm that is turned on edge, between two level facets:

    >>> normal = np.array([[0.0, 0, 1], [1, 0, 0], [0, 0, 1]])
    >>> sides = np.array([1.0, 1.0]), np.array([0, 1]), np.array([1, 2])
    >>> lent_normals(normal, np.array([0.5, 0.005, 0.5]), *sides).tolist()[1]
    [0.0, 0.0, 1.0]
    """
    facet, beside = np.concatenate([one, other]), np.concatenate([other, one])
    width = _widths(area, length, one, other)
    order = np.lexsort((width[beside], facet))
    last = np.append(facet[order][1:] != facet[order][:-1], True)[: len(order)]
    widest = order[last]
    even = (normal[one] * normal[other]).sum(axis=1) > cos_deg(LEVEL)
    plane = linked(len(normal), one[even], other[even])
    faced = np.zeros(len(normal), dtype=bool)
    faced[plane[width >= SLIM]] = True
    widest = widest[(width[facet[widest]] < SLIM) & ~faced[plane[facet[widest]]]]
    lent = normal.copy()
    for _ in range(PASSES):
        lent[facet[widest]] = lent[beside[widest]]
    return lent


def _widths(area: np.ndarray, length: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Height of facets over the longest of their edges, infinite where they have none, shape (f,) [m]."""
    longest = np.zeros(len(area))
    np.maximum.at(longest, np.concatenate([one, other]), np.tile(length, 2))
    return np.where(longest > 0, 2 * area / np.where(longest > 0, longest, 1.0), np.inf)


def met_faces(
    area: np.ndarray, length: np.ndarray, one: np.ndarray, other: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the facets that meet at edges once those that nobody sees are passed over.

    Parameters
    ----------
    area : ndarray, shape (f,)
        Areas of facets [m²].
    length : ndarray, shape (e,)
        Lengths of the edges between two facets [m].
    one, other : ndarray of int, shape (e,)
        The two facets of each edge.

    Returns
    -------
    one, other : ndarray of int, shape (e,)
        The same, but for facets narrower than ``SLIT``: instead of each stands the facet
        beyond it, across its longest other edge, where there is one.

    Examples
    --------
    A sliver of 1 m by half a millimetre between two facets, which meet at either side of it:

    >>> area = np.array([0.5, 0.00025, 0.5])
    >>> one, other = met_faces(area, np.ones(2), np.array([0, 1]), np.array([1, 2]))
    >>> one.tolist(), other.tolist()
    ([0, 0], [2, 2])
    """
    narrow = _widths(area, length, one, other) < SLIT
    way = _longest_two(length, one, other, len(area))
    met = []
    for here, opposite in ((one, other), (other, one)):
        face, edge = here.copy(), np.arange(len(one))
        for _ in range(PASSES):
            on = np.flatnonzero(narrow[face])
            out = np.where(way[face[on], 0] == edge[on], way[face[on], 1], way[face[on], 0])
            on, out = on[out >= 0], out[out >= 0]
            face[on], edge[on] = one[out] + other[out] - face[on], out
        found = ~narrow[face] & ~narrow[opposite] & (face != opposite)
        met.append(np.where(found, face, here))
    return met[0], met[1]


def _longest_two(length: np.ndarray, one: np.ndarray, other: np.ndarray, count: int) -> np.ndarray:
    """The longest two edges of each facet, shape (count, 2); -1 where there are none."""
    facet, edge = np.concatenate([one, other]), np.tile(np.arange(len(one)), 2)
    order = np.lexsort((edge, -length[edge], facet))
    facet, edge = facet[order], edge[order]
    first = np.flatnonzero(np.append(True, facet[1:] != facet[:-1])[: len(facet)])
    way = np.full((count, 2), -1)
    way[facet[first], 0] = edge[first]
    second = first[first + 1 < np.append(first[1:], len(facet))[: len(first)]] + 1
    way[facet[second], 1] = edge[second]
    return way
