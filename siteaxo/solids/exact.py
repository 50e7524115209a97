"""
On which side of a line a point lies, without rounding.

Coordinates on a grid of 2⁻²⁴ m, no farther apart than 2²⁸ m, have differences that are
exact and products that fit into two numbers; so the sign is right, and collinear points
come out as collinear.
"""

from __future__ import annotations

from typing import Final

import numpy as np

GRID: Final = 2.0**-24  # coordinates are rounded to multiples of this [m]
_SPLIT: Final = 2.0**27 + 1


def on_grid(points: np.ndarray) -> np.ndarray:
    """
    Round coordinates to the grid.

    Examples
    --------
    >>> bool(on_grid(np.array([0.1]))[0] == round(0.1 * 2**24) / 2**24)
    True
    """
    return np.rint(np.asarray(points, dtype=float) / GRID) * GRID


def as_complex(points: np.ndarray) -> np.ndarray:
    """
    Write points as one number each, to sort them by x, then by y, and to tell them apart.

    Examples
    --------
    >>> as_complex(np.array([[1.0, 2.0]])).tolist()
    [(1+2j)]
    """
    return np.asarray(points[..., 0] + 1j * points[..., 1])


def turn(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    """
    Which way the paths a → b → c turn.

    Parameters
    ----------
    a, b, c : ndarray, shape (n, 2)
        Points on the grid [m].

    Returns
    -------
    ndarray, shape (n,)
        Its sign is exact: positive to the left, negative to the right, 0 straight; its
        size is about twice the area of the triangle [m²].

    References
    ----------
    Dekker, Numerische Mathematik 18 (1971), the product of two numbers as the sum of two
    (from memory).

    Examples
    --------
    >>> turn(np.array([[0.0, 0]]), np.array([[1.0, 0]]), np.array([[2.0, 0.5]])).tolist()
    [0.5]
    """
    u, v = b - a, c - a
    high, low = _product(u[:, 0], v[:, 1])
    other_high, other_low = _product(u[:, 1], v[:, 0])
    return (high - other_high) + (low - other_low)


def _product(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The product as a rounded number and what rounding took away."""
    high = x * y
    x_high, x_low = _halves(x)
    y_high, y_low = _halves(y)
    low = ((x_high * y_high - high) + x_high * y_low + x_low * y_high) + x_low * y_low
    return high, low


def _halves(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    scaled = _SPLIT * x
    high = scaled - (scaled - x)
    return high, x - high
