"""
Which faces of a small picture are one surface, so that no line is drawn between them.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..craft.folds import LYING
from ..solids.faces import normals
from ..solids.linked import linked
from ..solids.stack import Stack

UPWARD: Final = 1e-3  # least rise of the normal of a face that looks upward [-]


def surfaces_of(stack: Stack) -> np.ndarray:
    """
    Number of the curved surface that each face is a facet of, its own where it is none.

    What lies on the ground is one surface as far as it looks upward: its folds are not drawn. So are
    parts of a feature that run into one another.

    Parameters
    ----------
    stack : Stack
        The solids.

    Returns
    -------
    ndarray of int, shape (f,)
    """
    edges = stack.scene.edges
    first = edges.member_start[:-1][edges.smooth & (np.diff(edges.member_start) == 2)]
    one, other = edges.face[first], edges.face[first + 1]
    feature, lying = _lying(stack)
    rows = np.flatnonzero(lying)
    head, number = np.unique(feature[rows], return_index=True, return_inverse=True)[1:]
    return linked(
        len(stack.scene.faces), np.concatenate([one, rows]), np.concatenate([other, rows[head[number]]])
    )


def _lying(stack: Stack) -> tuple[np.ndarray, np.ndarray]:
    """Feature of each face, and whether the face looks upward and lies on the ground."""
    faces = stack.scene.faces
    feature = stack.solid_feature[faces.solid]
    roles = np.isin(stack.features.of_role("name").astype(str), list(LYING))
    return feature, roles[feature] & (normals(faces)[:, 2] > UPWARD)
