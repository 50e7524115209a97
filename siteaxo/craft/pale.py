"""
Pale tones, for what stays in the background.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from .colours import hex_from_rgb, oklab_from_rgb, rgb_from_hex, rgb_from_oklab

PALE: Final = np.array([0.5, 0.22, 0.22])
"""How much of its distance from the paper a kept tone keeps, in lightness and in colour [-]."""


def paled(fills: np.ndarray, kept: np.ndarray, paper: str) -> np.ndarray:
    """
    Pale some tones toward the paper.

    Parameters
    ----------
    fills : ndarray of str, shape (n,)
        Tones, ``"#rrggbb"``; "" stays.
    kept : ndarray of bool, shape (n,)
        Which.
    paper : str
        Tone of the paper.

    Returns
    -------
    ndarray of object, shape (n,)

    Examples
    --------
    >>> paled(np.array(["#000000", "#ffffff", "#000000"]), np.array([False, True, False]), "#ffffff").tolist()
    ['#000000', '#ffffff', '#000000']
    """
    result = np.asarray(fills, dtype=object).copy()
    ground = oklab_from_rgb(rgb_from_hex(paper))
    for fill in {str(one) for one in result[kept] if one}:
        lab = ground + PALE * (oklab_from_rgb(rgb_from_hex(fill)) - ground)
        result[kept & (result == fill)] = hex_from_rgb(rgb_from_oklab(lab))
    return result
