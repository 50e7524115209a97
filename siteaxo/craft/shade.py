"""
Shadows as a quiet tone over what they fall on.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..solids.faces import PART_CODE
from ..solids.stack import Stack
from ..view.shadow import Shadows
from .colours import tone
from .rows import Rows, rows_of

DARK: Final = tone(0.24, 0.030, 265)
"""Tone of shadows: a dark, slightly blue grey."""
OPACITY: Final = 0.24
OWN_OPACITY: Final = 0.10
"""The tones of dark sides tell already that they are turned from the light."""


def shadow_rows(
    stack: Stack,
    shadows: Shadows,
    *,
    own: bool = True,
    fill: str = DARK,
    opacity: float = OPACITY,
    own_opacity: float = OWN_OPACITY,
) -> Rows:
    """
    Make rows of shadows.

    Parameters
    ----------
    stack : Stack
        The solids.
    shadows : Shadows
        What lies in the dark.
    own : bool
        Show the dark sides of things too, not only the shadows they cast. Crowns show
        none: their facets would show, and their tones tell light from dark.
    fill : str
        Tone of shadows, ``"#rrggbb"``.
    opacity, own_opacity : float
        How strongly cast shadows cover what they fall on, and how much dark sides are
        darkened, 0 to 1.

    Returns
    -------
    Rows
        ``kind`` is "cast", or "own" for faces that are turned from the light.
    """
    faces = stack.scene.faces
    crown = faces.part[shadows.face] == PART_CODE["crown"]
    row = np.flatnonzero(~shadows.own | (own & ~crown))
    face = shadows.face[row]
    return rows_of(
        stack,
        stack.solid_feature[faces.solid[face]],
        shadows.polygon[row],
        kind=np.where(shadows.own[row], "own", "cast").astype(object),
        fill=fill,
        opacity=np.where(shadows.own[row], own_opacity, opacity),
    )
