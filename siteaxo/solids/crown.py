"""
Trees as a trunk and a faceted crown, turned about the stem.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import shapely

from .faces import PART_CODE, Faces, from_quads, join
from .making import Job, Made

SEGMENTS: Final = 32  # facets around a crown
BANDS: Final = 16  # facets from its foot to its tip
TRUNK_SEGMENTS: Final = 24  # enough for a smooth side
CROWN_SHARE: Final = 0.6  # crown diameter as a share of height, where not given [-]
CLEAR_STEM: Final = 0.3  # share of a tree's height below its crown, where not given [-]
HABITS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {"columnar": (0.25, 0.1), "palm": (0.5, 0.7), "shrub": (1.2, 0.0)}
)
"""The same two shares, for shapes that grow otherwise."""
TRUNK_SHARE: Final = 0.03  # trunk diameter as a share of the tree's height [-]


def _round_profile() -> np.ndarray:
    """A spheroid."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, BANDS + 1)
    return np.column_stack([np.cos(angle), (1 + np.sin(angle)) / 2])


def _columnar_profile() -> np.ndarray:
    """A column with rounded ends, widest below its middle."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, BANDS + 1)
    reach = np.abs(np.cos(angle)) ** 0.5 * np.where(angle > 0, 1 - 0.25 * np.sin(angle) ** 2, 1.0)
    reach[[0, -1]] = 0.0
    return np.column_stack([reach, (1 + np.sin(angle)) / 2])


def _dome_profile() -> np.ndarray:
    """Half a spheroid with its level side down."""
    angle = np.linspace(0, np.pi / 2, BANDS)
    return np.vstack([np.zeros((1, 2)), np.column_stack([np.cos(angle), np.sin(angle)])])


def _halved(points: list[tuple[float, float]]) -> np.ndarray:
    """A profile of half as many facets, each cut in two."""
    corners = np.array(points)
    middle = (corners[:-1] + corners[1:]) / 2
    return np.insert(corners, np.arange(1, len(corners)), middle, axis=0)


def _rounded(points: list[tuple[float, float]]) -> np.ndarray:
    """
    The same with the new corners on a curve through the others.

    References
    ----------
    N. Dyn, D. Levin, J. Gregory, "A 4-point interpolatory subdivision scheme for curve design",
    Computer Aided Geometric Design 4 (1987) (from memory).
    """
    corners = np.array(points)
    mirrored = np.concatenate([corners[1:2] * [-1.0, 1.0], corners, corners[-2:-1] * [-1.0, 1.0]])
    middle = (9 * (mirrored[1:-2] + mirrored[2:-1]) - mirrored[:-3] - mirrored[3:]) / 16
    return np.clip(np.insert(corners, np.arange(1, len(corners)), middle, axis=0), 0.0, 1.0)


PROFILES: Final[Mapping[str, np.ndarray]] = MappingProxyType(
    {
        "round": _round_profile(),
        "conical": _halved(
            [
                *((0, 0.02), (0.82, 0.0), (1, 0.05), (0.84, 0.2), (0.66, 0.38), (0.47, 0.57)),
                *((0.28, 0.76), (0.1, 0.93), (0, 1)),
            ]
        ),
        "columnar": _columnar_profile(),
        "spreading": _rounded(
            [
                *((0, 0.08), (0.34, 0.0), (0.76, 0.2), (0.97, 0.42), (1, 0.56), (0.88, 0.75)),
                *((0.62, 0.91), (0.3, 0.985), (0, 1)),
            ]
        ),
        "palm": _halved(
            [
                *((0, 0.2), (0.25, 0.1), (0.5, 0), (0.75, 0.2), (1, 0.4), (1, 0.6)),
                *((0.9, 0.8), (0.8, 1), (0, 1)),
            ]
        ),
        "shrub": _dome_profile(),
    }
)
"""Reach from the stem, as a share of the radius, and height, as a share of the crown's; foot to tip."""


def usual_sizes(shape: np.ndarray, height: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Crown diameter and clear stem of trees that give none, shares of their height by shape.

    Parameters
    ----------
    shape : ndarray of str, shape (n,)
        Names of PROFILES, or "".
    height : ndarray, shape (n,)
        From foot to tip [m].

    Returns
    -------
    diameter, clear_stem : ndarray, shape (n,)
        In metres.
    """
    wide, clear = np.full((2, len(height)), [[CROWN_SHARE], [CLEAR_STEM]])
    for name, (crown, stem) in HABITS.items():
        wide[shape == name], clear[shape == name] = crown, stem
    return wide * height, clear * height


def make_trees(job: Job, rows: np.ndarray) -> Made:
    """Make trees, each with a solid for its crown and one for its trunk."""
    features = job.features
    crown = 2 * np.arange(len(rows))
    faces = trees(
        shapely.get_coordinates(shapely.centroid(features.geometry[rows])),
        features.base[rows],
        features.top[rows],
        diameter=features.diameter[rows],
        clear_stem=features.clear_stem[rows],
        crown_solid=crown,
        trunk_solid=crown + 1,
        shape=features.shape[rows],
    )
    return Made(faces=faces, row=np.repeat(rows, 2))


def trees(
    xy: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    diameter: np.ndarray,
    clear_stem: np.ndarray,
    crown_solid: np.ndarray,
    trunk_solid: np.ndarray,
    shape: np.ndarray | None = None,
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
    shape : ndarray of str, shape (n,), optional
        Names of PROFILES; round where "" or not given.

    Returns
    -------
    Faces
        Crown facets, then trunks.
    """
    foot = base + clear_stem
    radius = np.maximum(TRUNK_SHARE * (top - base), 0.1) / 2
    stem_top = (top + foot) / 2  # inside the crown, where it is not seen
    names = list(PROFILES)
    chosen = np.zeros(len(xy), dtype=np.int64)
    for number, name in enumerate(names):
        chosen[np.asarray(shape == name)] = number
    profile = np.stack([PROFILES[name] for name in names])[chosen]
    return join(
        [
            _crowns(xy, profile, diameter / 2, foot, top - foot, crown_solid),
            _trunks(xy, base, stem_top, radius, trunk_solid),
        ]
    )


def _crowns(
    xy: np.ndarray,
    profile: np.ndarray,
    radius: np.ndarray,
    foot: np.ndarray,
    height: np.ndarray,
    solid: np.ndarray,
) -> Faces:
    """Solids of revolution; *profile* is (n, bands + 1, 2), its ends on the stem."""
    longitude = np.arange(SEGMENTS) * (2 * np.pi / SEGMENTS)
    reach, rise = profile[:, :, :1], profile[:, :, 1:]
    reach = np.where(reach < 1e-12, 0.0, reach) * radius[:, None, None]
    ring = np.empty((*profile.shape[:2], SEGMENTS, 3))
    ring[..., 0] = xy[:, 0, None, None] + reach * np.cos(longitude)
    ring[..., 1] = xy[:, 1, None, None] + reach * np.sin(longitude)
    ring[..., 2] = foot[:, None, None] + height[:, None, None] * rise
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
    foot, head = corners[:, ::-1, 0], corners[:, :, 3]
    return join(
        [
            from_quads(
                corners.reshape(-1, 4, 3), solid=np.repeat(solid, TRUNK_SEGMENTS), part=PART_CODE["side"]
            ),
            from_quads(foot, solid=solid, part=PART_CODE["soffit"]),
            from_quads(head, solid=solid, part=PART_CODE["top"]),
        ]
    )
