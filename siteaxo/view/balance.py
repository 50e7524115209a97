"""
What must add up: the visible and the hidden part of every face and of every edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import shapely

from .dashes import Dashes, PageEdges
from .hidden import VisibleFaces


@dataclass(frozen=True, kw_only=True)
class Balance:
    """
    Sums over faces and edges on the page.

    Parameters
    ----------
    face_area, visible_area : float
        Area of all faces, and of what is seen of them [m²].
    edge_length, visible_length, hidden_length : float
        Length of all edges, of their visible and of their hidden parts, doubles included [m].
    worst_face_balance, worst_edge_balance : float
        By how much the parts of one face [m²], or of one edge [-], fail at most to be the whole.
    """

    face_area: float
    visible_area: float
    edge_length: float
    visible_length: float
    hidden_length: float
    worst_face_balance: float
    worst_edge_balance: float

    @classmethod
    def of(
        cls, area: np.ndarray, visible: VisibleFaces, edges: PageEdges, seen: Dashes, hidden: Dashes
    ) -> Balance:
        """
        Add up faces and edges.

        Parameters
        ----------
        area : ndarray, shape (m,)
            Whole area of each face [m²].
        visible : VisibleFaces
            What is seen of it.
        edges : PageEdges
            The edges.
        seen, hidden : Dashes
            Their parts.
        """
        bare = shapely.area(visible.polygon)
        parts = Dashes.joined([seen, hidden])
        per_edge = np.bincount(parts.edge, parts.end - parts.begin, minlength=len(edges))
        return cls(
            face_area=float(area.sum()),
            visible_area=float(bare.sum()),
            edge_length=float(edges.length.sum()),
            visible_length=total_length(seen, edges),
            hidden_length=total_length(hidden, edges),
            worst_face_balance=float(np.abs(bare + visible.hidden_area - area).max(initial=0.0)),
            worst_edge_balance=float(np.abs(per_edge - 1).max(initial=0.0)),
        )

    @classmethod
    def joined(cls, tables: Sequence[Balance]) -> Balance:
        """
        Several balances in one.

        Examples
        --------
        >>> names = [field.name for field in fields(Balance)]
        >>> one, other = (Balance(**dict.fromkeys(names, value)) for value in (1.0, 2.0))
        >>> Balance.joined([one, other]).face_area, Balance.joined([one, other]).worst_face_balance
        (3.0, 2.0)
        """
        how = {f.name: max if f.name.startswith("worst") else sum for f in fields(cls)}
        return cls(**{name: float(add(getattr(t, name) for t in tables)) for name, add in how.items()})


def total_length(dashes: Dashes, edges: PageEdges) -> float:
    """Length of dashes altogether [m]."""
    return float(((dashes.end - dashes.begin) * edges.length[dashes.edge]).sum())
