"""
Trees as a trunk and a faceted spheroid for the crown.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from .faces import PART_CODE, Faces, from_quads, join

SEGMENTS: Final = 24  # facets around a crown
BANDS: Final = 8  # facets from its foot to its tip
TRUNK_SEGMENTS: Final = 8
TRUNK_SHARE: Final = 0.03  # trunk diameter as a share of the tree's height [-]


def trees(
    xy: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    diameter: np.ndarray,
    clear_stem: np.ndarray,
    crown_solid: np.ndarray,
    trunk_solid: np.ndarray,
) -> Faces:
    """
    Build trees.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Stem positions in the local plane [m].
    base, top : ndarray, shape (n,)
        Levels of the foot and of the tip [m].
    diameter : ndarray, shape (n,)
        Crown diameter [m].
    clear_stem : ndarray, shape (n,)
        Height of the lowest branches above the foot [m].
    crown_solid, trunk_solid : ndarray of int, shape (n,)
        Solids of the two parts.

    Returns
    -------
    Faces
        Crown facets, then trunk sides.
    """
    foot = base + clear_stem
    middle, half = (top + foot) / 2, (top - foot) / 2
    radius = np.maximum(TRUNK_SHARE * (top - base), 0.1) / 2
    stem_top = middle  # inside the crown, where it is not seen
    return join(
        [
            _spheroids(xy, middle, diameter / 2, half, crown_solid),
            _trunks(xy, base, stem_top, radius, trunk_solid),
        ]
    )


def _spheroids(
    xy: np.ndarray, middle: np.ndarray, across: np.ndarray, up: np.ndarray, solid: np.ndarray
) -> Faces:
    latitude = np.linspace(-np.pi / 2, np.pi / 2, BANDS + 1)
    longitude = np.arange(SEGMENTS) * (2 * np.pi / SEGMENTS)
    reach, rise = np.cos(latitude), np.sin(latitude)
    reach[[0, -1]] = 0.0
    ring = np.empty((len(xy), BANDS + 1, SEGMENTS, 3))
    ring[..., 0] = xy[:, 0, None, None] + across[:, None, None] * reach[:, None] * np.cos(longitude)
    ring[..., 1] = xy[:, 1, None, None] + across[:, None, None] * reach[:, None] * np.sin(longitude)
    ring[..., 2] = (middle[:, None] + up[:, None] * rise)[:, :, None]
    ahead = np.roll(ring, -1, axis=2)
    quads = np.stack([ring[:, 1:-2], ahead[:, 1:-2], ahead[:, 2:-1], ring[:, 2:-1]], axis=3)
    caps = np.stack([ring[:, -2], ahead[:, -2], ring[:, -1]], axis=2)
    feet = np.stack([ahead[:, 1], ring[:, 1], ring[:, 0]], axis=2)
    code = PART_CODE["crown"]
    return join(
        [
            from_quads(corners.reshape(-1, sides, 3), solid=np.repeat(solid, number), part=code)
            for corners, sides, number in (
                (quads, 4, (BANDS - 2) * SEGMENTS),
                (caps, 3, SEGMENTS),
                (feet, 3, SEGMENTS),
            )
        ]
    )


def _trunks(
    xy: np.ndarray, base: np.ndarray, top: np.ndarray, radius: np.ndarray, solid: np.ndarray
) -> Faces:
    angle = np.arange(TRUNK_SEGMENTS) * (2 * np.pi / TRUNK_SEGMENTS)
    outline = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    ring = xy[:, None] + radius[:, None, None] * outline
    ahead = np.roll(ring, -1, axis=1)
    corners = np.empty((len(xy), TRUNK_SEGMENTS, 4, 3))
    corners[:, :, 0, :2] = corners[:, :, 3, :2] = ring
    corners[:, :, 1, :2] = corners[:, :, 2, :2] = ahead
    corners[:, :, :2, 2] = base[:, None, None]
    corners[:, :, 2:, 2] = top[:, None, None]
    return from_quads(
        corners.reshape(-1, 4, 3), solid=np.repeat(solid, TRUNK_SEGMENTS), part=PART_CODE["side"]
    )
