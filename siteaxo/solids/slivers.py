"""
Slivers among the facets of the ground, which way they face decided by their neighbours.

Where lines are laid into a surface, some of its triangles come out so narrow that the rounding
of their corners turns them. Such a sliver has no face of its own to speak of.
"""

from __future__ import annotations

from typing import Final

import numpy as np

SLIM: Final = 0.03  # a facet narrower than this is a sliver [m]
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
    longest = np.zeros(len(area))
    np.maximum.at(longest, facet, np.tile(length, 2))
    width = np.where(longest > 0, 2 * area / np.where(longest > 0, longest, 1.0), np.inf)
    order = np.lexsort((width[beside], facet))
    last = np.append(facet[order][1:] != facet[order][:-1], True)[: len(order)]
    widest = order[last]
    widest = widest[width[facet[widest]] < SLIM]
    lent = normal.copy()
    for _ in range(PASSES):
        lent[facet[widest]] = lent[beside[widest]]
    return lent
