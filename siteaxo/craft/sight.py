"""
How colours look to other eyes and in a black and white print, and how far apart they are.

References
----------
CIE 15 (L*a*b*); IEC 61966-2-1 (matrix and white point of sRGB); G. M. Machado, M. M. Oliveira
and L. A. F. Fernandes, "A physiologically-based model for simulation of color vision
deficiency", IEEE TVCG 15 (2009); M. Mahy et al., "Evaluation of uniform color spaces", Color
Res. Appl. 19 (1994), for the just noticeable difference (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ..checks import one_of
from ..errors import SheetError
from .colours import hex_from_rgb, linear_from_rgb, rgb_from_hex, rgb_from_linear

JUST_NOTICEABLE: Final = 2.3
"""Least ΔE*ab that is seen when two colours lie side by side."""
_XYZ_FROM_LINEAR: Final = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
_WHITE: Final = np.array([0.95047, 1.0, 1.08883])
SIGHTS: Final[Mapping[str, np.ndarray]] = MappingProxyType(
    {
        "usual": np.eye(3),
        "deuteranomaly": np.array(
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ]
        ),
        "protanomaly": np.array(  # from memory; rows sum to one, so that greys stay
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ]
        ),
        "grey print": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
    }
)
"""What each way of seeing makes of linear light; the two anomalies at their full severity."""


def as_seen(colour: str, sight: str) -> str:
    """
    Return a colour as it looks to some eyes, or in a black and white print.

    Parameters
    ----------
    colour : str
        As ``"#rrggbb"``.
    sight : {"usual", "deuteranomaly", "protanomaly", "grey print"}
        Which eyes; the anomalies are full ones.

    Returns
    -------
    str
        As ``"#rrggbb"``.

    Raises
    ------
    SheetError
        If the sight is unknown.

    References
    ----------
    Machado, Oliveira and Fernandes (2009), in linear light.

    Examples
    --------
    >>> as_seen("#777777", "grey print")
    '#777777'
    """
    one_of(sight, SIGHTS, "sight", SheetError)
    return hex_from_rgb(rgb_from_linear(SIGHTS[sight] @ linear_from_rgb(rgb_from_hex(colour))))


def lab_from_rgb(rgb: ArrayLike) -> np.ndarray:
    """
    CIE L*a*b* of sRGB colours under D65.

    Parameters
    ----------
    rgb : array_like, shape (..., 3)
        Red, green and blue, 0 to 1.

    Returns
    -------
    ndarray, shape (..., 3)
        Lightness 0 to 100, green to red, blue to yellow.

    References
    ----------
    CIE 15.

    Examples
    --------
    >>> float(lab_from_rgb([0.2, 0.4, 0.6])[0].round(2))
    42.01
    """
    xyz = linear_from_rgb(rgb) @ _XYZ_FROM_LINEAR.T / _WHITE
    roots = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = np.moveaxis(roots, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1).round(9) + 0.0


def delta_e(one: str, other: str) -> float:
    """
    Colour difference ΔE*ab (1976); about 2.3 is just noticeable.

    References
    ----------
    CIE 15; Mahy et al. (1994).

    Examples
    --------
    >>> delta_e("#336699", "#336699")
    0.0
    """
    return float(np.linalg.norm(lab_from_rgb(rgb_from_hex(one)) - lab_from_rgb(rgb_from_hex(other))))


def most_alike(colours: Mapping[str, str], sight: str = "usual") -> tuple[float, str, str]:
    """
    Find the two of many colours that are hardest to tell apart.

    Parameters
    ----------
    colours : mapping of str to str
        Names and ``"#rrggbb"``; at least two.
    sight : str
        One of ``SIGHTS``.

    Returns
    -------
    difference : float
        Their ΔE*ab.
    one, other : str
        Their names.

    Examples
    --------
    >>> most_alike({"a": "#000000", "b": "#ffffff", "c": "#fefefe"})[1:]
    ('b', 'c')
    """
    names = list(colours)
    lab = lab_from_rgb([rgb_from_hex(as_seen(colours[name], sight)) for name in names])
    apart = np.linalg.norm(lab[:, None] - lab, axis=2)
    apart[np.tril_indices(len(names))] = np.inf
    row, column = np.unravel_index(int(apart.argmin()), apart.shape)
    return float(apart[row, column]), names[row], names[column]
