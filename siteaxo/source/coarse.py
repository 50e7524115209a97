"""
Grids of levels thinned where they are smoother than a tolerance.

A square of cells is left with its four corners where every level in it lies within the
tolerance of both pairs of triangles between the corners; squares double in size as long as
that holds.
"""

from __future__ import annotations

from typing import Final

import numpy as np

TOLERANCE: Final = 0.01  # to begin with; it doubles until few enough levels are left
LARGEST: Final = 64  # side of the largest square [cells]
ROUNDS: Final = 24


def thinned(level: np.ndarray, most: int) -> tuple[np.ndarray, float]:
    """
    Choose the levels of a grid that are kept.

    Parameters
    ----------
    level : ndarray, shape (rows, columns)
        NaN where there is none.
    most : int
        How many are kept at most.

    Returns
    -------
    kept : ndarray of bool, shape (rows, columns)
        Which; all that there are, if they are not too many.
    tolerance : float
        How far the others lie at most from the triangles between those that are kept, in the
        unit of the levels; 0 where all are kept.
    """
    kept = np.isfinite(level)
    tolerance = 0.0
    for doubled in range(ROUNDS):
        if kept.sum() <= most:
            break
        tolerance = TOLERANCE * 2**doubled
        kept = _corners(level, tolerance)
    return kept, tolerance


def _corners(level: np.ndarray, tolerance: float) -> np.ndarray:
    """Corners of the largest squares that are smooth."""
    rows, columns = level.shape
    kept = np.zeros(level.shape, dtype=bool)
    smooth = np.ones((max(rows - 1, 0), max(columns - 1, 0)), dtype=bool)
    if not smooth.size:
        return np.isfinite(level)
    side = 1
    while True:
        larger = _smooth(level, smooth, 2 * side, tolerance) if 2 * side <= LARGEST else smooth[:0, :0]
        covered = np.zeros_like(smooth)
        wide = np.repeat(np.repeat(larger, 2, axis=0), 2, axis=1)
        covered[: wide.shape[0], : wide.shape[1]] = wide
        i, j = np.nonzero(smooth & ~covered)
        for down in (0, side):
            for right in (0, side):
                kept[i * side + down, j * side + right] = True
        if not larger.any():
            return kept & np.isfinite(level)
        smooth, side = larger, 2 * side


def _smooth(level: np.ndarray, within: np.ndarray, side: int, tolerance: float) -> np.ndarray:
    """Which squares of a side are smooth, all four of whose quarters are."""
    down, right = within.shape[0] // 2, within.shape[1] // 2
    if not down or not right:
        return within[:0, :0]
    quarters = within[: 2 * down, : 2 * right].reshape(down, 2, right, 2).all(axis=(1, 3))
    i, j = np.nonzero(quarters)
    corner = {
        (a, b): level[i * side + a * side, j * side + b * side][:, None] for a in (0, 1) for b in (0, 1)
    }
    step = np.arange(side + 1)
    v, u = (axis.ravel() / side for axis in np.meshgrid(step, step, indexing="ij"))
    inside = level[
        (i * side)[:, None] + np.repeat(step, side + 1), (j * side)[:, None] + np.tile(step, side + 1)
    ]
    off = np.maximum(
        np.abs(inside - _one_way(corner, u, v)).max(axis=1, initial=0.0),
        np.abs(inside - _other_way(corner, u, v)).max(axis=1, initial=0.0),
    )
    smooth = np.zeros_like(quarters)
    smooth[i, j] = off <= tolerance  # never where a level is missing
    return smooth


def _one_way(z: dict[tuple[int, int], np.ndarray], u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Levels on the two triangles that meet along the diagonal from the first corner to the last."""
    right = z[0, 0] + u * (z[0, 1] - z[0, 0]) + v * (z[1, 1] - z[0, 1])
    down = z[0, 0] + v * (z[1, 0] - z[0, 0]) + u * (z[1, 1] - z[1, 0])
    return np.where(u >= v, right, down)


def _other_way(z: dict[tuple[int, int], np.ndarray], u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Levels on the two triangles that meet along the other diagonal."""
    first = z[0, 0] + u * (z[0, 1] - z[0, 0]) + v * (z[1, 0] - z[0, 0])
    last = z[1, 1] + (1 - u) * (z[1, 0] - z[1, 1]) + (1 - v) * (z[0, 1] - z[1, 1])
    return np.where(u + v <= 1, first, last)
