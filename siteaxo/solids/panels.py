"""
Translucent panels of rails: sheets that hide nothing, and are drawn over what they stand before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .faces import Faces, join


@dataclass(frozen=True, kw_only=True)
class Panels:
    """
    Panels of a site.

    Parameters
    ----------
    faces : Faces
        Sheets, seen from both sides; their solids are numbered from 0.
    feature : ndarray of int, shape (p,)
        The feature that each solid of theirs belongs to.
    """

    faces: Faces
    feature: np.ndarray

    def __len__(self) -> int:
        return len(self.feature)

    @classmethod
    def nothing(cls) -> Panels:
        """No panels."""
        return cls(faces=join([]), feature=np.zeros(0, dtype=np.int64))

    @classmethod
    def together(cls, parts: Sequence[Panels]) -> Panels:
        """Put several one after another."""
        shift = np.cumsum([0] + [len(part) for part in parts])
        moved = [replace(p.faces, solid=p.faces.solid + s) for p, s in zip(parts, shift, strict=False)]
        feature = np.concatenate([np.zeros(0, dtype=np.int64)] + [part.feature for part in parts])
        return cls(faces=join(moved), feature=feature)

    def raised(self, lift: np.ndarray) -> Panels:
        """
        Move panels straight up.

        Parameters
        ----------
        lift : ndarray, shape (n,)
            How far each feature goes up [m].
        """
        xyz = self.faces.xyz.copy()
        xyz[:, 2] += lift[self.feature][self.faces.solid][self.faces.vertex_face]
        return replace(self, faces=replace(self.faces, xyz=xyz))
