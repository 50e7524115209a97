"""
How much of each feature views show: its faces added up, and the shares of them that are seen.

Of a face, the *share* is what is seen of its page area where it is turned toward the
viewer; of several faces, the sum of what is seen by the sum of what is turned toward the
viewer. The *surface share* takes all their true surface, turned away or not: the surface
that is seen by the surface there is, which is their faces but for undersides, upright
ones as far as they stand free.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..solids.faces import PART_CODE, areas
from ..solids.stack import Stack
from ..view.study import Look
from .exposure import exposure


@dataclass(frozen=True, kw_only=True, eq=False)
class Sums:
    """Areas of features in each view, shape (views, n), and their surface, shape (n,) [m²]."""

    facing: np.ndarray
    visible: np.ndarray
    seen: np.ndarray
    surface: np.ndarray

    @classmethod
    def of(cls, stack: Stack, looks: Sequence[Look]) -> Sums:
        """Add up the faces of every feature, undersides left out."""
        faces = stack.scene.faces
        counted = faces.part != PART_CODE["soffit"]
        row, size = stack.solid_feature[faces.solid], areas(faces)
        free, bare = size.copy(), exposure(stack)
        free[bare.face] = bare.area
        count = len(stack.features)

        def per_feature(values: np.ndarray) -> np.ndarray:
            return np.bincount(row, np.where(counted, values, 0.0), count)

        return cls(
            facing=np.array([per_feature(look.facing) for look in looks]),
            visible=np.array([per_feature(look.visible) for look in looks]),
            seen=np.array([per_feature(size * look.share) for look in looks]),
            surface=per_feature(free),
        )

    def over(self, rows: np.ndarray) -> dict[str, np.ndarray]:
        """Columns for some features together, shape (views,) each."""
        facing, visible, seen = (part[:, rows].sum(axis=1) for part in (self.facing, self.visible, self.seen))
        surface = np.full(len(facing), self.surface[rows].sum())
        return {
            "facing_m2": facing,
            "visible_m2": visible,
            "share": _ratio(visible, facing),
            "surface_m2": surface,
            "seen_m2": seen,
            "surface_share": _ratio(seen, surface),
        }


def feature_table(stack: Stack, names: list[str], sums: Sums) -> pd.DataFrame:
    """
    One row for each view and feature that has a surface; parts of one feature together.

    Parameters
    ----------
    stack : Stack
        The solids.
    names : list of str
        Names of the views.
    sums : Sums
        Areas of the features in each.

    Returns
    -------
    pandas.DataFrame
        view, layer, source_id, role and the columns of :meth:`Sums.over`.
    """
    features = stack.features
    there = np.flatnonzero(sums.surface > 0)
    views = len(names)
    frame = pd.DataFrame(
        {
            "view": np.repeat(np.arange(views), len(there)),
            "layer": np.tile(np.array([k.name for k in features.layers])[features.layer[there]], views),
            "source_id": np.tile(features.source_id[there].astype(str), views),
            "role": np.tile(features.of_role("name")[there], views),
            "facing_m2": sums.facing[:, there].ravel(),
            "visible_m2": sums.visible[:, there].ravel(),
            "surface_m2": np.tile(sums.surface[there], views),
            "seen_m2": sums.seen[:, there].ravel(),
        }
    )
    whole = frame.groupby(["view", "layer", "source_id", "role"], sort=False, as_index=False).sum()
    whole["share"] = _ratio(whole["visible_m2"].to_numpy(), whole["facing_m2"].to_numpy())
    whole["surface_share"] = _ratio(whole["seen_m2"].to_numpy(), whole["surface_m2"].to_numpy())
    whole["view"] = np.array(names, dtype=object)[whole["view"]]
    return whole


def _ratio(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    """Shares from 0 to 1, 0 where there is nothing."""
    return np.clip(np.where(whole > 0, part / np.where(whole > 0, whole, 1.0), 0.0), 0.0, 1.0)
