"""
The solids of a site, ready to be drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .edges import Edges
from .faces import Faces


@dataclass(frozen=True, kw_only=True)
class Scene:
    """
    What is to be drawn.

    Parameters
    ----------
    faces : Faces
        Faces of all solids.
    edges : Edges
        Their edges.
    rank : ndarray, shape (s,)
        Rank of each solid among coplanar ones; the higher is drawn.
    group : ndarray of int, shape (s,)
        Coplanar neighbours of one group show no seam.
    """

    faces: Faces
    edges: Edges
    rank: np.ndarray
    group: np.ndarray
