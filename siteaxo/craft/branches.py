"""
Branches within a crown, and the fronds of palms, as lines in space.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..source.features import Features
from .crowns import Plants
from .repeatable import numbers_each

LIMBS: Final = 6  # main branches of a tree
FORKS: Final = 2  # lesser branches of each
GOLDEN: Final = 137.50776405003785  # turn from one branch to the next [degrees]
FRONDS: Final = 11
LEAFLETS: Final = 9  # to either side of a frond
CURVE: Final = 8  # points along a frond


@dataclass(frozen=True, kw_only=True)
class Sprays:
    """
    Lines in space.

    Parameters
    ----------
    xyz : ndarray, shape (n, k, 3)
        Points along each line, in the local plane [m].
    plant : ndarray of int, shape (n,)
        The plant of each, as a row of the plants.
    """

    xyz: np.ndarray
    plant: np.ndarray


@dataclass(frozen=True, kw_only=True)
class _Frames:
    """Stem, foot and tip of the crown, and radius of each plant."""

    stem: np.ndarray
    foot: np.ndarray
    tip: np.ndarray
    radius: np.ndarray


def branching(plants: Plants, features: Features, stems: np.ndarray, *, seed: int = 0) -> Sprays:
    """
    Grow branches in the crowns of trees.

    Parameters
    ----------
    plants : Plants
        The plants; hedges and palms have none.
    features : Features
        For levels and sizes.
    stems : ndarray, shape (p, 2)
        Stem of each plant in the local plane [m].
    seed : int
        Another seed gives other branches.

    Returns
    -------
    Sprays
        Lines of three points, all within the crown.
    """
    rows = np.flatnonzero(~np.isin(plants.kind, ["hedge", "palm"]))
    frame = _frames(plants, features, stems, rows)
    chance = numbers_each(1 + LIMBS * (3 + 3 * FORKS), plants.name[rows], "branch", seed)
    start, own = 360 * chance[:, :1], chance[:, 1:].reshape(len(rows), LIMBS, 3 + 3 * FORKS)
    reach, rise = _habit(plants.kind[rows])
    number = np.arange(LIMBS)
    azimuth = start + GOLDEN * number + 40 * (own[:, :, 0] - 0.5)
    low = 0.02 + 0.42 * number / LIMBS + 0.06 * (own[:, :, 1] - 0.5)
    high = np.minimum(low + rise[:, None] * (0.7 + 0.5 * own[:, :, 2]), 0.9)
    far = reach[:, None] * (1.0 - 0.45 * number / LIMBS)
    base, end = _at(frame, azimuth, np.zeros_like(low), low), _at(frame, azimuth, far, high)
    limbs = np.stack([base, _bent(base, end), end], axis=2)
    forks = [limbs]
    for k in range(FORKS):
        turn, lift, part = (own[:, :, 3 + 3 * k + j] for j in range(3))
        begin = base + (0.45 + 0.3 * k) * (_bent(base, end) * 0.5 + end * 0.5 - base)
        side = azimuth + (1 if k % 2 else -1) * (28 + 24 * turn)
        tip = _at(frame, side, far * (0.75 + 0.25 * part), np.minimum(high + 0.16 * (lift - 0.3), 0.92))
        forks.append(np.stack([begin, _bent(begin, tip), tip], axis=2))
    lines = np.stack(forks, axis=1).reshape(-1, 3, 3)
    return Sprays(xyz=lines, plant=np.repeat(rows, LIMBS * (1 + FORKS)))


def palm_fronds(
    plants: Plants, features: Features, stems: np.ndarray, *, seed: int = 0
) -> tuple[Sprays, Sprays]:
    """
    Grow the fronds of palms: arching ribs, and leaflets on them.

    Parameters are those of :func:`branching`.

    Returns
    -------
    ribs, leaflets : Sprays
    """
    rows = np.flatnonzero(plants.kind == "palm")
    frame = _frames(plants, features, stems, rows)
    chance = numbers_each(1 + 2 * FRONDS, plants.name[rows], "frond", seed)
    own = chance[:, 1:].reshape(len(rows), FRONDS, 2)
    azimuth = 360 * chance[:, :1] + (np.arange(FRONDS) + 0.5 * (own[:, :, 0] - 0.5)) * (360 / FRONDS)
    share = np.linspace(0.0, 1.0, CURVE)
    droop = 0.35 + 0.3 * own[:, :, 1]
    height = 0.62 + 1.35 * share * (0.62 - share * (0.55 + droop[:, :, None]))
    ribs = _at(
        frame, azimuth[:, :, None], np.broadcast_to(0.97 * share, height.shape), np.clip(height, 0.03, 0.97)
    )
    return (
        Sprays(xyz=ribs.reshape(-1, CURVE, 3), plant=np.repeat(rows, FRONDS)),
        _leaflets(ribs, azimuth, frame, rows),
    )


def _leaflets(ribs: np.ndarray, azimuth: np.ndarray, frame: _Frames, rows: np.ndarray) -> Sprays:
    """Leaflets to both sides of ribs, shorter towards both ends."""
    place = np.linspace(0.18, 0.98, LEAFLETS) * (CURVE - 1)
    low = np.minimum(place.astype(int), CURVE - 2)
    part = (place - low)[:, None]
    at = ribs[:, :, low] * (1 - part) + ribs[:, :, low + 1] * part
    length = 0.34 * np.sin(np.pi * (0.12 + 0.8 * np.linspace(0.0, 1.0, LEAFLETS))) ** 0.7
    size = frame.radius[:, None, None] * length
    ends = []
    for side in (-1, 1):
        heading = np.radians(azimuth[:, :, None] + side * 52)
        step = np.stack([np.cos(heading), np.sin(heading), np.full_like(heading, -0.35)], axis=-1)
        ends.append(at + size[..., None] * step)
    lines = np.stack([np.stack([at, end], axis=3) for end in ends], axis=3)
    return Sprays(xyz=lines.reshape(-1, 2, 3), plant=np.repeat(rows, FRONDS * LEAFLETS * 2))


def _frames(plants: Plants, features: Features, stems: np.ndarray, rows: np.ndarray) -> _Frames:
    row = plants.feature[rows]
    return _Frames(
        stem=stems[rows],
        foot=features.base[row] + features.clear_stem[row],
        tip=features.top[row],
        radius=features.diameter[row] / 2,
    )


def _habit(kind: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far branches reach, and how much they rise, by kind of tree [share of radius and height]."""
    reach, rise = np.full(len(kind), 0.66), np.full(len(kind), 0.30)
    reach[kind == "conifer"], rise[kind == "conifer"] = 0.60, 0.06
    reach[kind == "columnar"], rise[kind == "columnar"] = 0.50, 0.42
    return reach, rise


def _at(frame: _Frames, azimuth: np.ndarray, reach: np.ndarray, height: np.ndarray) -> np.ndarray:
    """Points of crowns by azimuth [degrees], share of the radius and share of the height."""
    shape = (len(frame.radius),) + (1,) * (np.ndim(reach) - 1)
    angle = np.radians(azimuth)
    out = frame.radius.reshape(shape) * reach
    x, y = (
        frame.stem[:, 0].reshape(shape) + out * np.cos(angle),
        frame.stem[:, 1].reshape(shape) + out * np.sin(angle),
    )
    z = frame.foot.reshape(shape) + (frame.tip - frame.foot).reshape(shape) * height
    return np.stack(np.broadcast_arrays(x, y, z), axis=-1)


def _bent(begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """A point on the way that hangs a little: branches bow outward and then rise."""
    middle = 0.45 * begin + 0.55 * end
    sag = 0.10 * np.hypot(*(end - begin)[..., :2].transpose((-1, *range(begin.ndim - 1))))
    return middle - np.stack([np.zeros_like(sag), np.zeros_like(sag), sag], axis=-1)
